"""The grammar of the chart of waits over hours: marks, scales and axes, without any data.

Altair builds it once per layout and unit of time; longwaits_chart.py puts data sets and numbers in. Data sets:

    slowest  t, piece, value         the slowest answer of each px column
    hours    t, piece, value, level  what half, 95 and 99 of 100 were answered within, hour by hour
    lost     t                       columns with a request that was not answered: marked at the foot
    mark     value                   what is asked for
    keys     level, value, at        ends of the lines, and the heights of their words
    texts    at, text                those words, right of the plot
    ended    text                    how a run broke off, over the plot
    notes    at, text                lines under the chart

Heights of text are given in ms like everything on y.
"""

from __future__ import annotations

import json
from typing import Any

from builder.charts.figures import Spec
from builder.charts.label_column import KEY_START, key_width, text_start
from builder.charts.longrun_template import UNIT_NAMES
from builder.charts.templates import template
from builder.charts.theme import GROUND, SERIES, TEXT, TEXT_MUTED, Layout, config
from builder.charts.waiting_template import TICK_LABEL

Y_TITLE = "Waiting time (log axis)"
Y_AXIS_WIDTH = 48  # of its numbers, left of the plot [px]
DASHES: dict[str, list[int]] = {"50": [1, 0], "95": [6, 3], "99": [2, 2], "slowest": [1, 0], "mark": [8, 3, 2, 3]}


def longwaits_template(layout: Layout, unit: str) -> Spec:
    """A fresh copy of the specification, its data sets empty and its limits unset. *unit*: "h" or "min"."""
    spec: Spec = json.loads(built(layout, unit))
    return spec


@template
def built(layout: Layout, unit: str) -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    hue = SERIES[0].light
    x_axis = alt.Axis(
        title=f"Time since its start ({UNIT_NAMES[unit]})",
        grid=False,
        labelFlush=False,
        labelOverlap=False,
        tickCount=min(8, layout.plot_width // 38),
        tickMinStep=1,
    )
    y_axis = alt.Axis(
        title=Y_TITLE,
        titleAngle=0,
        titleAlign="left",
        titleAnchor="end",
        titleX=-Y_AXIS_WIDTH,
        titleY=-32,
        domain=False,
        labelExpr=TICK_LABEL,
        labelOverlap=False,
        ticks=False,
        values=alt.ExprRef("y_ticks"),
    )
    x = alt.X("t:Q", scale=alt.Scale(domain=[0, alt.ExprRef("x_high")], nice=False), axis=x_axis)
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
        return alt.Y(f"{field}:Q", scale=y_scale, axis=y_axis)

    def data(name: str) -> Any:
        return alt.Chart(alt.NamedData(name))

    def right_of_plot(offset: int) -> Any:
        return alt.value(alt.ExprRef(f"width + {offset}"))

    def text_mark(size: int, role: str, **more: Any) -> dict[str, Any]:
        return {"align": "left", "baseline": "middle", "fontSize": size, "color": role, **more}

    small = layout.text - 1
    key_end = KEY_START + key_width(layout)
    layers = [
        data("slowest")
        .mark_line(color=TEXT_MUTED.light, strokeWidth=0.8, opacity=0.8, interpolate="step-after")
        .encode(x=x, y=y("value"), detail="piece:N"),
        data("hours")
        .mark_line(strokeWidth=2, interpolate="step-after")
        .encode(x=x, y=y("value"), detail="piece:N", strokeDash=dash, stroke=colour),
        data("lost")
        .mark_point(shape="triangle-up", filled=True, size=44, color=TEXT.light, opacity=1)
        .encode(x=x, y=alt.value(alt.ExprRef("height - 5"))),
        data("mark")
        .mark_rule(strokeWidth=1.2)
        .encode(x=alt.value(0), x2=right_of_plot(0), y=y("value"), strokeDash=dash, stroke=colour),
        data("keys")
        .mark_rule(color=TEXT_MUTED.light, strokeWidth=0.7, opacity=0.7)
        .encode(x=right_of_plot(0), x2=right_of_plot(KEY_START - 4), y=y("value"), y2="at:Q"),
        data("keys")
        .mark_rule(strokeWidth=2)
        .encode(x=right_of_plot(KEY_START), x2=right_of_plot(key_end), y=y("at"), strokeDash=dash, stroke=colour),
        data("texts")
        .mark_text(**text_mark(small, TEXT.light))
        .encode(x=right_of_plot(text_start(layout)), y=y("at"), text="text:N"),
        data("ended")
        .mark_text(**{**text_mark(small, TEXT.light), "align": "right"})
        .encode(x=right_of_plot(0), y=alt.value(-9), text="text:N"),
        data("notes")
        .mark_text(**text_mark(layout.note, TEXT_MUTED.light))
        .encode(x=alt.value(-Y_AXIS_WIDTH), y=y("at"), text="text:N"),
    ]
    chart = alt.layer(*layers).properties(width=layout.plot_width, height=layout.plot_height)
    chart = chart.add_params(*(alt.param(name=name, value=0) for name in ("x_high", "y_low", "y_high", "y_ticks")))
    spec: Spec = chart.to_dict()
    spec["config"] = config(layout)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return json.dumps(spec)
