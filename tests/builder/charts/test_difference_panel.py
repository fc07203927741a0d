import pytest

from builder.charts.range_chart import range_figure
from builder.charts.range_lines import Difference, DifferenceKnot, RangeKnot, RangeSeries
from tests.builder.charts.texts import panels, place


def knots(*values, bound=None):
    return tuple(
        DifferenceKnot(50.0 + 10 * i, v, v - 30, v + 30, bound if i == 0 else None, i != 1, f"{v:g}")
        for i, v in enumerate(values)
    )


def figure(*values, bound=None, lines=2):
    series = [
        RangeSeries(name, "x", tuple(RangeKnot(50.0 + 10 * i, 500.0, None, None, False, "500") for i in range(4)))
        for name in ("Cupola", "Rondel 4", "Tarn")[:lines]
    ]
    return range_figure(
        key="k",
        title="Which?",
        axis="attenuation",
        series=series,
        ruler=[],
        notes=[],
        spoken="This.",
        shared_range=None,
        difference=Difference(
            "Cupola minus Rondel 4, Mbit/s",
            "over all 91, likely 31–150",
            ("below the line: Rondel 4 gives more",),
            knots(*values, bound=bound),
        ),
    )


def texts_of(figure, name):
    return [row["text"] for row in figure.spec["datasets"][name]]


def test_it_says_what_is_subtracted_the_total_and_what_lies_below_zero():
    made = figure(105, 122, 73, 27)
    assert texts_of(made, "headings") == ["Cupola minus Rondel 4, Mbit/s"]
    assert texts_of(made, "totals") == ["over all 91, likely 31–150"]
    assert texts_of(made, "below") == ["below the line: Rondel 4 gives more"]
    assert texts_of(made, "difference_values") == ["105 more", "122", "73", "27"]


@pytest.mark.parametrize("values", [(105, 122, 73, 27), (-105, -122, -73, -27), (40, -40, 3, 0), (0, 0, 0, 0)])
def test_zero_is_inside_and_words_below_it_stand_clear_of_points(values):
    made = figure(*values)
    for spec in (made.spec, made.narrow):
        panel = panels(spec)[1]
        y = next(
            layer["encoding"]["y"]
            for layer in panel["layer"]
            if layer["data"]["name"] == "differences" and layer["mark"]["type"] == "line"
        )
        low, high = y["scale"]["domain"]
        assert low < 0 < high
        words = place(panel, {**y, "field": "at"}, spec["datasets"]["below"][0], "height")
        for row in spec["datasets"]["differences"]:
            assert place(panel, y, row, "height") <= words - 14
        (zero,) = [one for one in panel["layer"] if one["data"]["name"] == "zero"]
        assert zero["mark"]["color"] == "#26221C"  # ink


def test_both_panels_are_on_the_same_axis():
    for panel in panels(figure(105, 122, 73, 27).spec):
        domains = {
            tuple(layer["encoding"]["x"]["scale"]["domain"])
            for layer in panel["layer"]
            if "scale" in layer["encoding"].get("x", {})
        }
        assert domains == {(49, 81)}
    wide, narrow = figure(1, 2, 3, 4).spec, figure(1, 2, 3, 4).narrow
    assert [panel["height"] for panel in panels(wide)] == [300, 150]
    assert panels(narrow)[0]["height"] == 220


def test_where_one_was_not_measured_the_point_is_hollow():
    assert [row["x"] for row in figure(105, 122, 73, 27).spec["datasets"]["joined"]] == [60]


@pytest.mark.parametrize("bound", ["least", "most"])
def test_a_bound_has_an_arrow_in_its_direction(bound):
    data = figure(105, 122, 73, 27, bound=bound).spec["datasets"]
    assert [row["x"] for row in data[f"at_{bound}"]] == [50]
    assert data[{"least": "at_most", "most": "at_least"}[bound]] == []


def test_the_table_has_the_difference_too():
    made = figure(105, 122, 73, 27)
    assert made.table.columns == ("Attenuation (dB)", "Cupola", "Rondel 4", "Cupola minus Rondel 4, Mbit/s")
    assert made.table.rows[0] == ("50", "500", "500", "105 (75–135)")


def test_a_frame_of_a_reveal_shows_the_difference_once_both_lines_are_there():
    made = figure(105, 122, 73, 27)
    from builder.charts.range_template import WIDE

    assert made.drawn(WIDE, 1)["datasets"]["differences"] == []
    assert len(made.drawn(WIDE, 2)["datasets"]["differences"]) == 4


def test_a_difference_is_of_two_lines():
    with pytest.raises(ValueError, match="a difference is of two lines and has knots, got 3 lines"):
        figure(105, 122, lines=3)
    with pytest.raises(ValueError, match="has knots"):
        figure()


@pytest.mark.parametrize("values", [(-246, -247, -127, -34), (246, 247, 127, 34), (60, 10, -20, -60)])
def test_no_value_lies_on_the_line_of_zero(values):
    made = figure(*values)
    panel = panels(made.spec)[1]
    layer = next(one for one in panel["layer"] if one["data"]["name"] == "difference_values")
    y, size = layer["encoding"]["y"], layer["mark"]["fontSize"]
    zero = place(panel, y, {"at": 0}, "height")
    rows = made.spec["datasets"]["difference_values"]
    assert len(rows) == 4
    for row in rows:
        foot = place(panel, y, row, "height")
        assert foot - 0.8 * size >= zero or foot + 0.2 * size <= zero, row
