"""The grammar of the role chart: marks, scales and axes, without any data.

Altair builds it once per layout; role_chart.py puts data sets and numbers in. Data sets:

    gate     t, share, top            the target: a line has to pass on the near side of it
    gate_text  t, at, text            its words, over the plot
    lines    series, t, share         falling steps
    marks    series, t, share         where so many per cent of the requests were answered
    ends     series, t, share         an open mark at the right edge: these were never answered
    labels   series, t, share, at     end of a line, and the height of its label
    names, details  at, text          lines of the labels
    notes    at, text                 lines under the chart

Shares are per cent of the planned requests; heights of text are given in them, too.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from builder.charts.figures import Spec
from builder.charts.range_template import KEY_START, key_width, text_start
from builder.charts.theme import (
    DASHES,
    GROUND,
    SHAPES,
    TEXT,
    TEXT_MUTED,
    Layout,
    config,
    hues,
    series_numbers,
)

X_TITLE = "Time waited (ms, log axis)"
Y_TITLE = "Still waiting (% of planned requests)"
Y_AXIS_WIDTH = 34  # of its numbers, left of the plot [px]


def role_template(layout: Layout) -> Spec:
    """A fresh copy of the specification, its data sets empty and its limits unset."""
    spec: Spec = json.loads(_built(layout))
    return spec


@cache
def _built(layout: Layout) -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    positions = series_numbers(6)
    x_scale = alt.Scale(type="log", domain=[alt.ExprRef("x_low"), alt.ExprRef("x_high")], nice=False)
    y_scale = alt.Scale(domain=[0, 100], nice=False)
    x_axis = alt.Axis(
        title=X_TITLE, grid=False, labelFlush=False, labelOverlap=False, format="~g", values=alt.ExprRef("x_ticks")
    )
    y_axis = alt.Axis(
        title=Y_TITLE,
        titleAngle=0,
        titleAlign="left",
        titleAnchor="end",
        titleX=-Y_AXIS_WIDTH,
        titleY=-34,
        domain=False,
        format="d",
        labelOverlap=False,
        values=[0, 25, 50, 75, 100],
        ticks=False,
    )
    x = alt.X("t:Q", scale=x_scale, axis=x_axis)
    colour = alt.Color("series:N", scale=alt.Scale(domain=positions, range=hues()), legend=None)
    dash = alt.StrokeDash("series:N", scale=alt.Scale(domain=positions, range=[list(d) for d in DASHES]), legend=None)
    shape = alt.Shape("series:N", scale=alt.Scale(domain=positions, range=list(SHAPES)), legend=None)

    def y(field: str) -> Any:
        return alt.Y(f"{field}:Q", scale=y_scale, axis=y_axis)

    def data(name: str) -> Any:
        return alt.Chart(alt.NamedData(name))

    def right_of_plot(offset: int) -> Any:
        return alt.value(alt.ExprRef(f"width + {offset}"))

    def text_mark(size: int, role: str, **more: Any) -> dict[str, Any]:
        return {"align": "left", "baseline": "middle", "fontSize": size, "color": role, **more}

    small = layout.text - 1
    filled = {"filled": True, "size": 56, "stroke": GROUND.light, "strokeWidth": 1, "opacity": 1}
    key_middle = KEY_START + key_width(layout) // 2
    layers = [
        data("gate").mark_rule(color=TEXT.light, strokeWidth=1.4).encode(x=x, y=y("share"), y2="top:Q"),
        data("gate").mark_rule(color=TEXT.light, strokeWidth=1.4).encode(x=x, x2=right_of_plot(0), y=y("share")),
        data("gate_text").mark_text(**text_mark(small, TEXT.light)).encode(x=x, y=y("at"), text="text:N"),
        data("labels")
        .mark_rule(color=TEXT_MUTED.light, strokeWidth=0.7, opacity=0.7)
        .encode(x=x, y=y("share"), x2=right_of_plot(KEY_START - 4), y2="at:Q"),
        data("lines")
        .mark_line(strokeWidth=2, interpolate="step-after")
        .encode(x=x, y=y("share"), color=colour, strokeDash=dash),
        data("marks").mark_point(**filled).encode(x=x, y=y("share"), color=colour, shape=shape),
        data("ends")
        .mark_point(filled=True, fill=GROUND.light, size=100, strokeWidth=2, opacity=1)
        .encode(x=x, y=y("share"), stroke=colour, shape=shape),
        data("labels")
        .mark_rule(strokeWidth=2)
        .encode(
            x=right_of_plot(KEY_START),
            x2=right_of_plot(KEY_START + key_width(layout)),
            y=y("at"),
            color=colour,
            strokeDash=dash,
        ),
        data("labels").mark_point(**filled).encode(x=right_of_plot(key_middle), y=y("at"), color=colour, shape=shape),
        data("names")
        .mark_text(**text_mark(layout.text, TEXT.light, fontWeight="bold"))
        .encode(x=right_of_plot(text_start(layout)), y=y("at"), text="text:N"),
        data("details")
        .mark_text(**text_mark(small, TEXT_MUTED.light))
        .encode(x=right_of_plot(text_start(layout)), y=y("at"), text="text:N"),
        data("notes")
        .mark_text(**text_mark(layout.note, TEXT_MUTED.light))
        .encode(x=alt.value(-Y_AXIS_WIDTH), y=y("at"), text="text:N"),
    ]
    chart = alt.layer(*layers).properties(width=layout.plot_width, height=layout.plot_height)
    chart = chart.add_params(*(alt.param(name=name, value=0) for name in ("x_low", "x_high", "x_ticks")))
    spec: Spec = chart.to_dict()
    spec["config"] = config(layout)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return json.dumps(spec)
