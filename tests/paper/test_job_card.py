"""The job card: every task, every fastener of every pass, every item has its box on the paper."""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime
from pathlib import Path

import pypdf
import pytest

from shopguide import places
from shopguide.errors import PaperTrouble
from shopguide.job.files import OpenedSheet, load_sheet, read_sheet, save_sheet
from shopguide.job.model import Sheet
from shopguide.paper.archive import check_archival
from shopguide.paper.card_lines import TickBox
from shopguide.paper.card_tasks import NUMBER_SIZES, SCALE, CardDrawing
from shopguide.paper.job_card import STATEMENT, make_job_card, tell_letters

WHEN = datetime(2031, 5, 4, 9, 30, tzinfo=UTC)


def read(pdf: bytes) -> tuple[list[str], str]:
    pages = [" ".join(p.extract_text().split()) for p in pypdf.PdfReader(io.BytesIO(pdf)).pages]
    return pages, " ".join(pages)


def make_sheet(tmp_path: Path, **changed: object) -> OpenedSheet:
    """A small sheet without pictures, with these keys changed."""
    data = {
        "format": "shopguide-job/1",
        "title": "Ring",
        "author": "Nobody",
        "date": "2031-05-04",
        "specs": [{"name": "ring torque", "kind": "torque", "value": "20 N·m"}],
        "patterns": [
            {"name": "ring", "title": "Ring", "circle": {"count": 10, "diameter_mm": 200}}
        ],
        "stages": [{"title": "Work", "steps": [{"title": "Step", "tasks": [CONFIRM]}]}],
        **changed,
    }
    save_sheet(Sheet.model_validate(data), tmp_path / "sheet")
    return load_sheet(tmp_path / "sheet")


CONFIRM = {"kind": "confirm", "text": "Look at it."}


def torque(passes: object) -> dict:
    return {
        "kind": "torque",
        "text": "Tighten the ring.",
        "pattern": "ring",
        "spec": "ring torque",
        "passes": passes,
    }


def one_step(*tasks: dict) -> list[dict]:
    return [{"title": "Work", "steps": [{"title": "Step", "tasks": list(tasks)}]}]


@pytest.fixture(scope="module")
def sample() -> OpenedSheet:
    return load_sheet(next(p for p in places.list_samples() if p.name == "gearbox_sump_cover"))


@pytest.fixture(scope="module")
def cards(sample: OpenedSheet) -> dict[str, bytes]:
    return {page: make_job_card(sample, page, WHEN) for page in ("A4", "Letter")}


@pytest.fixture(params=["A4", "Letter"])
def card(request: pytest.FixtureRequest, cards: dict[str, bytes]) -> bytes:
    return cards[request.param]


def count_boxes(monkeypatch: pytest.MonkeyPatch, opened: OpenedSheet) -> int:
    drawn: list[int] = []
    plain = TickBox.draw
    monkeypatch.setattr(TickBox, "draw", lambda self: (drawn.append(1), plain(self)))
    make_job_card(opened, created=WHEN)
    return len(drawn)


def test_sample_is_archival_and_says_all_that_the_sheet_says(
    card: bytes, sample: OpenedSheet
) -> None:
    assert check_archival(card) == []
    pages, text = read(card)
    sheet = sample.sheet
    assert STATEMENT in pages[0]
    for said in ("Machine", "Odometer", "Worked by", "Torque wrench", sheet.time, sheet.skill):
        assert said in pages[0]
    for caution in sheet.cautions:
        assert caution.hazard in pages[0]
    for task in sheet.tasks.values():
        assert task.text in text
        if task.opens:
            assert task.opens[1:] in text
    for one in (*sheet.parts, *sheet.tools, *sheet.supplies):
        assert one.name in text
    for spec in (sheet.spec(name) for t in sheet.tasks.values() for name in t.spec_names):
        assert spec.source.text in text
    assert "Signature" in pages[-1]


def test_each_page_names_sheet_revision_and_its_number(card: bytes, sample: OpenedSheet) -> None:
    pages, _ = read(card)
    for number, page in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in page
        assert sample.sheet.title in page
        assert f"revision {sample.sheet.revision}" in page


def test_sizes_of_the_page(cards: dict[str, bytes]) -> None:
    for page, size in (("A4", (595, 842)), ("Letter", (612, 792))):
        box = pypdf.PdfReader(io.BytesIO(cards[page])).pages[0].mediabox
        assert (round(box.width), round(box.height)) == size


@pytest.mark.parametrize(
    ("passes", "columns"),
    [
        ("torque twice", 2),
        ("torque, back off, torque", 3),
        ("snug, 30/70/100 and check", 6),
        ("20/40/60/80/100 and twice around", 7),
    ],
)
def test_every_fastener_has_a_box_for_every_pass(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, passes: str, columns: int
) -> None:
    bare = count_boxes(monkeypatch, make_sheet(tmp_path / "bare"))
    joint = make_sheet(tmp_path, stages=one_step(CONFIRM, torque(passes)))
    assert count_boxes(monkeypatch, joint) - bare == 10 * columns


def test_rows_stand_in_tightening_order_and_say_which_way_a_pass_goes(tmp_path: Path) -> None:
    order = [7, 2, 5, 10, 3, 8, 1, 6, 4, 9]
    ring = {
        "name": "ring",
        "title": "Ring",
        "order": order,
        "order_source": "page 3",
        "circle": {"count": 10, "diameter_mm": 200},
    }
    opened = make_sheet(
        tmp_path, patterns=[ring], stages=one_step(torque("torque, back off, torque"))
    )
    _, text = read(make_job_card(opened, created=WHEN))
    rows = re.findall(r"(\d+) \(no\. (\d+)\)", text)
    assert rows == [(str(k), str(n)) for k, n in enumerate(order, 1) if k != n]
    assert "bottom to top" in text
    assert "page 3" in text


def test_converted_value_stands_beside_the_printed_one(tmp_path: Path) -> None:
    opened = make_sheet(tmp_path, stages=one_step(torque("50/100")))
    _, text = read(make_job_card(opened, created=WHEN))
    assert "20 N·m" in text and "10.0 N·m" in text
    # 20 N·m / 1.35582 N·m per lbf·ft (from memory) = 14.75, told to half a lbf·ft.
    assert "15.0 lbf·ft" in text


@pytest.mark.parametrize("count", [3, 8, 16, 24])
def test_numbers_are_read_at_arms_length(tmp_path: Path, count: int) -> None:
    """Capitals of 3 mm, some 12.5 points of type; common practice, no source."""
    shape = {"count": count, "diameter_mm": 20 * count}
    opened = make_sheet(
        tmp_path,
        patterns=[{"name": "ring", "title": "Ring", "circle": shape}],
        stages=one_step(torque("torque")),
    )
    pattern = opened.sheet.patterns[0]
    numbers = [f.number for f in pattern.placed]
    drawing = CardDrawing(pattern, numbers, 493.0, 260.0).drawing
    labels = [one for one in drawing.shapes if getattr(one, "text", "").isdigit()]
    assert sorted(int(one.text) for one in labels) == numbers
    assert min(one.size for one in labels) * SCALE >= 12.5
    assert NUMBER_SIZES[0] * SCALE > 18


def test_120_screws_all_have_their_number_on_the_drawing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = make_sheet(
        tmp_path,
        patterns=[{"name": "ring", "title": "Ring", "circle": {"count": 120, "diameter_mm": 900}}],
        stages=one_step(torque("torque twice")),
    )
    drawn: list[CardDrawing] = []
    plain = CardDrawing.draw
    monkeypatch.setattr(CardDrawing, "draw", lambda self: (drawn.append(self), plain(self)))
    pages, text = read(make_job_card(opened, created=WHEN))
    (one,) = drawn
    labels = [s for s in one.drawing.shapes if getattr(s, "text", "").isdigit()]
    assert sorted(int(s.text) for s in labels) == list(range(1, 121))
    # 6.5 points: small print, yet all of them; common practice, no source.
    assert min(s.size for s in labels) * SCALE >= 6.5
    assert "room for every" not in text
    tables = [page for page in pages if "Pass 2" in page]
    assert len(tables) > 2 and all("step 1.1" in page for page in tables)
    assert count_boxes(monkeypatch, opened) >= 240


def test_where_not_every_number_has_room_that_is_told(tmp_path: Path) -> None:
    opened = make_sheet(
        tmp_path,
        patterns=[{"name": "ring", "title": "Ring", "circle": {"count": 400, "diameter_mm": 900}}],
        stages=one_step(torque("torque")),
    )
    _, text = read(make_job_card(opened, created=WHEN))
    assert re.search(r"The drawing has room for every \d+th number only\.", text)


def test_letters_that_the_fonts_lack_are_told_on_the_first_page(tmp_path: Path) -> None:
    pages, _ = read(make_job_card(make_sheet(tmp_path), created=WHEN))
    assert "open boxes" not in pages[0] and "right to left" not in pages[0]
    opened = make_sheet(tmp_path / "other", title="漢字 and שלום")
    pages, _ = read(make_job_card(opened, created=WHEN))
    assert tell_letters(opened.sheet) in pages[0]
    assert "small open boxes" in pages[0] and "from right to left" in pages[0]


def test_values_have_a_line_with_the_unit_and_the_limits(tmp_path: Path) -> None:
    specs = [
        {"name": "gap", "kind": "length", "low": "0.1 mm", "high": "0.3 mm"},
        {"name": "fill", "kind": "volume", "value": "4 US qt + 250 mL"},
    ]
    tasks = (
        {"kind": "measure", "text": "Measure the gap.", "spec": "gap"},
        {"kind": "fill", "text": "Fill in the fluid.", "fluid": "oil", "spec": "fill"},
    )
    opened = make_sheet(
        tmp_path, specs=specs, patterns=[], fluids=[{"name": "oil"}], stages=one_step(*tasks)
    )
    _, text = read(make_job_card(opened, created=WHEN))
    assert re.search(r"measured .*0\.1 mm to 0\.3 mm", text)
    assert "filled in, with unit" in text
    assert "source not known" in text


def test_what_comes_off_and_never_back_is_told(tmp_path: Path) -> None:
    off = {"kind": "open", "text": "Take it off.", "how": "remove", "item": "the cover"}
    _, text = read(make_job_card(make_sheet(tmp_path, stages=one_step(off)), created=WHEN))
    assert "The cover remove step 1 not in this sheet" in text


@pytest.mark.parametrize("words", ["Ölwanne Ду 漢字 עברית 🙂 " * 6, "W" * 190, "<b>&amp;</b>"])
def test_odd_words_and_many_screws_still_make_a_card(tmp_path: Path, words: str) -> None:
    words = words.strip()
    grid = {"columns": 15, "rows": 8, "across_mm": 30, "down_mm": 30}
    opened = make_sheet(
        tmp_path,
        title=words,
        revision=words,
        applies_to=[words],
        parts=[{"name": words, "number": words, "note": words * 20}],
        tools=[{"name": words, "note": words} for _ in range(30)],
        patterns=[{"name": "ring", "title": words, "grid": grid}],
        stages=one_step(*([{**CONFIRM, "note": words * 20}] * 20), torque("torque twice")),
    )
    pdf = make_job_card(opened, created=WHEN)
    assert check_archival(pdf) == []
    pages, _ = read(pdf)
    assert all(f"Page {k} of {len(pages)}" in page for k, page in enumerate(pages, 1))


def test_same_sheet_gives_the_same_words_and_progress_tells_pictures_and_pages(
    sample: OpenedSheet, cards: dict[str, bytes]
) -> None:
    told: list[str] = []
    again = make_job_card(sample, "A4", WHEN, progress=lambda doing, done, of: told.append(doing))
    assert read(again) == read(cards["A4"])
    assert {"Fetching pictures", "Drawing page"} <= set(told)


def test_it_stops_when_asked(sample: OpenedSheet) -> None:
    with pytest.raises(PaperTrouble, match="stopped"):
        make_job_card(sample, created=WHEN, cancelled=lambda: True)


def test_picture_that_is_gone_is_told_in_its_place(tmp_path: Path, sample: OpenedSheet) -> None:
    sheet = read_sheet(sample.raw)

    class Gone(OpenedSheet):
        def photo_bytes(self, name: str) -> bytes:
            raise PaperTrouble("It was moved away.")

    gone = Gone(sheet, tmp_path, sample.raw, sample.photos)
    _, text = read(make_job_card(gone, created=WHEN))
    assert "It was moved away." in text
