"""Write is killed at random moments: the saved file is whole, and the draft comes back.

`pytest --kills 100` kills it that often; where nothing is told, a few times.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from PIL import Image

from shopguide.job.edits import Draft
from shopguide.job.files import save_sheet
from shopguide.job.skeletons import make_skeleton
from shopguide.window.write_drafts import ENDING, FORMAT

HERE = Path(__file__).parent
FEW, USUAL = 6, 20
LONGEST_LIFE_S = 60
MOMENTS = ("state", "state", "aside", "saving", "saving", "saved")
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of POSIX systems")


@dataclass
class Book:
    """What the lives of one user told so far, in the sequence in which it came about.

    latest: the number of the last time that the sheet was in a state.  dumps: the state that the
    bytes of a saved file hold.  kept: what has to be on disk, at least.
    """

    latest: dict[str, int] = field(default_factory=dict)
    dumps: dict[str, str] = field(default_factory=dict)
    saved: int = -1
    kept: int = -1
    began: dict[str, object] = field(default_factory=dict)
    told: int = 0

    def take(self, line: str) -> str:
        """Takes a line in; what sort it is."""
        if not line.endswith("\n"):
            return ""  # cut off by the kill in the middle of being written
        said = json.loads(line)
        assert "trouble" not in said, said
        self.told += 1
        match said:
            case {"began": state, **_rest}:
                self.began = said
                self.latest[state] = self.told
            case {"state": state}:
                self.latest[state] = self.told
            case {"aside": state}:
                self.kept = max(self.kept, self.latest[state])
            case {"saving": dump, "of": state}:
                self.dumps[dump] = state
            case {"saved": dump, "of": state}:
                assert self.dumps[dump] == state
                self.saved = max(self.saved, self.latest[state])
                self.kept = max(self.kept, self.saved)
        return next(iter(said))


@dataclass
class Left:
    """What lay on disk after a kill.

    draft: the state in the draft.  saved: that of the saved sheet when it is opened, which is
    tidier than what was typed.  news: the draft says something that is not saved.
    """

    draft: str = ""
    saved: str = ""
    news: bool = False


def live(user: Path, sort: str, sheet: Path, luck: random.Random, book: Book) -> tuple[str, Left]:
    """Starts the program, lets it write, kills it, and looks at what is on disk."""
    checkout, errors = HERE.parent.parent, user.parent / f"{user.name} errors.txt"
    env = {**os.environ, "SHOPGUIDE_HOME": str(user), "PYTHONPATH": str(checkout)}
    script, photos = HERE / "write_run.py", user.parent / "photos"
    words = [sys.executable, script, sort, sheet, str(luck.randrange(1 << 30)), photos]
    moment = luck.choice(MOMENTS if sort == "saved" else ("state", "aside"))
    if not book.told:
        moment = "aside"  # so that a draft is sure to wait for the next life
    count = luck.randint(1, 12 if moment in ("state", "aside") else 2)
    with (
        errors.open("w") as stderr,
        subprocess.Popen(words, env=env, stdout=subprocess.PIPE, stderr=stderr, text=True) as run,
    ):
        watch = threading.Timer(LONGEST_LIFE_S, run.kill)
        watch.start()
        begun, said = False, ""
        while not begun or count:
            line = run.stdout.readline()
            if not line:
                how = "it hung" if not watch.is_alive() else f"it ended by itself: {run.wait()}"
                raise AssertionError(f"{how} after {said}, {count} {moment}: {errors.read_text()}")
            said = book.take(line)
            begun = begun or said == "began"
            count -= begun and said == moment and count > 0
        # So that not every kill falls into the same moment of a writing.
        until = time.perf_counter() + luck.random() * 0.03
        while time.perf_counter() < until:
            pass
        assert watch.is_alive(), "it hung"
        assert run.poll() is None, f"it ended by itself: {errors.read_text()}"
        os.kill(run.pid, signal.SIGKILL)
        watch.cancel()
        for line in run.stdout.read().splitlines(keepends=True):
            book.take(line)
    assert errors.read_text() == ""
    return moment, look(user, sort, sheet, book)


def look(user: Path, sort: str, sheet: Path, book: Book) -> Left:
    """Checks what is on disk: whole, no older than what was told, with its pictures."""
    left = Left()
    reached, opened = -1, None
    drafts = user / "drafts"
    if sort == "saved":
        raw = (sheet / "job.json").read_bytes()
        dump = hashlib.sha256(raw).hexdigest()
        assert dump in book.dumps, "the saved file is nothing that was ever to be saved"
        opened = Draft.open(raw)
        left.saved = hashlib.sha256(opened.dump_as_typed()).hexdigest()
        reached = book.latest[book.dumps[dump]]
        assert reached >= book.saved, "an older file than was told as saved"
        look_at_pictures(json.loads(raw), (sheet / "photos",))
    files = [path for path in drafts.glob(f"*{ENDING}") if not path.name.startswith(".")]
    assert len(files) <= 1, "one sheet has one draft"
    for path in files:
        told, _, rest = path.read_bytes().partition(b', "sheet": ')
        head, raw = json.loads(told + b"}"), rest[:-1]
        assert head["format"] == FORMAT and head["sha256"] == hashlib.sha256(raw).hexdigest()
        left.draft = head["sha256"]
        assert left.draft in book.latest, "a draft of a state that never was"
        reached = max(reached, book.latest[left.draft])
        key = path.name.removesuffix(ENDING)
        look_at_pictures(json.loads(raw), (sheet / "photos", drafts / f"{key}.photos"))
        draft = Draft.open(raw)
        same = draft.data == opened.data if opened is not None else False
        tidied = opened is not None and draft.sheet is not None and draft.sheet == opened.sheet
        left.news = not (same or tidied)
    assert reached >= book.kept, "less is on disk than was told"
    return left


def look_at_pictures(data: object, folders: tuple[Path, ...]) -> None:
    """Every picture of a sheet is there and whole."""
    for stage in data["stages"]:
        for step in stage["steps"]:
            for photo in step.get("photos", ()):
                there = [f / photo["file"] for f in folders if (f / photo["file"]).exists()]
                assert there, f"{photo['file']} is gone"
                with Image.open(there[0]) as image:
                    image.load()


def kill_often(user: Path, sort: str, kills: int, seed: int) -> tuple[list[str], int]:
    """One user writes on after every kill; the moments that were met, and how often it had to."""
    user.mkdir()
    luck, book = random.Random(seed), Book()
    sheet = user.parent / f"sheet of {user.name}"
    if sort == "saved":
        first = Draft(make_skeleton("blank", "Pump", "Ada Hill", "2026-03-24"))
        save_sheet(first.sheet, sheet)
        state = hashlib.sha256(first.dump_as_typed()).hexdigest()
        book.latest[state] = 0
        book.dumps[hashlib.sha256((sheet / "job.json").read_bytes()).hexdigest()] = state
    left, moments, offers = Left(), [], 0
    for number in range(kills):
        before = left
        moment, left = live(user, sort, sheet, luck, book)
        moments.append(moment)
        assert not book.began["told"], book.began
        # What was left by the kill before was taken up again, at its last letter.
        if before.news:
            assert book.began["began"] == before.draft, "the draft did not come back"
            offers += 1
        elif before.saved:
            assert book.began["began"] == before.saved
            assert not book.began["offered"]
        elif number:
            assert not before.draft and sort == "new"
    return moments, offers


@pytest.fixture
def photos(tmp_path) -> Path:
    """Pictures to be added."""
    folder = tmp_path / "photos"
    folder.mkdir()
    for number in range(4):
        Image.new("RGB", (400, 300), (60 * number, 110, 90)).save(folder / f"{number} été.jpg")
    return folder


def test_killed_at_random_the_draft_comes_back_and_the_file_is_whole(tmp_path, photos, request):
    kills = request.config.getoption("--kills")
    kills = FEW if kills == USUAL else kills
    lanes = [("saved", kills - kills // 3), ("new", kills // 3)]
    with ThreadPoolExecutor(len(lanes)) as pool:
        lives = [
            pool.submit(kill_often, tmp_path / sort, sort, share, seed)
            for seed, (sort, share) in enumerate(lanes, 1)
        ]
        met = [life.result() for life in lives]
    offers = sum(offered for _, offered in met)
    moments = [moment for reached, _ in met for moment in reached]
    print(f"{len(moments)} kills, {offers} drafts came back:", sorted(moments))
    assert len(moments) == kills and offers >= kills // 4
    if kills >= 50:
        assert set(moments) == set(MOMENTS)


def test_who_types_without_a_pause_is_put_aside_all_the_same(tmp_path, photos):
    user, sheet = tmp_path / "user", tmp_path / "sheet"
    user.mkdir()
    save_sheet(make_skeleton("blank", "Pump", "Ada Hill", "2026-03-24"), sheet)
    env = {**os.environ, "SHOPGUIDE_HOME": str(user), "PYTHONPATH": str(HERE.parent.parent)}
    words = [sys.executable, HERE / "write_run.py", "types", sheet, "1", photos]
    told: list[str] = []
    with subprocess.Popen(words, env=env, stdout=subprocess.PIPE, text=True) as run:
        try:
            while sum("aside" in line for line in told) < 3:
                told.append(run.stdout.readline())
                assert told[-1]
        finally:
            run.kill()
    (path,) = (user / "drafts").glob(f"*{ENDING}")
    held = json.loads(path.read_bytes())
    title = held["sheet"]["stages"][0]["steps"][0]["title"]
    assert title.replace("x", "") in ("", "First step") and title.count("x") > 3
