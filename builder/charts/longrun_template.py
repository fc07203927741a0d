"""The grammar of the long-run chart: marks, scales and axes, without any data.

Altair builds it once per layout and unit of time; longrun_chart.py puts data sets and numbers in. Data sets:

    band    t, piece, low, high   lowest and highest value of each px column, where there are more values than px
    line    t, piece, value       the values themselves, where there are not
    stalls  t                     columns that carried as good as nothing: marked at the foot
    levels  level, value, at      median (0) and fifth percentile (1), and the heights of their words
    texts   at, text              those words, right of the plot
    end     t, value              where a run broke off: an open mark
    ended   t, text               how it did, over the plot
    notes   at, text              lines under the chart

Heights of text are given in Mbit/s like everything on y.
"""

from __future__ import annotations

import json
from typing import Any

from builder.charts.figures import Spec
from builder.charts.label_column import KEY_START, key_width, text_start
from builder.charts.range_template import Y_TITLE
from builder.charts.templates import template
from builder.charts.theme import GROUND, SERIES, TEXT, TEXT_MUTED, Layout, config

Y_AXIS_WIDTH = 40  # of its numbers, left of the plot [px]
UNIT_NAMES = {"h": "hours", "min": "minutes"}
LEVEL_DASHES = ([1, 0], [6, 3])


def longrun_template(layout: Layout, unit: str) -> Spec:
    """A fresh copy of the specification, its data sets empty and its limits unset. *unit*: "h" or "min"."""
    spec: Spec = json.loads(built(layout, unit))
    return spec


@template
def built(layout: Layout, unit: str) -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    hue = SERIES[0].light
    x_scale = alt.Scale(domain=[0, alt.ExprRef("x_high")], nice=False)
    y_scale = alt.Scale(domain=[0, alt.ExprRef("y_high")], nice=False)
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
        format="d",
        labelOverlap=False,
        tickCount=5,
        tickMinStep=1,
        ticks=False,
    )
    x = alt.X("t:Q", scale=x_scale, axis=x_axis)
    levels = alt.StrokeDash(
        "level:N", scale=alt.Scale(domain=["0", "1"], range=[list(dash) for dash in LEVEL_DASHES]), legend=None
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
    foot = alt.value(alt.ExprRef("height - 5"))
    layers = [
        data("band")
        .mark_area(color=hue, fillOpacity=0.45, stroke=hue, strokeWidth=0.8, interpolate="step-after")
        .encode(x=x, y=y("low"), y2="high:Q", detail="piece:N"),
        data("line").mark_line(color=hue, strokeWidth=1.4).encode(x=x, y=y("value"), detail="piece:N"),
        data("stalls")
        .mark_point(shape="triangle-up", filled=True, size=44, color=TEXT.light, opacity=1)
        .encode(x=x, y=foot),
        data("levels")
        .mark_rule(color=TEXT.light, strokeWidth=1.2)
        .encode(x=alt.value(0), x2=right_of_plot(0), y=y("value"), strokeDash=levels),
        data("levels")
        .mark_rule(color=TEXT_MUTED.light, strokeWidth=0.7, opacity=0.7)
        .encode(x=right_of_plot(0), x2=right_of_plot(KEY_START - 4), y=y("value"), y2="at:Q"),
        data("levels")
        .mark_rule(color=TEXT.light, strokeWidth=1.2)
        .encode(
            x=right_of_plot(KEY_START), x2=right_of_plot(KEY_START + key_width(layout)), y=y("at"), strokeDash=levels
        ),
        data("texts")
        .mark_text(**text_mark(small, TEXT.light))
        .encode(x=right_of_plot(text_start(layout)), y=y("at"), text="text:N"),
        data("end")
        .mark_point(shape="circle", filled=True, fill=GROUND.light, stroke=hue, size=100, strokeWidth=2, opacity=1)
        .encode(x=x, y=y("value")),
        data("ended")
        .mark_text(**{**text_mark(small, TEXT.light), "align": "right"})
        .encode(x=x, y=alt.value(-9), text="text:N"),
        data("notes")
        .mark_text(**text_mark(layout.note, TEXT_MUTED.light))
        .encode(x=alt.value(-Y_AXIS_WIDTH), y=y("at"), text="text:N"),
    ]
    chart = alt.layer(*layers).properties(width=layout.plot_width, height=layout.plot_height)
    chart = chart.add_params(*(alt.param(name=name, value=0) for name in ("x_high", "y_high")))
    spec: Spec = chart.to_dict()
    spec["config"] = config(layout)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return json.dumps(spec)
