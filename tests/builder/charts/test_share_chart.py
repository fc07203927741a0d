"""The share chart: values, how full cells are, and text that stays in its place whatever it says."""

import re
from contextlib import suppress
from itertools import pairwise

import altair
import pytest

from builder.charts.rendering import render_svg
from builder.charts.share_chart import FULLEST, MOST_ROWS, NARROW, WIDE, ShareCell, ShareRow, share_figure
from builder.charts.stills import SHAPES, fitted
from builder.charts.theme import CALM, GROUND, ROLES, TEXT, TEXT_MUTED, text_width
from tests.builder.charts.test_tokens import contrast

LONG = "Grandmotherswindowseatwithaviewoverthegardenandtheshedbehind"  # 60 letters


def chart(columns, *rows, **more):
    keywords = {"key": "s", "title": "Who came in time?", "heading": "Device", "notes": ["One run."]}
    return share_figure(columns=columns, rows=rows, spoken="All came in time.", **{**keywords, **more})


def line(*shares, label="Fjeldrun Alcove", detail="0.9, unit A"):
    return ShareRow(label, detail, tuple(ShareCell(s, f"{s * 100:.1f} %", "1.52 s", missed=s < 0.9) for s in shares))


def layouts(figure):
    yield figure.spec, WIDE
    yield figure.narrow, NARROW
    for shape in SHAPES:
        with suppress(ValueError):  # refused rather than set small
            still = fitted(figure, shape, source="Kettle Lane Bench.")
            yield figure.drawn(still.layout, None), still.layout


def test_the_grammar_is_altairs(shares):
    for spec, _ in layouts(shares):
        altair.LayerChart.from_dict(spec, validate=True)


def test_every_figure_is_on_the_picture_and_in_the_table(shares):
    cells = [cell for row in shares.table.rows for cell in row[1:]]
    drawn = list(layouts(shares))
    assert len(drawn) == 2 + len(SHAPES)
    for spec, _ in drawn:
        sets = spec["datasets"]
        assert len(sets["cells"]) == len(cells)
        # A cell may be too narrow for "not tested" on one line.
        shown = sorted(word for name in ("figures", "missed") for e in sets[name] for word in e["text"].split())
        assert shown == sorted(word for cell in cells for word in cell.split("; ")[0].split())
    assert shares.table.columns == ("Device", "Briefing", "Drawings", "Pages at the door", "Pages at the window")
    assert shares.table.rows[2] == (
        "Fjeldrun Alcove, 0.9, unit A",
        "100 %; 152 ms",
        "89.1 %; 152 ms",
        "50.0 %; 152 ms",
        "not tested",
    )


def test_the_more_came_late_the_fuller_a_cell_and_none_means_empty():
    tints = [ShareCell(share, "x").tint for share in (None, 1.0, 0.999, 0.95, 0.9, 0.5, 0.0)]
    assert tints[:2] == [0, 0]
    assert tints[1:] == sorted(set(tints[1:]))
    assert tints[-1] == FULLEST


@pytest.mark.parametrize(("side", "paper"), [("light", GROUND.light), ("dark", GROUND.dark), ("light", "#FFFFFF")])
def test_text_can_be_read_on_every_cell(side, paper, shares):
    # Source: WCAG 2.2, 1.4.3: 4.5 to 1, of the cell's hue mixed with the page, or white paper, by its opacity.
    on_cells = ("figures", "missed", "times", "roles")
    layers = [layer for layer in shares.spec["layer"] if layer["data"]["name"] in on_cells]
    texts = {getattr(role, side) for role in ROLES for layer in layers if role.light == layer["mark"]["color"]}
    assert len(layers) == len(on_cells)
    assert texts
    tints = {ShareCell(late / 1000, "x").tint for late in range(1001)}
    assert {0, FULLEST} < tints
    for tint in tints:
        mixed = (
            round(tint * int(getattr(CALM, side)[i : i + 2], 16) + (1 - tint) * int(paper[i : i + 2], 16))
            for i in (1, 3, 5)
        )
        cell = "#" + "".join(f"{channel:02X}" for channel in mixed)
        assert all(contrast(text, cell) >= 4.5 for text in texts), (tint, cell)


def test_one_hue_and_no_other_colour(shares):
    used = set(re.findall(r"var\((--[\w-]+), #", render_svg(shares)))
    assert used <= {CALM.name, GROUND.name, TEXT.name, TEXT_MUTED.name, "--line-faint"}


@pytest.mark.parametrize("count", [1, 2, 4, 5, 7, 12])
@pytest.mark.parametrize("name", ["Pages at the window", LONG])
def test_no_text_leaves_its_cell_or_lies_on_another(count, name):
    figure = chart([name] * count, line(*[0.9137] * count, label=LONG, detail=LONG), line(*[0.5] * count))
    for spec, layout in layouts(figure):
        sets, small = spec["datasets"], layout.text - 1
        for part, size, bold in (
            ("figures", layout.text, False),
            ("missed", layout.text, True),
            ("times", small, False),
            ("roles", small, False),
        ):
            for entry in sets[part]:
                (cell,) = [
                    c for c in sets["cells"] if c["x"] <= entry["x"] < c["x2"] and c["at"] < entry["at"] < c["at2"]
                ]
                assert entry["x"] + text_width(entry["text"], size, bold=bold) <= cell["x2"]
        for entry in sets["heads"]:
            assert text_width(entry["text"], small) <= layout.plot_width / count
        room = layout.label_width - 16 if layout.label_width else layout.plot_width
        for part, size, bold in (("names", layout.text, True), ("details", small, False)):
            assert all(text_width(entry["text"], size, bold=bold) <= room for entry in sets[part])
        for column in {entry.get("x") for entry in sets["figures"] + sets["missed"] + sets["times"]}:
            places = sorted(
                e["at"] for part in ("figures", "missed", "times") for e in sets[part] if e.get("x") == column
            )
            assert all(b - a >= small for a, b in pairwise(places))


def test_columns_too_narrow_for_their_figures_become_lines_with_their_names():
    figure = chart([f"Role {n}" for n in range(7)], line(*[0.9] * 7))
    assert [entry["text"] for entry in figure.spec["datasets"]["heads"]] == [f"Role {n}" for n in range(7)]
    narrow = figure.narrow["datasets"]
    assert narrow["heads"] == []
    assert [entry["text"] for entry in narrow["roles"]] == [f"Role {n}" for n in range(7)]


def test_it_has_no_axis_to_zoom_along(shares, mix):
    assert not shares.zooms
    assert mix.zooms


def test_what_does_not_fit_is_refused():
    with pytest.raises(ValueError, match="1 to 20 rows, got 21"):
        chart(["A"], *[line(1.0)] * (MOST_ROWS + 1))
    with pytest.raises(ValueError, match="a cell for each of the 2 columns"):
        chart(["A", "B"], line(1.0))
    with pytest.raises(ValueError, match=r"from 0 to 1, got 1\.1"):
        ShareCell(1.1, "110 %")


def test_no_head_is_cut_within_a_word():
    # A word that is wider than its column makes the cells lines below each other.
    for word, beside in (("Homework", True), ("Videoconference", False)):
        cells = tuple(ShareCell(1.0, "100 %", "12 ms") for _ in range(4))
        figure = share_figure(
            key="k",
            title="Who came in time?",
            heading="Device",
            columns=(word, "Pages", "Calls", "Notes"),
            rows=[ShareRow("Porch", "", cells)],
            notes=[],
            spoken="All did.",
        )
        heads = [row["text"] for row in figure.narrow["datasets"]["heads"]]
        assert heads == ([word, "Pages", "Calls", "Notes"] if beside else [])
