"""Settings on the site: what they bring on a device's page, everything under each, downloads, changes, articles."""

from __future__ import annotations

import csv
import io
import re
from contextlib import closing
from datetime import timedelta

import pytest

from builder.pages.contents import compose, load_contents
from builder.pages.parts.looked_up import evidence_of
from builder.publishing.making.publishing import publish_site
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.visibility import public_copy
from tests.builder.articles.conftest import bound_to, texts
from tests.builder.settings.conftest import NOW, batch, entered, run_rows
from tests.builder.settings.test_verbs import HEAT, POWER
from tests.downloads import json_text_of

CUPOLA = "hollendry-cupola"
BRINGS = (
    "At S4 Cupola gives 96 Mbit/s less with one link at a time (5 GHz, 70 dB) than with both (5 GHz 70 dB and 6 GHz 73 "
    "dB), likely 80–112."
)


def published(path, site, cache, *, days=0):
    instant = NOW + timedelta(days=days)
    return publish_site(path, site, as_of=instant, now=instant, jobs=1, cache=cache, progress=lambda _: None)


@pytest.fixture(scope="module")
def made(tmp_path_factory, chart_cache):
    folder = tmp_path_factory.mktemp("site")
    path = entered(batch(folder / "batch", heat=HEAT, power=POWER), folder / "catalog.db")
    published(path, folder / "site", chart_cache)
    return folder


def text_of(page):
    plain = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.read_text(encoding="utf-8")))
    return plain.replace("\u00a0", " ").replace("&nbsp;", " ")


def part_of(page, start, end):
    return text_of(page).split(start, 1)[1].split(end, 1)[0]


def test_a_device_s_page_says_what_each_pair_of_settings_brings(made):
    part = part_of(made / "site" / "devices" / CUPOLA / "index.html", "Compare with others", "Will my switch power it?")
    assert BRINGS in part
    headings = re.findall(
        r"(?:As usual|Both|One link at a time|Low power), against (?:both|one link at a time|low power)", part
    )
    assert headings == [
        "As usual, against both",
        "As usual, against one link at a time",
        "As usual, against low power",
        "Both, against one link at a time",
        "Both, against low power",
        "One link at a time, against low power",
    ]
    assert (
        "At S4 Cupola gives 192 Mbit/s less with low power (5 GHz, 70 dB) than as usually tested (5 GHz, 70 dB)" in part
    )
    # Power and heat stand with what they were read under.
    assert "6.1 W at the supply" in part
    assert "12.0 K busy" in part
    rest = text_of(made / "site" / "devices" / CUPOLA / "index.html").replace(part, "")
    assert "6.1 W" not in rest
    assert "7.5 W at the supply" in rest


def test_several_links_stand_beside_each_of_them_with_both_losses(made):
    part = part_of(
        made / "site" / "devices" / CUPOLA / "index.html", "Both: 2 streams, 5 + 6 GHz", "One link at a time: 2 streams"
    )
    assert "5 GHz alone 6 GHz alone" in part
    assert "S4 1007 5 GHz 70 dB and 6 GHz 73 dB not measured 920 as usually tested 640 with one link at a time" in part


def test_a_device_without_settings_has_no_such_part(made):
    page = (made / "site" / "pairs" / f"{CUPOLA}--quillmast-sill" / "index.html").read_text(encoding="utf-8")
    assert "links-off" not in page
    assert "low power" not in page


def test_the_repeat_page_names_settings(made):
    said = text_of(made / "site" / "repeat" / CUPOLA / "index.html")
    assert (
        "Settings as usually tested; Both (multi-link on, links on 5 + 6 GHz); One link at a time (multi-link off); Low "
        "power (power low)" in said
    )
    assert "Low power: 5 GHz, 160 MHz, download: what to expect, Mbit/s" in said


def test_downloads_have_the_column_only_where_there_are_settings(made, tmp_path, chart_cache):
    rows = list(csv.DictReader(io.StringIO((made / "site" / "data" / "runs.csv").read_text(encoding="utf-8"))))
    assert {row["settings"] for row in rows} == {"", "links-on", "links-off", "low"}
    cells = list(csv.DictReader(io.StringIO((made / "site" / "data" / "cells.csv").read_text(encoding="utf-8"))))
    assert {row["settings"] for row in cells} == {"", "links-on", "links-off", "low"}
    assert len(cells) == 21
    plain = run_rows({(CUPOLA, "5", ""): (1310, 920, 505), ("quillmast-sill", "5", ""): (1180, 830, 450)})
    path = entered(batch(tmp_path / "batch", runs=plain), tmp_path / "catalog.db")
    published(path, tmp_path / "site", chart_cache)
    for name in ("runs", "cells"):
        assert "settings" not in (tmp_path / "site" / "data" / f"{name}.csv").read_text(encoding="utf-8")
        assert "settings" not in json_text_of(tmp_path / "site" / "data" / f"{name}.json.zip")


def test_a_corrected_title_changes_sentences_and_is_named_as_the_cause(made, tmp_path, chart_cache):
    path = entered(batch(tmp_path / "batch"), tmp_path / "catalog.db")
    published(path, tmp_path / "site", chart_cache)
    lines = tmp_path / "corrections.csv"
    lines.write_text(
        "table,key,column,was,now,reason,noticed_by,date\n"
        "settings,id=links-off,title,One link at a time,A single link,said better,a reader,2026-04-01\n"
    )
    with closing(open_catalog(path, readonly=False)) as db:
        correct_file(lines, catalog=db, now=NOW)
    changed = published(path, tmp_path / "site", chart_cache, days=1).changes.figures
    assert changed
    for one in changed:
        assert "a single link" in one.now
        assert any("title corrected on 2026-04-01: was One link at a time" in why for why in one.causes)


CONDITIONS = "(= under client lap, width 160, direction down =)\n\n"


@pytest.fixture(scope="module")
def evidence(made):
    copy = public_copy(made / "catalog.db", as_of=NOW)
    return compose(evidence_of, load_contents(copy, as_of=NOW, sizes={}))


@pytest.mark.parametrize(
    ("binding", "said"),
    [
        (f"verdict {CUPOLA}+links-on {CUPOLA}+links-off, spot S4, band 5", BRINGS),
        (f"difference {CUPOLA}/A@1.0+links-on {CUPOLA}+one-link, spot S4, band 6", "367 Mbit/s (likely 351–383)"),
        (f"difference {CUPOLA} {CUPOLA}+low, spot S4, band 5", "192 Mbit/s (likely 176–208)"),
        (f"value {CUPOLA}+low, spot S4, band 5", "728 Mbit/s"),
        (f"value {CUPOLA}, spot S4, band 5", "920 Mbit/s"),
        # By hand: half of 728 and 400 at 75 dB, ± t(0.975, 4) · √(2 · 49/12) = 7.9 Mbit/s, at 33 Mbit/s a dB.
        (f"reach {CUPOLA}+low, rate 564, band 5", "74–76 dB"),
        (f"power {CUPOLA}+links-off, state idle", "6.1 W at the supply, class 2"),
        (f"heat {CUPOLA}+low, face top", "12.0 K above the room (each reading ± 2 K), busy, after 60 min"),
    ],
)
def test_articles_bind_subjects_that_name_settings(evidence, binding, said):
    article = bound_to(evidence, f"# A\n\n{CONDITIONS}(= {binding} =)\n", devices=(CUPOLA,))
    (text,) = texts(article)
    assert text == said


def test_a_quote_says_under_what_it_was_tested(evidence):
    article = bound_to(evidence, f"# A\n\n{CONDITIONS}(= value {CUPOLA}+low, spot S4, band 5 =)\n", devices=(CUPOLA,))
    assert article.bound[0].quote.whose == "Hollendry Cupola 1.0, unit A, with low power"
    assert article.bound[0].quote.figures[0].startswith("cell~hollendry-cupola_2b_low~")


@pytest.mark.parametrize(
    ("binding", "why"),
    [
        (f"verdict {CUPOLA}+links-on {CUPOLA}+links-off, spot S4", "name the band of the other: 5 or 6."),
        (
            f"verdict {CUPOLA}+links-on {CUPOLA}+links-off, spot S9, band 5",
            "S9 is not a spot at which both were measured",
        ),
        (f"verdict {CUPOLA}+links-on {CUPOLA}+links-off, spot S4, band 2.4", "They meet in no group under"),
        (f"verdict {CUPOLA}+links-on {CUPOLA}+links-off, band 5", "A client on several bands at once"),
        (f"difference {CUPOLA}+one-link {CUPOLA}+links-off, spot S4, band 5", "Both sides are the same unit"),
        (f"rank {CUPOLA}+low, window middle, band 5", "Cupola with low power is in no ranking"),
        (f"value {CUPOLA}+loud, spot S4, band 5", "There are no settings 'loud'"),
    ],
)
def test_a_binding_that_settings_do_not_carry_is_refused_in_words(evidence, binding, why):
    article = bound_to(evidence, f"# A\n\n{CONDITIONS}(= {binding} =)\n", devices=(CUPOLA,))
    assert len(article.problems) == 1
    assert why in str(article.problems[0]).replace("\u00a0", " ")
