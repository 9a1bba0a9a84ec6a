"""The drawn pages, read back: complete, inside their margins, no heading left alone."""

from __future__ import annotations

import importlib.util
import io
import re
from datetime import UTC
from pathlib import Path

import pytest
from pypdf import PdfReader

from shopguide.errors import PaperTrouble, Trouble
from shopguide.job.model import Sheet
from shopguide.paper.contents import make_contents
from shopguide.paper.lettering import FONTS, width_of
from shopguide.paper.pages import FOOT, SIDE, SIZES, draw_pages
from shopguide.paper.photos import Darkroom

_spec = importlib.util.spec_from_file_location(
    "worked_record", Path(__file__).with_name("worked_record.py")
)
worked = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(worked)

SECTIONS = (
    "Torque, fastener by fastener",
    "Parts",
    "Fluids and measurements",
    "Supplies",
    "Cautions of the job",
    "The work, step by step",
    "Departures from the sheet",
    "Taken apart and put back",
    "To be done again",
    "Where this record comes from, and how to check it",
)


@pytest.fixture(scope="module")
def sheet(checkout) -> Sheet:
    path = checkout / "sample_jobs" / "gearbox_sump_cover" / "job.json"
    return Sheet.model_validate_json(path.read_text(encoding="utf-8"))


def draw(record, folder: Path, page="A4", read=worked.make_jpeg, **more) -> PdfReader:
    contents = make_contents(
        record.sheet,
        record.events,
        head=record.head,
        made_at=record.now,
        program="shopguide 0",
        zone=UTC,
    )
    darkroom = Darkroom(read, folder)
    return PdfReader(io.BytesIO(draw_pages(contents, darkroom, page, **more)))


def flatten(reader: PdfReader) -> str:
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


@pytest.fixture(scope="module")
def finished(sheet):
    record = worked.WorkedRecord(sheet)
    record.lay_out()
    record.add("started", {})
    record.work()
    record.sign()
    return record


@pytest.fixture(scope="module", params=["A4", "Letter"])
def printed(request, finished, tmp_path_factory) -> tuple[str, PdfReader]:
    folder = tmp_path_factory.mktemp("photos")
    return request.param, draw(finished, folder, request.param)


# --- the finished sample --------------------------------------------------------------------


def test_the_size_is_the_one_asked_for(printed) -> None:
    size, reader = printed
    for page in reader.pages:
        assert [float(x) for x in page.mediabox[2:]] == pytest.approx(SIZES[size], abs=0.01)


def test_the_first_page_says_what_a_buyer_asks(printed, finished) -> None:
    text = re.sub(r"\s+", " ", printed[1].pages[0].extract_text())
    for said in (
        "Gearbox sump cover: new gasket and filter",
        "Quennerbeck Tidewold 540",
        "1M8GDM9AXKP042788",
        "123456 km",
        "16 of 16 screws of the sump cover were torqued twice to 9 N·m; "
        "in between each was backed off.",
        "Imke Tannhobel, 4 May 2031",
        "It is not an inspection or approval by an authority or workshop.",
        "Times are local time, UTC+00:00, from this computer's clock, not certified.",
    ):
        assert said in text
    digits = re.sub(r"\s", "", text)
    assert f"Headoftherecord:{finished.head}" in digits


def test_all_times_of_the_cover_are_in_its_table(printed, finished) -> None:
    text = flatten(printed[1])
    marks = finished.progress.marks[finished.torque_address("cover")]
    assert len(marks) == 48
    for mark in marks:
        assert mark.event.when.strftime("%H:%M:%S") in text


def test_every_task_and_every_section_is_there(printed, sheet) -> None:
    text = flatten(printed[1])
    for address, task in sheet.tasks.items():
        assert re.sub(r"\s+", " ", task.text) in text, address
    for section in SECTIONS:
        assert section in text


def test_each_page_has_its_furniture(printed, finished) -> None:
    _, reader = printed
    count = len(reader.pages)
    for number, page in enumerate(reader.pages, 1):
        text = page.extract_text()
        assert f"Page {number} of {count}" in text
        assert f"Head of the record {finished.head[:8]}…" in text
        assert "REHEARSAL" not in text and "DRAFT" not in text
        if number > 1:
            assert "Quennerbeck Tidewold 540" in text and "Gearbox sump cover" in text


def test_no_heading_stands_alone_at_the_foot(printed, sheet) -> None:
    headings = {*SECTIONS, *(stage.title for stage in sheet.stages), "Torqued singly"}
    headings |= {pattern.title for pattern in sheet.patterns}
    seen = set()
    for page in printed[1].pages:
        lines = _lines_by_height(page)
        seen |= headings & {text for _, text in lines}
        lowest = min(lines)[1]
        assert lowest not in headings, lowest
    assert seen >= headings, "every heading was looked at"


def _lines_by_height(page) -> list[tuple[float, str]]:
    """(height, text) of what stands above the foot."""
    found = []

    def visit(text, cm, tm, font, size) -> None:
        y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
        if text.strip() and y > FOOT - 4:
            found.append((round(y, 1), text.strip()))

    page.extract_text(visitor_text=visit)
    return found


def test_sections_joints_and_stages_are_in_the_outline(printed, sheet) -> None:
    def names(entries) -> list[str]:
        return [n for e in entries for n in (names(e) if isinstance(e, list) else [e.title])]

    outline = names(printed[1].outline)
    assert {*SECTIONS, *(stage.title for stage in sheet.stages)} <= set(outline)
    assert "Sump cover, 16 screws" in outline


def test_only_the_projects_fonts_are_used_and_embedded(printed) -> None:
    for page in printed[1].pages:
        for font in page["/Resources"]["/Font"].values():
            font = font.get_object()
            assert re.search("Atkinson|DejaVu", font["/BaseFont"]), font["/BaseFont"]
            assert "/FontFile2" in font["/FontDescriptor"]


# --- other records --------------------------------------------------------------------------


def test_a_rehearsal_says_so_on_every_page(sheet, tmp_path) -> None:
    record = worked.WorkedRecord(sheet, rehearsal=True)
    record.work()
    record.sign()
    reader = draw(record, tmp_path, "Letter")
    for page in reader.pages:
        text = page.extract_text()
        assert text.count("REHEARSAL") == 2, "in words in the header, and as the watermark"
        assert "/ca" in str(page["/Resources"].get("/ExtGState")), "seen through"


def test_an_unsigned_record_is_a_draft_on_every_page(sheet, tmp_path) -> None:
    reader = draw(worked.WorkedRecord(sheet), tmp_path)
    assert all("DRAFT: this record is not signed off" in p.extract_text() for p in reader.pages)
    assert "Not signed off: this is a draft." in reader.pages[0].extract_text()


def hostile_sheet(count: int = 120) -> Sheet:
    word = "Donaudampfschifffahrtsgesellschaftskapitän"
    return Sheet.model_validate(
        {
            "format": "shopguide-job/1",
            "title": f"{word} {word} and more than a title should ever be asked to hold, all told",
            "author": "M" * 60,
            "date": "2030-01-02",
            "cautions": [
                {"signal": "CAUTION", "hazard": word, "consequence": word * 3, "avoid": "x" * 900}
            ],
            "specs": [{"name": word, "kind": "torque", "value": "9 N·m"}],
            "parts": [{"name": word * 2, "number": "9" * 90, "note": word * 4}],
            "supplies": [{"name": word * 3}],
            "patterns": [
                {
                    "name": "case",
                    "title": "Case",
                    "thread": "M6 × 1 special",
                    "length": "W" * 30,
                    "circle": {"count": count, "diameter_mm": 400},
                }
            ],
            "stages": [
                {
                    "title": "Жук Ελληνικά 漢字",
                    "steps": [
                        {
                            "title": "W" * 90,
                            "tasks": [
                                {
                                    "kind": "torque",
                                    "text": word * 8,
                                    "pattern": "case",
                                    "spec": word,
                                    "passes": "torque twice",
                                },
                                {"kind": "confirm", "text": "Line.\n" * 66},
                            ],
                        }
                    ],
                }
            ],
        }
    )


@pytest.fixture(scope="module")
def hostile(tmp_path_factory) -> PdfReader:
    record = worked.WorkedRecord(hostile_sheet())
    record.lay_out(
        make="Ελληνικά Жук 漢字",
        model="X" * 120,
        odometer="9" * 80,
        vin="V" * 70,
        person="M" * 120,
        year="Y" * 40,
    )
    record.mark("1.1", 7, "w" * 200)
    for _ in range(239):
        record.step()
    record.add("note", {"step": 1, "text": "N" * 200 + " word" * 3000 + "\n" * 90 + "last words"})
    record.work()
    record.sign(name="Ядвига " + "S" * 80)
    return draw(record, tmp_path_factory.mktemp("photos"), "Letter")


def test_long_and_foreign_texts_stay_inside_the_margins(hostile) -> None:
    width, height = SIZES["Letter"]
    font = FONTS["regular"]
    pieces = 0
    for page in hostile.pages:
        found = []

        def visit(text, cm, tm, fonts, size, found=found) -> None:
            if text.strip():
                x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
                y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
                found.append((x, y, text.strip("\n"), size * abs(cm[0])))

        page.extract_text(visitor_text=visit)
        for x, y, text, size in found:
            pieces += 1
            assert SIDE - 1 <= x <= width - SIDE and 20 <= y <= height - 14, text
            # Several lines may come as one piece; each of them starts at the same place.
            longest = max(width_of(line, font, size) for line in text.split("\n"))
            assert x + 0.9 * longest <= width - SIDE + 3, text
    assert pieces > 300


def test_nothing_of_a_long_text_is_lost(hostile) -> None:
    text = flatten(hostile)
    assert text.count("word") >= 3000 and "last words" in text
    assert text.count("Line.") == 66
    joined = re.sub(r"\s", "", text)
    assert "N" * 200 in joined and "w" * 200 in joined
    assert "Ελληνικά" in joined and "Жук" in joined and "□□" in joined and "Ядвига" in joined


def test_a_long_table_repeats_its_head(hostile) -> None:
    tables = [page for page in hostile.pages if "no. " in page.extract_text()]
    assert len(tables) > 2
    assert all("Pass 1" in page.extract_text() for page in tables)


# --- photos ---------------------------------------------------------------------------------


def test_photos_are_taken_over_as_they_are(sheet, tmp_path) -> None:
    record = worked.WorkedRecord(sheet)
    names = [record.take_photo(2, caption=f"Photo number {k}") for k in range(3)]
    reader = draw(record, tmp_path)
    page = next(p for p in reader.pages if "Photo number 0" in p.extract_text())
    kept = {image.get_object().get_data() for image in _images(page)}
    assert {worked.make_jpeg(name) for name in names} <= kept
    assert "Step 2, photographed during the work" in page.extract_text()


def _images(page) -> list:
    objects = page["/Resources"].get("/XObject", {})
    return [o for o in objects.values() if o.get_object()["/Subtype"] == "/Image"]


def test_a_picture_that_cannot_be_read_is_told_in_its_place(sheet, tmp_path) -> None:
    record = worked.WorkedRecord(sheet)
    broken = [record.take_photo(2, caption=f"Broken {k}") for k in range(3)]

    def read(name: str) -> bytes:
        if name == broken[0]:
            raise Trouble("The photo was changed after it was taken in.")
        if name == broken[1]:
            return b"no picture at all"
        if name == broken[2]:
            raise KeyError(name)
        return worked.make_jpeg(name)

    text = flatten(draw(record, tmp_path, read=read))
    assert text.count("This picture cannot be shown.") == 3
    assert "was changed after it was taken in" in text and "Broken 2" in text


def test_marks_on_pictures_follow_the_scale_of_the_print(tmp_path) -> None:
    sheet = hostile_sheet(4).model_dump(mode="json", exclude_none=True)
    for pattern in sheet["patterns"]:
        pattern.pop("fasteners", None)
    marks = [
        {"kind": "arrow", "start": [100, 100], "to": [900, 900]},
        {"kind": "ring", "at": [2000, 1500], "radius": 300},
        {"kind": "number", "at": [2000, 1500], "number": 4711},
        {"kind": "text", "at": [800, 400], "text": "here"},
    ]
    sheet["stages"][0]["steps"][0]["photos"] = [
        {"file": "a.jpg", "caption": "The corner", "marks": marks}
    ]
    record = worked.WorkedRecord(Sheet.model_validate(sheet))
    contents = make_contents(
        record.sheet, record.events, head=record.head, made_at=record.now, program="x", zone=UTC
    )
    places = {}
    for full in ((4000, 3000), (8000, 6000)):
        darkroom = Darkroom(worked.make_jpeg, tmp_path, lambda name, full=full: full)
        reader = PdfReader(io.BytesIO(draw_pages(contents, darkroom)))
        for page in reader.pages:

            def visit(text, cm, tm, fonts, size, full=full) -> None:
                if text.strip() == "4711":
                    places[full] = (tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5])

            page.extract_text(visitor_text=visit)
    (x, y), (x_half, y_half) = places[(4000, 3000)], places[(8000, 6000)]
    assert x_half < x - 30 and y_half > y + 20, "half as far from the upper left corner"


# --- being asked to stop --------------------------------------------------------------------


def test_progress_is_told_and_a_cancel_stops(finished, tmp_path) -> None:
    told = []
    draw(finished, tmp_path, progress=lambda *what: told.append(what))
    assert {what for what, _, _ in told} == {"Fetching pictures", "Drawing page"}
    pages = [done for what, done, _ in told if what == "Drawing page"]
    assert pages == list(range(1, len(pages) + 1))

    with pytest.raises(PaperTrouble, match="stopped"):
        draw(finished, tmp_path, cancelled=lambda: True)
    asked = iter([False] * (len(told) // 2))
    with pytest.raises(PaperTrouble, match="stopped"):
        draw(finished, tmp_path, cancelled=lambda: next(asked, True))
