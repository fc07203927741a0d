"""The grammar of the long-run chart: marks, scales and axes, without any data.

Altair builds it once per layout and unit of time; longrun_chart.py puts data sets and numbers in. Data sets:

    frame    at                   what is not seen, and gives the picture the same width whatever is drawn
    band     t, piece, low, high  lowest and highest value of each column, where there are more values than px
    line     t, piece, value      the values themselves, where there are not
    stalls   t                    columns that carried as good as nothing: marked at the foot
    levels   level, value         median (0) and fifth percentile (1)
    words    t, at, text          what these are, on their lines
    samples  level, t, t2, at     of a line, before words that do not stand nearest to it
    end      t, value             where a run broke off: an open mark
    ended    t, at, text          how it did, over the plot
    unit, notes   at, text        over and under the chart

Heights of text are given in Mbit/s like everything on y.
"""

from __future__ import annotations

import json
from typing import Any

from builder.charts.figures import Spec
from builder.charts.range_template import Y_TITLE, is_wide, left_of, right_of
from builder.charts.templates import template
from builder.charts.theme import AXIS, GROUND, SERIES, TEXT, TEXT_MUTED, Layout, config

# 836 and 340 px wide in all, as the range chart is.
WIDE = Layout(plot_width=776, plot_height=260, label_width=0, text=14, note=13)
NARROW = Layout(plot_width=289, plot_height=220, label_width=0, text=13, note=13)

UNIT_NAMES = {"h": "hours", "min": "minutes"}
LEVEL_DASHES = ([1, 0], [6, 3])
HALO: dict[str, Any] = {"stroke": GROUND.light, "strokeWidth": 4, "strokeJoin": "round"}
_TICK_ROOM = 55  # from one number of the axis to the next [px]


def longrun_template(layout: Layout, unit: str) -> Spec:
    """A fresh copy of the specification, its data sets empty and its limits unset. *unit*: "h" or "min"."""
    spec: Spec = json.loads(built(layout, unit))
    return spec


def time_axis(layout: Layout, unit: str) -> Any:
    """The axis of a chart over hours or minutes."""
    import altair as alt  # a third of a second: only where charts are drawn

    return alt.Axis(
        title=f"Time since its start ({UNIT_NAMES[unit]})",
        grid=False,
        labelFlush=False,
        labelOverlap=False,
        tickCount=max(2, min(9, layout.plot_width // _TICK_ROOM)),
        tickMinStep=1,
    )


@template
def built(layout: Layout, unit: str) -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    hue = SERIES[0].light
    y_axis = alt.Axis(
        title=None,
        domain=False,
        format="d",
        labelOverlap=False,
        labelPadding=8,
        tickCount=5,
        tickMinStep=1,
        ticks=False,
    )
    x_scale = alt.Scale(domain=[0, alt.ExprRef("x_high")], nice=False)
    y_scale = alt.Scale(domain=[0, alt.ExprRef("y_high")], nice=False)
    x = alt.X("t:Q", scale=x_scale, axis=time_axis(layout, unit))
    levels = alt.StrokeDash(
        "level:N", scale=alt.Scale(domain=["0", "1"], range=[list(dash) for dash in LEVEL_DASHES]), legend=None
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
        data("band")
        .mark_area(color=hue, fillOpacity=0.45, stroke=hue, strokeWidth=0.8, interpolate="step-after")
        .encode(x=x, y=y("low"), y2="high:Q", detail="piece:N"),
        data("line").mark_line(color=hue, strokeWidth=1.4).encode(x=x, y=y("value"), detail="piece:N"),
        data("stalls")
        .mark_point(shape="triangle-up", filled=True, size=64, color=TEXT.light, opacity=1)
        .encode(x=x, y=alt.value(alt.ExprRef("height - 6"))),
        data("levels")
        .mark_rule(color=TEXT.light, strokeWidth=1.5)
        .encode(x=alt.value(0), x2=alt.value(layout.plot_width), y=y("value"), strokeDash=levels),
        data("samples")
        .mark_rule(color=TEXT.light, strokeWidth=1.5)
        .encode(x=x, x2="t2:Q", y=y("at"), strokeDash=levels),
        text("words", x, GROUND.light, **HALO),
        text("words", x, TEXT.light),
        data("end")
        .mark_point(shape="circle", filled=True, fill=GROUND.light, stroke=hue, size=100, strokeWidth=2, opacity=1)
        .encode(x=x, y=y("value")),
        text("ended", x, TEXT.light, align="right"),
        text("unit", alt.value(0) if is_wide(layout) else left, TEXT_MUTED.light),
        text("notes", left, TEXT_MUTED.light, layout.note, baseline="middle"),
    ]
    chart = alt.layer(*layers).properties(width=layout.plot_width, height=layout.plot_height)
    chart = chart.add_params(*(alt.param(name=name, value=0) for name in ("x_high", "y_high")))
    spec: Spec = chart.to_dict()
    spec["config"] = config(layout)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return json.dumps(spec)
