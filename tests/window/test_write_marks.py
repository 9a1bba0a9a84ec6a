"""Pictures in Write: marks on them, and adding them one by one, by folder and by pasting."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PIL import Image
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDragMoveEvent, QDropEvent, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.job.album import NOTES_KEPT, STRIPPED
from shopguide.job.edits import Draft, SetValue
from shopguide.job.files import load_sheet
from shopguide.job.model import Ring
from shopguide.job.packing import find_packing
from shopguide.job.skeletons import make_skeleton
from shopguide.window.marks_board import MarksBoard
from shopguide.window.write_card import MOST_AT_ONCE
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_left_out import LeaveOut
from shopguide.window.write_photo_block import PhotoBlock
from shopguide.window.write_photos import NOTES_IN, NOTES_OUT
from shopguide.window.write_place import WritePlace

PATIENCE_MS = 30_000
CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
PLAIN = Qt.KeyboardModifier.NoModifier
STEP = ("stages", 0, "steps", 0)
PHOTO = (*STEP, "photos", 0)


def take_up(frame, draft: Draft, folder: Path | None = None) -> WritePlace:
    packing = find_packing(folder) if folder is not None else None
    frame.write.take_up(WriteDesk(draft, folder, packing, parent=frame.write))
    frame.go("write")
    QApplication.processEvents()
    return frame.write


@pytest.fixture
def place(frame) -> Iterator[WritePlace]:
    """Write in the real window, with a blank sheet whose first step is shown."""
    yield take_up(frame, Draft(make_skeleton("blank", "Pump cover", "Ada Hill", "2026-03-24")))


@pytest.fixture
def wait(qtbot, frame) -> Callable[[], None]:
    """Waits until what was begun off the thread is over."""

    def until_over() -> None:
        qtbot.waitUntil(lambda: frame.write.errand is None, timeout=PATIENCE_MS)
        QApplication.processEvents()

    return until_over


def press(key: Qt.Key, held: Qt.KeyboardModifier = PLAIN) -> None:
    QTest.keyClick(QApplication.focusWidget(), key, held)
    QApplication.processEvents()


def make_picture(path: Path, shade: int, exif: Image.Exif | None = None) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    picture = Image.new("RGB", (320, 240), (shade, 110, 90))
    picture.save(path, **({"exif": exif} if exif is not None else {}))
    return path


def list_files(place: WritePlace) -> list[str]:
    return [p.file for p in place.writing.draft.sheet.steps[0].step.photos]


@pytest.fixture
def with_picture(place, wait, tmp_path) -> WritePlace:
    """Write with one picture in the first step, the keys on its caption."""
    place.photos.add([str(make_picture(tmp_path / "cover.png", 120))])
    wait()
    assert place.card.go_to((*PHOTO, "caption"))
    return place


# --- marks --------------------------------------------------------------------------------------


def test_a_ring_is_drawn_on_a_picture_by_keys_and_is_one_edit(with_picture, wait):
    place = with_picture
    assert place.bar.keys.startswith("Ctrl M marks on the picture")
    before = place.writing.draft.dump()
    # What is being typed is kept before the board covers it.
    QTest.keyClicks(QApplication.focusWidget(), "From below")
    press(Qt.Key.Key_M, CONTROL)
    wait()
    assert isinstance(place.board, MarksBoard)
    assert place.board.title.text() == "From below"
    press(Qt.Key.Key_R)
    press(Qt.Key.Key_Space)
    for _ in range(3):
        press(Qt.Key.Key_Right, SHIFT)
    press(Qt.Key.Key_Space)
    press(Qt.Key.Key_Escape)
    drawn = place.board.marks
    press(Qt.Key.Key_Space)
    assert place.board is None
    (photo,) = place.writing.draft.sheet.steps[0].step.photos
    assert photo.marks == drawn
    (ring,) = photo.marks
    assert isinstance(ring, Ring)
    # The blank board begins in the middle of the picture, in the picture's own pixels.
    assert ring.at == pytest.approx((160, 120), abs=1.5)
    assert photo.caption == "From below"
    assert place.card.find_block(QApplication.focusWidget()).path == PHOTO
    assert place.bar.after == "Ctrl Z undoes: change of marks on cover.png"
    place.undo()
    assert place.writing.draft.sheet.steps[0].step.photos[0].marks == ()
    place.undo()
    assert place.writing.draft.dump() == before


def test_marks_that_are_there_are_shown_and_leaving_changes_nothing(frame, wait, sample):
    place = take_up(frame, Draft.open((sample / "job.json").read_bytes()), sample)
    at, photo = next(
        (("stages", i, "steps", j, "photos", k), photo)
        for i, stage in enumerate(place.writing.draft.sheet.stages)
        for j, step in enumerate(stage.steps)
        for k, photo in enumerate(step.photos)
        if photo.marks
    )
    before = place.writing.data
    place.choose(at[:4])
    place.card.go_to((*at, "caption"))
    press(Qt.Key.Key_M, CONTROL)
    wait()
    assert place.board.marks == photo.marks
    press(Qt.Key.Key_Escape)
    assert place.board is None
    assert place.writing.data is before


def test_a_click_on_the_small_picture_opens_it(with_picture, wait):
    block = with_picture.card.find_block(QApplication.focusWidget())
    QTest.mouseClick(block.thumb, Qt.MouseButton.LeftButton)
    wait()
    assert isinstance(with_picture.board, MarksBoard)


def test_a_picture_that_is_gone_is_told(with_picture, wait):
    with_picture.writing._new_photos["cover.png"].unlink()
    with_picture.marks.open(PHOTO)
    wait()
    assert with_picture.board is None
    assert with_picture.notice.what == "The picture cannot be read."
    assert with_picture.notice.where == "cover.png"


# --- adding -------------------------------------------------------------------------------------


def test_place_and_serial_number_are_left_out_and_that_is_said(place, wait, tmp_path):
    exif = Image.Exif()
    exif[0x0112] = 6  # a quarter turn
    exif.get_ifd(0x8769)[0xA431] = "SERIAL-4711"
    exif.get_ifd(0x8825)[1] = "N"
    path = make_picture(tmp_path / "from phone.jpg", 60, exif)
    assert b"SERIAL-4711" in path.read_bytes()
    place.photos.add([str(path)])
    wait()
    assert place.notice.what == "1 picture added to this step."
    assert place.notice.next == STRIPPED
    kept = place.writing.read_photo(list_files(place)[0])
    assert b"SERIAL-4711" not in kept
    assert QImage.fromData(kept).size().toTuple() == (240, 320)


def test_a_folder_is_added_in_one_go_and_is_one_edit(place, wait, tmp_path):
    folder = tmp_path / "card"
    for number in (10, 2, 1):
        make_picture(folder / f"shot {number}.png", number)
    make_picture(folder / "twin.png", 10)
    (folder / "list.txt").write_text("no picture")
    (folder / "torn.jpg").write_bytes(b"\xff\xd8\xff torn")
    before = place.writing.data
    place.choose_photo_folder = lambda: str(folder)
    assert place.card.go_to(("add photos",))
    assert "Shift Enter a folder" in place.bar.keys
    press(Qt.Key.Key_Return, SHIFT)
    wait()
    assert list_files(place) == ["shot_1.png", "shot_2.png", "shot_10.png"]
    assert place.notice.what == "3 pictures added to this step."
    assert "twin.png: The same picture is there already, as shot_10.png." in place.notice.where
    assert "torn.jpg: " in place.notice.where
    assert "1 file is no picture by name, and left alone." in place.notice.where
    assert place.bar.after == "Ctrl Z undoes: adding of 3 pictures"
    place.undo()
    assert place.writing.data == before


def test_pictures_are_saved_and_known_again_by_what_is_in_them(place, wait, tmp_path, qtbot):
    first = make_picture(tmp_path / "one" / "cover.png", 1)
    place.photos.add([str(first)])
    wait()
    target = tmp_path / "saved"
    place.choose_folder = lambda title: str(target)
    with qtbot.waitSignal(place.writing.saved, timeout=PATIENCE_MS):
        place.save()
    # Beside the sheet lies one that it does not use: its name stays its own.
    make_picture(target / "photos" / "plug.png", 9)
    other = make_picture(tmp_path / "two" / "cover.png", 2)
    plug = make_picture(tmp_path / "two" / "plug.png", 3)
    again = make_picture(tmp_path / "two" / "again.png", 1)
    place.photos.add([str(p) for p in (other, plug, again)])
    wait()
    assert list_files(place) == ["cover.png", "cover_2.png", "plug_2.png"]
    with qtbot.waitSignal(place.writing.saved, timeout=PATIENCE_MS):
        place.save()
    opened = load_sheet(target)
    assert opened.names() == ("cover.png", "cover_2.png", "plug_2.png")
    assert [QImage.fromData(opened.photo_bytes(n)).pixelColor(9, 9).red() for n in opened.names()] \
        == [1, 2, 3]  # fmt: skip


def test_a_picture_undone_before_saving_comes_back_with_redo(
    place, wait, tmp_path, user_home, qtbot
):
    place.photos.add([str(make_picture(tmp_path / "cover.png", 1))])
    wait()
    place.undo()
    target = tmp_path / "saved"
    place.choose_folder = lambda title: str(target)
    with qtbot.waitSignal(place.writing.saved, timeout=PATIENCE_MS):
        place.save()
    assert load_sheet(target).names() == ()
    place.redo()
    with qtbot.waitSignal(place.writing.saved, timeout=PATIENCE_MS):
        place.save()
    assert load_sheet(target).names() == ("cover.png",)
    place.undo()
    with qtbot.waitSignal(place.writing.saved, timeout=PATIENCE_MS):
        place.save()
    place.photos.add([str(make_picture(tmp_path / "plug.png", 2))])
    wait()
    place.undo()
    assert place.writing.is_saved
    place.close_desk()
    assert not list((user_home / "drafts").glob("*.photos/*")), "nothing waits for nobody"


def test_a_cancel_leaves_nothing_behind(place, wait, tmp_path, user_home):
    folder = tmp_path / "card"
    for number in range(40):
        make_picture(folder / f"{number}.png", number)
    before = place.writing.data
    place.photos.add([str(folder)])
    place.errand.cancel()
    wait()
    assert place.writing.data is before
    assert not list((user_home / "drafts").glob("*.photos/*"))
    stops = iter([False, False, False, True])
    album = place.writing.take_in([folder], cancelled=lambda: next(stops, True))
    assert album.stopped and len(album.kept) == 3
    assert not list((user_home / "drafts").glob("*.photos/*"))


def test_copied_pictures_are_pasted(place, wait, tmp_path):
    clipboard = QApplication.clipboard()
    image = QImage(64, 48, QImage.Format.Format_RGB32)
    image.fill(0xFF336699)
    clipboard.setImage(image)
    assert place.card.go_to(("add photos",))
    press(Qt.Key.Key_V, CONTROL)
    wait()
    assert list_files(place) == ["pasted.png"]
    files = QMimeData()
    files.setUrls([QUrl.fromLocalFile(str(make_picture(tmp_path / "copied.png", 5)))])
    clipboard.setMimeData(files)
    assert place.card.go_to(("add photos",))
    press(Qt.Key.Key_V, CONTROL)
    wait()
    assert list_files(place) == ["pasted.png", "copied.png"]
    clipboard.setText("no picture")
    place.photos.paste()
    assert place.notice.what == "No picture was copied."
    assert list_files(place) == ["pasted.png", "copied.png"]


# --- pictures that nothing shows ----------------------------------------------------------------


def test_a_picture_that_nothing_shows_is_removed_by_the_fix_at_saving_and_comes_back_by_undo(
    place, wait, tmp_path, qtbot
):
    place.photos.add([str(make_picture(tmp_path / "cover.png", 1))])
    wait()
    target = tmp_path / "saved"
    place.choose_folder = lambda title: str(target)

    def save() -> None:
        with qtbot.waitSignal(place.writing.saved, timeout=PATIENCE_MS):
            place.save()

    def find_remark():
        return next((r for r in place.writing.remarks if r.rule == "photo is used"), None)

    save()
    spare = make_picture(target / "photos" / "spare.png", 7)
    held = spare.read_bytes()
    place.writing.begin_review()
    qtbot.waitUntil(lambda: find_remark() is not None, timeout=PATIENCE_MS)
    before = place.writing.data
    place.review.fix(find_remark())
    assert place.bar.after == "Ctrl Z undoes: removal of spare.png at the next saving"
    qtbot.waitUntil(lambda: find_remark() is None, timeout=PATIENCE_MS)
    assert spare.exists(), "nothing is changed before saving"
    # An edit after it does not bring it back, an undo of both does.
    place.apply(SetValue(("title",), "Another title"))
    place.undo()
    place.undo()
    assert place.writing.data is before
    qtbot.waitUntil(lambda: find_remark() is not None, timeout=PATIENCE_MS)
    place.redo()
    place.redo()
    save()
    assert not spare.exists() and (target / "photos" / "cover.png").exists()
    assert load_sheet(target).sheet.title == "Another title"
    place.undo()
    place.undo()
    save()
    assert spare.read_bytes() == held
    place.redo()
    save()
    assert not spare.exists()


def test_a_picture_that_is_used_again_is_not_removed(place, wait, tmp_path, qtbot):
    place.photos.add([str(make_picture(tmp_path / "cover.png", 1))])
    wait()
    target = tmp_path / "saved"
    place.choose_folder = lambda title: str(target)
    with qtbot.waitSignal(place.writing.saved, timeout=PATIENCE_MS):
        place.save()
    make_picture(target / "photos" / "spare.png", 7)
    place.apply(LeaveOut("spare.png"))
    place.apply(SetValue((*STEP, "photos"), [{"file": "spare.png"}]))
    with qtbot.waitSignal(place.writing.saved, timeout=PATIENCE_MS):
        place.save()
    assert load_sheet(target).names() == ("spare.png",)


# --- dropping and pasting onto the card ---------------------------------------------------------


def drop_on(widget, files: list[Path]) -> None:
    """As the desktop does: over the widget, then let go."""
    held = QMimeData()
    held.setUrls([QUrl.fromLocalFile(str(f)) for f in files])
    held.setText("not this text")
    copy, left = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton
    spot = QPoint(5, 5)
    enter = QDragEnterEvent(spot, copy, held, left, PLAIN)
    QApplication.sendEvent(widget, enter)
    assert enter.isAccepted()
    QApplication.sendEvent(widget, QDragMoveEvent(spot, copy, held, left, PLAIN))
    QApplication.sendEvent(widget, QDropEvent(QPointF(spot), copy, held, left, PLAIN))


@pytest.mark.parametrize("where", ["caption", "title", "task", "beside everything"])
def test_pictures_dropped_anywhere_on_the_card_are_added(with_picture, wait, tmp_path, where):
    place = with_picture
    texts = {"caption": (*PHOTO, "caption"), "title": (*STEP, "title"),
             "task": (*STEP, "tasks", 0, "text")}  # fmt: skip
    widget = place.card
    if where in texts:
        assert place.card.go_to(texts[where])
        widget = QApplication.focusWidget()
    before = place.writing.data
    drop_on(widget.viewport(), [make_picture(tmp_path / "dropped.png", 9)])
    wait()
    assert list_files(place) == ["cover.png", "dropped.png"]
    assert "not this text" not in json.dumps(place.writing.data)
    place.undo()
    assert place.writing.data is before


def test_words_dropped_on_a_caption_stay_words(with_picture):
    held = QMimeData()
    held.setText("some words")
    enter = QDragEnterEvent(QPoint(5, 5), Qt.DropAction.CopyAction, held,
                            Qt.MouseButton.LeftButton, PLAIN)  # fmt: skip
    entry = QApplication.focusWidget()
    assert entry.canInsertFromMimeData(held)
    QApplication.sendEvent(entry.viewport(), enter)
    assert enter.isAccepted()


def test_a_picture_pasted_on_a_caption_is_added_and_words_are_written(with_picture, wait):
    clipboard = QApplication.clipboard()
    image = QImage(64, 48, QImage.Format.Format_RGB32)
    image.fill(0xFF336699)
    clipboard.setImage(image)
    press(Qt.Key.Key_V, CONTROL)
    wait()
    assert list_files(with_picture) == ["cover.png", "pasted.png"]
    assert with_picture.card.go_to((*PHOTO, "caption"))
    clipboard.setText("From below")
    press(Qt.Key.Key_V, CONTROL)
    QApplication.focusWidget().keep()
    assert with_picture.writing.draft.sheet.steps[0].step.photos[0].caption == "From below"


# --- the camera's notes -------------------------------------------------------------------------


def test_notes_are_kept_only_where_that_is_asked_for_and_both_are_said(
    place, wait, tmp_path, frame
):
    exif = Image.Exif()
    exif[0xA431] = "SERIAL-4711"
    files = [make_picture(tmp_path / f"{n}.jpg", 40 * n, exif) for n in (1, 2, 3)]
    assert place.card.go_to(("add photos",))
    assert place.card._notes.text() == NOTES_OUT
    place.photos.add([str(files[0])])
    wait()
    assert place.card.go_to(("add photos",))
    assert "K keeps notes" in place.bar.keys
    press(Qt.Key.Key_K)
    assert place.card._notes.text() == NOTES_IN
    assert place.notice.what.endswith("are kept in the pictures added.")
    place.photos.add([str(files[1])])
    wait()
    assert place.notice.next == NOTES_KEPT
    assert place.card.go_to(("add photos",))
    assert "K leaves notes out" in place.bar.keys
    press(Qt.Key.Key_K)
    place.photos.add([str(files[2])])
    wait()
    assert place.notice.next == STRIPPED
    kept = [place.writing.read_photo(name) for name in list_files(place)]
    assert [b"SERIAL-4711" in data for data in kept] == [False, True, False]
    assert kept[1] == files[1].read_bytes(), "what is kept with its notes is kept byte for byte"
    # Another sheet does not inherit the wish.
    place.photos.change_notes()
    other = take_up(frame, Draft(make_skeleton("blank", "Other", "Ada Hill", "2026-03-24")))
    assert not other.photos.keeps_notes and other.card._notes.text() == NOTES_OUT


def test_the_line_in_use_stays_seen_when_a_notice_takes_room_and_when_pictures_come(
    place, wait, tmp_path, qtbot
):
    def is_seen() -> bool:
        line = QApplication.focusWidget()
        top = line.mapTo(place.card.viewport(), QPoint(0, 0)).y()
        return top >= 0 and top + line.height() <= place.card.viewport().height()

    for number in range(5):
        place.photos.add([str(make_picture(tmp_path / f"{number}.png", 30 * number))])
        wait()
        assert place.card.go_to(("add photos",))
        assert place.wish_in_use() == "add photos"
        qtbot.waitUntil(is_seen, timeout=PATIENCE_MS)
    place.notice.close_notice()
    qtbot.waitUntil(is_seen, timeout=PATIENCE_MS)
    press(Qt.Key.Key_K)
    assert place.notice.isVisible()
    qtbot.waitUntil(is_seen, timeout=PATIENCE_MS)


def test_many_pictures_of_a_step_come_some_at_a_turn_and_all_can_be_gone_to(place, qtbot):
    names = [f"{number}.png" for number in range(25)]
    place.apply(SetValue((*STEP, "photos"), [{"file": n, "caption": f"no. {n}"} for n in names]))

    def list_shown() -> list[str]:
        blocks = [b for b in place.card._order if isinstance(b, PhotoBlock)]
        return [b.lines[0].text for b in blocks]

    assert len(list_shown()) == MOST_AT_ONCE
    # One that is not built yet is built when it is gone to, and those before it.
    assert place.card.go_to((*STEP, "photos", 15, "caption"))
    line = place.card.find_line(QApplication.focusWidget())
    assert line.path == (*STEP, "photos", 15, "caption") and line.text == "no. 15.png"
    assert len(list_shown()) == 16
    qtbot.waitUntil(lambda: len(list_shown()) == 25, timeout=PATIENCE_MS)
    assert list_shown() == [f"no. {n}" for n in names]
    qtbot.waitUntil(lambda: all(b.isVisible() for b in place.card._blocks), timeout=PATIENCE_MS)
    tops = [b.mapTo(place.card.widget(), QPoint(0, 0)).y() for b in place.card._blocks]
    assert tops == sorted(tops)
    # An edit while some are still to come shows in those too.
    place.choose(("sheet",))
    place.choose(STEP)
    place.apply(SetValue((*STEP, "photos", 24, "caption"), "the last"))
    qtbot.waitUntil(lambda: len(list_shown()) == 25, timeout=PATIENCE_MS)
    assert list_shown()[-1] == "the last"
