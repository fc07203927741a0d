"""The drawer refuses by name what it does not draw, and says of a picture how large it is."""

import copy
import re

import pytest

from builder.charts.drawer import draw
from builder.charts.grammar import NotDrawn
from builder.charts.scales import ticks

AXIS = {"grid": False, "labelOverlap": False, "title": "dB", "labelFlush": False}
SPEC = {
    "width": 200,
    "height": 100,
    "padding": 3,
    "config": {"view": {"stroke": None}},
    "params": [{"name": "end", "value": 10}],
    "datasets": {"spots": [{"x": 5, "text": "A<b", "way": "devices/a/?b&c", "kept": True}, {"x": 8, "text": "no"}]},
    "layer": [
        {
            "data": {"name": "spots"},
            "mark": {"type": "text", "align": "left", "color": "#26221C", "fontSize": 13},
            "encoding": {
                "x": {
                    "field": "x",
                    "type": "quantitative",
                    "scale": {"domain": [0, {"expr": "end"}], "nice": False},
                    "axis": AXIS,
                },
                "y": {"value": {"expr": "height - 10"}},
                "text": {"field": "text", "type": "nominal"},
                "href": {"field": "way"},
            },
            "transform": [{"filter": "datum.kept"}],
        }
    ],
}


def changed(path, value):
    """The specification with another value, or none where it is None, at a path of names and numbers."""
    spec = copy.deepcopy(SPEC)
    part = spec
    for step in path[:-1]:
        part = part[step]
    part[path[-1]] = value
    return spec


def body(spec):
    return draw(spec, str).body


def test_a_link_is_around_its_mark_and_text_cannot_break_out():
    assert re.search(r'<a href="devices/a/\?b&amp;c"><text x="100" y="94"[^>]*>A&lt;b</text></a>', body(SPEC))


def test_a_filter_keeps_the_rows_that_have_the_field():
    assert ">no<" not in body(SPEC)
    spec = changed(("layer", 0, "transform"), [])
    assert ">no<" in body(spec)


def test_size_and_corner_hold_the_plot_its_axis_and_its_texts():
    # By hand: the plot, and 5 px tick, 2 px, 10 px label, 4 px, 11 px title below it, 3 px around all. The label 0 is
    # 4.97 px wide, half of it left of the plot; "A<b" at 100 px is 20.7 px wide and ends inside of the plot.
    drawing = draw(SPEC, str)
    assert (drawing.left, drawing.top) == (6, 3)
    assert drawing.height == 3 + 100 + 5 + 2 + 10 + 4 + 11 + 3
    beyond = draw(changed(("datasets", "spots", 0, "x"), 9.9), str)
    assert beyond.width - drawing.width == pytest.approx(198 + 20.7 - 205, abs=1)


def test_colours_are_what_the_picture_asks_for():
    assert 'fill="var(--text)"' in draw(SPEC, lambda colour: {"#26221C": "var(--text)"}.get(colour, colour)).body


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        (("title",), {"text": "Why?"}, "specification.title is outside of what is drawn"),
        (("padding",), {"left": 3}, "padding is .*; drawn is a number"),
        (("height",), "container", "width and height are 200 and 'container'; drawn are px"),
        (("config", "text"), {"fontSize": 9}, "config.text is outside"),
        (("config", "axis"), {"labelAngle": 9}, "config.axis.labelAngle is outside"),
        (("layer", 0, "mark", "type"), "arc", "layer 0.mark 'arc' is outside"),
        (("layer", 0, "mark", "limit"), 9, "layer 0.mark.limit is outside"),
        (("layer", 0, "mark", "color"), None, "layer 0.mark.color is missing"),
        (("layer", 0, "mark", "angle"), 30, "angle 30 is outside"),
        (("layer", 0, "mark", "fontWeight"), 300, "layer 0.mark.fontWeight is 300; drawn are"),
        (("layer", 0, "mark", "dx"), {"expr": "datum.x * 2"}, "layer 0.mark.dx is the expression 'datum.x . 2'"),
        (("layer", 0, "encoding", "tooltip"), {"field": "x"}, "layer 0.tooltip is outside"),
        (("layer", 0, "encoding", "x", "type"), "temporal", "layer 0.x.type is 'temporal'"),
        (("layer", 0, "encoding", "x", "bin"), True, "layer 0.x.bin is outside"),
        (("layer", 0, "encoding", "x", "scale", "nice"), True, "x.scale.nice is True; drawn are None, False"),
        (("layer", 0, "encoding", "x", "scale", "type"), "sqrt", "x.scale.type is 'sqrt'"),
        (("layer", 0, "encoding", "x", "scale", "domain"), [3, 3], "x.scale.domain is 3 to 3, which has no length"),
        (
            ("layer", 0, "encoding", "x", "scale", "domain"),
            {"param": "brush"},
            "x.scale.domain is .*; drawn are two ends",
        ),
        (("layer", 0, "encoding", "x", "scale"), {"nice": False}, "x.scale.domain is missing"),
        (("layer", 0, "encoding", "x", "axis"), {"title": "dB"}, "x.axis.labelOverlap is missing; drawn is False"),
        (("layer", 0, "encoding", "x", "axis", "labelOverlap"), True, "x.axis.labelOverlap is True"),
        (
            ("layer", 0, "encoding", "x", "axis", "labelExpr"),
            "datum.label",
            "x.axis.labelExpr 'datum.label' is outside",
        ),
        (("layer", 0, "encoding", "x", "axis", "format"), ".2s", "x.axis.format '.2s' is outside"),
        (("layer", 0, "encoding", "x", "axis", "orient"), "left", "x.axis.orient is 'left'"),
        (("layer", 0, "encoding", "text"), {"field": "x"}, None),
        (("layer", 0, "encoding", "color"), {"field": "text", "legend": None}, "layer 0.color.scale is missing"),
        (
            ("layer", 0, "encoding", "color"),
            {"field": "text", "scale": {"domain": ["other"], "range": ["#fff"]}, "legend": None},
            "layer 0.color.scale.domain does not hold 'A<b'",
        ),
        (("layer", 0, "data"), {"url": "https://example.org/data.csv"}, "layer 0.data is not the name of a data set"),
        (("layer", 0, "data"), {"name": "others"}, "layer 0.data 'others' is not among the data sets"),
        (("layer", 0, "transform"), [{"calculate": "1", "as": "b"}], "layer 0.transform is outside"),
        (("layer", 0, "view"), {"fill": "red"}, "layer 0.view is"),
    ],
)
def test_what_is_not_drawn_is_refused_by_name(path, value, message):
    if message is None:
        assert ">5<" in body(changed(path, value))  # a whole number is text, too
        return
    with pytest.raises(NotDrawn, match=message):
        draw(changed(path, value), str)


def test_two_scales_of_one_plot_are_refused():
    spec = copy.deepcopy(SPEC)
    spec["layer"].append(copy.deepcopy(SPEC["layer"][0]))
    assert body(spec).count("<text x") > body(SPEC).count("<text x")
    spec["layer"][1]["encoding"]["x"]["scale"]["domain"] = [0, 11]
    with pytest.raises(NotDrawn, match=r"layer 1\.x\.scale is another than that of an earlier layer"):
        draw(spec, str)


def test_a_shape_that_is_no_shape_is_refused():
    spec = copy.deepcopy(SPEC)
    layer = spec["layer"][0]
    layer["mark"] = {"type": "point", "color": "#000000", "shape": "wye"}
    del layer["encoding"]["text"]
    with pytest.raises(NotDrawn, match="shape 'wye' is neither known nor a path"):
        draw(spec, str)
    layer["mark"]["shape"] = "M0,0C1,1,2,2,3,3"
    with pytest.raises(NotDrawn, match="holds 'C'; drawn are straight lines"):
        draw(spec, str)


def test_ticks_are_round_numbers():
    # By hand, as d3-array's documentation has them.
    assert ticks(0, 10, 5) == ([0, 2, 4, 6, 8, 10], 2)
    assert ticks(0, 1, 5)[0] == [0, 0.2, 0.4, 0.6, 0.8, 1]
    assert ticks(10, 0, 5)[0] == [10, 8, 6, 4, 2, 0]
    assert ticks(0, 0.3, 3)[0] == [0, 0.1, 0.2, 0.3]
