"""The picture of all devices, from rows by hand: what is drawn where, and that no text meets another."""

import re
from itertools import combinations

import altair
import pytest

from builder.charts.linking import with_links
from builder.charts.overview_chart import MOST_ROWS, NARROW_WIDTH, WIDE_WIDTH, overview_figure
from builder.charts.overview_names import short_names
from builder.charts.overview_rows import Cell, Row, Window
from builder.charts.rendering import render_file, render_svg
from builder.charts.theme import TEXT, text_width

WINDOWS = (Window("Near", "50–60 dB"), Window("A wall or two away", "60–75 dB"), Window("Far", "75–90 dB"))
LONG = "Grandmotherswindowseatwithaviewoverthegardenandtheshedbehind"
FALLBACK = 4 / 3  # a face that a reader's machine may set a text in is at most so much wider than ours


def value(mean, half=40.0, *, first=False, rank="2–3", **more):
    return Cell(value=mean, low=mean - half, high=mean + half, first=first, rank=rank, text=f"{mean:.0f}", **more)


def device(model, *cells, maker="Tessarik"):
    return Row(maker, model, f"../devices/{model.lower().replace(' ', '-')}/index.html", cells)


LEADER = device("Cupola", value(885, first=True, rank="1–2"), value(802, 60, first=True), value(460, first=True))
CAPPED = device(
    "Tarn",
    Cell(value=925, bound=True, first=True, rank="1–2", text="≥ 925"),
    value(767, at_port=True),
    value(390),
    maker="Veltrisk",
)
PARTLY = device("Faceplate", Cell(words="only 51.8 to 60 dB"), value(544, mark="†"), Cell(words="a gap in its spots"))


def chart(*rows):
    return overview_figure(
        key="overview",
        title="Which gives more?",
        rows=rows,
        windows=WINDOWS,
        notes=["One note."],
        spoken="Three devices.",
    )


def many(count, name="Rondel {n}", maker="Polmerre"):
    """As many rows as a picture holds, whose values lie side by side, with the widest ranks and marks there are."""
    cells = [value(900 - 10 * n, 300, first=n < 5, rank=f"{10 + n}–24", mark="†") for n in range(count)]
    return [device(name.format(n=n), cell, cell, cell, maker=maker) for n, cell in enumerate(cells)]


CATALOGUES = {
    "usual": [LEADER, CAPPED, PARTLY],
    "full": many(MOST_ROWS),
    "long names": many(6, name=f"{LONG} {{n}}", maker=LONG),
    "many words": many(8, name="Outdoor Access Point For Large Halls And Gardens {n}", maker="Hollendry and Daughters"),
    "equal last words": [*many(4, name="Rondel {n} Outdoor"), *many(2, name="Lantern {n} Outdoor")],
    "equal models": [device("Rondel", *LEADER.cells, maker=maker) for maker in ("Polmerre", "Fjeldrun", "")],
    "nothing covered": [device(f"Sill {n}", *[Cell(words="only 50 to 53 and 58 to 60 dB†")] * 3) for n in range(3)],
    "tiny values": [device("Drip", *[value(0.4, 0.3)] * 3), device("Drop", *[value(0.1, 0.3)] * 3)],
}


def texts(svg):
    """(text, left, right, top, bottom) of every text of a drawing, in any face. [px]"""
    from xml.etree import ElementTree

    found = []

    def walk(element, x, y, look):
        look = look | {k: element.attrib[k] for k in ("font-size", "font-weight", "text-anchor") if k in element.attrib}
        for moved in re.finditer(r"translate\((-?[\d.]+),(-?[\d.]+)\)", element.get("transform", "")):
            x, y = x + float(moved[1]), y + float(moved[2])
        if element.tag.endswith("text"):
            size, bold = float(look["font-size"].removesuffix("px")), look.get("font-weight") == "bold"
            wide = text_width(element.text, size, bold=bold)
            x, y = x + float(element.get("x", 0)), y + float(element.get("y", 0))
            left = x - wide * {"start": 0, "middle": 0.5, "end": 1}[look.get("text-anchor", "start")]
            found.append((element.text, left, left + wide, y - 0.75 * size, y + 0.2 * size))
        for child in element:
            walk(child, x, y, look)

    root = ElementTree.fromstring(svg)
    walk(root, 0.0, 0.0, {})
    return found, [float(side) for side in root.attrib["viewBox"].split()]


def pictures(figure):
    drawn = render_svg(figure)
    wide, narrow = (f"<svg{part}" for part in drawn.split("<svg")[1:])
    return wide, narrow


def test_the_grammar_is_altairs():
    # Reference: the Vega-Lite schema that Altair carries, after our data and numbers were put in.
    figure = chart(*CATALOGUES["usual"])
    altair.HConcatChart.from_dict(figure.spec, validate=True)
    altair.VConcatChart.from_dict(figure.narrow, validate=True)


def test_it_holds_no_expression_and_no_parameter():
    figure = chart(*CATALOGUES["usual"])
    for spec in (figure.spec, figure.narrow):
        assert not re.search(r'"(expr|params|signal|transform)"', str(spec).replace("'", '"'))


@pytest.mark.parametrize("name", CATALOGUES)
def test_no_text_lies_on_another_or_leaves_the_frame(name):
    figure = chart(*CATALOGUES[name])
    for svg, width in zip(pictures(figure), (WIDE_WIDTH, NARROW_WIDTH), strict=True):
        placed, (_, _, frame, height) = texts(svg)
        assert frame <= width + 10  # two of padding on either side, and half a number under the last tick
        for text, left, right, top, foot in placed:
            assert -4 <= left <= right <= frame + 4, text
            assert -4 <= top <= foot <= height + 4, text
        for (one, *a), (other, *b) in combinations(placed, 2):
            beside = a[1] <= b[0] + 0.5 or b[1] <= a[0] + 0.5
            assert beside or a[3] <= b[2] + 0.5 or b[3] <= a[2] + 0.5, (one, other)


def test_places_leave_a_third_for_another_face():
    # Values and ranks stand side by side: each has its own width in a face that is a third wider.
    figure = chart(*CATALOGUES["full"])
    (panel,) = [v for v in figure.spec["hconcat"] if v["layer"][0]["data"]["name"] == "rows2"]
    low, high = next(
        layer["encoding"]["x"]["scale"]["domain"] for layer in panel["layer"] if "field" in layer["encoding"]["x"]
    )
    px = panel["width"] / (high - low)
    values = [((v["x"] - low) * px, text_width(v["text"], 15, bold=True)) for v in figure.spec["datasets"]["firsts2"]]
    ranks = [
        ((r["x"] - low) * px, text_width(r["text"], 14.5)) for r in figure.spec["datasets"]["left2"] if "†" in r["text"]
    ]
    assert len(ranks) == MOST_ROWS
    assert all(right + wide * FALLBACK <= panel["width"] + 0.5 for right, wide in ranks)
    assert all(right - wide * FALLBACK > (300 - low) * px for right, wide in values)


def test_dots_and_intervals_lie_where_their_values_say(drawn):
    # By hand: the highest thing drawn is 925 and its arrow (980), so the axes end at 1000; the first panel begins at 178 px.
    spec = chart(*CATALOGUES["usual"]).spec
    near = spec["hconcat"][1]
    dots = next(layer for layer in near["layer"] if layer["data"]["name"] == "dots_first1")
    low, high = dots["encoding"]["x"]["scale"]["domain"]
    plot = 1000 / ((high - low) / near["width"])
    assert low == 0
    assert [dot["x"] for dot in spec["datasets"]["dots_first1"]] == [885, 925]
    marks = drawn(render_file(chart(*CATALOGUES["usual"])))
    # What may be first is in ink: the first colour says elsewhere that the tests can tell two apart.
    paths = [m.x for m in marks if m.tag == "circle" and m.attributes.get("fill") == TEXT.light]
    zero = paths[0] - 885 / 1000 * plot
    assert paths[1] - zero == pytest.approx(925 / 1000 * plot, abs=0.05)
    assert spec["datasets"]["intervals_first1"] == [{"low": 845, "high": 925, "at": 79.0}]


def test_bounds_have_an_arrow_and_values_at_the_port_two_strokes():
    sets = chart(*CATALOGUES["usual"]).spec["datasets"]
    assert [arrow["x"] for arrow in sets["arrows_first1"]] == [925]
    assert [len(sets[f"ports{n}"]) for n in (1, 2, 3)] == [0, 2, 0]


def test_what_may_be_first_is_bold_and_has_the_hue():
    sets = chart(*CATALOGUES["usual"]).spec["datasets"]
    assert [v["text"] for v in sets["firsts1"]] == ["885", "≥ 925"]
    assert [v["text"] for v in sets["values2"]] == ["767", "544"]
    assert [dot["x"] for dot in sets["dots_first3"]] == [460]
    assert [dot["x"] for dot in sets["dots_behind3"]] == [390]


def test_words_stand_where_a_dot_would():
    sets = chart(*CATALOGUES["usual"]).spec["datasets"]
    assert "only 51.8 to 60 dB" in [text["text"] for text in sets["left1"]]
    assert len(sets["dots_first1"]) == 2
    assert sets["dots_behind1"] == []


def test_the_table_holds_every_value():
    table = chart(*CATALOGUES["usual"]).table
    assert table.columns[:3] == ("Device", "Near, 50–60 dB", "Rank")
    assert table.rows[1][:5] == ("Veltrisk Tarn", "≥ 925 (lower bound)", "1–2", table.rows[1][3], "2–3")
    assert table.rows[1][3].endswith("at its port)")
    assert table.rows[2][1:5] == ("only 51.8 to 60 dB", "not ranked", table.rows[2][3], "2–3†")


def test_a_phone_sees_the_middle_window_first():
    spec = chart(*CATALOGUES["usual"]).narrow
    heads = [
        spec["datasets"][v["layer"][0]["data"]["name"].replace("rows", "heads")][0]["text"] for v in spec["vconcat"]
    ]
    assert heads == ["A wall or two away", "Near", "Far"]


def test_short_names_are_the_last_words_that_fit_and_never_alike():
    def short(*models):
        return short_names([device(model, *LEADER.cells) for model in models], 74, 13)

    assert short("Dome", "Low") == ["Dome", "Low"]
    assert short("Quite Long Named Dome", "Low") == [short("Quite Long Named Dome", "Low")[0], "Low"]
    assert short("Quite Long Named Dome", "Low")[0].endswith("Dome")
    assert short("Very Long Named Dome", "Quite Long Named Dome") is None
    assert short(LONG) is None


@pytest.mark.parametrize(("rows", "message"), [(0, "got 0"), (MOST_ROWS + 1, "got 25")])
def test_too_few_and_too_many_rows_are_refused(rows, message):
    with pytest.raises(ValueError, match=message):
        chart(*many(rows))


def test_a_row_needs_a_cell_for_each_window():
    with pytest.raises(ValueError, match="a cell for each window"):
        chart(device("Cupola", value(1.0)))


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({}, "either a value or words"),
        ({"value": 1.0, "words": "not tested"}, "either a value or words"),
        ({"value": -1.0}, "below 0"),
        ({"value": 5.0, "low": 6.0, "high": 7.0}, "outside of its interval"),
    ],
)
def test_cells_that_do_not_add_up_are_refused(wrong, message):
    with pytest.raises(ValueError, match=message):
        Cell(**wrong)


def test_each_device_is_one_link_with_its_name_from_the_page_it_stands_on():
    wide, narrow = pictures(chart(*CATALOGUES["usual"]))
    for svg in (wide, narrow):
        linked = with_links(svg, lambda href: href.removeprefix("../"))
        links = re.findall(r'<a href="([^"]*)" aria-label="([^"]*)">', linked)
        assert sorted(links) == [
            ("devices/cupola/index.html", "Tessarik Cupola"),
            ("devices/faceplate/index.html", "Tessarik Faceplate"),
            ("devices/tarn/index.html", "Veltrisk Tarn"),
        ]
        assert 'role="group"' in linked
        assert texts(linked)[1] == texts(svg)[1]
        assert sorted(texts(linked)[0]) == sorted(texts(svg)[0])  # gathered, nothing has moved


def test_marks_keep_their_place_and_look_when_they_are_gathered():
    drawn = (
        '<svg xmlns="http://www.w3.org/2000/svg"><g transform="translate(3,2)" fill="red"><a href="a"><text x="1" y="2">A</text></a>'
        '<g font-weight="bold"><a href="a"><text fill="blue" transform="translate(4,0)">B</text></a></g></g></svg>'
    )
    linked = with_links(drawn, lambda href: f"to/{href}")
    assert linked.count("<a ") == 1
    assert '<a href="to/a" aria-label="A B">' in linked
    assert '<text x="1" y="2" fill="red" transform="translate(3,2)">A</text>' in linked
    assert '<text fill="blue" transform="translate(3,2) translate(4,0)" font-weight="bold">B</text>' in linked


def test_a_drawing_without_links_stays_as_it_is():
    assert with_links("<svg><g/></svg>", lambda href: href) == "<svg><g/></svg>"


def test_the_bytes_are_the_same_twice():
    figure = chart(*CATALOGUES["usual"])
    assert render_svg(figure) == render_svg(figure)
