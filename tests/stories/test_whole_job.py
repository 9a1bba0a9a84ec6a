"""The sample sheet from the shelf to the signed paper, by keys, and the paper read back."""

from __future__ import annotations

import json
import re
from pathlib import Path

from pypdf import PdfReader
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from shopguide.paper.identity import throwaway_identity
from shopguide.paper.verify import verify_paper
from shopguide.record.verdict import verify_record


def draw_signature(pad) -> None:
    """Two strokes with the mouse."""
    for start, end in (((40, 90), (160, 40)), ((60, 40), (180, 110))):
        QTest.mousePress(pad, Qt.MouseButton.LeftButton, pos=QPoint(*start))
        for part in range(1, 8):
            x = start[0] + (end[0] - start[0]) * part // 8
            y = start[1] + (end[1] - start[1]) * part // 8
            QTest.mouseMove(pad, QPoint(x, y))
        QTest.mouseRelease(pad, Qt.MouseButton.LeftButton, pos=QPoint(*end))


def test_the_sample_from_shelf_to_paper(person, sample, tmp_path, own_photo):
    person.photo = own_photo
    frame = person.frame
    person.qtbot.waitUntil(lambda: frame.shelf.row() is not None, timeout=10_000)
    assert person.bar == "Space opens the sheet: Gearbox sump cover: new gasket and filter"
    person.key(Qt.Key.Key_Space)
    person.qtbot.waitUntil(lambda: frame.desk is not None, timeout=30_000)
    person.lay_out()
    assert frame.place is frame.work

    said = []
    while person.due.act != "end":
        said.append(person.bar)
        person.do()
    assert "Space records: screw 7 of 16, pass 1 of 3, 9 N·m" in said
    assert "Space records: screw 7 of 16, pass 2 of 3, loosened" in said
    assert "Space records: screw 7 of 16, pass 3 of 3, 9 N·m" in said

    assert person.bar == "Every task is recorded. Space goes to Sign off"
    person.key(Qt.Key.Key_Space)
    assert frame.place is frame.sign_off
    draw_signature(frame.sign_off.pad)
    person.go_down_to("Space asks for your name, then signs")
    person.key(Qt.Key.Key_Space)
    assert frame.sign_off.ask.entry.text() == "Ada Hill"
    person.answer("Ada Hill")
    assert frame.desk.signed

    paper = tmp_path / "paper.pdf"
    frame.sign_off.choose_path = lambda _: str(paper)
    frame.sign_off.rehearsal_identity = throwaway_identity("Ada Hill")
    person.go_down_to("Space writes the PDF")
    person.key(Qt.Key.Key_Space)
    person.qtbot.waitUntil(lambda: frame.sign_off.written is not None, timeout=60_000)
    record_path = frame.desk.record_file.path
    check_paper(paper, person)
    frame.go("shelf")
    frame.close_desk()
    verdict = verify_record(record_path)
    assert verdict.good, verdict.tell()
    assert not list(record_path.parent.glob(record_path.name + "-*")), "one file is left"


def check_paper(paper: Path, person) -> None:
    """All marks of both passes are on the paper, in words, in the table and in the attachment."""
    reader = PdfReader(paper)
    text = "\n".join(page.extract_text() for page in reader.pages)
    flat = re.sub(r"\s+", " ", text)
    assert "16 of 16 screws of the sump cover were torqued twice to 9 N·m" in flat
    assert "1M8GDM9AXKP042788" in flat and "123456 km" in flat and "Ada Hill" in flat
    assert "no inspection" in flat or "not an inspection" in flat
    assert "REHEARSAL" not in flat

    head = person.frame.desk.record_file.head
    digits = re.sub(r"[^0-9a-f]", "", text)
    assert head in digits, "the head of the record is printed whole"

    held = {name: bodies[0] for name, bodies in reader.attachments.items()}
    record = json.loads(held["record.json"])
    assert record["head"] == head and not record["rehearsal"]
    sheet = person.frame.desk.sheet
    cover = next(a for a, t in sheet.tasks.items() if getattr(t, "pattern", None) == "cover")
    marks = [e["data"] for e in record["events"] if e["kind"] == "mark"]
    torqued = {
        (m["fastener"], m["pass"]) for m in marks if m["task"] == cover and m["target"] == "9 N·m"
    }
    assert torqued == {(n, p) for n in range(1, 17) for p in (1, 3)}, "32 torque marks"

    verdict = verify_paper(paper.read_bytes(), {})
    assert verdict.unchanged.state.value and verdict.good, verdict.tell()

    raw = paper.read_bytes()
    assert b"SERIAL-12345" not in raw
    for event in person.events:
        if event.kind == "photo":
            kept = person.frame.desk.record_file.photo(event.data["sha256"])
            assert b"SERIAL-12345" not in kept and b"Exif" not in kept
            assert (event.data["width"], event.data["height"]) == (1200, 1600), "turned upright"
