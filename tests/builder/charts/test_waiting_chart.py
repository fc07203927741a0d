"""The role chart, drawn from worked story 5 (a device that gave up at 380 of 600 s) beside one that did not."""

import math
import re

import altair
import pytest
from statsmodels.duration.survfunc import SurvfuncRight

from builder.charts.rendering import render_file, render_svg
from builder.charts.role_chart import Answered, RoleSeries, Target, role_figure
from builder.charts.theme import SERIES

# Story 5 of the job analysis: 38 of 60 planned pages finished, 30 in 300 ms, 6 in 800 and 2 in 2400.
STORY_WAITS = (300.0,) * 30 + (800.0,) * 6 + (2400.0,) * 2


def series(position=1, label="Fjeldrun Alcove", waits=STORY_WAITS, planned=60, answered=None):
    if answered is None:
        answered = (Answered(50, 300.0, "300"), Answered(90, None, "failed"))
    return RoleSeries(position, label, "22 of 60 failed", waits, tuple(range(1, len(waits) + 1)), planned, answered)


TARGET = Target(1000.0, 0.95)


def chart(*lines, target=TARGET):
    return role_figure(
        key="role", title="Who still waits?", series=lines, target=target, notes=["One run."], spoken="Alcove gave up."
    )


@pytest.fixture(scope="module")
def story():
    whole = series(2, "Tessarik Shale 2", (250.0,) * 60, 60, (Answered(50, 250.0, "250"), Answered(90, 250.0, "250")))
    return chart(series(), whole)


def test_the_grammar_is_altairs(story):
    # Reference: the Vega-Lite schema that Altair carries, after our data and numbers were put in.
    for spec in (story.spec, story.narrow):
        altair.LayerChart.from_dict(spec, validate=True)


def test_the_time_axis_is_logarithmic_and_says_so(story):
    drawing = render_file(story, cache=None)
    assert "Time waited (ms, log axis)" in drawing
    assert "Still waiting (% of planned requests)" in drawing


@pytest.mark.parametrize("failed", [0, 5])
def test_a_line_is_a_kaplan_meier_curve(failed):
    # Source: statsmodels, right-censored survival function: who failed is still waiting when all others are done.
    waits = (20.0, 20.0, 35.0, 60.0, 110.0, 110.0, 400.0)
    planned = len(waits) + failed
    found = shares(chart(series(1, waits=waits, planned=planned, answered=())).spec, "1")
    curve = SurvfuncRight([*waits, *[1e9] * failed], [1] * len(waits) + [0] * failed)
    for wait, left in zip(curve.surv_times, curve.surv_prob, strict=True):
        if wait < 1e9:
            assert found[wait] == pytest.approx(100 * left, abs=1e-3)


def shares(spec, number):
    return {row["t"]: row["share"] for row in spec["datasets"]["lines"] if row["series"] == number}


def test_shares_are_those_of_the_story(story):
    # By hand: after 300 ms 30 of 60 are answered, after 800 ms 36, after 2400 ms 38; the other 22 never.
    found = shares(story.spec, "1")
    assert found[300] == 50
    assert found[800] == 40
    assert found[2400] == pytest.approx(100 * 22 / 60, abs=1e-3)
    assert shares(story.spec, "2")[250] == 0


def test_failures_run_to_the_right_edge_and_end_in_an_open_mark(story, drawn):
    (end,) = story.spec["datasets"]["ends"]
    assert end == {"series": "1", "t": story.spec["params"][1]["value"], "share": pytest.approx(36.667)}
    hollow = [
        m
        for m in drawn(render_file(story, cache=None))
        if m.tag == "path"
        and m.attributes.get("stroke") == SERIES[0].light
        and m.attributes.get("stroke-width") == "2"
        and m.attributes.get("fill") not in (None, "none", SERIES[0].light)
    ]
    assert len(hollow) == 1


def test_marks_lie_where_a_log_axis_says(story, drawn):
    # By hand: 464 px from the first to the last step of 1, 2, 5; 250 and 300 ms stand log10(300/250) apart.
    low, high = (param["value"] for param in story.spec["params"][:2])
    assert (low, high) == (200, 5000)
    places = {}
    for hue in (SERIES[0].light, SERIES[1].light):
        paths = [
            m for m in drawn(render_file(story, cache=None)) if m.tag == "path" and m.attributes.get("fill") == hue
        ]
        places[hue] = paths[0].x
    apart = places[SERIES[0].light] - places[SERIES[1].light]
    assert apart == pytest.approx(464 * math.log(300 / 250) / math.log(high / low), abs=0.05)


def test_the_target_is_a_gate_with_words(story):
    assert story.spec["datasets"]["gate"] == [{"t": 1000.0, "share": 5.0, "top": 100}]
    assert "target: 95.0 % within 1000 ms" in render_file(story, cache=None)
    assert chart(series(), target=None).spec["datasets"]["gate"] == []


def test_the_table_holds_every_percentile_and_what_never_came(story):
    assert story.table.columns == ("Answered", "Fjeldrun Alcove, 22 of 60 failed", "Tessarik Shale 2, 22 of 60 failed")
    assert story.table.rows == (
        ("50 %", "300", "250"),
        ("90 %", "failed", "250"),
        ("Never answered", "22 of 60", "0 of 60"),
    )


def test_a_device_keeps_its_hue_where_another_is_missing():
    alone = chart(series(position=3, label="Porch"))
    assert set(re.findall(r"--series-\d", render_svg(alone, cache=None))) == {"--series-3"}


def test_no_two_points_are_closer_than_a_line_is_wide():
    # A call of 3000 packets: the drawing stays small, the last answer stays where it is.
    waits = tuple(2.0 + i / 100 for i in range(3000))
    figure = chart(series(waits=waits, planned=3000, answered=()))
    assert len(figure.spec["datasets"]["lines"]) < 464
    assert shares(figure.spec, "1")[31.99] == 0


def test_everything_failed_is_a_line_that_never_falls():
    figure = chart(series(waits=(), planned=10, answered=(Answered(50, None, "failed"),)))
    assert {row["share"] for row in figure.spec["datasets"]["lines"]} == {100}
    assert len(figure.spec["datasets"]["ends"]) == 1


def test_the_bytes_are_the_same_twice(story):
    assert render_svg(story, cache=None) == render_svg(story, cache=None)


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ((), "holds 1 to 6 series, got 0"),
        ((series(), series()), r"positions are 1 to 6, each once, got \[1, 1\]"),
        ((series(position=7),), r"positions are 1 to 6, each once, got \[7\]"),
        ((series(planned=37),), "has 37 planned requests, but 38 were answered"),
        ((series(waits=(2.0, 1.0)),), "waits and ranks of 'Fjeldrun Alcove' must rise"),
        ((RoleSeries(1, "A", "", (1.0,), (), 3, ()),), "has 1 waits, but 0 ranks"),
    ],
)
def test_lines_that_do_not_fit_are_refused(lines, message):
    with pytest.raises(ValueError, match=message):
        chart(*lines)
