"""The verbs `card`, `pack` and `unpack` as a person types them: files, words, exit codes."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pypdf
import pytest

from shopguide import cli, places
from shopguide.job.files import load_sheet
from shopguide.paper.archive import check_archival

SAMPLE = places.list_samples()[0]


def refuse(*_: object) -> object:
    raise AssertionError("neither window, rehearsal nor log is wanted")


@pytest.fixture
def run(capsys):
    """Runs a command line; gives its exit code, standard output and standard error."""

    def call(*words: object) -> tuple[int, str, str]:
        line = [str(word) for word in words]
        code = cli.run(line, open_window=refuse, rehearse=refuse, write_log=refuse)
        said = capsys.readouterr()
        return code, said.out, said.err

    return call


@pytest.mark.parametrize(("page", "wide"), [("A4", 595), ("Letter", 612)])
def test_card_is_written_on_the_page_asked_for(run, tmp_path: Path, page: str, wide: int) -> None:
    out = tmp_path / "card.pdf"
    code, said, err = run("card", SAMPLE, "--out", out, "--page", page)
    assert (code, said, err) == (0, f"Written: {out}\n", "")
    pdf = out.read_bytes()
    assert check_archival(pdf) == []
    assert round(pypdf.PdfReader(io.BytesIO(pdf)).pages[0].mediabox.width) == wide


def test_card_never_takes_the_place_of_another_sort_of_file(run, tmp_path: Path) -> None:
    mine = tmp_path / "job.json"
    mine.write_bytes(b"mine")
    code, said, err = run("card", SAMPLE, "--out", mine)
    assert (code, said) == (2, "")
    assert "does not end in .pdf" in err
    assert mine.read_bytes() == b"mine"


def test_packed_and_unpacked_is_the_same_sheet(run, tmp_path: Path) -> None:
    code, said, err = run("pack", SAMPLE, "--out", tmp_path / "one.zip")
    title = load_sheet(SAMPLE).sheet.title
    assert (code, err) == (0, "")
    assert said.splitlines()[0] == f"Packed: {tmp_path / 'one.zip'}"
    assert said.splitlines()[1].startswith(f"{title}: job.json (shopguide-job/1) and ")
    code, said, err = run("unpack", tmp_path / "one.zip", "--out", tmp_path / "out")
    assert (code, err) == (0, "")
    assert said.splitlines()[0] == f"Unpacked: {tmp_path / 'out'}"
    assert load_sheet(tmp_path / "out").raw == load_sheet(SAMPLE).raw
    code, said, _ = run("compare", SAMPLE, tmp_path / "out")
    assert (code, said.endswith(": nothing changed\n")) == (0, True)


def test_hostile_zip_is_refused_with_words(run, tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "evil.zip", "w") as archive:
        archive.writestr("job.json", "{}")
        archive.writestr("../evil.txt", "x")
    code, said, err = run("unpack", tmp_path / "evil.zip", "--out", tmp_path / "out")
    assert (code, said) == (2, "")
    assert "leads out of the folder" in err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("card", "nowhere", "--out", "a.pdf"), "There is nothing of this name."),
        (("pack", "nowhere", "--out", "a.zip"), "There is nothing of this name."),
        (("unpack", "nowhere.zip", "--out", "a"), "There is nothing of this name."),
        (("card", SAMPLE), "--out"),
        (("pack", SAMPLE, "--out", "sheet"), "does not end in .zip"),
        (("unpack", SAMPLE, "--out", "a"), "is a folder already"),
        (("card", SAMPLE, "--out", "a.pdf", "--page", "A5"), "A5"),
    ],
)
def test_what_cannot_be_done_is_told(run, words: tuple[object, ...], told: str) -> None:
    code, said, err = run(*words)
    assert (code, said) == (2, "")
    assert told in err


@pytest.mark.parametrize("verb", ["card", "pack", "unpack"])
def test_help_has_an_example(run, verb: str) -> None:
    code, said, _ = run(verb, "--help")
    assert code == 0
    assert f"example: shopguide {verb}" in " ".join(said.split())
    assert f"  {verb} " in cli.HELP
