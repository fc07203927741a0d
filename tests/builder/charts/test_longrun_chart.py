"""The long-run chart: what a day of seconds looks like in 776 and in 289 px."""

import re

import altair
import numpy as np
import pytest

from builder.charts.longrun_chart import Level, longrun_figure
from builder.charts.rendering import render_file, render_svg
from builder.charts.theme import text_room
from catalog.thinning import kept_points

DAY_S = 86_400
STALL_AT = 50_000


def chart(t, values, **others):
    keywords = {
        "joined_s": 200.0,
        "median": Level(500.0, "median 500"),
        "fifth_percentile": Level(480.0, "5th percentile 480"),
        "stalled_at": 5.0,
        "ended": "",
        "notes": ["One log."],
        "spoken": "It stalled once.",
    } | others
    return longrun_figure(key="long", title="Was it steady?", t_s=t, mbit_s=values, **keywords)


@pytest.fixture(scope="module")
def day():
    """A day at one value a second between 490 and 510 Mbit/s, with one second of nothing; thinned as entry does it."""
    values = 500 + 10 * np.sin(np.arange(DAY_S) * 1.7)
    values[STALL_AT] = 0
    kept = kept_points((values * 1e6).astype(np.int64))
    assert len(kept) <= 2000
    return chart([float(i) for i in kept], [float(values[i]) for i in kept])


def test_the_grammar_is_altairs(day):
    # Reference: the Vega-Lite schema that Altair carries, after our data and numbers were put in.
    for spec in (day.spec, day.narrow):
        altair.LayerChart.from_dict(spec, validate=True)


@pytest.mark.parametrize("layout", ["spec", "narrow"])
def test_a_stall_of_one_second_in_a_day_stays_visible(day, layout):
    # T08 of the job analysis: it remains visible at 360 px.
    spec = getattr(day, layout)
    (stall,) = spec["datasets"]["stalls"]
    width = spec["width"]
    assert stall["t"] == pytest.approx(STALL_AT / 3600, abs=24 / width)
    lows = [row for row in spec["datasets"]["band"] if row["low"] == 0]
    assert len(lows) == 1
    assert lows[0]["high"] > 480
    assert min(row["low"] for row in spec["datasets"]["band"] if row is not lows[0]) >= 490


def test_the_band_reaches_from_the_lowest_to_the_highest(day, drawn):
    # By hand: 260 px for 0 to 600 Mbit/s, the round number above 510.
    assert [param["value"] for param in day.spec["params"]] == [pytest.approx(24, abs=0.01), 600]
    paths = [m for m in drawn(render_file(day)) if m.tag == "path" and "fill-opacity" in m.attributes]
    heights = [float(y) for y in re.findall(r"(?:,|V)(-?[\d.]+)", paths[0].attributes["d"])]
    assert max(heights) == pytest.approx(260, abs=0.1)
    assert min(heights) == pytest.approx(260 * (1 - 510 / 600), abs=0.3)


def test_a_gap_stays_a_gap():
    # By hand: one value each 10 s for two stretches with 1000 s between them.
    t = [float(s) for s in (*range(0, 6000, 10), *range(7000, 13_000, 10))]
    figure = chart(t, [500.0] * len(t), joined_s=25.0)
    for spec in (figure.spec, figure.narrow):
        pieces = {row["piece"] for row in spec["datasets"]["band"]}
        assert pieces == {"0", "1"}
        ends = [max(row["t"] for row in spec["datasets"]["band"] if row["piece"] == "0")]
        starts = [min(row["t"] for row in spec["datasets"]["band"] if row["piece"] == "1")]
        assert starts[0] - ends[0] > 900 / 3600


def test_few_values_are_drawn_as_they_are():
    # 12 values at 10 s: the pattern of C11 of the job analysis.
    values = [500.0, 500.0, 200.0] * 4
    figure = chart([10.0 * i for i in range(12)], values)
    assert [row["value"] for row in figure.spec["datasets"]["line"]] == values
    assert figure.spec["datasets"]["band"] == []
    assert "Time since its start (minutes)" in render_file(figure)


def test_both_lines_have_their_words(day):
    for spec in (day.spec, day.narrow):
        assert [level["value"] for level in spec["datasets"]["levels"]] == [500, 480]
        # Each on its own side, for the other is nearer on the one between them; one is above what was measured.
        heights = {row["text"]: row["at"] for row in spec["datasets"]["words"]}
        assert heights["median 500"] > 510
        assert heights["5th percentile 480"] < 480


def test_a_run_that_broke_off_ends_in_an_open_mark_with_words():
    figure = chart([0.0, 10.0, 20.0], [500.0, 480.0, 450.0], ended="did not finish")
    assert figure.spec["datasets"]["end"] == [{"t": 0.3333, "value": 450.0}]
    assert "did not finish" in render_file(figure)


def test_words_that_cannot_stand_nearest_to_their_line_bring_a_sample_of_it():
    # The 5th percentile lies on the axis: there is no room below it.
    values = [2.0, 10.0, 10.0, 200.0] * 25
    figure = chart(
        [10.0 * i for i in range(100)],
        values,
        median=Level(10.0, "median 10"),
        fifth_percentile=Level(2.0, "5th percentile 2"),
    )
    for spec in (figure.spec, figure.narrow):
        assert [row["level"] for row in spec["datasets"]["samples"]] == ["1"]
        (sample,) = spec["datasets"]["samples"]
        text = next(row for row in spec["datasets"]["words"] if row["text"] == "5th percentile 2")
        assert sample["t"] < sample["t2"] < text["t"]


@pytest.mark.parametrize("ended", ["broke off", "broke off after 41 of 360 minutes, no data came"])
def test_the_words_over_the_plot_do_not_meet(ended):
    figure = chart([10.0 * i for i in range(100)], [500.0] * 100, ended=ended)
    for spec, where in ((figure.spec, 0), (figure.narrow, -45)):
        (unit,), (text,) = spec["datasets"]["unit"], spec["datasets"]["ended"]
        right = spec["width"] * text["t"] / spec["params"][0]["value"]
        beside = right - text_room(text["text"], 14) > where + text_room(unit["text"], 14)
        assert beside or text["at"] > unit["at"] + 18 / spec["height"] * spec["params"][1]["value"]


def test_the_table_has_the_extremes_of_each_stretch():
    # By hand: an hour of 400 and 500, an hour without a log, an hour with a zero.
    t = [0.0, 1800.0, 7200.0, 9000.0, 10_800.0]
    figure = chart(t, [400.0, 500.0, 0.0, 450.0, 450.0])
    assert figure.table.columns == ("Time since its start (h)", "Lowest", "Highest")
    assert figure.table.rows == (
        ("0–1", "400", "500"),
        ("1–2", "no log", "no log"),
        ("2–3", "0", "450"),
        ("3–4", "450", "450"),
    )


def test_the_bytes_are_the_same_twice(day):
    assert render_svg(day) == render_svg(day)


@pytest.mark.parametrize(
    ("t", "values", "message"),
    [
        ([], [], "0 values do not fit 0 times"),
        ([0.0], [1.0, 2.0], "2 values do not fit 1 times"),
        ([0.0, 0.0], [1.0, 2.0], "must rise"),
        ([0.0, 1.0], [1.0, -2.0], "at least 0, got -2"),
    ],
)
def test_wrong_logs_are_refused(t, values, message):
    with pytest.raises(ValueError, match=message):
        chart(t, values)
