"""The grammar of the chart of waits over hours: marks, scales and axes, without any data.

Altair builds it once per layout and unit of time; longwaits_chart.py puts data sets and numbers in. Data sets:

    frame    at                      what is not seen, and gives the picture the same width whatever is drawn
    slowest  t, piece, value         the slowest answer of each column
    hours    t, piece, value, level  what half, 95 and 99 of 100 were answered within, hour by hour
    lost     t                       columns with a request that was not answered: marked at the foot
    mark     value                   what is asked for
    words    t, at, text             what the lines are, on them
    samples  level, t, t2, at        of a line, before words that do not stand nearest to it
    ended    t, at, text             how a run broke off, over the plot
    unit, notes   at, text           over and under the chart

Heights of text are given in ms like everything on y.
"""

from __future__ import annotations

import json
from typing import Any

from builder.charts.figures import Spec
from builder.charts.longrun_template import HALO, time_axis
from builder.charts.range_template import is_wide, right_of
from builder.charts.templates import template
from builder.charts.theme import AXIS, GROUND, SERIES, TEXT, TEXT_MUTED, Layout, config
from builder.charts.waiting_template import TICK_LABEL

# 836 and 340 px wide in all.
WIDE = Layout(plot_width=760, plot_height=260, label_width=0, text=14, note=13)
NARROW = Layout(plot_width=272, plot_height=220, label_width=0, text=13, note=13)

Y_TITLE = "Waiting time (log axis)"
DASHES: dict[str, list[int]] = {"50": [1, 0], "95": [6, 3], "99": [2, 2], "slowest": [1, 0], "mark": [8, 3, 2, 3]}


def left_of(layout: Layout) -> int:
    """From the frame's left edge to the plot: room for "500 ms" in any face. [px]"""
    return 68 if is_wide(layout) else 62


def longwaits_template(layout: Layout, unit: str) -> Spec:
    """A fresh copy of the specification, its data sets empty and its limits unset. *unit*: "h" or "min"."""
    spec: Spec = json.loads(built(layout, unit))
    return spec


@template
def built(layout: Layout, unit: str) -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    hue = SERIES[0].light
    y_axis = alt.Axis(
        title=None,
        domain=False,
        labelExpr=TICK_LABEL,
        labelOverlap=False,
        labelPadding=8,
        ticks=False,
        values=alt.ExprRef("y_ticks"),
    )
    x = alt.X("t:Q", scale=alt.Scale(domain=[0, alt.ExprRef("x_high")], nice=False), axis=time_axis(layout, unit))
    y_scale = alt.Scale(type="log", domain=[alt.ExprRef("y_low"), alt.ExprRef("y_high")], nice=False)
    dash = alt.StrokeDash(
        "level:N", scale=alt.Scale(domain=list(DASHES), range=[list(one) for one in DASHES.values()]), legend=None
    )
    colour = alt.Stroke(
        "level:N",
        scale=alt.Scale(domain=list(DASHES), range=[hue, hue, hue, TEXT_MUTED.light, TEXT.light]),
        legend=None,
    )

    def y(field: str) -> Any:
        return alt.Y(f"{field}:Q", title=Y_TITLE, scale=y_scale, axis=y_axis)

    def data(name: str) -> Any:
        return alt.Chart(alt.NamedData(name))

    def text(name: str, place: Any, role: str, size: float = layout.text, **more: Any) -> Any:
        mark = {"align": "left", "baseline": "alphabetic", "fontSize": size, "color": role, **more}
        return data(name).mark_text(**mark).encode(x=place, y=y("at"), text="text:N")

    left = alt.value(-left_of(layout))
    layers = [
        data("frame")
        .mark_rule(color=AXIS.light, opacity=0)
        .encode(
            x=alt.value(0.5 - left_of(layout)), x2=alt.value(layout.plot_width + right_of(layout) - 0.5), y=y("at")
        ),
        data("slowest")
        .mark_line(color=TEXT_MUTED.light, strokeWidth=0.8, opacity=0.8, interpolate="step-after")
        .encode(x=x, y=y("value"), detail="piece:N"),
        data("hours")
        .mark_line(strokeWidth=2, interpolate="step-after")
        .encode(x=x, y=y("value"), detail="piece:N", strokeDash=dash, stroke=colour),
        data("lost")
        .mark_point(shape="triangle-up", filled=True, size=64, color=TEXT.light, opacity=1)
        .encode(x=x, y=alt.value(alt.ExprRef("height - 6"))),
        data("mark")
        .mark_rule(strokeWidth=1.5)
        .encode(x=alt.value(0), x2=alt.value(layout.plot_width), y=y("value"), strokeDash=dash, stroke=colour),
        data("samples").mark_rule(strokeWidth=2).encode(x=x, x2="t2:Q", y=y("at"), strokeDash=dash, stroke=colour),
        text("words", x, GROUND.light, **HALO),
        text("words", x, TEXT.light),
        text("ended", x, TEXT.light, align="right"),
        text("unit", alt.value(0) if is_wide(layout) else left, TEXT_MUTED.light),
        text("notes", left, TEXT_MUTED.light, layout.note, baseline="middle"),
    ]
    chart = alt.layer(*layers).properties(width=layout.plot_width, height=layout.plot_height)
    chart = chart.add_params(*(alt.param(name=name, value=0) for name in ("x_high", "y_low", "y_high", "y_ticks")))
    spec: Spec = chart.to_dict()
    spec["config"] = config(layout)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return json.dumps(spec)
