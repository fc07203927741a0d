"""The page of two devices: the engine's own sentence first, both matches, and no number where there is none."""

import re
from dataclasses import replace

import pytest

from builder import wording
from builder.bench.bench import subject_named
from builder.bench.sessions import SessionFactor
from builder.pages.contents import compose
from builder.pages.listing import pairs_page
from builder.pages.pair import pair_page
from builder.pairs.compare import compare
from builder.pairs.differences import place_differences
from builder.wording import in_words
from tests.builder.pages.conftest import by_heading, with_changed


@pytest.fixture(scope="module")
def page(small):
    return compose(pair_page, small, "quillmast-sill", "tessarik-a-b")


def test_verdict_is_the_engines_sentence_of_the_largest_common_group(small, page):
    found = compare(
        small.results.bench,
        subject_named(small.results.bench, "quillmast-sill"),
        subject_named(small.results.bench, "tessarik-a-b"),
        match="attenuation",
    )
    leading = next(f for f in found if f.group.series == "wrenlet-u2" and f.group.direction == "down")
    assert page.verdict == leading.sentence
    assert page.basis.startswith("2 streams, 5 GHz, 80 MHz, download (Wrenlet U2, a laptop), on average over ")
    assert page.basis.endswith(" Mbit/s or more would have shown.")


def test_both_matches_stand_side_by_side(page):
    assert [side.heading for side in page.sides] == ["In the same place", "At the same signal"]
    assert page.sides[0].sentence == page.verdict
    assert "t the same signal" in page.sides[1].sentence


def test_loudness_stands_beside_the_level_match_only(page):
    # By hand: every level of the bench is 24 dBm less the loss; Sill at five places, A<b at four.
    same_place, same_signal = page.sides
    assert same_place.aside == ""
    assert (
        "Sill seems to send with 24 dBm (s 0 dB, 5 places) and A<b with 24 dBm (s 0 dB, 4 places)" in same_signal.aside
    )
    assert "equally loud" in same_signal.aside


def test_page_says_that_groups_are_judged_by_themselves(page):
    assert "Each group is judged by itself, however many are compared on this page." in page.remarks


def test_odd_day_is_named_beside_the_verdict(small, page):
    group = small.results.largest["tessarik-a-b"]
    odd = SessionFactor("house-a", "2025-05-12", group, 0.8333, 0.01, 7.0, 8)
    told = compose(
        pair_page,
        with_changed(small, factors={("house-a", "2025-05-12", group): odd}),
        "quillmast-sill",
        "tessarik-a-b",
    ).remarks
    assert set(told) - set(page.remarks) == {
        f"{name} was measured on 12 May 2025, an odd day: the reference gave 0.833 of its usual; suspended. It is compared "
        "as it was measured."
        for name in ("Sill", "A<b")
    }


def test_page_says_who_paid_for_either(page):
    origins = [fact.text for contender in page.contenders for fact in contender.facts if fact.term == "Who paid"]
    assert origins == [
        "Unit A: bought by the bench, 1 April 2025.",
        "Unit A: loaned by the maker, 1 April 2025; no retest possible since 1 August 2025.",
    ]


def test_shared_range_and_means_are_those_of_the_engine(small, page):
    # By hand: Sill covers 46 to 82 dB, A<b 55.5 to 82, so they share 55.5 to 82.
    leading = by_heading(page.groups)[0]
    assert leading["Machine and link"].text == "2 streams, 5 GHz, 80 MHz, download"
    assert leading["Machine and link"].note == "Wrenlet U2, a laptop"
    assert leading["Shared range"].text == "55.5–82"
    # The first of the two is the first line, as in every sentence of the page, whichever gives more.
    assert page.drawing.figure.table.columns[1:] == ("Sill", "A<b", "Sill minus A<b, Mbit/s")


def test_the_difference_stands_below_the_lines_with_the_engines_total(small, page):
    leading = small.results.pairing("quillmast-sill", "tessarik-a-b").leading
    assert leading.mean_b > leading.mean_a
    data = page.drawing.figure.spec["datasets"]
    assert [row["text"] for row in data["headings"]] == ["Sill minus A<b, Mbit/s"]
    assert leading.interval[1] < 0
    ends = [wording.number(end, leading.decimals) for end in leading.interval]
    total = wording.number(leading.difference, leading.decimals)
    assert [row["text"] for row in data["totals"]] == [f"over all {total}, likely {' to '.join(ends)}"]
    assert data["below"][0]["text"] == "below the line: A<b gives more"
    places = place_differences(small.results.bench, leading)
    assert [(row["x"], row["value"]) for row in data["differences"]] == [(p.x, p.value) for p in places]
    assert all(55.5 <= row["x"] <= 82 for row in data["differences"])
    assert any("95 %" in note and note.startswith("Below:") for note in page.drawing.figure.notes)


def test_a_page_has_one_direction_in_its_chart_and_its_table_and_no_sentence_does_sums(demo):
    # "A minus B" of the chart and of its table on every page of the demo; sentences say who was ahead, without a sign.
    charts = sentences = 0
    for a, b in demo.results.pairs:
        page = compose(pair_page, demo, a, b)
        one, other = demo.results.pairing(a, b).names
        words = [text for table in (page.groups, page.spots) if table for text in sentences_of(table)]
        figure = page.drawing.figure if page.drawing else None
        if figure and "headings" in figure.spec["datasets"]:
            (heading,) = figure.spec["datasets"]["headings"]
            assert heading["text"] == f"{one} minus {other}, Mbit/s"
            assert heading["text"] in figure.table.columns
            words.append(figure.spoken)
            charts += 1
        said = [text for text in [page.verdict, *(side.sentence for side in page.sides), *words] if " ahead" in text]
        for text in said:
            either = f"(?:{re.escape(one)}|{re.escape(other)})"
            assert re.search(rf"{either} was [\d.]+ Mbit/s ahead, likely |apart, {either} likely ", text), (a, b, text)
            assert not re.search(r" minus |[+−]\d", text), (a, b, text)
        sentences += len(said)
    assert charts > 15
    assert sentences > 100


def sentences_of(table):
    return [entry.text for row in table.rows for entry in row.entries]


def test_refused_group_shows_no_number_beyond_its_sentence(page):
    # With Skarn, Sill was tested at 46 and 55.5 dB, A<b at 73 and 82: no shared range.
    refused = next(row for row in by_heading(page.groups) if "Skarn" in row["Machine and link"].note)
    numbers = [
        entry for heading, entry in refused.items() if heading not in ("Machine and link", "What these tests say")
    ]
    assert all(entry.text == "" and entry.sort_key == "" for entry in numbers)
    assert (
        "Sill was tested at 46–55.5 dB, A<b at 73–82 dB (17.5 dB apart). No comparison."
        in refused["What these tests say"].text
    )


def test_wholly_refused_pair_has_no_chart_no_remark_and_no_number(small):
    # Only the runs with Skarn: Sill at 46 and 55.5 dB, A<b at 73 and 82 dB, which do not meet in loss or level.
    cells = [c for c in small.results.bench.cells if c.client == "skarn-c3"]
    of = {device: [c for c in cells if c.device == device] for device in small.results.bench.devices}
    page = compose(
        pair_page,
        with_changed(small, bench=replace(small.results.bench, cells=cells, cells_of=of)),
        "quillmast-sill",
        "tessarik-a-b",
    )
    assert page.verdict.startswith("No shared range: Sill was tested at 46–55.5 dB, A<b at 73–82 dB (17.5 dB apart).")
    assert page.drawing is None
    assert page.remarks == ()
    assert page.spots is None
    assert [side.aside for side in page.sides] == ["", ""]
    assert [side.sentence.split(":")[0] for side in page.sides] == ["No shared range", "No shared range"]
    (row,) = by_heading(page.groups)
    assert {heading for heading, entry in row.items() if entry.text} == {"Machine and link", "What these tests say"}
    assert row["What these tests say"].text == page.verdict
    assert "Mbit/s" not in " ".join(side.sentence for side in page.sides)


def test_pair_with_nothing_in_common_is_refused_in_words(small):
    page = compose(pair_page, small, "quillmast-sill", "tessarik-new")
    assert page.verdict.startswith("No comparison: Sill and Untested & new were never tested with the same client")
    assert page.drawing is None
    assert page.basis == ""


def test_spots_are_never_pooled(small, page):
    spots = {row.head.text for row in page.spots.rows}
    assert spots <= {"S1", "S2", "S3", "S4", "S5"}
    assert "never pooled" in page.spots.caption


def test_every_pair_of_the_demo_says_what_the_engine_says(demo):
    for a, b in demo.results.pairs:
        page = compose(pair_page, demo, a, b)
        found = compare(
            demo.results.bench,
            subject_named(demo.results.bench, a),
            subject_named(demo.results.bench, b),
            match="attenuation",
        )
        compared = [f for f in found if f.verdict != "refused"]
        (leading,) = [f for f in found if page.verdict.startswith(f.sentence)]
        rest = page.verdict.removeprefix(leading.sentence)
        assert (
            f" of {len(compared)} groups " in rest
            or f" all {in_words(len(compared))} groups " in rest
            or " both groups " in rest
        ) == (len(compared) > 1)
        texts = {row["What these tests say"].text for row in by_heading(page.groups)}
        assert texts == {f.sentence for f in found}


def test_the_list_of_pairs_counts_the_groups_that_a_pair_lists(demo):
    table = compose(pairs_page, demo).table
    assert table is not None
    for (a, b), row in zip(demo.results.pairs, by_heading(table), strict=True):
        listed = [r for r in compose(pair_page, demo, a, b).groups.rows if r.head.text != "No group in common"]
        assert row["Both tested in"].text == wording.count(len(listed), "group")
