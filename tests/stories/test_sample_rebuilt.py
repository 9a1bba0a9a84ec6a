"""The sample sheet made again from nothing by keys and mouse alone, and equal to the shipped."""

from __future__ import annotations

from shopguide.job.files import load_sheet
from shopguide.review.findings import review_opened


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
