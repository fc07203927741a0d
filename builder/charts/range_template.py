"""The grammar of the range chart: marks, scales and axes, without any data.

Altair builds it once per layout and kind of axis; range_chart.py puts in data sets, ends of scales and ticks. One panel
holds the lines, a second one below it the difference of two lines, on the same axis. Data sets of the lines:

    shared   x, x2, text              the range the lines share
    bands    series, piece, x, low, high   intervals of neighbouring knots
    lone     series, x, low, high     intervals of knots without a neighbour
    knots    series, piece, x, value
    bounds   series, x, value         knots that are only a lower bound
    ports    series, x, value         knots held back by the device's own port
    labels   series, text             what each line is called
    firsts, seconds, bold_firsts, bold_seconds  series, x, at, text   parts of the names that stand on the lines
    samples  series, x, at            marks before names that do not stand nearest to their line
    unit, axis_unit   at, text

Data sets of the difference, all in ink: headings, totals, steps (at, text), grid, zero (at), difference_bands,
difference_lone (x, low, high, piece), differences (x, value, piece, measured), at_least, at_most (x, value),
joined (x, value: not measured on both), difference_values (x, at, text), below (at, text).

Under the axis: windows (x, x2, at), window_ends (x, at, foot), window_names (x, at, text), ruler_lines (x, top, at), ruler_word (at, text), ruler, ruler_before
(x, at, text) and notes (at, text). Heights of text are given in Mbit/s like everything on y, some outside of the plot.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any, Literal

import orjson

from builder.charts.figures import Spec
from builder.charts.templates import template
from builder.charts.theme import (
    AXIS,
    DASHES,
    GRID,
    GROUND,
    SHADE,
    SHAPES,
    TEXT,
    TEXT_MUTED,
    Layout,
    Role,
    config,
    hues,
    series_numbers,
)

AxisKind = Literal["attenuation", "level"]

AXIS_NAMES: dict[AxisKind, str] = {"attenuation": "attenuation", "level": "received level"}
AXIS_TITLES: dict[AxisKind, str] = {"attenuation": "Attenuation (dB)", "level": "Received level (dBm)"}
AXIS_UNITS: dict[AxisKind, str] = {"attenuation": "dB", "level": "dBm"}
Y_TITLE = "Throughput (Mbit/s)"

# The plots of the two drawings, 836 and 340 px wide in all; no column of labels beside them. Other layouts, of stills,
# take their leave from the nearer of the two.
WIDE = Layout(plot_width=776, plot_height=330, label_width=0, text=14, note=13)
NARROW = Layout(plot_width=289, plot_height=236, label_width=0, text=13, note=13)
_LEAST_WIDE = 450  # px of plot, from which on there is room for the longer forms

# Marks in units of Vega's shape box: upwards arrow that stands on a mark, downwards arrow below it, the double bar of a
# port above it, and the end of an interval.
ARROW_UP = "M0,-0.6L0,-2.6M-0.6,-1.9L0,-2.7L0.6,-1.9"
ARROW_DOWN = "M0,0.6L0,2.6M-0.6,1.9L0,2.7L0.6,1.9"
PORT = "M-1,-1.4L1,-1.4M-1,-1.9L1,-1.9"
END_TICK = "M-1,0L1,0"
MARKED_UP = 21  # how far arrow or double bar reach above their knot [px]

_MARK = 80  # area of a mark, 5 px in radius [px²]
_SIGN = 200  # of arrows and double bars
_TICK = 64  # of an interval's end, 8 px wide
BAND = {"fillOpacity": 0.15, "strokeOpacity": 0.6, "strokeWidth": 0.75}  # its edge is seen on either ground


def is_wide(layout: Layout) -> bool:
    return layout.plot_width >= _LEAST_WIDE


def left_of(layout: Layout) -> int:
    """From the frame's left edge to the plot. [px]"""
    return 52 if is_wide(layout) else 45


def right_of(layout: Layout) -> int:
    """From the plot to the frame's right edge. [px]"""
    return 8 if is_wide(layout) else 6


def whole_width(layout: Layout) -> int:
    return left_of(layout) + layout.plot_width + right_of(layout)


def name_size(layout: Layout) -> float:
    """Size of the names on the lines. [px]"""
    return 15 if is_wide(layout) else 13.5


def range_template(kind: AxisKind, layout: Layout, *, difference: bool) -> Spec:
    """A fresh copy of the specification, its data sets empty and its scales unset.

    difference  whether a second panel lies below the lines
    """
    spec: Spec = orjson.loads(built(kind, layout, difference))
    return spec


def panels(spec: Spec) -> list[Spec]:
    """The panels of a range chart: of the lines, and of their difference where there is one."""
    return list(spec.get("vconcat", [spec]))


def scaled(panel: Spec, channel: Literal["x", "y"], ends: tuple[float, float], values: list[float]) -> None:
    """Put the ends of an axis and its ticks into every layer of a panel."""
    for layer in panel["layer"]:
        encoding = layer["encoding"].get(channel, {})
        if "scale" in encoding:
            encoding["scale"]["domain"] = list(ends)
        if encoding.get("axis"):
            encoding["axis"]["values"] = values
            if channel == "x" and any(value != int(value) for value in values):
                encoding["axis"]["format"] = ".1f"
            if channel == "y":
                step = min((b - a for a, b in pairwise(values)), default=1.0)
                encoding["axis"]["format"] = "d" if step >= 1 else ".2f" if round(step, 6) in (0.25, 0.05) else ".1f"


@template
def built(kind: AxisKind, layout: Layout, difference: bool) -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    if difference:
        upper, lower = _Panel(kind, layout, x_axis=False), _Panel(kind, layout, y_axis=False)
        both = upper.of(upper.lines()), lower.of([*lower.difference(), *lower.under_the_axis()])
        spec: Spec = alt.vconcat(*both, spacing=0, bounds="flush").to_dict()
    else:
        panel = _Panel(kind, layout)
        spec = panel.of([*panel.lines(), *panel.under_the_axis()]).to_dict()
    spec["config"] = config(layout)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return orjson.dumps(spec).decode()


class _Panel:
    """Layers over one plot."""

    def __init__(self, kind: AxisKind, layout: Layout, *, x_axis: bool = True, y_axis: bool = True) -> None:
        import altair as alt

        self.alt, self.layout, self.wide = alt, layout, is_wide(layout)
        bottom = alt.Axis(
            title=None, grid=False, labelFlush=False, labelOverlap=False, tickSize=5, labelPadding=4, values=[0]
        )
        left = alt.Axis(
            title=None, domain=False, ticks=False, labelOverlap=False, labelPadding=8, format="d", values=[0]
        )
        x_scale = alt.Scale(domain=[0, 1], nice=False, zero=False, reverse=kind == "level")
        self.x = alt.X("x:Q", title=AXIS_TITLES[kind], scale=x_scale, axis=bottom if x_axis else None)
        self.y_axis = left if y_axis else None

    def of(self, layers: list[Any]) -> Any:
        return self.alt.layer(*layers).properties(width=self.layout.plot_width, height=self.layout.plot_height)

    def data(self, name: str) -> Any:
        return self.alt.Chart(self.alt.NamedData(name))

    def y(self, field: str) -> Any:
        scale = self.alt.Scale(domain=[0, 1], nice=False)
        return self.alt.Y(f"{field}:Q", title=Y_TITLE, scale=scale, axis=self.y_axis)

    def text(self, name: str, size: float, role: Role, *, x: Any = None, **more: Any) -> Any:
        """Text at a place, or at a px of the plot."""
        mark = {"align": "left", "baseline": "alphabetic", "fontSize": size, "color": role.light, **more}
        return (
            self.data(name)
            .mark_text(**mark)
            .encode(x=self.x if x is None else self.alt.value(x), y=self.y("at"), text="text:N")
        )

    def frame(self) -> Any:
        """What is not seen, and gives the picture the same width whatever is drawn."""
        alt, layout = self.alt, self.layout
        return (
            self.data("frame")
            .mark_rule(color=AXIS.light, opacity=0)
            .encode(
                x=alt.value(0.5 - left_of(layout)),
                x2=alt.value(layout.plot_width + right_of(layout) - 0.5),
                y=self.y("at"),
            )
        )

    def lines(self) -> list[Any]:
        alt, layout, y = self.alt, self.layout, self.y
        positions = series_numbers(6)
        colour = alt.Color("series:N", scale=alt.Scale(domain=positions, range=hues()), legend=None)
        edge = alt.Stroke("series:N", scale=alt.Scale(domain=positions, range=hues()), legend=None)
        dash = alt.StrokeDash(
            "series:N", scale=alt.Scale(domain=positions, range=[list(d) for d in DASHES]), legend=None
        )
        shape = alt.Shape("series:N", scale=alt.Scale(domain=positions, range=list(SHAPES)), legend=None)
        mark = {"filled": True, "size": _MARK, "stroke": GROUND.light, "strokeWidth": 1.5, "opacity": 1}
        sign = {"filled": False, "size": _SIGN, "strokeWidth": 2.25, "opacity": 1}
        size = name_size(layout)
        halo = {"fontWeight": "bold", "stroke": GROUND.light, "strokeWidth": 4, "strokeJoin": "round"}
        layers = [
            self.frame(),
            self.data("frame")
            .mark_rule(color=AXIS.light, strokeWidth=1)
            .encode(x=alt.value(0), x2=alt.value(layout.plot_width), y=y("at")),
            self.data("shared")
            .mark_rect(color=SHADE.light, stroke=AXIS.light, strokeWidth=0.75)
            .encode(x=self.x, x2="x2:Q"),
            self.text("shared_words", layout.text, TEXT_MUTED, dx=5),
            self.data("bands")
            .mark_area(**BAND)
            .encode(x=self.x, y=y("low"), y2="high:Q", color=colour, stroke=edge, detail="piece:N"),
            self.data("lone").mark_rule(strokeWidth=2.25).encode(x=self.x, y=y("low"), y2="high:Q", color=colour),
            *(
                self.data("lone")
                .mark_point(shape=END_TICK, filled=False, size=_TICK, strokeWidth=2.25, opacity=1)
                .encode(x=self.x, y=y(end), color=colour)
                for end in ("low", "high")
            ),
            self.data("knots")
            .mark_line(strokeWidth=2.25)
            .encode(x=self.x, y=y("value"), color=colour, strokeDash=dash, detail="piece:N"),
            self.data("bounds").mark_point(shape=ARROW_UP, **sign).encode(x=self.x, y=y("value"), color=colour),
            self.data("ports").mark_point(shape=PORT, color=TEXT.light, **sign).encode(x=self.x, y=y("value")),
            self.data("knots").mark_point(**mark).encode(x=self.x, y=y("value"), color=colour, shape=shape),
            self.data("samples").mark_point(**mark).encode(x=self.x, y=y("at"), color=colour, shape=shape),
        ]
        for parts, align in (("firsts", "right"), ("seconds", "left")):
            for name, weight in ((parts, "normal"), (f"bold_{parts}", "bold")):
                layers += [
                    self.text(name, size, GROUND, align=align, **{**halo, "fontWeight": weight}),
                    self.text(name, size, TEXT, align=align, fontWeight=weight),
                ]
        unit_at = 0 if self.wide else -left_of(layout)
        return [*layers, self.text("unit", layout.text, TEXT_MUTED, x=unit_at)]

    def difference(self) -> list[Any]:
        """Everything of the second panel has its steps as text, and no axis at the left."""
        alt, layout, y, text = self.alt, self.layout, self.y, self.text
        ink, end = TEXT.light, layout.plot_width

        def across(name: str, **look: Any) -> Any:
            return self.data(name).mark_rule(**look).encode(x=alt.value(0), x2=alt.value(end), y=y("at"))

        mark = {"size": _MARK, "opacity": 1, "color": ink}
        sign = {"filled": False, "size": _SIGN, "strokeWidth": 2, "opacity": 1, "color": ink}
        return [
            self.frame(),
            across("grid", color=GRID.light, strokeWidth=1),
            self.data("difference_bands")
            .mark_area(**BAND, color=ink, stroke=ink)
            .encode(x=self.x, y=y("low"), y2="high:Q", detail="piece:N"),
            across("zero", color=ink, strokeWidth=1.5),
            self.data("difference_lone").mark_rule(color=ink, strokeWidth=2).encode(x=self.x, y=y("low"), y2="high:Q"),
            *(
                self.data("difference_lone")
                .mark_point(shape=END_TICK, filled=False, size=_TICK, strokeWidth=2, opacity=1, color=ink)
                .encode(x=self.x, y=y(end_of))
                for end_of in ("low", "high")
            ),
            self.data("differences")
            .mark_line(strokeWidth=2, color=ink)
            .encode(x=self.x, y=y("value"), detail="piece:N"),
            self.data("at_least").mark_point(shape=ARROW_UP, **sign).encode(x=self.x, y=y("value")),
            self.data("at_most").mark_point(shape=ARROW_DOWN, **sign).encode(x=self.x, y=y("value")),
            self.data("differences")
            .mark_point(filled=True, stroke=GROUND.light, strokeWidth=1.5, **mark)
            .encode(x=self.x, y=y("value")),
            self.data("joined")
            .mark_point(filled=True, size=30, color=GROUND.light, opacity=1)
            .encode(x=self.x, y=y("value")),
            text("difference_values", layout.text, GROUND, stroke=GROUND.light, strokeWidth=4, strokeJoin="round"),
            text("difference_values", layout.text, TEXT),
            text("below", layout.text, GROUND, x=end, align="right", stroke=GROUND.light, strokeWidth=4),
            text("below", layout.text, TEXT_MUTED, x=end, align="right"),
            text("steps", layout.text, TEXT_MUTED, x=-8, align="right"),
            text("headings", name_size(layout), TEXT, x=0 if self.wide else -left_of(layout), fontWeight="bold"),
            text("totals", name_size(layout), TEXT, x=end, align="right")
            if self.wide
            else text("totals", name_size(layout), TEXT, x=-left_of(layout)),
        ]

    def under_the_axis(self) -> list[Any]:
        layout = self.layout
        small = layout.text - 0.5 if self.wide else layout.text
        at_left = {"x": -8, "align": "right"} if self.wide else {"x": -left_of(layout)}
        thin = {"color": AXIS.light, "strokeWidth": 1}
        return [
            self.text("axis_unit", layout.text, TEXT_MUTED, **at_left),
            self.data("windows").mark_rule(**thin).encode(x=self.x, x2="x2:Q", y=self.y("at")),
            self.data("window_ends").mark_rule(**thin).encode(x=self.x, y=self.y("at"), y2="foot:Q"),
            self.text("window_names", layout.text, TEXT_MUTED, align="center"),
            self.data("ruler_lines").mark_rule(**thin).encode(x=self.x, y=self.y("top"), y2="at:Q"),
            self.text("ruler_word", layout.text, TEXT_MUTED, x=-8, align="right"),
            self.text("ruler", small, TEXT, dx=6),
            self.text("ruler_before", small, TEXT, dx=-6, align="right"),
            self.text("notes", layout.note, TEXT_MUTED, x=-left_of(layout)),
        ]
