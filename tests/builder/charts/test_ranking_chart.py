import re
from itertools import pairwise

import altair
import pytest

from builder.charts.drawer import draw
from builder.charts.figures import bare
from builder.charts.ranking_chart import RankBar, ranking_figure
from builder.charts.rendering import render_file, render_svg
from builder.charts.theme import SERIES, text_room


def chart(*bars: RankBar):
    return ranking_figure(key="k", title="Who leads?", bars=bars, unit="Mbit/s", notes=[], spoken="Nobody.")


def bar(value: float, low: float | None = None, high: float | None = None) -> RankBar:
    return RankBar("", "Porch", value, low, high, False, "rank 1", f"{value:g}", "1")


def test_the_grammar_is_altairs(ranking):
    # Reference: the Vega-Lite schema that Altair carries, after our data and numbers were put in.
    for spec in (ranking.spec, ranking.narrow):
        altair.LayerChart.from_dict(spec, validate=True)


def test_the_axis_has_its_unit(ranking):
    assert ">Mbit/s</text>" in render_file(ranking)


def test_dots_lie_where_their_values_say(ranking, drawn):
    # By hand: 0 to 1000 Mbit/s, the round number above 756.25 with its arrow's room, 801.6.
    wide = ranking.spec["width"]
    circles = [m for m in drawn(render_file(ranking)) if m.tag == "circle"]
    dots = [m for m in circles if m.attributes.get("fill") == SERIES[0].light]
    zero = dots[0].x - 756.25 / 1000 * wide
    assert [dot.x - zero for dot in dots] == pytest.approx(
        [v / 1000 * wide for v in (756.25, 740, 562.5, 98.4)], abs=0.03
    )
    assert [dot.y for dot in dots] == sorted(dot.y for dot in dots)


def test_there_are_no_bars_and_no_second_hue(ranking):
    drawing = render_svg(ranking)
    assert "<rect" not in drawing
    assert set(re.findall(r"--series-\d", drawing)) == {"--series-1"}


def test_bounds_alone_have_an_arrow(ranking, drawn):
    paths = [m for m in drawn(render_file(ranking)) if m.tag == "path"]
    assert len([m for m in paths if m.attributes.get("stroke-width") == "1.8"]) == 1


def test_the_table_holds_every_row(ranking):
    assert ranking.table.columns == ("Name", "Value (Mbit/s)", "Interval (Mbit/s)", "Rank")
    assert ranking.table.rows == (
        ("Quillmast Dome 20", "≥ 756", "lower bound", "rank 1 to 2"),
        ("Tessarik Shale 2", "740", "695–785", "rank 1 to 2, not separated from the row above"),
        ("Fjeldrun Alcove Outdoor, second revision", "563", "540–585", "rank 3"),
        ("Tessarik Porch", "98.4", "90.1–106.7", "rank 4"),
    )


def test_the_picture_says_what_the_table_says(ranking, drawn):
    for spec, short in ((ranking.spec, False), (ranking.narrow, True)):
        sets = spec["datasets"]
        words = " ".join(row["text"] for name in ("makers", "names", "values", "ranks") for row in sets[name])
        for name, value, _, rank in ranking.table.rows:
            maker, _, model = name.partition(" ")
            assert maker in words
            assert model in words
            assert value in words
            assert short or rank in words
    assert [row["text"] for row in ranking.narrow["datasets"]["ranks"]] == ["1–2", "1–2", "3", "4"]


def test_rows_do_not_touch(ranking):
    for spec in (ranking.spec, ranking.narrow):
        for column in ("makers", "names", "values", "ranks"):
            heights = [row["at"] for row in spec["datasets"][column]]
            assert all(below - above >= 14 for above, below in pairwise(heights))


def test_names_stand_in_two_columns_where_all_fit_else_below_each_other(ranking):
    # One model of the fixture is too long to stand beside its maker: then all stand below theirs.
    places = {param["name"]: param["value"] for param in ranking.spec["params"]}
    assert places["names"] == places["models"]
    short = chart(*(RankBar("Quillmast", f"Dome {n}", 9 - n, None, None, False, "rank", "9", "1") for n in range(3)))
    for spec in (short.spec, short.narrow):
        places = {param["name"]: param["value"] for param in spec["params"]}
        assert places["models"] - places["names"] >= text_room("Quillmast", 14)
        assert [row["at"] for row in spec["datasets"]["makers"]] == [row["at"] for row in spec["datasets"]["names"]]


def test_both_drawings_have_the_width_of_their_column(ranking):
    for spec, width in ((ranking.spec, 836), (ranking.narrow, 340)):
        assert draw(bare(spec), str).width == pytest.approx(width, abs=1)


def test_a_name_stands_over_its_line_on_a_phone(ranking):
    sets = ranking.narrow["datasets"]
    names = [row for row in sets["names"] if "Alcove" in row["text"] or "revision" in row["text"]]
    assert names
    assert all(sets["spots"][1]["at"] < row["at"] < sets["spots"][2]["at"] - 10 for row in names)


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
