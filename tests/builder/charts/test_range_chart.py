import re
from dataclasses import replace
from itertools import combinations

import altair
import pytest

from builder.charts.label_text import LabelText
from builder.charts.range_chart import range_figure
from builder.charts.range_lines import RangeKnot, RangeSeries, RangeWindow, RulerMark
from builder.charts.range_template import panels
from builder.charts.rendering import render_file, render_svg
from builder.charts.theme import SERIES, text_width

UNITS = re.compile(r"\((dB|dBm|Mbit/s)\)$")


def knot(x: float, value: float, *, bound: bool = False) -> RangeKnot:
    return RangeKnot(x, value, None, None, bound, f"{value:g}")


def chart(*series: RangeSeries, **more):
    common = {
        "key": "k",
        "title": "How does it fade?",
        "axis": "attenuation",
        "ruler": [],
        "notes": [],
        "spoken": "It fades.",
        "shared_range": None,
    }
    return range_figure(series=series, **{**common, **more})


def line(*knots: RangeKnot, label: str = "Porch") -> RangeSeries:
    return RangeSeries(label, "firmware 1.0", knots)


def pieces(figure) -> list[list[float]]:
    """Places of the knots by drawn line."""
    joined: dict[str, list[float]] = {}
    for row in figure.spec["datasets"]["knots"]:
        joined.setdefault(row["piece"], []).append(row["x"])
    return list(joined.values())


@pytest.mark.parametrize("name", ["pair", "level", "crowd", "apart"])
def test_the_grammar_is_altairs(request, name):
    # Reference: the Vega-Lite schema that Altair carries, after our data and numbers were put in.
    figure = request.getfixturevalue(name)
    for spec in (figure.spec, figure.narrow):
        altair.Chart.from_dict(spec, validate=True)


@pytest.mark.parametrize(("name", "unit"), [("pair", "dB"), ("level", "dBm"), ("apart", "dB")])
def test_every_axis_has_a_unit(request, name, unit):
    figure = request.getfixturevalue(name)
    shown = re.findall(r">([^<]+)</text>", render_file(figure))
    assert unit in shown
    assert "Mbit/s, download" in shown
    # What is read of a mark in the browser takes its unit from here.
    for panel in panels(figure.spec):
        for layer in panel["layer"]:
            for channel in ("x", "y"):
                if "field" in layer["encoding"].get(channel, {}):
                    assert UNITS.search(layer["encoding"][channel]["title"])


def test_lines_stop_at_a_gap():
    # Requirement C01: 50 and 63 dB unjoined, 50 and 62 joined.
    assert pieces(chart(line(knot(50, 900), knot(63, 400)))) == [[50], [63]]
    assert pieces(chart(line(knot(50, 900), knot(62, 400)))) == [[50, 62]]
    # A sum of measured decibels: 12 dB apart all the same.
    assert pieces(chart(line(knot(57.6, 900), knot(69.60000000000001, 400)))) == [[57.6, 69.60000000000001]]
    assert pieces(chart(line(knot(50, 900), knot(56, 400)), max_gap_db=5)) == [[50], [56]]


def test_a_gap_stays_open_in_the_picture(drawn):
    figure = chart(line(knot(50, 900), knot(55, 800), knot(70, 300), knot(75, 200)))
    paths = [
        mark.attributes["d"]
        for mark in drawn(render_file(figure))
        if mark.tag == "path" and mark.attributes.get("stroke") == SERIES[0].light
    ]
    drawn_as = "".join(paths)
    assert drawn_as.count("M") == drawn_as.count("L") == 2


def test_knots_lie_where_their_values_say(pair, drawn):
    # By hand: 776 px for 49 to 81 dB, 330 px for 0 to 1000 Mbit/s; lines join the knots straight.
    drawing = render_file(pair)
    paths = [m for m in drawn(drawing) if m.tag == "path" and m.attributes.get("stroke") == SERIES[0].light]
    lines = [path for path in paths if not path.attributes["d"].endswith("Z")]  # bands are closed
    expected = [((x - 49) / 32 * 776, (1 - y / 1000) * 330) for x, y in [(50, 925), (60, 700), (70, 400), (80, 100)]]
    found = [tuple(map(float, point.split(","))) for point in lines[0].attributes["d"].removeprefix("M").split("L")]
    assert found == [pytest.approx(point, abs=0.01) for point in expected]


def test_bounds_alone_have_an_arrow(pair, crowd):
    assert [(row["x"], row["value"]) for row in pair.spec["datasets"]["bounds"]] == [(50, 925)]
    assert crowd.spec["datasets"]["bounds"] == []


def test_intervals_are_drawn_where_they_are_known(pair):
    bands = pair.spec["datasets"]["bands"]
    assert [(row["x"], row["low"], row["high"]) for row in bands] == [
        (60, 661, 739),
        (70, 361, 439),
        (80, 61, 139),
    ]
    lone = chart(line(RangeKnot(60, 20, -10, 50, False, "20.0"))).spec["datasets"]
    # An interval below 0 is cut in the picture, not in the table.
    assert lone["bands"] == []
    assert lone["lone"] == [{"series": "1", "x": 60, "low": 0.0, "high": 50}]


def test_level_falls_to_the_right(level, drawn):
    texts = [m for m in drawn(render_file(level)) if re.fullmatch(r"−\d\d", m.text)]
    assert [m.text for m in sorted(texts, key=lambda m: m.x)] == ["−40", "−45", "−50", "−55", "−60"]


def test_attenuation_grows_to_the_right(pair, drawn):
    texts = [m for m in drawn(render_file(pair)) if re.fullmatch(r"\d\d", m.text)]
    assert [int(m.text) for m in sorted(texts, key=lambda m: m.x)] == [50, 55, 60, 65, 70, 75, 80]


def test_y_starts_at_0(pair, drawn):
    numbers = {m.text: m.y for m in drawn(render_file(pair)) if re.fullmatch(r"\d+00|0", m.text)}
    assert numbers["0"] - numbers["1000"] == pytest.approx(330)


def test_the_table_holds_every_knot(pair):
    assert pair.table.columns == ("Attenuation (dB)", "Quillmast Dome 20", "Tessarik Shale 2")
    assert pair.table.caption == "Throughput (Mbit/s) at each attenuation"
    assert pair.table.rows == (
        ("50", "≥ 925", "not tested"),
        ("55", "not tested", "720"),
        ("60", "700 (661–739)", "not tested"),
        ("65", "not tested", "560"),
        ("70", "400 (361–439)", "not tested"),
        ("75", "not tested", "200"),
        ("80", "100 (61–139)", "not tested"),
    )


def test_the_table_of_levels_reads_as_the_axis_does(level):
    assert [row[0] for row in level.table.rows] == ["−37", "−43", "−47", "−53", "−57", "−63"]


def test_places_that_print_alike_keep_their_rows():
    rows = chart(line(knot(60.01, 500), knot(60.04, 400))).table.rows
    assert rows == (("60", "500"), ("60", "400"))


def test_lines_with_one_name_are_told_apart_in_the_table():
    first, second = line(knot(60, 500)), RangeSeries("Porch", "firmware 2.0", (knot(60, 700),))
    assert chart(first, second).table.columns[1:] == ("Porch, firmware 1.0", "Porch, firmware 2.0")


@pytest.mark.parametrize("name", ["pair", "level", "crowd", "apart"])
@pytest.mark.parametrize("layout", ["wide", "narrow"])
def test_no_text_lies_on_another_once_drawn(request, drawn, name, layout):
    figure = request.getfixturevalue(name)
    spec = figure.spec if layout == "wide" else figure.narrow
    marks = drawn(render_file(replace(figure, spec=spec)))
    boxes = [box(mark) for mark in marks if mark.tag == "text" and "stroke" not in mark.attributes]
    assert len(boxes) > 12
    for (a, first), (b, second) in combinations(boxes, 2):
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, f"{first!r} and {second!r}"


def box(mark):
    """Left, top, right and bottom of a text [px], and the text; letters reach 0.75 em up and 0.22 em down."""
    size = float(mark.attributes["font-size"].removesuffix("px"))
    width = text_width(mark.text, size, bold=mark.attributes.get("font-weight") == "bold")
    left = mark.x - {"start": 0, "middle": width / 2, "end": width}[mark.attributes.get("text-anchor", "start")]
    return (left, mark.y - 0.75 * size, left + width, mark.y + 0.22 * size), mark.text


@pytest.mark.parametrize(("layout", "width"), [("wide", 836), ("narrow", 340)])
@pytest.mark.parametrize("name", ["pair", "level", "crowd", "apart"])
def test_a_chart_on_a_page_is_as_wide_as_its_column(request, name, layout, width):
    figure = request.getfixturevalue(name)
    spec = figure.spec if layout == "wide" else figure.narrow
    drawing = render_svg(replace(figure, spec=spec, narrow=None))
    assert re.search(r'viewBox="0 0 (\d+) ', drawing)[1] == str(width)


def test_names_fall_back_to_a_shorter_form_where_longer_ones_do_not_stand_clear():
    forms = (LabelText("Quillmast", "Sill Outdoor Extended Range"), LabelText("", "Range"))
    knots = (knot(60, 500), knot(62, 480))
    alone = chart(RangeSeries("a", "x", knots, forms))
    assert [row["text"] for row in alone.spec["datasets"]["bold_seconds"]] == ["Sill Outdoor Extended Range"]
    crowd = [
        RangeSeries(f"{i}", "x", tuple(knot(45 + 3 * j, 900 - 30 * i) for j in range(16)), forms) for i in range(6)
    ]
    assert {row["text"][:5] for row in chart(*crowd).narrow["datasets"]["bold_seconds"]} == {"Range"}


def test_a_value_at_the_devices_own_port_has_a_double_bar_and_a_bound_an_arrow():
    held = RangeKnot(60, 940, 930, 950, False, "940", at_port=True)
    data = chart(line(held, knot(70, 900, bound=True), knot(75, 300))).spec["datasets"]
    assert [row["x"] for row in data["ports"]] == [60]
    assert [row["x"] for row in data["bounds"]] == [70]


def test_windows_are_brackets_as_far_as_they_are_drawn():
    windows = [RangeWindow(50, 60, "near", "near"), RangeWindow(60, 75, "a wall or two away", "a wall or two")]
    figure = chart(line(knot(55, 500), knot(70, 300)), windows=windows)
    brackets = figure.spec["datasets"]["windows"]
    assert [row["text"] for row in figure.spec["datasets"]["window_names"]] == ["near", "a wall or two away"]
    assert brackets[0]["x"] == pytest.approx(54, abs=0.1)  # the axis begins there
    assert brackets[0]["x2"] == pytest.approx(60, abs=0.1)
    assert brackets[1]["x2"] == pytest.approx(71, abs=0.1)
    # Only ends that are ends of a window are drawn as such.
    assert len(figure.spec["datasets"]["window_ends"]) == 2
    narrow = chart(
        line(knot(45, 500), knot(52, 400), knot(64, 300), knot(75, 200), knot(84, 9)), windows=windows
    ).narrow
    assert "a wall or two" in [row["text"] for row in narrow["datasets"]["window_names"]]


def test_levels_have_no_windows(level):
    assert level.spec["datasets"]["windows"] == []


def test_title_and_notes_stand_in_the_downloaded_picture(pair, drawn):
    words = " ".join(mark.text for mark in drawn(render_file(pair)) if mark.tag == "text")
    for said in (pair.title, *pair.notes):
        assert said in words


def test_the_shared_range_is_shaded(pair, level, crowd):
    assert [(row["x"], row["x2"]) for row in pair.spec["datasets"]["shared"]] == [(55, 75)]
    assert [(row["x"], row["x2"]) for row in level.spec["datasets"]["shared"]] == [(-43, -57)]
    assert crowd.spec["datasets"]["shared"] == []


def test_marks_of_the_ruler_outside_of_the_chart_are_left_out():
    ruler = [RulerMark(40, "desk"), RulerMark(60, "1 brick wall")]
    figure = chart(line(knot(55, 500), knot(65, 300)), ruler=ruler)
    assert [row["text"] for row in figure.spec["datasets"]["ruler"]] == ["1 brick wall"]


def test_seven_lines_are_refused():
    with pytest.raises(ValueError, match="a chart holds 1 to 6 series, got 7"):
        chart(*(line(knot(60, 500), label=f"Porch {i}") for i in range(7)))


@pytest.mark.parametrize(
    ("series", "message"),
    [
        (line(), "'Porch' has no knots"),
        (line(knot(60, 500), knot(60, 400)), "'Porch' has two knots at 60: average them first"),
        (line(knot(60, -1)), "'Porch' is -1 at 60, expected a value from 0"),
        (line(RangeKnot(60, 500, 510, 520, False, "500")), "'Porch': 500 lies outside of its interval 510 to 520"),
    ],
)
def test_wrong_lines_are_refused(series, message):
    with pytest.raises(ValueError, match=message):
        chart(series)


def test_little_throughput_has_decimals_on_its_axis(drawn):
    # Two of them, and places between whole dB: both axes are drawn and agree with vl-convert's words.
    figure = chart(line(knot(60.4, 1.2), knot(60.9, 0.3)))
    shown = {m.text for m in drawn(render_file(figure))}
    assert {"0.2", "0.8"} <= shown
    assert any(re.fullmatch(r"\d\d\.\d", text) for text in shown)
