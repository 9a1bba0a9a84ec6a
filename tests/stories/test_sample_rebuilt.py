"""The sample sheet made again from nothing by keys and mouse alone, and equal to the shipped."""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

from shopguide.job.files import load_sheet
from shopguide.review.findings import review_opened
from shopguide.window.app import make_app
from shopguide.window.frame import Frame


@pytest.fixture(scope="module")
def mechanics() -> ModuleType:
    """The mechanic's module, which stands beside this one."""
    source = Path(__file__).with_name("mechanic.py")
    spec = importlib.util.spec_from_file_location("mechanic", source)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def frame(qtbot, user_home) -> Iterator[Frame]:
    """The real window; quick keys allowed."""
    make_app()
    frame = Frame()
    qtbot.addWidget(frame)
    for place in frame.places.values():
        place.gate.dead_ms = place.gate.settle_ms = 0
    frame.resize(1366, 768)
    frame.show()
    yield frame
    frame.close()


def test_the_sample_is_made_again_and_equals_the_shipped_one(
    qtbot, frame, mechanics, sample, tmp_path
):
    shipped = load_sheet(sample)
    hand = mechanics.Mechanic(qtbot, frame, sample / "photos")
    hand.write_sheet(shipped.sheet)
    folder = tmp_path / "Sump cover"
    hand.save(folder)
    made = load_sheet(folder)
    for key in type(shipped.sheet).model_fields:
        assert getattr(made.sheet, key) == getattr(shipped.sheet, key), key
    assert made.sheet == shipped.sheet
    assert sorted(made.names()) == sorted(shipped.names()) and len(made.names()) == 16
    for name in shipped.names():
        assert made.photo_bytes(name) == shipped.photo_bytes(name), name
    assert sorted(p.name for p in (folder / "photos").iterdir()) == sorted(made.names())
    assert review_opened(made) == review_opened(shipped)
    # A fair part was typed letter by letter, and the marks were drawn with the mouse.
    assert hand.letters > 5000 and hand.clicks >= sum(len(p.marks) for p in shipped.sheet.photos())
