"""The grammar of the overview: marks and scales of its views, without any data.

Altair builds each view once; overview_chart.py puts data sets, sizes and the ends of the scales in. A view is a column of
names, or a panel for one window. Data sets, each with the number of its view behind its name:

    rows        at                        a line across
    grid, axis  x, at, at2
    pads        x, x2, at, at2            ground, so that no line runs through a text
    links       x, x2, at, at2, href      what a finger meets: as high as a row
    ports       x, at, at2                two strokes right of a value that the device's own port held back
    intervals_first, intervals_behind     low, high, at
    caps_first, caps_behind               x, at, at2      their ends
    arrows_first, arrows_behind           x, at           values that are only lower bounds
    dots_first, dots_behind               x, at
    makers, models            x, at, text, href
    shorts, firsts_short      x, at, text       names of rows that lead nowhere; bold where it may be first
    values, firsts            x, at, text       right-aligned; bold where it may be first
    heads                     x, at, text
    left, middle, right       x, at, text       all else, by how it is aligned
    notes                     x, at, text       lines under the chart, in one view

x is in the unit of the view's scale: Mbit/s in a panel, px in the column of names; at is in px from its top. What may be first
and what is behind are sets of their own, so that a drawing says each colour once.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from builder.charts.figures import Spec
from builder.charts.ranking_template import ARROW_RIGHT
from builder.charts.templates import template
from builder.charts.theme import AXIS, GRID, GROUND, TEXT, TEXT_MUTED

HUES = {"first": TEXT.light, "behind": AXIS.light}  # the first colour says elsewhere that two are told apart
DOT_SIZE = {5.0: 100, 5.5: 121}  # as Vega has it: the square of the diameter [px²]
LABELS = ("makers", "models", "shorts", "firsts_short", "values", "firsts", "heads", "left", "middle", "right")
MARKS = tuple(f"{mark}_{hue}" for hue in HUES for mark in ("intervals", "caps", "arrows", "dots"))
SETS = ("rows", "grid", "axis", "pads", "links", "ports", *MARKS, *LABELS, "notes")


@dataclass(frozen=True, slots=True)
class Sizes:
    """Sizes of text, and the radius of a dot. [px]"""

    label: float
    small: float
    head: float
    note: float
    radius: float


def view(number: int, sizes: Sizes, *, width: float, height: float, domain: tuple[float, float]) -> Spec:
    """A fresh copy of one view. number: of its data sets; domain: what its left and its right edge stand for on x."""
    spec: Spec = json.loads(built(sizes))
    if number:
        del spec["layer"][-1]  # of the notes
    spec["width"], spec["height"] = round(width), round(height)
    for layer in spec["layer"]:
        if layer["data"]["name"] != "notes":
            layer["data"]["name"] += str(number)
        for channel, ends in (("x", domain), ("y", (0, round(height)))):
            place = layer["encoding"].get(channel, {})
            if "scale" in place:
                place["scale"]["domain"] = list(ends)
        if layer["encoding"].get("x2") == {"value": "width"}:
            layer["encoding"]["x2"] = {"value": round(width)}
    return spec


@template
def built(sizes: Sizes) -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    x_scale, y_scale = alt.Scale(domain=[0, 1], nice=False), alt.Scale(domain=[0, 1], nice=False, reverse=True)
    y = alt.Y("at:Q", scale=y_scale, axis=None)

    def x(field: str) -> Any:
        return alt.X(f"{field}:Q", scale=x_scale, axis=None)

    def data(name: str) -> Any:
        return alt.Chart(alt.NamedData(name))

    def text(name: str, size: float, colour: str, align: str = "left", **look: Any) -> Any:
        linked = {"href": alt.Href("href:N")} if name in ("makers", "models") else {}
        mark = data(name).mark_text(align=align, baseline="middle", fontSize=size, color=colour, **look)
        return mark.encode(x=x("x"), y=y, text="text:N", **linked)

    def measured(hue: str, colour: str) -> list[Any]:
        look = {
            "filled": True,
            "size": DOT_SIZE[sizes.radius],
            "stroke": GROUND.light,
            "strokeWidth": 1.5,
            "opacity": 1,
        }
        arrow = {"shape": ARROW_RIGHT, "filled": False, "size": 200, "strokeWidth": 1.8, "opacity": 1}
        return [
            data(f"intervals_{hue}").mark_rule(color=colour, strokeWidth=2.25).encode(x=x("low"), x2="high:Q", y=y),
            data(f"caps_{hue}").mark_rule(color=colour, strokeWidth=2.25).encode(x=x("x"), y=y, y2="at2:Q"),
            data(f"arrows_{hue}").mark_point(color=colour, **arrow).encode(x=x("x"), y=y),
            data(f"dots_{hue}").mark_point(color=colour, **look).encode(x=x("x"), y=y),
        ]

    ink, soft, bold = TEXT.light, TEXT_MUTED.light, {"fontWeight": "bold"}
    layers = [
        data("rows").mark_rule(color=GRID.light).encode(x=alt.value(0), x2=alt.value("width"), y=y),
        data("grid").mark_rule(color=GRID.light).encode(x=x("x"), y=y, y2="at2:Q"),
        data("axis").mark_rule(color=AXIS.light).encode(x=x("x"), y=y, y2="at2:Q"),
        data("pads").mark_rect(color=GROUND.light).encode(x=x("x"), x2="x2:Q", y=y, y2="at2:Q"),
        data("links")
        .mark_rect(fill=GROUND.light, fillOpacity=0)
        .encode(x=x("x"), x2="x2:Q", y=y, y2="at2:Q", href="href:N"),
        data("ports").mark_rule(color=ink, strokeWidth=1.5).encode(x=x("x"), y=y, y2="at2:Q"),
        *(mark for name, colour in HUES.items() for mark in measured(name, colour)),
        text("makers", sizes.label, ink),
        text("models", sizes.label, ink, **bold),
        text("shorts", sizes.small, ink),
        text("firsts_short", sizes.small, ink, **bold),
        text("values", sizes.label, ink, "right"),
        text("firsts", sizes.label, ink, "right", **bold),
        text("heads", sizes.head, ink, **bold),
        text("left", sizes.small, soft),
        text("middle", sizes.small, soft, "center"),
        text("right", sizes.small, soft, "right"),
        text("notes", sizes.note, soft),
    ]
    spec: Spec = alt.layer(*layers).properties(width=100, height=100).to_dict()
    return json.dumps({name: spec[name] for name in ("layer", "width", "height")})
