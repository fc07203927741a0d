"""The grammar of the share chart: marks and scales, without any data.

Altair builds it once per layout; share_chart.py puts data sets in. Data sets:

    frame            at                        what is not seen, and gives the picture its width
    rows             at                        foot of each row: a line across
    cells            x, x2, at, at2, tint
    heads            x, at, text               over the columns
    names, details   at, text                  labels of rows
    roles            x, at, text               what a cell is about, where cells are lines
    figures, missed  x, at, text               shares; bold where they are too low
    times            x, at, text
    notes            at, text                  lines under the chart

Places are px from the top left corner of the cells.
"""

from __future__ import annotations

import json
from typing import Any

from builder.charts.figures import Spec
from builder.charts.templates import template
from builder.charts.theme import CALM, GRID, GROUND, TEXT, TEXT_MUTED, Layout, config


def head_size(layout: Layout) -> int:
    """Of the words over the columns: on a phone small enough for a word, and large enough for a picture. [px]"""
    return layout.text - 1 if layout.label_width else max(layout.text - 2, 12)


def share_template(layout: Layout) -> Spec:
    """A fresh copy of the specification, its data sets empty and its limits unset."""
    spec: Spec = json.loads(built(layout))
    return spec


@template
def built(layout: Layout) -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    x_scale = alt.Scale(domain=[0, alt.ExprRef("x_high")], nice=False)
    y_scale = alt.Scale(domain=[0, alt.ExprRef("y_high")], nice=False, reverse=True)
    x = alt.X("x:Q", scale=x_scale, axis=None)
    y = alt.Y("at:Q", scale=y_scale, axis=None)
    left = alt.value(-layout.label_width)

    def data(name: str) -> Any:
        return alt.Chart(alt.NamedData(name))

    def text(name: str, place: Any, size: int, colour: str, **look: Any) -> Any:
        mark = data(name).mark_text(align="left", baseline="middle", fontSize=size, color=colour, **look)
        return mark.encode(x=place, y=y, text="text:N")

    small = layout.text - 1
    ends = {"x": alt.value(0.5 - layout.label_width), "x2": alt.value(alt.ExprRef("width - 0.5"))}
    layers = [
        data("frame").mark_rule(color=GRID.light, opacity=0).encode(**ends, y=y),
        data("rows").mark_rule(color=GRID.light).encode(**ends, y=y),
        data("cells")
        .mark_rect(color=CALM.light, stroke=CALM.light, strokeWidth=1)
        .encode(x=x, x2="x2:Q", y=y, y2="at2:Q", fillOpacity=alt.FillOpacity("tint:Q", scale=None, legend=None)),
        text("heads", x, head_size(layout), TEXT_MUTED.light),
        text("names", left, layout.text, TEXT.light, fontWeight="bold"),
        text("details", left, small, TEXT_MUTED.light),
        text("roles", x, small, TEXT.light),
        text("figures", x, layout.text, TEXT.light),
        text("missed", x, layout.text, TEXT.light, fontWeight="bold"),
        text("times", x, small, TEXT.light),
        text("notes", left, layout.note, TEXT_MUTED.light),
    ]
    chart = alt.layer(*layers).properties(width=layout.plot_width, height=100)
    chart = chart.add_params(*(alt.param(name=name, value=0) for name in ("x_high", "y_high")))
    spec: Spec = chart.to_dict()
    spec["config"] = config(layout)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return json.dumps(spec)
