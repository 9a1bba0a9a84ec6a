"""The forecast on paper: one page, whatever the joint, with the words that go with its figures."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pypdf
import pytest

from shopguide.bolts.evenness import Evenness, forecast_evenness, tell_share
from shopguide.bolts.order import find_order
from shopguide.bolts.passes import SCHEDULES
from shopguide.bolts.pattern import Circle, Pattern
from shopguide.paper.evenness_page import make_evenness_page

WHEN = datetime(2026, 3, 4, 5, 6, tzinfo=UTC)


def make_forecast(count: int, schedule: str = "torque") -> Evenness:
    shape = Circle(count=count, diameter_mm=20.0 * count)
    pattern = Pattern(name="ring", title=f"Ring of {count}, μ ½", circle=shape, thread="M6")
    return forecast_evenness(pattern, find_order(pattern).numbers, SCHEDULES[schedule])


def read(pdf: bytes) -> tuple[int, str]:
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    text = " ".join(page.extract_text() for page in reader.pages)
    return len(reader.pages), " ".join(text.split())


@pytest.mark.parametrize("count", [3, 16, 120])
@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_one_page_holds_it_all(count: int, page: str) -> None:
    found = make_forecast(count, "snug, 30/70/100 and check")
    pages, text = read(make_evenness_page(found, page=page, created=WHEN))
    assert pages == 1
    assert found.pattern.title in text
    for sentence in found.tell():
        assert sentence in text
    assert "no record of work" in text


def test_every_load_is_printed() -> None:
    found = make_forecast(16)
    _, text = read(make_evenness_page(found, created=WHEN))
    for place, number in enumerate(found.order, 1):
        load = found.moments[-1].loads[found.edge.index(number)]
        assert f"{place}: {tell_share(load)}" in text
    assert "At the end of all passes" in text


def test_a_moment_in_between_is_named() -> None:
    found = make_forecast(16)
    _, text = read(make_evenness_page(found, 5, created=WHEN))
    assert f"While at it: {found.tell_moment(5)}" in text


def test_more_screws_than_the_table_holds_are_told() -> None:
    _, text = read(make_evenness_page(make_forecast(120), created=WHEN))
    assert "The 96 least loaded screws" in text


def test_fonts_are_embedded_and_the_same_forecast_gives_the_same_page() -> None:
    found = make_forecast(8)
    pdf = make_evenness_page(found, created=WHEN)
    page = pypdf.PdfReader(io.BytesIO(pdf)).pages[0]
    fonts = page["/Resources"]["/Font"].values()
    assert fonts
    assert all("Helvetica" not in str(font.get_object()["/BaseFont"]) for font in fonts)
    assert read(make_evenness_page(found, created=WHEN)) == read(pdf)
