"""Which wrench of Lay out serves a torque task, with the adapter laid out for it, on that day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from shopguide.errors import Trouble
from shopguide.torque import units
from shopguide.torque.adapter import Adapter, read_adapter
from shopguide.torque.wrench import Choice, choose_wrench
from shopguide.work.progress import Progress

ADAPTER_FIELD = "adapter:"
"""How the field of Lay out begins that holds a torque task's adapter; its address follows."""


def find_adapter(progress: Progress, address: str) -> Adapter | None:
    """The adapter laid out for a torque task; None for none, or one that cannot be read."""
    try:
        return read_adapter(progress.laid_out.get(ADAPTER_FIELD + address))
    except Trouble:
        return None


def find_day(progress: Progress) -> date:
    """The day of work, against which calibration is held: that of the record's last event."""
    return progress.events[-1].when.date() if progress.events else date.today()


def list_wrenches(progress: Progress) -> list[Mapping[str, Any]]:
    """The wrenches of Lay out as the record keeps them."""
    kept = progress.laid_out.get("wrenches") or ()
    return [wrench for wrench in kept if isinstance(wrench, Mapping)]


def choose_for(
    progress: Progress, address: str, target: str, adapter: Adapter | None = None
) -> Choice | None:
    """The choice among the wrenches of Lay out; None where there is none, or no torque to set.

    adapter: another one than that laid out for the task.
    """
    wrenches = list_wrenches(progress)
    try:
        wanted = units.read(target, units.Kind.TORQUE)
    except units.UnitTrouble:
        return None
    if not wrenches or wanted.base <= 0:
        return None
    adapter = adapter or find_adapter(progress, address)
    return choose_wrench(wrenches, wanted, adapter, on=find_day(progress))


def wrench_data(progress: Progress, address: str, target: str) -> dict[str, str]:
    """What a mark keeps of it: {wrench, setting, adapter}, each where there is something to keep.

    The setting is kept where it is not simply the target.
    """
    choice = choose_for(progress, address, target)
    if choice is None:
        return {}
    adapter = find_adapter(progress, address)
    data = {}
    if choice.best is not None:
        data["wrench"] = choice.best.wrench.name
        if adapter is not None or choice.best.text != target:
            data["setting"] = choice.best.text
    if adapter is not None:
        data["adapter"] = adapter.tell()
    return data


def tell_to_set(progress: Progress, address: str, target: str) -> str:
    """The line under the torque: what to set on which wrench, or why none will do."""
    choice = choose_for(progress, address, target)
    if choice is None:
        return ""
    if choice.best is not None:
        past = choice.best.calibration.state == "past due"
        return choice.best.tell_set() + (", whose calibration is past due" if past else "")
    if choice.refused and find_adapter(progress, address) is not None:
        return "With the adapter the wrench's lever length is needed: W tells more"
    return "No wrench from Lay out reaches this torque"
