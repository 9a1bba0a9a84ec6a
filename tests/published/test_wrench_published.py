"""Settings with an adapter, and permitted deviations, against outside sources beside each row."""

from __future__ import annotations

from datetime import date

import pytest

from shopguide.torque import units
from shopguide.torque.adapter import find_lever_share, find_setting, read_adapter
from shopguide.torque.wrench import WrenchFacts, find_deviation, set_wrench

# Torque at the screw, lever L, adapter E, angle α, setting, and half of its last printed digit.
ROWS = [
    # Source: Robinson R66 maintenance manual, section 20, page 20.4, adapter that lengthens.
    ("135 lbf·in", "10 in", "1.5 in", 0, 117.39, 0.005, "Robinson R66"),
    # Source: TM 1-1500-204-23-9, figure 8-16; it prints 214, the exact figure is 214.29.
    ("300 lbf·in", "10 in", "4 in", 0, 214, 0.5, "TM 1-1500-204-23-9"),
    # Source: TM 9-254, figure 45: set to 60, an adapter of 2 in on 12 in applies 70 in-lb.
    ("70 lbf·in", "12 in", "2 in", 0, 60, 0.005, "TM 9-254"),
    # Source: NAVEDTRA 14315, figure 3-45: the figures are its own, the quotient computed.
    ("100 lbf·in", "12 in", "6 in", 0, 66.67, 0.005, "NAVEDTRA 14315"),
    # Source: TM 9-2350-277-40&P, page 44, "Torque wrench adapters and conversion formula":
    # 40 lb-ft, 12 in, 4 in: 480 / 16 = 30.
    ("40 lbf·ft", "12 in", "4 in", 0, 30, 0.005, "TM 9-2350-277-40&P"),
    # Source: Jaguar XK (X100) 2000 repair manual, drive shaft, tools: adapter of 50 mm on a wrench
    # of 330 mm, 60 N·m: it prints 52,1.
    ("60 N·m", "330 mm", "50 mm", 0, 52.1, 0.05, "Jaguar XK 2000"),
]


@pytest.mark.parametrize(("torque", "lever", "adapter", "angle", "setting", "half", "source"), ROWS)
def test_printed_settings(torque, lever, adapter, angle, setting, half, source) -> None:
    wanted = units.read_any(torque)
    wrench = WrenchFacts("w", high=units.read_any("100 kgf·m"), lever=units.read_any(lever))
    wrench = WrenchFacts("w", wrench.high, unit=wanted.unit, lever=wrench.lever)
    one = read_adapter({"length": adapter, "angle": f"{angle}", "kind": "crow-foot"})
    found = set_wrench(wrench, wanted, one, on=date(2026, 3, 1))
    assert found.exact == pytest.approx(setting, abs=half * 1.0001), source
    by_formula = find_setting(
        float(wanted.value), units.read_any(lever).base, units.read_any(adapter).base, angle
    )
    assert by_formula == pytest.approx(found.exact, rel=1e-12)


# Source of the formula: TM 9-254, figure 46, L_eff = L + E·cos a. The rows are computed from it
# with the Robinson figures, to the two decimals shown.
COMPUTED = [(30, 119.48), (45, 122.05), (60, 125.58), (90, 135.0), (120, 145.95), (135, 151.02)]


@pytest.mark.parametrize(("angle", "setting"), COMPUTED)
def test_computed_settings_at_an_angle(angle: int, setting: float) -> None:
    assert find_setting(135, 10, 1.5, angle) == pytest.approx(setting, abs=0.005)


@pytest.mark.parametrize("off", [-5, 5])
def test_five_degrees_from_square(off: int) -> None:
    # Source: an article on crow-feet (toolcroze.com): with an adapter a quarter of the lever, five
    # degrees off 90° are 2.2 %.
    assert abs(find_lever_share(4, 1, 90 + off) - 1) == pytest.approx(0.022, abs=0.0005)


@pytest.mark.parametrize(
    ("highest", "share"),
    # Source: Facom S.325DA user manual, chapter 1, quoting ISO 6789 for type II class A: ±4 %
    # where the maximum is above 10 N·m, ±6 % where it is 10 N·m (or less).
    [("25 N·m", 0.04), ("10.5 N·m", 0.04), ("10 N·m", 0.06), ("5 N·m", 0.06)],
)
def test_permitted_deviation_of_type_2_class_a(highest: str, share: float) -> None:
    wrench = WrenchFacts("w", units.read_any(highest), iso_type="II", iso_class="A")
    assert find_deviation(wrench).share == share
    assert "from memory" not in find_deviation(wrench).source


def test_the_deviation_is_of_what_the_testing_device_shows() -> None:
    # Source: the same chapter: "± 4% of the indication on the test device". A wrench set to 26 may
    # therefore give 25 (4 % of 25 is 1), and one set to 24 may give 25.
    wrench = WrenchFacts("w", units.read_any("40 N·m"), iso_type="II", iso_class="A")
    assert set_wrench(wrench, units.read_any("26 N·m"), None, on=date(2026, 3, 1)).low_nm == (
        pytest.approx(25)
    )
    assert set_wrench(wrench, units.read_any("24 N·m"), None, on=date(2026, 3, 1)).high_nm == (
        pytest.approx(25)
    )
