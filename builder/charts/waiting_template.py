"""The grammar of the waiting chart: marks, scales and axes, without any data.

Altair builds it once per layout; waiting_chart.py puts data sets and the ends of the scales in. Data sets:

    rows      at                       foot of each row: a line across
    grid      t, at, at2               powers of ten beside each bar
    bars      row, t, t2, at, at2, hue, words    from 50 to 90 % of the planned requests
    open      as bars                  the same where few requests lie beyond 90 %: pale, without an end
    edges     t, t2, at, hue           upper and lower edge of these
    whiskers  t, t2, at, hue           on to 99 %
    beyond    t, at, hue               the same where those 99 % are not reached: on to the right edge
    ticks     row, t, at, at2, hue, words        99 %
    dots      row, t, at, hue, words   each answer, where there are hardly any
    lost      t, at, at2               failed requests: from the slowest answer to the right edge
    hatches   t, at, path              its strokes, in px from there
    ends      at, path                 failed requests where 90 % were answered: a hatched piece at the right edge
    marks     t, at, at2, kind         what is asked for; kind "good" is more than enough
    mark_texts  t, at, text
    names, details  row, at, text      what a row is
    counts, missed  at, text           what was in time; bold where that is too little
    words, asides   at, text           the rest of it, at the left or at the right edge of its place
    numbers   t, at, text              of the axis; as starts and ends_of_axis those that would leave it, set inside of it
    notes     at, text                 lines under the chart

t is a time in ms, at a height in px from the top of the plot. hue: "in time" or "late".
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from builder.charts.figures import Spec
from builder.charts.templates import template
from builder.charts.theme import CALM, GRID, GROUND, TEXT, TEXT_MUTED, Layout, config

X_TITLE = "Waiting time (log axis)"
# Of an axis in ms that Vega writes by itself (longwaits_template.py).
TICK_LABEL = "datum.value < 1000 ? format(datum.value, '~g') + ' ms' : format(datum.value / 1000, '~g') + ' s'"
END_GAP = 4  # between the plot and what is hatched at its right edge [px]
END_WIDTH = 18  # of that, where everything is lost [px]
NUMBERS_BELOW = 16  # from the axis to the middle of its numbers [px]
SIDE_GAP = 38  # from the plot to the words right of it [px]
HUES = {"in time": CALM.light, "late": TEXT.light}
KINDS: dict[str, list[int]] = {"enough": [1, 0], "good": [2, 3]}


def waiting_template(layout: Layout, *, span: tuple[float, float], ticks: Sequence[float], height: int) -> Spec:
    """A fresh copy of the specification, its data sets empty.

    span    ends of the time axis, and *ticks* on it [ms]
    height  of the plot [px]
    """
    spec: Spec = json.loads(built(layout))
    spec["height"] = height
    for channels in (layer["encoding"] for layer in spec["layer"]):
        for channel, ends in (("x", span), ("y", (0, height))):
            if "scale" in channels.get(channel, {}):
                channels[channel]["scale"]["domain"] = list(ends)
        if channels.get("x", {}).get("axis"):
            channels["x"]["axis"]["values"] = list(ticks)
    return spec


def side_width(layout: Layout) -> int:
    """Of the words right of the plot; a picture of fixed height has less room, and says less. [px]"""
    return 150 if layout.plot_height else 186


def full_width(layout: Layout) -> int:
    """Of labels, plot and words. [px]"""
    right = SIDE_GAP + side_width(layout) if layout.label_width else END_GAP + END_WIDTH
    return layout.label_width + layout.plot_width + right


@template
def built(layout: Layout) -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    x_scale = alt.Scale(type="log", domain=[1, 10], nice=False)
    y_scale = alt.Scale(domain=[0, 1], nice=False, reverse=True)
    x_axis = alt.Axis(
        title=X_TITLE,
        titleY=NUMBERS_BELOW + layout.text + 4,
        titleAnchor="middle",
        grid=False,
        labels=False,
        format="d",
        values=[1, 10],
    )
    x = alt.X("t:Q", scale=x_scale, axis=x_axis)
    y = alt.Y("at:Q", scale=y_scale, axis=None)
    hue = alt.Color("hue:N", scale=alt.Scale(domain=list(HUES), range=list(HUES.values())), legend=None)
    stroke = alt.Stroke("hue:N", scale=alt.Scale(domain=list(HUES), range=list(HUES.values())), legend=None)
    kind = alt.StrokeDash("kind:N", scale=alt.Scale(domain=list(KINDS), range=list(KINDS.values())), legend=None)
    path = alt.Shape("path:N", scale=None, legend=None)

    def data(name: str) -> Any:
        return alt.Chart(alt.NamedData(name))

    def from_plot(offset: float) -> Any:
        """A place by its distance from the plot's right edge. [px]"""
        return alt.value(layout.plot_width + offset)

    def text(name: str, place: Any, size: int, colour: str, **look: Any) -> Any:
        mark = data(name).mark_text(
            **{"align": "left", "baseline": "middle", "fontSize": size, "color": colour, **look}
        )
        return mark.encode(x=place, y=y, text="text:N")

    hatch = {"size": 4, "filled": False, "stroke": TEXT.light, "strokeWidth": 1, "opacity": 1}  # in px: √4/2 = 1
    box = {"fill": GROUND.light, "fillOpacity": 0, "stroke": TEXT.light, "strokeWidth": 1}
    small = layout.text - 1
    left = alt.value(-layout.label_width)
    side = from_plot(SIDE_GAP) if layout.label_width else alt.value(0)
    far = full_width(layout) - layout.label_width - layout.plot_width
    layers = [
        data("rows").mark_rule(color=GRID.light).encode(x=left, x2=from_plot(far), y=y),
        data("grid").mark_rule(color=GRID.light).encode(x=x, y=y, y2="at2:Q"),
        data("bars").mark_rect(strokeWidth=1).encode(x=x, x2="t2:Q", y=y, y2="at2:Q", color=hue, stroke=stroke),
        data("open")
        .mark_rect(fillOpacity=0.3, strokeWidth=1)
        .encode(x=x, x2="t2:Q", y=y, y2="at2:Q", color=hue, stroke=stroke),
        data("edges").mark_rule(strokeWidth=1.2).encode(x=x, x2="t2:Q", y=y, color=hue),
        data("whiskers").mark_rule(strokeWidth=2).encode(x=x, x2="t2:Q", y=y, color=hue),
        data("beyond").mark_rule(strokeWidth=2).encode(x=x, x2=from_plot(END_GAP), y=y, color=hue),
        data("ticks").mark_rule(strokeWidth=2).encode(x=x, y=y, y2="at2:Q", color=hue),
        data("dots").mark_point(filled=True, size=50, opacity=1).encode(x=x, y=y, color=hue),
        data("lost").mark_rect(**box).encode(x=x, x2=from_plot(END_GAP + END_WIDTH), y=y, y2="at2:Q"),
        data("hatches").mark_point(**hatch).encode(x=x, y=y, shape=path),
        data("ends").mark_point(**hatch).encode(x=from_plot(END_GAP), y=y, shape=path),
        data("marks").mark_rule(color=TEXT.light, strokeWidth=1.5).encode(x=x, y=y, y2="at2:Q", strokeDash=kind),
        text("mark_texts", x, small, TEXT_MUTED.light),
        text("names", left, layout.text, TEXT.light, fontWeight="bold"),
        text("details", left, small, TEXT_MUTED.light),
        text("counts", side, layout.text, TEXT.light),
        text("missed", side, layout.text, TEXT.light, fontWeight="bold"),
        text("words", side, small, TEXT_MUTED.light),
        text("asides", from_plot(far), small, TEXT_MUTED.light, align="right"),
        text("starts", alt.value(0), small, TEXT_MUTED.light),
        text("numbers", x, small, TEXT_MUTED.light, align="center"),
        text("ends_of_axis", from_plot(0), small, TEXT_MUTED.light, align="right"),
        text("notes", left, layout.note, TEXT_MUTED.light),
    ]
    chart = alt.layer(*layers).properties(width=layout.plot_width, height=100)
    spec: Spec = chart.to_dict()
    spec["config"] = config(layout)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return json.dumps(spec)
