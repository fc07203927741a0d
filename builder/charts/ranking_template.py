"""The grammar of the ranking chart: marks, scales and the axis, without any data.

Altair builds it once per size of text; ranking_chart.py puts the width, data sets and the ends of the scales in. Data sets:

    frame           at                          what is not seen, and gives the picture the same width whatever is drawn
    rows            at                          a line between rows
    spots           at, value, low, high, bound
    makers, names   at, text                    names, the model in bold
    values, ranks   at, text                    the value and the ranks beside it
    heads, rank_heads  at, text                 over them
    notes           at, text                    lines under the chart

Heights are px from the top of the plot.
"""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

from builder.charts.figures import Spec
from builder.charts.longrun_template import HALO
from builder.charts.templates import template
from builder.charts.theme import AXIS, GRID, GROUND, SERIES, TEXT, TEXT_MUTED, Layout, config

CAP, CAP_SIZE = "M0,-1L0,1", 256  # 8 px up and down: it reaches out of a dot that is wider than its interval [px²]
ARROW_RIGHT = "M0.6,0L2.6,0M1.9,-0.6L2.7,0L1.9,0.6"
_TICK_ROOM = 60  # from one number of the axis to the next [px]


def ranking_template(layout: Layout, unit: str) -> Spec:
    """A fresh copy of the specification, its data sets empty and its limits unset. *unit* of the axis, in words.

    Where names, values and ranks stand is set by the parameters left, names, models, values, ranks and right. [px]
    """
    spec: Spec = json.loads(built(replace(layout, plot_width=0), unit))  # one for plots of every width
    spec["width"] = layout.plot_width
    for layer in spec["layer"]:
        if axis := layer["encoding"].get("x", {}).get("axis"):
            axis["tickCount"] = max(2, min(7, layout.plot_width // _TICK_ROOM))
    return spec


@template
def built(layout: Layout, unit: str) -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    hue = SERIES[0].light
    x_axis = alt.Axis(
        title=None,
        domain=False,
        format="d",
        gridColor=GRID.light,
        labelFlush=False,
        labelOverlap=False,
        tickMinStep=1,
        ticks=False,
    )
    x_scale = alt.Scale(domain=[0, alt.ExprRef("x_high")], nice=False)
    y_scale = alt.Scale(domain=[0, alt.ExprRef("y_high")], nice=False, reverse=True)
    y = alt.Y("at:Q", scale=y_scale, axis=None)

    def x(field: str) -> Any:
        return alt.X(f"{field}:Q", title=f"Value ({unit})", scale=x_scale, axis=x_axis)

    def data(name: str) -> Any:
        return alt.Chart(alt.NamedData(name))

    def at(place: str) -> Any:
        return alt.value(alt.ExprRef(place))

    def text(name: str, place: str, size: float, role: str, align: str = "left", **look: Any) -> Any:
        mark = data(name).mark_text(align=align, baseline="middle", fontSize=size, color=role, **look)
        return mark.encode(x=at(place), y=y, text="text:N")

    def on_ground(name: str, place: str, size: float, role: str, align: str = "left", **look: Any) -> list[Any]:
        """Text that the grid runs below where it stands in the plot."""
        halo = [] if layout.label_width else [text(name, place, size, GROUND.light, align, **{**HALO, **look})]
        return [*halo, text(name, place, size, role, align, **look)]

    small = layout.text - 1
    # On a phone names and figures stand above the line of their row, and the ranks end it.
    side = "left" if layout.label_width else "right"
    layers = [
        data("frame").mark_rule(color=AXIS.light, opacity=0).encode(x=at("left"), x2=at("right"), y=y),
        data("rows").mark_rule(color=GRID.light).encode(x=at("left"), x2=at("right"), y=y),
        data("frame")
        .mark_rule(color=AXIS.light, strokeWidth=1)
        .encode(x=alt.value(0), y=alt.value(0), y2=alt.value(alt.ExprRef("height"))),
        data("spots").mark_rule(color=hue, strokeWidth=2.25).encode(x=x("low"), x2="high:Q", y=y),
        *(
            data("spots")
            .mark_point(shape=CAP, filled=False, size=CAP_SIZE, strokeWidth=2.25, color=hue, opacity=1)
            .encode(x=x(end), y=y)
            for end in ("low", "high")
        ),
        data("spots")
        .transform_filter("datum.bound")
        .mark_point(shape=ARROW_RIGHT, filled=False, size=200, strokeWidth=1.8, color=hue, opacity=1)
        .encode(x=x("value"), y=y),
        data("spots")
        .mark_point(filled=True, size=100, stroke=GROUND.light, strokeWidth=1.5, color=hue, opacity=1)
        .encode(x=x("value"), y=y),
        *on_ground("makers", "names", layout.text, TEXT.light),
        *on_ground("names", "models", layout.text, TEXT.light, fontWeight="bold"),
        *on_ground("values", "values", layout.text, TEXT.light, "right"),
        *on_ground("ranks", "ranks", small, TEXT_MUTED.light, side),
        text("heads", "values", small, TEXT_MUTED.light, "right"),
        text("rank_heads", "ranks", small, TEXT_MUTED.light, side),
        text("notes", "left", layout.note, TEXT_MUTED.light),
    ]
    chart = alt.layer(*layers).properties(width=100, height=100)
    names = ("x_high", "y_high", "left", "names", "models", "values", "ranks", "right")
    chart = chart.add_params(*(alt.param(name=name, value=0) for name in names))
    spec: Spec = chart.to_dict()
    spec["config"] = config(layout)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return json.dumps(spec)
