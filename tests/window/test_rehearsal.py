"""A rehearsal works the real window by keys, and nothing that it leaves can pass for a record."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtGui import QColor, QImage, QPixmap
from PySide6.QtWidgets import QApplication, QWidget

from shopguide import places
from shopguide.errors import SheetTrouble, Trouble
from shopguide.job.files import load_sheet, pack_sheet
from shopguide.paper.verify import verify_paper
from shopguide.record.file import RecordFile, verify_record
from shopguide.window import rehearsal
from shopguide.window.frame import Frame
from shopguide.window.rehearsal import WORD, rehearse, stamp
from shopguide.window.work_place import WorkPlace
from shopguide.work.ledger import list_departures, list_missing
from shopguide.work.progress import fold

CAUTION = {
    "signal": "WARNING",
    "hazard": "The van can fall.",
    "consequence": "You can be crushed.",
    "avoid": "Use stands.",
    "acknowledge": True,
}
SHEET = {
    "format": "shopguide-job/1",
    "title": "Every kind of task",
    "author": "Nobody",
    "date": "2024-04-03",
    "cautions": [CAUTION],
    "specs": [
        {"name": "cover screws", "kind": "torque", "value": "9 N·m", "tolerance": "±1 N·m"},
        {"name": "warm", "kind": "temperature", "low": "40 °C", "high": "45 °C"},
        {"name": "gap", "kind": "length", "high": "0.2 mm"},
        {"name": "unknown gap", "kind": "length", "note": "nobody knows"},
        {"name": "a while", "kind": "time", "value": "10 min"},
    ],
    "parts": [{"name": "Gasket", "number": "A 1", "single_use": True}],
    "fluids": [{"name": "fluid"}],
    "patterns": [{"name": "cover", "title": "Cover", "circle": {"count": 4, "diameter_mm": 80}}],
    "stages": [
        {
            "title": "All of it",
            "steps": [
                {
                    "title": "Take apart",
                    "cautions": [{**CAUTION, "acknowledge": False}],
                    "tasks": [
                        {"kind": "confirm", "text": "The van stands on stands."},
                        {"kind": "drain", "text": "Drain.", "fluid": "fluid", "item": "fluid"},
                        {"kind": "wait", "text": "Let it drip.", "spec": "a while"},
                        {"kind": "open", "text": "Off.", "how": "remove", "item": "cover"},
                        {"kind": "open", "text": "Out.", "how": "remove", "item": "old clip"},
                        {"kind": "photo", "text": "Take a photo."},
                    ],
                },
                {
                    "title": "Put back",
                    "tasks": [
                        {"kind": "measure", "text": "Measure the gap.", "spec": "gap"},
                        {"kind": "measure", "text": "Measure.", "spec": "unknown gap"},
                        {"kind": "close", "text": "On.", "how": "refit", "item": "cover"},
                        {
                            "kind": "torque",
                            "text": "Tighten.",
                            "pattern": "cover",
                            "spec": "cover screws",
                            "passes": [
                                {"kind": "snug"},
                                {"kind": "torque"},
                                {"kind": "back off"},
                                {"kind": "torque"},
                                {"kind": "check"},
                            ],
                        },
                        {
                            "kind": "torque",
                            "text": "Tighten the plug.",
                            "fastener": "plug",
                            "spec": "cover screws",
                        },
                        {
                            "kind": "fill",
                            "text": "Fill.",
                            "fluid": "fluid",
                            "like_drained": True,
                            "item": "fluid",
                        },
                        {"kind": "measure", "text": "Measure the fluid.", "spec": "warm"},
                        {
                            "kind": "leave",
                            "text": "Leave it.",
                            "how": "do not touch",
                            "fastener": "band screw",
                            "reason": "It sets a band.",
                        },
                    ],
                },
            ],
        }
    ],
}


@pytest.fixture
def sheet_path(tmp_path) -> Path:
    """A small sheet with every kind of task, and without a picture."""
    folder = tmp_path / "sheet"
    folder.mkdir()
    (folder / "job.json").write_text(json.dumps(SHEET), encoding="utf-8")
    return folder


def read_events(path: Path):
    record = RecordFile.open(path, read_only=True)
    try:
        return record.events()
    finally:
        record.close()


def test_a_whole_sheet_is_worked_through(qapp, sheet_path, tmp_path, user_home):
    said: list[str] = []
    out = tmp_path / "out"
    files = rehearse(sheet_path, out, say=said.append)

    assert sorted(files) == sorted(out.iterdir())
    assert os.environ[places.HOME_VARIABLE] == str(user_home)
    assert not list(user_home.rglob("*.shopguide"))
    assert "step 2 of 2: Put back" in said

    pictures = [path for path in files if path.suffix == ".png"]
    kinds = {path.stem[3:] for path in pictures}
    assert kinds >= {
        "shelf",
        "lay_out",
        "lay_out_caution_to_read",
        "work_caution_to_read",
        "work_a_step",
        "work_value_is_due",
        "work_a_value_is_typed",
        "work_a_question",
        "work_photo_is_due",
        "work_pass_2_to_torque",
        "work_pass_3_back_off",
        "work_pass_4_to_torque",
        "work_dark",
        "work_one_fastener",
        "sign_off",
        "sign_off_signed",
    }
    for path in pictures:
        image = QImage(str(path))
        assert (image.width(), image.height()) == (1366, 768)

    events = read_events(out / f"{WORD}.shopguide")
    assert events[0].data["rehearsal"] is True
    sheet = load_sheet(sheet_path).sheet
    progress = fold(sheet, events)
    assert list_missing(progress) == ()
    assert progress.signed is not None
    assert WORD in progress.signed.data["name"]
    assert progress.signed.data["strokes"]
    for field in ("make", "model", "person", "serial"):
        assert WORD in progress.laid_out[field]
    assert len(progress.marks["2.4"]) == 5 * 4
    assert progress.drained("fluid") == (progress.outcomes["2.6"].value,)
    assert progress.accounted == {"old clip": rehearsal.REASON}
    assert [d.reason for d in list_departures(progress)] == [rehearsal.NOT_WAITED]

    verdict = verify_paper((out / f"{WORD}.pdf").read_bytes(), {})
    assert verdict.rehearsal
    assert not verdict.good
    assert verdict.as_dict()["unchanged"]["state"] == "unchanged"
    assert verdict.head == events[-1].hash
    assert verify_record(out / f"{WORD}.shopguide").head == events[-1].hash


def test_a_zipped_sheet_is_rehearsed_over_an_earlier_one(qapp, sheet_path, tmp_path):
    packed, out = tmp_path / "sheet.zip", tmp_path / "out"
    pack_sheet(load_sheet(sheet_path), packed)
    first = {path.name for path in rehearse(sheet_path, out, say=lambda _: None)}
    before = read_events(out / f"{WORD}.shopguide")[0].hash
    assert {path.name for path in rehearse(packed, out, say=lambda _: None)} == first
    assert read_events(out / f"{WORD}.shopguide")[0].hash != before


def test_only_the_frame_is_ever_a_window(qapp, qtbot, sheet_path, tmp_path):
    class Watch(QObject):
        def __init__(self) -> None:
            super().__init__()
            self.shown: set[str] = set()

        def eventFilter(self, watched: QObject, event: QEvent) -> bool:
            shown = event.type() == QEvent.Type.Show
            if shown and isinstance(watched, QWidget) and watched.isWindow():
                self.shown.add(type(watched).__name__)
            return False

    watch = Watch()
    qapp.installEventFilter(watch)
    try:
        rehearse(sheet_path, tmp_path / "out", say=lambda _: None)
    finally:
        qapp.removeEventFilter(watch)
    assert watch.shown == {"Frame"}


def test_a_sheet_that_does_not_open_is_told_before_anything(qapp, tmp_path):
    folder = tmp_path / "sheet"
    folder.mkdir()
    (folder / "job.json").write_text(json.dumps({**SHEET, "titel": "x"}), encoding="utf-8")
    with pytest.raises(SheetTrouble):
        rehearse(folder, tmp_path / "out", say=lambda _: None)
    assert not (tmp_path / "out").exists()


def test_a_window_that_does_nothing_is_told_with_its_place(
    qapp, sheet_path, tmp_path, monkeypatch, user_home
):
    monkeypatch.setattr(rehearsal, "PATIENCE_S", 0.3)
    monkeypatch.setattr(WorkPlace, "press", lambda self: None)
    with pytest.raises(Trouble) as told:
        rehearse(sheet_path, tmp_path / "out", say=lambda _: None)
    assert "stands still" in told.value.what
    assert "step 1" in told.value.where
    assert os.environ[places.HOME_VARIABLE] == str(user_home)
    assert not [w for w in QApplication.topLevelWidgets() if isinstance(w, Frame) and w.isVisible()]


def test_a_fault_inside_the_window_ends_it_at_once(
    qapp, sheet_path, tmp_path, monkeypatch, user_home
):
    # Later, from Qt's loop: what a key press itself raises comes back to whoever pressed it.
    monkeypatch.setattr(WorkPlace, "press", lambda self: QTimer.singleShot(0, lambda: 1 / 0))
    with pytest.raises(Trouble) as told:
        rehearse(sheet_path, tmp_path / "out", say=lambda _: None)
    assert "fault of its own" in told.value.what
    assert "ZeroDivisionError" in (user_home / "shopguide.log").read_text(encoding="utf-8")


def test_a_folder_that_cannot_be_made_is_told(qapp, sheet_path, tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(Trouble) as told:
        rehearse(sheet_path, tmp_path / "file" / "out", say=lambda _: None)
    assert "folder" in told.value.what


def test_the_stamp_lies_across_and_lets_what_is_under_it_be_read(qapp):
    pixmap = QPixmap(683, 384)
    pixmap.fill(QColor("#FFFFFF"))
    stamp(pixmap, QColor("#B5126F"))
    image = pixmap.toImage()
    inked = [
        (x, y)
        for x in range(image.width())
        for y in range(image.height())
        if image.pixelColor(x, y) != QColor("#FFFFFF")
    ]
    assert len(inked) > 0.04 * image.width() * image.height()
    xs, ys = [x for x, _ in inked], [y for _, y in inked]
    assert min(xs) < 0.2 * image.width() and max(xs) > 0.8 * image.width()
    assert min(ys) < 0.4 * image.height() and max(ys) > 0.6 * image.height()
    # Black letters under it keep more than 7:1 to what it makes of white.
    assert min(image.pixelColor(x, y).lightnessF() for x, y in inked) > 0.7
