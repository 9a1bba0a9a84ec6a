"""A wrench typed on one line: what is understood, in which sequence, and what is asked about."""

from __future__ import annotations

from itertools import permutations

import pytest
from pydantic import ValidationError

from shopguide.errors import UnitTrouble
from shopguide.shop.book import ShopBook, read_book, write_book
from shopguide.shop.wrenches import Wrench, read_wrench


def test_in_the_old_way() -> None:
    wrench = read_wrench("small click wrench, 2 N·m, 25 N·m, 4711, March 2026")
    assert wrench.model_dump(exclude_defaults=True) == {
        "name": "small click wrench",
        "low": "2 N·m",
        "high": "25 N·m",
        "serial": "4711",
        "calibrated": "March 2026",
    }
    assert wrench.tell() == "small click wrench, 2 N·m to 25 N·m"
    assert read_wrench("half-inch wrench, 20 N·m, 200 N·m").serial == ""


PARTS = (
    "lever 320 mm",
    "3/8 in drive",
    "class A type II",
    "resolution 0.5 N·m",
    "due 2027-03-01",
    "calibrated 2026-03-01",
)


def test_with_words_in_any_sequence() -> None:
    known = read_wrench("small, 2 N·m, 25 N·m, serial K 4711, " + ", ".join(PARTS))
    assert known == Wrench(
        name="small",
        low="2 N·m",
        high="25 N·m",
        drive="3/8 in",
        iso_type="II",
        iso_class="A",
        resolution="0.5 N·m",
        lever="320 mm",
        serial="K 4711",
        calibrated="2026-03-01",
        due="2027-03-01",
    )
    for some in list(permutations(PARTS))[::37]:
        mixed = [*some[:3], "2 N·m", *some[3:], "25 N·m", "serial K 4711"]
        assert read_wrench(f"small, {', '.join(mixed)}") == known


@pytest.mark.parametrize(
    ("text", "field", "value"),
    [
        ("w, 2 N·m to 25 N·m", "low", "2 N·m"),
        ("w, highest 25 N·m, lowest 2 N·m", "low", "2 N·m"),
        ("w, 2,5 Nm, 25 Nm", "low", "2.5 N·m"),
        ("w, up to 25 N·m", "low", ""),
        ("w, 2 N·m, 25 N·m, 320 mm", "lever", "320 mm"),
        ("w, 2 N·m, 25 N·m, lever length 12 in", "lever", "12 in"),
        ("w, 2 N·m, 25 N·m, 1/2 in", "drive", "1/2 in"),
        ("w, 2 N·m, 25 N·m, 9x12 drive", "drive", "9x12"),
        ("w, 2 N·m, 25 N·m, type 2 class a", "iso_type", "II"),
        ("w, 2 N·m, 25 N·m, I B", "iso_class", "B"),
        ("w, 2 N·m, 25 N·m, scale in lbf·in", "unit", "lbf·in"),
        ("w, 2 N·m, 25 N·m, March 2026", "calibrated", "March 2026"),
        ("w, 2 N·m, 25 N·m, , 2026-03-01", "calibrated", "2026-03-01"),
        ("w, 2 N·m, 25 N·m, 4711, March 1, 2026", "calibrated", "March 1, 2026"),
        ("w, 2 N·m, 25 N·m, calibrated in spring", "calibrated", "in spring"),
    ],
)
def test_other_ways_of_writing(text: str, field: str, value: str) -> None:
    assert getattr(read_wrench(text), field) == value


def test_what_it_understood_is_told() -> None:
    told = read_wrench("small, 2 N·m, 25 N·m, 4711, " + ", ".join(PARTS)).tell_all()
    assert told == (
        "small, 2 N·m to 25 N·m, 3/8 in drive, type II class A, resolution 0.5 N·m, "
        "lever 320 mm, serial 4711, calibrated 2026-03-01, due 2027-03-01. "
        "Permitted deviation ±4 %"
    )
    assert "up to 25 N·m, lowest mark not known" in read_wrench("w, up to 25 N·m").tell_all()
    assert "scale in lbf·in" in read_wrench("w, 2 N·m, 25 N·m, scale lbf·in").tell_all()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "needs a name"),
        ("w", "needs a name"),
        ("w, 2 N·m", "needs a name"),
        (", 2 N·m, 25 N·m", "needs a name"),
        ("w, 2, 25 N·m", "no unit"),
        ("w, 2 lb, 25 lb", "two ways"),
        ("w, 25 N·m, 2 N·m", "Exchange the two"),
        ("w, 2 N·m, 25 N·m, 300 N·m", "more are written here"),
        ("w, 2 N·m, 25 N·m, lever 3", "no unit"),
        ("w, 2 N·m, 25 N·m, lever 0 mm", "must have a length"),
        ("w, 2 N·m, 25 N·m, resolution 30 N·m", "step of the scale"),
        ("w, 2 N·m, 25 N·m, resolution 1 mm", "not a torque"),
        ("w, 2 N·m, 25 N·m, scale in mm", "not a torque"),
        ("w, 2 N·m, 25 N·m, type III", '"III" is no type'),
        ("w, 2 N·m, 25 N·m, class H", 'no class "H"'),
        ("w, 2 N·m, 25 N·m, type I class F", 'Type I has no class "F"'),
        ("w, 2 N·m, 25 N·m, due 1/3/2027", "one way only"),
        ("w, 2 N·m, 25 N·m, lever 300 mm, lever 320 mm", "Two values"),
        ("w, 2 N·m, 25 N·m, 4711, 2026-03, blue", "cannot be told"),
    ],
)
def test_what_will_not_do_is_a_sentence(text: str, says: str) -> None:
    with pytest.raises(UnitTrouble, match=says) as caught:
        read_wrench(text)
    assert str(caught.value).rstrip().endswith(".")


def test_a_wrench_cannot_be_made_wrongly_or_changed() -> None:
    with pytest.raises(ValidationError, match="below the highest"):
        Wrench(name="w", low="25 N·m", high="2 N·m")
    with pytest.raises(ValidationError, match="no unit"):
        Wrench(name="w", low="2", high="25 N·m")
    with pytest.raises(ValidationError, match="not a unit"):
        Wrench(name="w", low="2 N·m", high="25 N·m", unit="spans")
    with pytest.raises(ValidationError, match="frozen"):
        Wrench(name="w", high="25 N·m").name = "x"


def test_a_book_of_an_older_program_still_loads(tmp_path) -> None:
    (tmp_path / "shop.json").write_text(
        '{"wrenches": [{"name": "w", "low": "2 N·m", "high": "25 N·m", "serial": "1", '
        '"calibrated": "March 2026"}]}',
        encoding="utf-8",
    )
    (wrench,) = read_book(tmp_path).wrenches
    assert (wrench.lever, wrench.facts().scale) == ("", "N·m")
    full = read_wrench("small, 2 N·m, 25 N·m, " + ", ".join(PARTS))
    write_book(tmp_path, ShopBook(wrenches=(wrench, full)))
    assert read_book(tmp_path).wrenches == (wrench, full)
