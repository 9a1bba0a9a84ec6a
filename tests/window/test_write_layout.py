"""Write at small sizes: nothing is clipped, overlaps or leaves the window, in every field."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest
from PySide6.QtWidgets import QLabel

from shopguide.job.edits import Draft
from shopguide.window.lettering import LEAST_TEXT_PX
from shopguide.window.palette import LOOKS
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_text import WriteText

SIZES = ((1366, 768), (1280, 720))


@pytest.fixture(scope="module")
def layout() -> ModuleType:
    """How the other places are looked at; the tests' folders are no packages."""
    source = Path(__file__).with_name("test_layout.py")
    spec = importlib.util.spec_from_file_location("layout_of_places", source)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("which", ["sample", "hard"])
@pytest.mark.parametrize("size", SIZES, ids=str)
def test_every_row_and_field_holds(frame, layout, sample, hard_sheet, size, which):
    source = sample if which == "sample" else hard_sheet
    place = frame.write
    draft = Draft.open((source / "job.json").read_bytes())
    place.take_up(WriteDesk(draft, None, None, parent=place))
    frame.set_look(list(LOOKS)[size[1] % 2])
    frame.go("write")
    frame.resize(*size)
    layout.settle_layout()
    assert (frame.width(), frame.height()) == size
    faults: list[str] = []
    looked_at = 0
    for row in list(place.outline.rows.rows):
        place.choose(row.path)
        place.enter()
        layout.settle_layout()
        faults += [f"{row.title}: {fault}" for fault in layout.find_faults(frame)]
        entries = [] if place.shows_table else place.card.list_entries()[:10]
        for entry in entries:
            entry.setFocus()
            layout.settle_layout()
            looked_at += 1
            faults += [f"{row.title}: {fault}" for fault in layout.find_faults(frame)]
        place.go_back()
    assert sorted(set(faults)) == []
    assert looked_at > 20


def test_no_text_is_smaller_than_can_be_read(frame, layout, sample):
    place = frame.write
    draft = Draft.open((sample / "job.json").read_bytes())
    place.take_up(WriteDesk(draft, None, None, parent=place))
    frame.go("write")
    for row in (r for r in place.outline.rows.rows if r.sort != "stage"):
        place.choose(row.path)
        place.enter()
        layout.settle_layout()
        texts = [w for w in place.findChildren(QLabel) + place.findChildren(WriteText)]
        seen = [w for w in texts if w.isVisible()]
        assert min(w.font().pixelSize() for w in seen) >= LEAST_TEXT_PX
        place.go_back()
