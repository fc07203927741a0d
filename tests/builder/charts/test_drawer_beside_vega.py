"""The drawer's picture of a specification is vl-convert's, for every kind of chart we have.

Both are turned into points by the same program with the same face, twice as large as on a page. What may differ: places
are cut to a thousandth of a px, so the shade of a rim may be another one. Of all charts of the demo no point is off by
more than 64 of 255 shades (a quarter), and at most 247 by more than 32. A hairline that is missing or lies a px beside
its place changes over 900 points by more than that, a letter more than 64 shades: the planted errors below show it.
"""

import copy
import json

import pytest

from builder.charts.drawer import draw
from builder.charts.figures import bare
from tests.builder.charts.rasters import alike, apart, both, measures, points, reference
from tests.downloads import specification_of

MOST_SHADES = 64
SOME_SHADES, MOST_POINTS = 32, 400

AXIS = {"grid": True, "labelOverlap": False, "labelFlush": False, "title": "Level"}
UPRIGHT = {
    "titleAngle": 0,
    "titleX": -30,
    "titleY": -12,
    "titleAlign": "left",
    "labelOverlap": False,
    "title": "Mbit/s",
}


def agree(theirs, ours):
    return not apart(theirs, ours, shades=MOST_SHADES) and apart(theirs, ours, shades=SOME_SHADES) <= MOST_POINTS


@pytest.mark.parametrize("layout", ["spec", "narrow"])
@pytest.mark.parametrize("name", ["pair", "level", "crowd", "ranking", "mix", "shares", "long", "waits"])
def test_charts_agree(request, name, layout):
    theirs, ours = both(getattr(request.getfixturevalue(name), layout))
    assert agree(theirs, ours)


def test_charts_of_the_demo_agree(demo_site):
    kinds = {}
    for path in sorted((demo_site / "figures").glob("*.json.zip")):
        kinds.setdefault(path.name.split("~")[0], []).append(path)
    assert len(kinds) >= 6
    for kind, paths in kinds.items():
        for path in (paths[0], paths[len(paths) // 2], paths[-1]):
            assert agree(*both(specification_of(path))), (kind, path.name)


def planted(spec, name):
    """The specification with one small error."""
    wrong = copy.deepcopy(spec)
    sets = wrong["datasets"]
    domains = [c["scale"]["domain"] for layer in wrong["layer"] for n, c in layer["encoding"].items() if n == "y"]
    pixel = domains[0][1] / wrong["height"]
    if name == "a line a px higher":
        sets["knots"] = [{**row, "value": row["value"] + pixel * (row["series"] == "2")} for row in sets["knots"]]
    elif name == "a label that is missing":
        sets["bold_seconds"] = sets["bold_seconds"][1:]
    elif name == "a label a px lower":
        sets["bold_seconds"] = [{**row, "at": row["at"] - pixel} for row in sets["bold_seconds"]]
    elif name == "another digit":
        sets["bold_seconds"] = [{**row, "text": row["text"].replace("2", "3")} for row in sets["bold_seconds"]]
    elif name == "no grid":
        for layer in wrong["layer"]:
            if layer["encoding"].get("y", {}).get("axis"):
                layer["encoding"]["y"]["axis"]["grid"] = False
    elif name == "another axis":
        for domain in domains:
            domain[1] *= 1.002
    elif name == "a solid line for a dashed one":
        for layer in wrong["layer"]:
            if "strokeDash" in layer["encoding"]:
                layer["encoding"]["strokeDash"]["scale"]["range"][1] = [1, 0]
    elif name == "the hue of another":
        text = json.dumps(wrong).replace("#BB5566", "#117733")
        wrong = json.loads(text)
    assert wrong != spec
    return wrong


@pytest.mark.parametrize(
    "name",
    [
        "a line a px higher",
        "a label that is missing",
        "a label a px lower",
        "another digit",
        "no grid",
        "another axis",
        "a solid line for a dashed one",
        "the hue of another",
    ],
)
def test_a_planted_error_is_seen(pair, name):
    theirs = reference(pair.spec)
    wrong = draw(bare(planted(pair.spec, name)), str)
    assert not agree(points(theirs), points(alike(wrong, measures(theirs))))


def layers():
    x = {"field": "x", "type": "quantitative", "scale": {"domain": [0, 30], "nice": False}, "axis": AXIS}
    y = {
        "field": "y",
        "type": "quantitative",
        "scale": {"domain": [5, 500], "type": "log", "nice": False},
        "axis": {**UPRIGHT, "values": [5, 10, 50, 100, 500, 1000], "domain": False},
    }
    hue = {
        "field": "s",
        "type": "nominal",
        "legend": None,
        "scale": {"domain": ["a", "b"], "range": ["#332288", "#117733"]},
    }
    data = {"data": {"name": "rows"}}
    plain = {"type": "nominal", "scale": None, "legend": None}
    return [
        {
            **data,
            "encoding": {"x": x, "y": y},
            "layer": [
                {
                    "mark": {"type": "area", "interpolate": "step-after", "fillOpacity": 0.3, "stroke": "#ff0000"},
                    "encoding": {"y2": {"field": "low"}, "color": hue},
                },
                {
                    "mark": {"type": "line", "interpolate": "step-after", "strokeDash": [6, 2]},
                    "encoding": {"stroke": hue, "detail": {"field": "s", "type": "nominal"}},
                },
            ],
        },
        {
            **data,
            "mark": {"type": "point", "filled": True, "opacity": 0.5, "stroke": "#000000"},
            "encoding": {
                "x": x,
                "y": y,
                "color": hue,
                "size": {"field": "size", **plain},
                "shape": {"field": "shape", **plain},
            },
        },
        {
            **data,
            "mark": {"type": "rect", "color": "#885511", "opacity": 0.5},
            "encoding": {
                "x": x,
                "x2": {"value": 200},
                "y": {"value": 5},
                "y2": {"value": "height"},
                "href": {"field": "way"},
            },
        },
        {
            **data,
            "mark": {"type": "rule", "strokeWidth": 3, "color": "#445566"},
            "encoding": {"x": x, "strokeOpacity": {"value": 0.4}},
        },
        {
            **data,
            "mark": {
                "type": "text",
                "align": "right",
                "baseline": "bottom",
                "dx": -4,
                "dy": 3,
                "angle": 270,
                "color": "#000",
            },
            "encoding": {"x": x, "y": y, "text": {"field": "text", "type": "nominal"}, "href": {"value": "devices/"}},
        },
        {
            **data,
            "mark": {"type": "text", "color": "#ffffff", "stroke": "#000000", "strokeWidth": 3, "fontWeight": "bold"},
            "encoding": {"x": x, "y": {"datum": 30}, "text": {"field": "text", "type": "nominal"}},
        },
    ]


ROWS = [
    {"x": 2, "y": 400, "low": 300, "s": "a", "size": 80, "shape": "square", "way": "a/", "text": "fi & <1>"},
    {"x": 9, "y": 200, "low": 150, "s": "a", "size": 200, "shape": "cross", "way": "b/", "text": "Tr"},
    {"x": 14, "y": None, "low": 9, "s": "a", "size": 90, "shape": "circle", "way": "c/", "text": "gap"},
    {"x": 17, "y": 100, "low": 20, "s": "a", "size": 90, "shape": "diamond", "way": "d/", "text": "×"},
    {"x": 25, "y": 50, "low": 20, "s": "a", "size": 120, "shape": "triangle-up", "way": "e/", "text": "end"},
    {"x": 28, "y": 20, "low": 8, "s": "b", "size": 120, "shape": "triangle-down", "way": "f/", "text": "≥ 1"},
    {"x": 22, "y": 30, "low": 7, "s": "b", "size": 90, "shape": "M-1,0L1,0M0,-1V1", "way": "g/", "text": "b"},
]
CONFIG = {"view": {"stroke": None}, "axis": {"gridColor": "#bbbbbb", "labelFontSize": 12, "labelPadding": 3}}
FRAME = {"$schema": "https://vega.github.io/schema/vega-lite/v6.json", "config": CONFIG, "padding": 4}


@pytest.mark.parametrize("how", ["alone", "below each other", "beside each other", "flush", "reversed and on top"])
def test_all_that_is_drawn_agrees(how):
    one = {"width": 260, "height": 170, "layer": layers()}
    spec = {**FRAME, "datasets": {"rows": ROWS}}
    if how == "alone":
        spec |= one
    elif how == "reversed and on top":
        text = json.dumps(one).replace(
            '"labelFlush": false', '"labelFlush": true, "orient": "top", "titleAnchor": "end"'
        )
        spec |= json.loads(text.replace('"domain": [0, 30]', '"domain": [0, 30], "reverse": true'))
    else:
        spec |= {"hconcat" if how == "beside each other" else "vconcat": [one, {**one, "height": 90}], "spacing": 12}
        spec |= {"bounds": "flush"} if how == "flush" else {}
    assert agree(*both(spec))


DOMAINS = [
    *((0, top, 5, 1) for top in (1, 3, 7, 10, 25, 99, 600, 1000, 2500, 12_000)),
    *(
        (low, high, count, None)
        for low, high in ((-71, -29), (0, 0.7), (-3, 2.5), (47, 83), (0, 150_000))
        for count in (3, 6, 9)
    ),
    (0, 4, 8, 1),
    (3, 0, 5, None),
]


@pytest.mark.parametrize(("low", "high", "count", "least"), DOMAINS)
def test_ticks_and_their_labels_are_vegas(low, high, count, least, drawn):
    axis = {**AXIS, "title": None, "tickCount": count} | ({"tickMinStep": least} if least else {})
    x = {
        "field": "x",
        "type": "quantitative",
        "scale": {"domain": [low, high], "nice": False, "zero": False},
        "axis": axis,
    }
    mark = {"mark": {"type": "rule", "color": "#000000"}, "encoding": {"x": x}, "data": {"name": "rows"}}
    spec = {**FRAME, "width": 300, "height": 50, "datasets": {"rows": []}, "layer": [mark]}
    theirs = reference(spec)
    ours = alike(draw(bare(spec), str), measures(theirs))

    def labels(svg):
        return [
            (m.text, pytest.approx(m.x, abs=0.02), pytest.approx(m.y, abs=0.02)) for m in drawn(svg) if m.tag == "text"
        ]

    assert len(labels(theirs)) > 1
    assert labels(ours) == labels(theirs)
