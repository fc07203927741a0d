"""Axes: grid, domain, ticks, labels and title, where Vega puts them (vega-parser, vega-view-transforms)."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from builder.charts.grammar import NotDrawn, Plot, must, only
from builder.charts.lettering import Lettering, lettered, look_of_letters, round_half_up
from builder.charts.pieces import Box, Look, Paint, Piece, around, number, straight
from builder.charts.scales import EXPRESSIONS, FORMATS, Scale, by_step, tick_count, ticks

# Of the settings for all axes of a specification, and of an axis itself.
SETTINGS = frozenset(
    (
        *("domain", "domainColor", "domainWidth", "grid", "gridColor", "gridDash", "gridWidth", "labelColor"),
        *("labelFontSize", "labelFontWeight", "labelPadding", "labels", "tickColor", "tickSize", "tickWidth", "ticks"),
        *("titleColor", "titleFontSize", "titleFontWeight", "titlePadding"),
    )
)
_AXIS = frozenset(
    (
        *SETTINGS,
        *("format", "labelAlign", "labelBaseline", "labelExpr", "labelFlush", "labelOverlap", "offset", "orient"),
        *("tickCount", "tickMinStep", "title", "titleAlign", "titleAnchor", "titleAngle", "titleBaseline", "titleX"),
        *("titleY", "values", "zindex"),
    )
)
_DEFAULTS: Mapping[str, Any] = {
    "domain": True,
    "ticks": True,
    "labels": True,
    "grid": True,
    "domainColor": "#888",
    "gridColor": "#ddd",
    "tickColor": "#888",
    "labelColor": "#000",
    "titleColor": "#000",
    "domainWidth": 1,
    "gridWidth": 1,
    "tickWidth": 1,
    "tickSize": 5,
    "gridDash": None,
    "labelFontSize": 10,
    "labelFontWeight": "normal",
    "labelPadding": 2,
    "titleFontSize": 11,
    "titleFontWeight": "bold",
    "titlePadding": 4,
    "titleAngle": None,
}
CRISP = 0.5  # so that a line of 1 px takes one row of points; Vega leaves it out where it asks what room an axis takes
_EVERY_PX = 40  # Vega-Lite's tick count where none is asked for


@dataclass(frozen=True, slots=True)
class _Axis:
    """An axis as asked for, on its side of the plot."""

    asked: Mapping[str, Any]
    scale: Scale
    plot: Plot
    paint: Paint
    orient: str
    where: str

    def __getitem__(self, name: str) -> Any:
        default = self.plot.axes.get(name, _DEFAULTS.get(name))
        return self.plot.literal(self.asked.get(name, default), f"{self.where}.{name}")

    @property
    def across(self) -> bool:
        return self.orient in ("bottom", "top")

    @property
    def out(self) -> int:
        """Which way away from the plot is."""
        return 1 if self.orient in ("bottom", "right") else -1

    @property
    def edge(self) -> float:
        """Where the axis stands. [px]"""
        ends = {"bottom": self.plot.height, "right": self.plot.width}
        return ends.get(self.orient, 0.0) + self.out * float(self["offset"] or 0)

    def stroke(self, part: str) -> Look:
        look = {"stroke": self.paint(self[f"{part}Color"])}
        if (width := float(self[f"{part}Width"])) != 1:
            look["stroke-width"] = number(width)
        return look

    def line(self, along: float, start: float, end: float, look: Look) -> Piece:
        """A line away from the axis, at a place along it. [px]"""
        along, start, end = along + CRISP, start + CRISP, end + CRISP
        if self.across:
            place = straight(along, start, 0, end - start)
            return Piece("path", place, look, Box(along, min(start, end), along, max(start, end)).grown(CRISP))
        place = straight(start, along, end - start, 0)
        return Piece("path", place, look, Box(min(start, end), along, max(start, end), along).grown(CRISP))


def axis(
    asked: Mapping[str, Any], scale: Scale, plot: Plot, paint: Paint, *, across: bool, where: str
) -> list[list[Piece]]:
    """The groups of pieces of an axis, its grid first, which lies below those of all axes."""
    only(asked, _AXIS, where)
    orient = asked.get("orient", "bottom" if across else "left")
    if orient not in (("bottom", "top") if across else ("left", "right")):
        raise NotDrawn(f"{where}.orient is {orient!r}")
    for name, drawn in (("labelOverlap", (False, None)), ("zindex", (None, 0))):
        must(asked, name, drawn, where)
    one = _Axis(asked, scale, plot, paint, orient, where)
    values, text = _ticks(one)
    places = [scale(value) for value in values]
    if one["labels"] and "labelOverlap" not in asked and values:
        raise NotDrawn(f"{where}.labelOverlap is missing; drawn is False")
    grid = _grid(one, places) if one["grid"] else []
    marks = _ticks_drawn(one, places) if one["ticks"] else []
    labels = _labels(one, values, places, text) if one["labels"] else []
    domain = _domain(one) if one["domain"] else []
    title = _title(one, around(piece.box for piece in (*marks, *labels, *domain)))
    return [grid, marks, labels, domain, title]


def _ticks(one: _Axis) -> tuple[list[float], Callable[[float], str]]:
    """Where the axis has ticks, and how it writes them."""
    scale = one.scale
    step = 1.0
    if one["values"] is not None:
        values = scale.on_axis([float(value) for value in one["values"]])
    elif scale.logarithmic:
        raise NotDrawn(f"{one.where}.values is missing, which an axis of a log scale needs")
    else:
        length = one.plot.width if one.across else one.plot.height
        asked = float(one["tickCount"] or math.ceil(length / _EVERY_PX))
        count = tick_count(asked, scale.low, scale.high, one["tickMinStep"])
        values, step = ticks(scale.low, scale.high, count)
    if (expression := one.asked.get("labelExpr")) is not None:
        if expression not in EXPRESSIONS:
            raise NotDrawn(f"{one.where}.labelExpr {expression!r} is outside of what is drawn")
        return values, EXPRESSIONS[expression]
    if (form := one.asked.get("format")) is not None:
        if form not in FORMATS:
            raise NotDrawn(f"{one.where}.format {form!r} is outside of what is drawn; drawn are {', '.join(FORMATS)}")
        return values, FORMATS[form]
    if one["values"] is not None:  # D3 would take the decimals from the step it did not choose
        if not all(value == int(value) for value in values):
            raise NotDrawn(f"{one.where}.format is missing")
        return values, FORMATS[",d"]
    return values, by_step(step)


def _grid(one: _Axis, places: list[float]) -> list[Piece]:
    look = one.stroke("grid")
    if dash := one["gridDash"]:
        look["stroke-dasharray"] = ",".join(number(length) for length in dash)
    end = one.plot.height if one.across else one.plot.width
    return [one.line(round_half_up(place), 0.0, end, look) for place in places]


def _ticks_drawn(one: _Axis, places: list[float]) -> list[Piece]:
    look, size = one.stroke("tick"), one.out * float(one["tickSize"])
    return [one.line(round_half_up(place), one.edge, one.edge + size, look) for place in places]


def _domain(one: _Axis) -> list[Piece]:
    start, end = sorted((one.scale.start, one.scale.end))
    look = one.stroke("domain")
    crossed = replace(one, orient="left" if one.across else "bottom")
    return [crossed.line(one.edge, start, end, look)]


def _labels(one: _Axis, values: list[float], places: list[float], text: Callable[[float], str]) -> list[Piece]:
    away = one.edge + one.out * ((float(one["tickSize"]) if one["ticks"] else 0.0) + float(one["labelPadding"]))
    colour = {"fill": one.paint(one["labelColor"])}
    looks: dict[Lettering, Look] = {}
    size, bold = float(one["labelFontSize"]), one["labelFontWeight"] in ("bold", 700)
    pieces = []
    for value, place in zip(values, places, strict=True):
        if one.across:
            align = one["labelAlign"] or _flushed(one, place)
            baseline = one["labelBaseline"] or ("top" if one.orient == "bottom" else "bottom")
            x, y = place, away
        else:
            align = one["labelAlign"] or ("right" if one.orient == "left" else "left")
            baseline = one["labelBaseline"] or "middle"
            x, y = away, place
        lettering = Lettering(size, bold, align, baseline)
        if lettering not in looks:
            looks[lettering] = look_of_letters(lettering, colour)
        pieces.append(lettered(text(value), x + CRISP, y + CRISP, lettering, looks[lettering]))
    return pieces


def _flushed(one: _Axis, place: float) -> str:
    """An axis that asks for it keeps its outermost labels above itself: they end where it does, to a px."""
    flush = one.asked.get("labelFlush", True)
    if flush is False:
        return "center"
    near = float(flush)
    start, end = sorted((one.scale.start, one.scale.end))
    left, right = abs(place - start), abs(end - place)
    return "left" if left < right and left <= near else "right" if right <= near else "center"


def _title(one: _Axis, taken: Box | None) -> list[Piece]:
    text = one.asked.get("title")
    if not text:
        return []
    if not isinstance(text, str):
        raise NotDrawn(f"{one.where}.title is {text!r}; drawn is a line of text")
    anchor = one["titleAnchor"] or "middle"
    align = one["titleAlign"] or {"start": "left", "middle": "center", "end": "right"}[anchor]
    x, y = one["titleX"], one["titleY"]
    if one.across:
        must(one.asked, "titleAngle", (None, 0), one.where)
        start, end = one.scale.start, one.scale.end
        along = {"start": start, "middle": (start + end) / 2, "end": end}[anchor]
        baseline = one["titleBaseline"] or ("top" if one.orient == "bottom" else "bottom")
        if y is None:
            assert taken is not None or not one["domain"]
            rim = one.edge if taken is None else (taken.bottom if one.out > 0 else taken.top) - CRISP
            y = rim + one.out * float(one["titlePadding"])
            if taken is not None and not one["labels"]:
                raise NotDrawn(f"{one.where}.titleY is missing, which an axis without labels needs")
        else:
            y = one.edge + float(y)
        x = along if x is None else float(x)
    else:
        if x is None or y is None or one["titleAngle"] != 0:
            raise NotDrawn(f"{one.where}.title is drawn upright, at a titleX and a titleY, with a titleAngle of 0")
        baseline = one["titleBaseline"] or "bottom"
        x, y = one.edge + float(x), float(y)
    lettering = Lettering(float(one["titleFontSize"]), one["titleFontWeight"] in ("bold", 700), align, baseline)
    look = look_of_letters(lettering, {"fill": one.paint(one["titleColor"])})
    return [lettered(text, x + CRISP, y + CRISP, lettering, look)]
