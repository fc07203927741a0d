"""What is new, with day and cause; story 9's embargo told at its instant."""

import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from builder import addresses
from builder.pages.changes import changes_page
from builder.pages.contents import compose, load_contents
from builder.pages.glossary import glossary_page
from builder.pages.news import news, shortened
from builder.pages.parts.frame import frame
from builder.pages.parts.terms import TERMS, WORDS_OF, term_key
from builder.pages.start import start_page
from builder.pairs.histories import firmware_steps
from builder.pairs.outcomes import step_outcome
from builder.publishing.files.feeds import feed_entries
from catalog.entering import enter_batch
from catalog.records import Correction
from catalog.visibility import public_copy
from tests.builder.pages.conftest import by_heading, with_changed

STORIES = Path(__file__).parents[2] / "stories"
INSTANT = datetime(2025, 6, 10, 13, tzinfo=UTC)  # story 9: 09:00 in New York


@pytest.fixture
def at(tmp_path):
    path = tmp_path / "catalog.db"
    for batch in ("09-public", "09-cairn"):
        enter_batch(STORIES / batch, into=path, now=datetime(2025, 6, 1, tzinfo=UTC))
    return lambda instant: load_contents(public_copy(path, as_of=instant), as_of=instant, sizes={})


def test_an_ended_embargo_is_told_at_its_instant_and_not_before(at):
    before = compose(news, at(INSTANT.replace(hour=12, minute=59, second=59)))
    assert not [item for item in before if "Cairn" in item.text]
    after = {item.kind: item for item in compose(news, at(INSTANT)) if "Cairn" in item.text}
    assert after["Embargo ended"].when == "2025-06-10T13:00:00Z"
    assert after["New"].when == "2025-06-10T13:00:00Z"  # not the day of the test


def test_every_kind_has_day_cause_and_a_place_to_look(demo):
    items = compose(news, demo)
    assert {item.kind for item in items} >= {"New", "Retest", "Correction", "Withdrawn", "Dispute"}
    assert [item.when for item in items] == sorted((item.when for item in items), reverse=True)
    for item in items:
        assert item.cause.endswith(".")
        assert item.address


def test_the_page_tells_a_correction_with_both_values_and_why(small):
    page = compose(changes_page, small)
    row = next(row for row in by_heading(page.sections[0].tables[0]) if row["Kind"].text == "Correction")
    assert row["What"].text == "Tessarik A<b"
    assert row["Day"].text == "2 Jun 2025"
    assert row["What came out"].text == "Amount was 199 EUR, now 189 EUR (date 2025-05-01, region DE, condition new)"
    assert row["Because"].text == "Mistyped; noticed by a reader."


def test_a_corrected_throughput_has_its_unit_and_its_conditions(demo):
    # Source: data/demo/corrections.
    (item,) = [i for i in compose(news, demo) if "643.4" in i.result]
    assert item.what == "Polmerre Rondel 4"
    assert item.result.startswith(
        "throughput was 643.4 Mbit/s, now 634.4 Mbit/s (Wrenlet U2, session saltmarsh-2022-09-13, 5 GHz, 80 MHz, "
    )
    assert item.result.endswith("spot S5, repeat 2)")


def test_new_devices_and_retests_carry_what_came_out(demo, small):
    # small_catalog.py: Vane was held back by the client with either firmware.
    (retest,) = [item for item in compose(news, small) if item.kind == "Retest"]
    assert retest.result.startswith(
        "Undecided: Vane (2.10) and Vane (2.9) were both held back by the client or the lab"
    )
    assert "Measured with 2 streams, 5 GHz, 80 MHz, download (Wrenlet U2, a laptop)" in retest.cause
    items = {item.text: item for item in compose(news, demo)}
    # As `compare polmerre-rondel-6@6.1.0 polmerre-rondel-6@6.0.4` says it, in fewer words.
    step = items["Retest: Polmerre Rondel 6 with 6.1.0"]
    assert re.fullmatch("6.1.0 gives 56 Mbit/s more than 6.0.4, likely 16(–| to )95", step.result)
    assert "in the batch “Rondel 6 again: new firmware, second unit”." in step.cause
    tarn = items["New: Veltrisk Tarn"]
    assert tarn.result == "762 Mbit/s a wall or two away (60–75 dB), 1st to 6th of 9"
    for item in items.values():
        if item.kind == "New":
            assert "Mbit/s" in item.result or "not ranked" in item.result or "cannot be compared" in item.result, (
                item.text
            )


def test_every_list_says_what_came_out_in_the_same_words(demo):
    items = compose(news, demo)
    assert {item.kind for item in items if item.outcome == item.result} >= {"New", "Retest", "Correction"}
    for kind in ("Withdrawn", "Dispute"):
        assert all(item.outcome == item.cause.rstrip(".") for item in items if item.kind == kind)
    entries = feed_entries(demo)
    started = compose(start_page, demo).news
    rows = by_heading(compose(changes_page, demo).sections[0].tables[0])
    for item, entry, row in zip(items, entries, rows, strict=True):
        assert entry.title == f"{item.text}: {item.outcome}"
        assert entry.text.endswith(item.cause)
        assert row["Because"].text == item.cause
        if item.result:
            assert row["What came out"].text.casefold() == item.result.casefold()
    for item, dated in zip(shortened(items), started, strict=False):
        assert (dated.link.text, dated.text) == (item.what, f"{item.kind}: {item.outcome}")


def test_a_short_list_counts_the_results_that_were_corrected(demo):
    # Source: data/demo, corrections: one run of Rondel 4; a name is no result and keeps its words.
    items = compose(news, demo)
    (run,) = [item for item in items if item.results_changed]
    other = replace(run, result="throughput was 1 Mbit/s, now 2 Mbit/s")
    short = {(item.what, item.result) for item in shortened([*items, other]) if item.kind == "Correction"}
    assert short == {
        ("Polmerre Rondel 4", "2 results changed"),
        ("Hollendry Bobbin Home", "model was Bobbin, now Bobbin Home"),
    }
    (alone,) = [item for item in shortened(items) if item.results_changed]
    assert alone.outcome == "1 result changed"
    assert "session" not in alone.outcome


def test_a_step_says_less_where_the_new_firmware_gives_less_and_what_would_have_shown(demo):
    bench, company = demo.results.bench, demo.results.company
    (step,) = firmware_steps(bench, "polmerre-rondel-6", company=company)
    leading = step.pairing.leading
    turned = replace(leading, difference=-leading.difference, interval=(-leading.interval[1], -leading.interval[0]))
    said = step_outcome(replace(step, pairing=replace(step.pairing, leading=turned)))
    assert re.fullmatch("6.1.0 gives 56 Mbit/s less than 6.0.4, likely 16(–| to )95", said)
    alike = replace(leading, verdict="not-separated", half_width=70.2)
    said = step_outcome(replace(step, pairing=replace(step.pairing, leading=alike)))
    assert said == "these tests cannot tell 6.1.0 from 6.0.4; a difference of 70 Mbit/s or more would have shown"
    assert step_outcome(replace(step, pairing=None)) == ""


def test_a_decision_on_a_bench_day_leads_to_the_days_of_its_house(small):
    session = small.catalogue.sessions["2025-05-12"]
    made = Correction(
        batch_id=session.batch_id,
        source_file=session.source_file,
        source_row=session.source_row,
        correction_id=99,
        table="session",
        row_key="id=2025-05-12",
        column="decision",
        was="",
        now="set aside",
        reason="a window stood open",
        noticed_by="the desk",
        date="2025-06-03",
        device=None,
        run_id=None,
    )
    (item,) = [i for i in compose(news, with_changed(small, corrections=[made])) if i.kind == "Correction"]
    assert item.what == "bench day 2025-05-12 in House A"
    assert item.result == "was undecided, now set aside"
    assert item.cause == "A window stood open; decided by the desk."
    assert (item.address, item.fragment) == (addresses.house("house-a"), "days")


def test_every_word_has_a_place_and_every_page_names_known_words(small):
    keys = {part.key for part in compose(glossary_page, small).sections}
    assert keys == {term_key(term) for term in TERMS}
    for folder, terms in WORDS_OF.items():
        assert set(terms) <= set(TERMS), folder
        around = frame(small.site, f"{folder}/x/index.html", style="s.css", icon="i.svg", script="s.js")
        assert [link.text for link in around.words] == list(terms)
        assert all(link.href.startswith("../../glossary/index.html#word") for link in around.words)


def test_numbers_in_the_glossary_are_those_of_the_method(small):
    # Source: method.md: a bound from 97 % (section 4), gaps above 12 dB, at least 6 dB and 2 knots (section 2).
    meanings = {part.heading: part.sentences[0] for part in compose(glossary_page, small).sections}
    assert "97.0 %" in meanings["Bound"]
    assert "12 dB" in meanings["Joined line"]
    assert "6 dB and 2 measured places" in meanings["Shared range"]


def test_words_are_one_tap_away(demo_site):
    for folder in WORDS_OF:
        pages = {path: path.read_text() for path in sorted((demo_site / folder).rglob("index.html"))}
        stayed_on = [path for path, text in pages.items() if 'http-equiv="refresh"' not in text]
        for path in stayed_on[:2]:
            assert 'id="words"' in pages[path], path


def test_the_start_leads_to_all_changes(demo_site):
    assert addresses.CHANGES in (demo_site / "index.html").read_text()
