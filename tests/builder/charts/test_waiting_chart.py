"""The waiting chart, drawn from worked story 5 (a device that gave up at 380 of 600 s) and from rows by hand."""

import math
import re
from itertools import pairwise

import altair
import pytest

from builder.charts.rendering import render_file, render_svg
from builder.charts.stills import SHAPES, fitted, still_svg
from builder.charts.theme import CALM, TEXT, text_width
from builder.charts.waiting_bars import TimeAxis
from builder.charts.waiting_chart import MOST_ROWS, NARROW, WIDE, waiting_figure
from builder.charts.waiting_rows import Mark, WaitingRow, Within
from builder.charts.waiting_template import END_GAP, END_WIDTH, full_width, side_width

SOURCE = "Kettle Lane Bench, example.org/bench, CC-BY-4.0."
LONG = "Grandmotherswindowseatwithaviewoverthegardenandtheshedbehind"  # 60 letters
PAGES = (Mark(1000.0, 0.95),)


def row(label="Call by the window", planned=3000, failed=8, within=(12.0, 152.0, 210.0), **more):
    """A row of a finished run: percentiles in ms, None for one that fell among the failed."""
    keywords = {
        "detail": "Wrenlet U2 · B6, 77 dB, 5 GHz",
        "made": planned,
        "finished": planned - failed,
        "in_time": 2722,
        "within": {p: Within(ms, planned * (100 - p) < 500) for p, ms in zip((50, 90, 99), within, strict=False)},
        "slowest_ms": max([ms for ms in within if ms is not None], default=None),
        "marks": (Mark(150.0, 0.99),),
    }
    return WaitingRow(label=label, planned=planned, **{**keywords, **more})


# Story 5 of the job analysis: 38 of 60 planned pages finished, 30 in 300 ms, 6 in 800 and 2 in 2400; none was made after.
STORY = row(
    "Homework",
    60,
    22,
    (300.0, None, None),
    detail="Fjeldrun Alcove",
    made=38,
    in_time=36,
    slowest_ms=2400.0,
    marks=PAGES,
    remark="95 % asked",
    missed=True,
    broke_off="broke off at 6:20 of 10:00",
)
NOT_TESTED = WaitingRow(label="Call in the hall", detail="Mottle N1", remark="Not tested: its log is missing")
EXTREMES = {
    "one request": row(planned=1, failed=0, within=(300.0,) * 3, in_time=0, answers_ms=(300.0,)),
    "no answer": row(planned=40, failed=40, within=(None,) * 3, in_time=0),
    "no time at all": row(within=(0.0, 0.0, 0.0), in_time=2992),
    "nothing was made": row(planned=5, failed=5, made=0, within=(None,) * 3, in_time=0),
    "mark far away": row(marks=(Mark(1e7, 0.95),), in_time=2992),
    "mark far below": row(marks=(Mark(0.01, 0.95),), in_time=0),
    "two marks at one place": row(marks=(Mark(150.0, 0.99), Mark(149.0, 0.99, good=True))),
    "good far below": row(marks=(Mark(150.0, 0.99), Mark(1.0, 0.99, good=True))),
    "no target": row(marks=(), in_time=None, remark="no target"),
    "long names": row(LONG, detail=f"{LONG} · S4, 74 dB, 5 GHz", remark=LONG),
    "not tested": NOT_TESTED,
    "story": STORY,
}


def chart(*rows, **more):
    keywords = {"key": "mix", "title": "Who waited?", "heading": "Role and machine", "notes": ["One run."]}
    return waiting_figure(rows=rows, spoken="The call by the window waited.", **{**keywords, **more})


def axis_of(spec):
    """Both ends of the time axis. [ms]"""
    (ends,) = {tuple(x["scale"]["domain"]) for layer in spec["layer"] if "scale" in (x := layer["encoding"]["x"])}
    return ends


def drawn_sets(*rows):
    return chart(*rows).spec["datasets"]


@pytest.fixture(scope="module")
def mixed():
    return chart(row(), STORY, NOT_TESTED, *EXTREMES.values())


def layouts(figure):
    """(specification, layout) of every way a figure is drawn: on pages and in pictures of fixed size."""
    yield figure.spec, WIDE
    yield figure.narrow, NARROW
    for shape in SHAPES:
        still = fitted(figure, shape, source=SOURCE)
        yield figure.drawn(still.layout, None), still.layout


def test_the_grammar_is_altairs(mixed):
    # Reference: the Vega-Lite schema that Altair carries, after our data and numbers were put in.
    for spec, _ in layouts(mixed):
        altair.LayerChart.from_dict(spec, validate=True)


def test_a_bar_goes_from_half_to_nine_tenths_and_is_cut_at_the_target():
    sets = drawn_sets(row())
    assert [(b["t"], b["t2"], b["hue"]) for b in sets["bars"]] == [(12.0, 150.0, "in time"), (150.0, 152.0, "late")]
    assert [(w["t"], w["t2"], w["hue"]) for w in sets["whiskers"]] == [(152.0, 210.0, "late")]
    assert [t["t"] for t in sets["ticks"]] == [210.0]
    assert [(m["t"], m["kind"]) for m in sets["marks"]] == [(150.0, "enough")]


def test_bars_lie_where_a_log_axis_says(drawn):
    # By hand: 10 to 200 ms over the plot's width; 12 ms lies log(12/10)/log(20) of the way along it.
    figure = chart(row(within=(12.0, 84.0, 120.0)))
    low, high = axis_of(figure.spec)
    assert (low, high) == (10, 200)
    marks = drawn(render_file(figure))
    (bar,) = [m for m in marks if m.tag == "path" and m.attributes.get("fill") == CALM.light]
    start, width = (float(number) for number in re.match(r"M(-?[\d.]+),[-\d.]+h([\d.]+)", bar.attributes["d"]).groups())
    assert start == pytest.approx(WIDE.plot_width * math.log(12 / low) / math.log(high / low), abs=0.05)
    assert width == pytest.approx(WIDE.plot_width * math.log(84 / 12) / math.log(high / low), abs=0.05)


def test_where_nine_tenths_never_came_it_is_hatched_from_the_slowest_answer_to_the_edge():
    # By hand: half of the 60 came within 300 ms; 90 % never did, the slowest of the 38 took 2400 ms.
    figure = chart(STORY)
    sets = figure.spec["datasets"]
    assert [(b["t"], b["t2"], b["hue"]) for b in sets["bars"]] == [(300.0, 1000.0, "in time"), (1000.0, 2400.0, "late")]
    (box,), (hatch,) = sets["lost"], sets["hatches"]
    assert box["t"] == hatch["t"] == 2400.0
    assert sets["whiskers"] == sets["ticks"] == sets["ends"] == []
    low, high = axis_of(figure.spec)
    place = WIDE.plot_width * math.log(2400 / low) / math.log(high / low)
    assert extent(hatch["path"])[0] == pytest.approx(WIDE.plot_width + END_GAP + END_WIDTH - place, abs=0.1)


def extent(path):
    """How far an SVG path of lines reaches to the right and down. [px]"""
    places = [(float(x), float(y)) for x, y in re.findall(r"[ML](-?[\d.]+),(-?[\d.]+)", path)]
    return max(x for x, _ in places), max(y for _, y in places)


@pytest.mark.parametrize(("failed", "wide"), [(300, 4 + 14 * 0.1), (3, 4 + 14 * 0.001), (0, None)])
def test_few_failures_are_a_hatched_end_as_wide_as_their_share(failed, wide):
    # By hand: from 4 px for hardly any to 18 px for all of them.
    (ends,) = (drawn_sets(row(failed=failed, in_time=0))["ends"],)
    assert [extent(end["path"])[0] for end in ends] == ([] if wide is None else [pytest.approx(wide, abs=0.06)])


def test_a_line_reaches_the_edge_where_99_percent_never_came():
    sets = drawn_sets(row(failed=60, within=(12.0, 84.0, None)))
    assert [(w["t"], w["t2"], w["hue"]) for w in sets["whiskers"]] == [(84.0, 150.0, "in time")]
    assert [(b["t"], b["hue"]) for b in sets["beyond"]] == [(150.0, "late")]
    assert sets["ticks"] == []
    assert len(sets["ends"]) == 1


def test_few_requests_draw_no_end_and_very_few_a_dot_each():
    # Source: fewer than five requests beyond a percentile make it thin (catalog.digesting.latency.is_thin).
    sets = drawn_sets(row(planned=49, failed=0, in_time=47))
    assert [(b["t"], b["t2"]) for b in sets["open"]] == [(12.0, 150.0), (150.0, 152.0)]
    assert sets["bars"] == sets["whiskers"] == sets["ticks"] == []
    assert "90 % is rough" in row(planned=49, failed=0, in_time=47).words
    few = row(planned=9, failed=7, in_time=1, within=(None,) * 3, slowest_ms=400.0, answers_ms=(90.0, 400.0))
    sets = drawn_sets(few)
    assert [(d["t"], d["hue"]) for d in sets["dots"]] == [(90.0, "in time"), (400.0, "late")]
    assert sets["bars"] == sets["open"] == []
    assert "a dot for each answer" in few.words
    enough = row(planned=50, failed=0, in_time=47)
    assert "rough" not in enough.words
    assert drawn_sets(enough)["open"] == []


def test_counts_on_the_picture_are_those_of_the_table(mixed):
    shown = [e["text"] for name in ("counts", "missed") for e in mixed.spec["datasets"][name]]
    for text, cells in zip([r.count for r in (row(), STORY)], mixed.table.rows, strict=False):
        assert text in shown
        assert cells[1].startswith(text)
    assert mixed.table.rows[0] == (
        "Call by the window, Wrenlet U2 · B6, 77 dB, 5 GHz",
        "2722 of 3000 in time",
        "99 % within 150 ms",
        "12.0",
        "152",
        "210",
        "8 of 3000",
        "0 of 3000",
    )
    assert mixed.table.rows[1] == (
        "Homework, Fjeldrun Alcove",
        "36 of 60 in time; 95 % asked; broke off at 6:20 of 10:00",
        "95 % within 1 s",
        "300",
        "failed",
        "failed, thin",
        "0 of 60",
        "22 of 60",
    )
    assert mixed.table.rows[2][1] == "Not tested: its log is missing"


def test_words_say_share_what_was_lost_and_how_it_ended():
    assert row(remark="99 % asked").words == "90.7 %, 99 % asked; 8 failed"
    assert STORY.words == "60.0 %, 95 % asked; 22 never made; broke off at 6:20 of 10:00"
    assert row(failed=0, in_time=3000, remark="99 % shown").words == "99 % shown"
    assert row(failed=0, in_time=3000).count == "all 3000 in time"
    assert row(planned=1, failed=0, in_time=1).count == "1 of 1 in time"
    assert EXTREMES["no answer"].words == "0.0 %; 40 failed"
    assert row(in_time=None).count == "2992 of 3000 answered"


def test_a_mark_all_rows_share_is_named_once_and_runs_through():
    figure = chart(row(), row("Call in the hall"))
    assert [t["text"] for t in figure.spec["datasets"]["mark_texts"]] == ["150 ms"]
    assert [(m["at"], m["at2"]) for m in figure.spec["datasets"]["marks"]] == [(0.0, figure.spec["height"])]
    assert len(figure.narrow["datasets"]["marks"]) == 2  # between words, past the bars alone
    apart = chart(row(), STORY)
    assert [t["text"] for t in apart.spec["datasets"]["mark_texts"]] == ["150 ms", "1 s"]


def test_the_axis_is_logarithmic_and_says_so_with_units():
    drawing = render_file(chart(row(), STORY))
    assert "Waiting time (log axis)" in drawing
    assert ">100 ms<" in drawing
    assert ">1 s<" in drawing


@pytest.mark.parametrize("width", [160, 318, 372])
@pytest.mark.parametrize("span", [(5, 500), (200, 50_000), (1, 2), (1e-3, 1e9)])
def test_numbers_on_the_axis_never_meet(span, width):
    ticks = TimeAxis(*span, width).ticks(14)
    assert ticks == sorted(set(ticks))
    assert all(span[0] <= tick <= span[1] for tick in ticks)
    assert len(ticks) >= 2


# --- what is drawn stays readable ---------------------------------------------------------------------------------


def columns(spec, layout):
    """Name of each data set of texts -> its left end, its width and its size of text. [px]"""
    sets = spec["datasets"]
    wide, small = bool(layout.label_width), layout.text - 1
    label = layout.label_width - 16 if wide else full_width(layout)
    side = side_width(layout) if wide else full_width(layout)
    return {
        name: (sets[name], width, size, name in ("names", "missed"))
        for name, width, size in (
            ("names", label, layout.text),
            ("details", label, small),
            ("counts", side, layout.text),
            ("missed", side, layout.text),
            ("words", side, small),
            ("asides", side, small),
            ("mark_texts", full_width(layout), small),
        )
    }


@pytest.mark.parametrize("name", EXTREMES)
def test_no_text_is_wider_than_its_place_or_lies_on_another(name):
    figure = chart(EXTREMES[name], row("Another"))
    for spec, layout in layouts(figure):
        for texts, width, size, bold in columns(spec, layout).values():
            assert all(text_width(entry["text"], size, bold=bold) <= width for entry in texts)
        foot = [entry["at"] for entry in spec["datasets"]["rows"]]
        assert foot == sorted(foot)
        stacks = [("names", "details"), ("counts", "missed", "words")]
        if not layout.label_width:
            stacks = [("names", "details", "counts", "missed", "words")]
        for stack in stacks:
            places = sorted(entry["at"] for part in stack for entry in spec["datasets"][part])
            assert all(b - a >= layout.text - 1 for a, b in pairwise(places))
        if not layout.label_width:  # the bar stands between its words
            bars = [e for part in ("bars", "open", "lost") for e in spec["datasets"][part]]
            for bar in bars:
                assert not [p for p in places if bar["at"] - 4 < p < bar["at2"] + 4]


@pytest.mark.parametrize("name", EXTREMES)
def test_every_mark_lies_on_the_axis(name):
    figure = chart(EXTREMES[name])
    for spec, layout in layouts(figure):
        low, high = axis_of(spec)
        assert 0 < low < high
        for part, entries in spec["datasets"].items():
            if part in ("names", "rows", "notes", "mark_texts"):
                continue
            for entry in entries:
                for end in ("t", "t2"):
                    assert low * 0.999 <= entry.get(end, low) <= high * 1.001, (part, entry)
        for entry in spec["datasets"]["mark_texts"]:
            start = layout.plot_width * math.log(entry["t"] / low) / math.log(high / low)
            assert start + text_width(entry["text"], layout.text - 1) <= layout.plot_width + END_GAP + END_WIDTH + 0.5
        assert render_svg(figure)


def test_two_marks_at_one_place_have_words_above_each_other():
    figure = chart(EXTREMES["two marks at one place"])
    texts = {t["text"]: t["at"] for t in figure.spec["datasets"]["mark_texts"]}
    assert set(texts) == {"150 ms", "good: 149 ms"}
    assert abs(texts["150 ms"] - texts["good: 149 ms"]) >= WIDE.text - 1
    assert {m["kind"] for m in figure.spec["datasets"]["marks"]} == {"enough", "good"}


def test_twenty_rows_are_drawn_and_no_more():
    rows = [row(f"Seat {n}", in_time=2722 - n) for n in range(MOST_ROWS)]
    figure = chart(*rows)
    assert len(figure.spec["datasets"]["rows"]) == len(figure.narrow["datasets"]["rows"]) == MOST_ROWS
    still = fitted(figure, "square", source=SOURCE)
    assert 1 <= still.parts < MOST_ROWS
    assert f"First {still.parts} of {MOST_ROWS}." in " ".join(still.stamp)
    with pytest.raises(ValueError, match="1 to 20 rows, got 21"):
        chart(*rows, row())
    with pytest.raises(ValueError, match="1 to 20 rows, got 0"):
        chart()


def test_a_usual_run_fits_whole_into_either_picture_of_fixed_size():
    rows = [row(), STORY, row("Notes", 48, 0, in_time=48), row("Backup", 575, 0, in_time=575)]
    figure = chart(*rows, title="Two calls while a backup runs on Fjeldrun Ingle: who waited?")
    for shape in SHAPES:
        still = fitted(figure, shape, source=SOURCE)
        assert still.parts == len(rows)
        assert "36 of 60 within 1 s" in still_svg(still, ground="light")


def test_late_is_ink_and_in_time_is_calm():
    drawing = render_svg(chart(row()))
    assert f"var({CALM.name}, {CALM.light})" in drawing
    assert f"var({TEXT.name}, {TEXT.light})" in drawing


def test_the_bytes_are_the_same_twice(mixed):
    assert render_svg(mixed) == render_svg(mixed)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"finished": 3001}, "has 3000 planned requests, 3000 made and 3001 answered"),
        ({"in_time": 2993}, "has 2993 in time, but 2992 were answered"),
        ({"within": (1.0,)}, r"needs the percentiles \(50, 90, 99\), got \[50\]"),
        ({"slowest_ms": None}, "has answers, but no slowest one"),
    ],
)
def test_rows_that_do_not_add_up_are_refused(wrong, message):
    with pytest.raises(ValueError, match=message):
        row(**wrong)


def test_a_mark_at_nothing_is_refused():
    with pytest.raises(ValueError, match="above 0 ms, got 0"):
        Mark(0.0, 0.95)
