"""Long runs of requests on pages: the device's section with its chart, an article's block, tables of many hours."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from builder.articles.bindings import NotBound, read_binding
from builder.articles.blocks import ordered_block
from builder.pages.contents import compose, load_contents
from builder.pages.device import device_page
from builder.pages.parts.waits_drawing import MOST_ROWS, waits_drawing
from builder.pages.tables.longrun_sections import longrun_drawing, longrun_sections
from catalog.entering import enter_batch
from catalog.visibility import public_copy
from tests.builder.articles.conftest import evidence_at
from tests.builder.under_load.nights_of_requests import night_batch

NOW = datetime(2025, 7, 2, 12, tzinfo=UTC)
HERE = "devices/porch/index.html"


@pytest.fixture(scope="module")
def catalog(tmp_path_factory):
    folder = tmp_path_factory.mktemp("waits")
    enter_batch(night_batch(folder / "night"), into=folder / "c.db", now=NOW)
    return folder / "c.db"


@pytest.fixture(scope="module")
def contents(catalog):
    return load_contents(public_copy(catalog, as_of=NOW), as_of=NOW, sizes={})


def test_the_device_page_draws_it_with_its_words_and_its_table(contents):
    (section,) = compose(longrun_sections, contents, HERE, "porch")
    assert section.heading == "U2, 5 GHz, 80 MHz, download, 1 July 2025: 1.0"
    assert len(section.sentences) == 3
    figure = section.drawing.figure
    assert figure.title == "How long do answers take with Porch over 26 hours?"
    assert figure.spoken == f"Porch, 5 GHz, 80 MHz, download. {section.sentences[0]}"
    assert figure.notes[0].endswith("n = 91100 requests; 2500 s without a log stay empty.")
    assert figure.table.columns == ("Hour", "Requests", "Half", "95 of 100", "99 of 100", "Not answered", "Late")
    assert len(figure.table.rows) == 26
    # The hour of the outage: 47 of 3,600 requests in a row, more than 1 of 100.
    assert figure.table.rows[13][:2] + figure.table.rows[13][4:5] == ("14", "3600", "not answered")
    page = compose(device_page, contents, "porch")
    assert section.drawing in page.drawings
    assert page.longruns.rows[0].entries[0].text == "requests"


def test_an_article_has_the_same_chart_under_its_own_question(catalog, contents):
    evidence = evidence_at(catalog, NOW)
    order = ordered_block(evidence, read_binding("longrun porch, kind requests: Does it answer?", line=1))
    drawing = compose(longrun_drawing, contents, HERE, order.about)
    assert order.key == drawing.figure.key
    assert order.title == "Does it answer?"
    with pytest.raises(NotBound, match="There is no such long run of Tessarik Porch"):
        ordered_block(evidence, read_binding("longrun porch, kind throughput: Does it hold?", line=1))


def test_a_run_of_many_days_has_the_slowest_hour_of_each_in_its_table(contents):
    (result,) = contents.results.longrun_results
    hours = tuple(replace(hour, number=24 * day + hour.number) for day in range(8) for hour in result.waits.hours[:24])
    long = replace(result, waits=replace(result.waits, hours=hours))
    assert len(hours) > MOST_ROWS
    drawing = compose(waits_drawing, contents, HERE, long)
    assert [row[0] for row in drawing.figure.table.rows] == [str(24 * day + 14) for day in range(8)]
    assert drawing.figure.table.caption.startswith("Requests in the slowest hour of every 24")
