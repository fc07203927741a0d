"""The grammar of the range chart: marks, scales and axes, without any data.

Altair builds it once per layout and kind of axis; range_chart.py puts data sets and numbers in. Data sets:

    shared   x, x2, text              the range the lines share
    knots    series, piece, x, value
    bands    series, piece, x, low, high   intervals of neighbouring knots
    bounds   series, x, value         knots that are only a lower bound
    lone     series, x, low, high     intervals of knots without a neighbour
    labels   series, x, value, at     end of a line, and the height of its label
    names, details  at, text          lines of the labels
    ruler    x, at, text              what stands between, under the axis
    notes    at, text                 lines under the chart

Heights of text are given in Mbit/s like everything on y, some of them outside of the plot.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any, Literal

from builder.charts.figures import Spec
from builder.charts.theme import (
    DASHES,
    GROUND,
    SHADE,
    SHAPES,
    TEXT,
    TEXT_MUTED,
    Layout,
    config,
    hues,
    series_numbers,
)

AxisKind = Literal["attenuation", "level"]

AXIS_NAMES: dict[AxisKind, str] = {"attenuation": "attenuation", "level": "received level"}
AXIS_TITLES: dict[AxisKind, str] = {"attenuation": "Attenuation (dB)", "level": "Received level (dBm)"}
Y_TITLE = "Throughput (Mbit/s)"

Y_AXIS_WIDTH = 34  # of its numbers, left of the plot [px]

# Offsets from the plot's right edge where the labels' sample line starts, and where their text does. [px]
KEY_START = 16
WIDE_KEY_WIDTH = 30
NARROW_KEY_WIDTH = 8

# Upwards arrow that stands on a mark, in units of Vega's shape box.
ARROW_UP = "M0,-0.6L0,-2.6M-0.6,-1.9L0,-2.7L0.6,-1.9"


def key_width(layout: Layout) -> int:
    """Length of the sample line before a label: long enough for a rhythm where there is room. [px]"""
    return WIDE_KEY_WIDTH if layout.label_width > 120 else NARROW_KEY_WIDTH


def text_start(layout: Layout) -> int:
    """From the plot's right edge to the text of the labels. [px]"""
    return KEY_START + key_width(layout) + 8


def range_template(kind: AxisKind, layout: Layout) -> Spec:
    """A fresh copy of the specification, its data sets empty and its limits unset."""
    spec: Spec = json.loads(_built(kind, layout))
    return spec


@cache
def _built(kind: AxisKind, layout: Layout) -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    positions = series_numbers(6)
    x_scale = alt.Scale(
        domain=[alt.ExprRef("x_low"), alt.ExprRef("x_high")], nice=False, zero=False, reverse=kind == "level"
    )
    y_scale = alt.Scale(domain=[0, alt.ExprRef("y_high")], nice=False)
    # So few numbers that they never meet: asking the renderer to look takes a third of its time.
    x_axis = alt.Axis(
        title=AXIS_TITLES[kind],
        grid=False,
        labelFlush=False,
        labelOverlap=False,
        tickCount=min(6, layout.plot_width // 38),
        tickMinStep=1,
    )
    y_axis = alt.Axis(
        title=Y_TITLE,
        titleAngle=0,
        titleAlign="left",
        titleAnchor="end",
        titleX=-Y_AXIS_WIDTH,
        titleY=-16,
        domain=False,
        format="d",
        labelOverlap=False,
        tickCount=5,
        tickMinStep=1,
        ticks=False,
    )
    x = alt.X("x:Q", scale=x_scale, axis=x_axis)

    def y(field: str) -> Any:
        return alt.Y(f"{field}:Q", scale=y_scale, axis=y_axis)

    colour = alt.Color("series:N", scale=alt.Scale(domain=positions, range=hues()), legend=None)
    dash = alt.StrokeDash("series:N", scale=alt.Scale(domain=positions, range=[list(d) for d in DASHES]), legend=None)
    shape = alt.Shape("series:N", scale=alt.Scale(domain=positions, range=list(SHAPES)), legend=None)

    def data(name: str) -> Any:
        return alt.Chart(alt.NamedData(name))

    def right_of_plot(offset: int) -> Any:
        return alt.value(alt.ExprRef(f"width + {offset}"))

    def text_mark(size: int, role: str, **more: Any) -> dict[str, Any]:
        return {"align": "left", "baseline": "middle", "fontSize": size, "color": role, **more}

    key_end = KEY_START + key_width(layout)
    key_middle = KEY_START + key_width(layout) // 2
    text_x = text_start(layout)
    marks = {"size": 64, "stroke": GROUND.light, "strokeWidth": 1, "opacity": 1}
    small = layout.text - 1

    layers = [
        data("shared").mark_rect(color=SHADE.light, opacity=0.8).encode(x=x, x2="x2:Q"),
        data("shared")
        .mark_text(**text_mark(small, TEXT_MUTED.light, dx=5))
        .encode(x=x, y=alt.value(alt.ExprRef("height - 10")), text="text:N"),
        data("bands").mark_area(opacity=0.13).encode(x=x, y=y("low"), y2="high:Q", color=colour, detail="piece:N"),
        data("lone").mark_rule(strokeWidth=5, opacity=0.25).encode(x=x, y=y("low"), y2="high:Q", color=colour),
        data("labels")
        .mark_rule(color=TEXT_MUTED.light, strokeWidth=0.7, opacity=0.7)
        .encode(x=x, y=y("value"), x2=right_of_plot(KEY_START - 4), y2="at:Q"),
        data("knots")
        .mark_line(strokeWidth=2)
        .encode(x=x, y=y("value"), color=colour, strokeDash=dash, detail="piece:N"),
        data("bounds")
        .mark_point(shape=ARROW_UP, filled=False, size=200, strokeWidth=1.6, opacity=1)
        .encode(x=x, y=y("value"), color=colour),
        data("knots").mark_point(filled=True, **marks).encode(x=x, y=y("value"), color=colour, shape=shape),
        data("labels")
        .mark_rule(strokeWidth=2)
        .encode(x=right_of_plot(KEY_START), x2=right_of_plot(key_end), y=y("at"), color=colour, strokeDash=dash),
        data("labels")
        .mark_point(filled=True, **marks)
        .encode(x=right_of_plot(key_middle), y=y("at"), color=colour, shape=shape),
        data("names")
        .mark_text(**text_mark(layout.text, TEXT.light, fontWeight="bold"))
        .encode(x=right_of_plot(text_x), y=y("at"), text="text:N"),
        data("details")
        .mark_text(**text_mark(small, TEXT_MUTED.light))
        .encode(x=right_of_plot(text_x), y=y("at"), text="text:N"),
        data("ruler").mark_rule(color=TEXT_MUTED.light, strokeWidth=0.7).encode(x=x, y=y("top"), y2="at:Q"),
        data("ruler").mark_text(**text_mark(small, TEXT_MUTED.light, dx=4)).encode(x=x, y=y("at"), text="text:N"),
        data("notes")
        .mark_text(**text_mark(layout.note, TEXT_MUTED.light))
        .encode(x=alt.value(-Y_AXIS_WIDTH), y=y("at"), text="text:N"),
    ]
    chart = alt.layer(*layers).properties(width=layout.plot_width, height=layout.plot_height)
    chart = chart.add_params(*(alt.param(name=name, value=0) for name in ("x_low", "x_high", "y_high")))
    spec: Spec = chart.to_dict()
    spec["config"] = config(layout)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return json.dumps(spec)
