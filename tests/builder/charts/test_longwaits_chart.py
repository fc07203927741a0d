"""The chart of waits over hours: steps by the hour, the slowest answers, gaps and failures."""

import re
from dataclasses import replace

import altair
import numpy as np
import pytest

from builder.charts.figures import TableTwin
from builder.charts.longrun_chart import Level
from builder.charts.longwaits_chart import HourOfAnswers, longwaits_figure
from builder.charts.longwaits_template import WIDE
from builder.charts.rendering import render_file, render_svg
from builder.charts.stills import fitted, still_svg
from builder.charts.theme import text_room
from catalog.thinning import kept_points

DAY_S = 86_400
TWIN = TableTwin("Requests hour by hour", ("Hour", "Half"), (("1", "12 ms"),))


def chart(t, waits, hours, **others):
    keywords = {
        "joined_s": 200.0,
        "mark": Level(100.0, "asked for: 100 ms"),
        "ended": "",
        "notes": ["One log."],
        "spoken": "It was slow once.",
        "table": TWIN,
    } | others
    return longwaits_figure(key="long", title="Was it quick?", t_s=t, waits_ms=waits, hours=hours, **keywords)


def hours_of(values, *, length_s=DAY_S):
    """One hour each of *values*: half, 95 and 99 of 100. [ms]"""
    return [
        HourOfAnswers(n * 3600.0, min((n + 1) * 3600.0, length_s), dict(zip((50, 95, 99), one, strict=True)))
        for n, one in enumerate(values)
    ]


@pytest.fixture(scope="module")
def day():
    """A day at one request a second around 12 ms, one answer of 3 s and one failure; thinned as entry does it."""
    waits = 12 + 2 * np.sin(np.arange(DAY_S) * 1.7)
    waits[50_000], waits[70_000] = 3000, -1
    kept = kept_points((waits * 1e3).astype(np.int64))
    hours = hours_of([(12, 13.9, 14)] * 24)
    return chart([float(i) for i in kept], [float(waits[i]) if waits[i] > 0 else None for i in kept], hours)


def test_the_grammar_is_altairs(day):
    # Reference: the Vega-Lite schema that Altair carries, after our data and numbers were put in.
    for spec in (day.spec, day.narrow):
        altair.LayerChart.from_dict(spec, validate=True)


@pytest.mark.parametrize("layout", ["spec", "narrow"])
def test_one_slow_answer_and_one_failure_in_a_day_stay_visible(day, layout):
    spec = getattr(day, layout)
    slow = [row for row in spec["datasets"]["slowest"] if row["value"] > 100]
    assert [row["value"] for row in slow] == [3000]
    assert slow[0]["t"] == pytest.approx(50_000 / 3600, abs=24 / spec["width"])
    (lost,) = spec["datasets"]["lost"]
    assert lost["t"] == pytest.approx(70_000 / 3600, abs=24 / spec["width"])


def test_steps_follow_each_other_and_break_where_an_hour_has_no_value():
    # By hand: four hours, the third without a 99th percentile.
    values = [(10, 20, 50), (12, 25, 80), (12, 25, None), (10, 20, 40)]
    figure = chart([0.0, 14_399.0], [10.0, 12.0], hours_of(values, length_s=14_400), joined_s=1e5)
    rows = figure.spec["datasets"]["hours"]
    half = [(row["t"], row["value"]) for row in rows if row["level"] == "50"]
    assert half == [(0, 10), (1, 12), (2, 12), (3, 10), (4, 10)]
    last = [(row["piece"], row["t"], row["value"]) for row in rows if row["level"] == "99"]
    assert last == [("99-0", 0, 50), ("99-0", 1, 80), ("99-0", 2, 80), ("99-1", 3, 40), ("99-1", 4, 40)]


def test_a_gap_stays_a_gap():
    t = [float(s) for s in (*range(0, 6000, 10), *range(7000, 13_000, 10))]
    figure = chart(t, [10.0] * len(t), hours_of([(10, 10, 10)] * 4, length_s=13_000), joined_s=25.0)
    for spec in (figure.spec, figure.narrow):
        pieces = [[row["t"] for row in spec["datasets"]["slowest"] if row["piece"] == piece] for piece in "01"]
        assert min(pieces[1]) - max(pieces[0]) > 900 / 3600


def test_axis_and_words(day):
    # By hand: from 12 / 1.15 down to 10, from 3000 * 1.15 up to 5000 ms.
    params = {param["name"]: param["value"] for param in day.spec["params"]}
    assert (params["x_high"], params["y_low"], params["y_high"]) == (24, 10, 5000)
    drawing = render_file(day)
    for words in (
        "Waiting time (log axis)",
        "half",
        "95 of 100",
        "99 of 100",
        "slowest",
        "asked for: 100 ms",
        "1 s",
    ):
        assert words in drawing


@pytest.mark.parametrize("layout", ["spec", "narrow"])
def test_words_on_the_lines_do_not_lie_on_each_other(day, layout):
    spec = getattr(day, layout)
    params = {param["name"]: param["value"] for param in spec["params"]}
    per_px = np.log(params["y_high"] / params["y_low"]) / spec["height"]
    boxes = [
        (
            spec["width"] * row["t"] / params["x_high"],
            spec["width"] * row["t"] / params["x_high"] + text_room(row["text"], 13),
            np.log(row["at"]) / per_px,
        )
        for row in spec["datasets"]["words"]
    ]
    assert len(boxes) == 5
    for number, (left, right, foot) in enumerate(boxes):
        for other_left, other_right, other in boxes[number + 1 :]:
            assert right <= other_left or other_right <= left or abs(foot - other) >= 13


def test_a_run_that_nobody_answered_has_marks_and_no_lines():
    figure = chart(
        [0.0, 60.0], [None, None], hours_of([(None, None, None)], length_s=61), mark=None, ended="did not finish"
    )
    sets = figure.spec["datasets"]
    assert (sets["slowest"], sets["hours"], sets["words"], len(sets["lost"])) == ([], [], [], 2)
    assert "did not finish" in render_file(figure)


def test_one_request_is_drawn():
    figure = chart([0.0], [12.0], hours_of([(12, None, None)], length_s=0.012))
    assert "Time since its start (minutes)" in render_file(figure)


def test_the_bytes_are_the_same_twice(day):
    assert render_svg(day) == render_svg(day)


@pytest.mark.parametrize(
    ("t", "waits", "message"),
    [
        ([], [], "0 waits do not fit 0 requests"),
        ([0.0], [1.0, 2.0], "2 waits do not fit 1 requests"),
        ([1.0, 0.0], [1.0, 2.0], "must not fall"),
    ],
)
def test_wrong_logs_are_refused(t, waits, message):
    with pytest.raises(ValueError, match=message):
        chart(t, waits, hours_of([(1, 1, 1)]))


def test_it_is_no_wider_than_the_page_of_a_phone(day):
    # A page of 360 px has 340 for a chart: in a wider one, text of 11 px would be smaller.
    narrow = replace(day, spec=day.narrow, narrow=None)
    (width,) = re.findall(r'viewBox="\S+ \S+ (\S+) ', render_svg(narrow))
    assert float(width) <= 342


def test_where_there_is_no_room_the_words_of_the_slowest_go_first(day):
    low = replace(WIDE, plot_width=200, plot_height=44)
    words = [row["text"] for row in day.drawn(low)["datasets"]["words"]]
    assert words == ["asked for: 100 ms", "95 of 100", "99 of 100", "half"]


@pytest.mark.parametrize("shape", ["wide", "square"])
def test_a_still_is_made_of_it_with_all_its_words(day, shape):
    svg = still_svg(fitted(day, shape, source="A bench"), ground="light")
    for words in ("half", "95 of 100", "99 of 100", "asked for:"):
        assert words in svg
