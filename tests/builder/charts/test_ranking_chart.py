import re
from itertools import pairwise

import altair
import pytest

from builder.charts.ranking_chart import RankBar, ranking_figure
from builder.charts.rendering import render_file, render_svg
from builder.charts.theme import SERIES


def chart(*bars: RankBar):
    return ranking_figure(key="k", title="Who leads?", bars=bars, unit="Mbit/s", notes=[], spoken="Nobody.")


def bar(value: float, low: float | None = None, high: float | None = None) -> RankBar:
    return RankBar("Porch", value, low, high, False, "rank 1", f"{value:g}")


def test_the_grammar_is_altairs(ranking):
    # Reference: the Vega-Lite schema that Altair carries, after our data and numbers were put in.
    for spec in (ranking.spec, ranking.narrow):
        altair.LayerChart.from_dict(spec, validate=True)


def test_the_axis_has_its_unit(ranking):
    assert ">Mbit/s</text>" in render_file(ranking)


def test_dots_lie_where_their_values_say(ranking, drawn):
    # By hand: 360 px for 0 to 800 Mbit/s, a round number above 756.25 and its arrow's room (801.6): so 0 to 1000.
    paths = [m for m in drawn(render_file(ranking)) if m.tag == "path"]
    dots = [m for m in paths if m.attributes.get("fill") == SERIES[0].light]
    zero = dots[0].x - 756.25 / 1000 * 360
    assert [dot.x - zero for dot in dots] == pytest.approx(
        [v / 1000 * 360 for v in (756.25, 740, 562.5, 98.4)], abs=0.03
    )
    assert [dot.y for dot in dots] == sorted(dot.y for dot in dots)


def test_there_are_no_bars_and_no_second_hue(ranking):
    drawing = render_svg(ranking)
    assert "<rect" not in drawing
    assert set(re.findall(r"--series-\d", drawing)) == {"--series-1"}


def test_bounds_alone_have_an_arrow(ranking, drawn):
    paths = [m for m in drawn(render_file(ranking)) if m.tag == "path"]
    assert len([m for m in paths if m.attributes.get("stroke-width") == "1.6"]) == 1


def test_the_table_holds_every_row(ranking):
    assert ranking.table.columns == ("Name", "Value (Mbit/s)", "Interval (Mbit/s)", "Rank")
    assert ranking.table.rows == (
        ("Quillmast Dome 20", "≥ 756", "lower bound", "rank 1 to 2"),
        ("Tessarik Shale 2", "740", "695–785", "rank 1 to 2, not separated from the row above"),
        ("Fjeldrun Alcove Outdoor, second revision", "563", "540–585", "rank 3"),
        ("Tessarik Porch", "98.4", "90.1–106.7", "rank 4"),
    )


def test_the_picture_says_what_the_table_says(ranking, drawn):
    for spec in (ranking.spec, ranking.narrow):
        words = " ".join(row["text"] for name in ("names", "values", "ranks") for row in spec["datasets"][name])
        for name, value, _, rank in ranking.table.rows:
            assert name in words
            assert value in words
            assert rank in words


def test_rows_do_not_touch(ranking):
    for spec in (ranking.spec, ranking.narrow):
        for column in ("names", "values", "ranks"):
            heights = [row["at"] for row in spec["datasets"][column]]
            assert all(below - above >= 14 for above, below in pairwise(heights))


def test_a_long_name_stands_over_its_line_on_a_phone(ranking):
    names = [row for row in ranking.narrow["datasets"]["names"] if "Alcove" in row["text"] or "revision" in row["text"]]
    dot = ranking.narrow["datasets"]["spots"][2]
    assert all(row["at"] < dot["at"] for row in names)


@pytest.mark.parametrize(
    ("bars", "message"),
    [
        ((), "a ranking needs at least one row"),
        ((bar(-1),), "'Porch' is -1, expected a value from 0"),
        ((bar(500, 510, 520),), "'Porch': 500 lies outside of its interval 510 to 520"),
    ],
)
def test_wrong_rows_are_refused(bars, message):
    with pytest.raises(ValueError, match=message):
        chart(*bars)
