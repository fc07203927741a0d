"""The drawer: from a Vega-Lite specification to SVG, for the part of its grammar that our charts use.

It takes marks rect, text, area, rule, line and point, in layers and in plots of fixed sizes beside or below each other,
over scales with two literal ends, places in px, and axes. Text is measured in the face that pages bring along. A
specification that uses anything else is refused with the property's name (`grammar.NotDrawn`). vl-convert draws the
same specification in tests: both pictures must agree (tests/builder/charts/test_drawer_beside_vega.py).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from builder.charts import axes
from builder.charts.figures import Spec
from builder.charts.grammar import NotDrawn, Plot, must, only
from builder.charts.marks import Layer, pieces
from builder.charts.pieces import Box, Paint, around, number, written
from builder.charts.scales import Scale, scale_of

_TOP = frozenset(
    ("$schema", "background", "config", "datasets", "padding", "params", "usermeta", "description", "autosize")
)
_UNIT = frozenset(("data", "encoding", "height", "layer", "mark", "name", "transform", "view", "width", "resolve"))
_CONCAT = frozenset(("align", "bounds", "center", "hconcat", "name", "resolve", "spacing", "vconcat"))
_CONFIG = frozenset(("axis", "axisX", "axisY", "background", "concat", "font", "title", "view"))
_RESOLVED = frozenset(("scale",))
_SPACING = 20.0  # Vega-Lite's, between plots
_FILTER = re.compile(r"datum\.(\w+)|datum\[['\"](\w+)['\"]\]")


@dataclass(frozen=True, slots=True)
class Drawing:
    """What was drawn, as SVG elements placed from the first plot's corner, and the room they take. [px]"""

    body: str
    box: Box

    @property
    def left(self) -> int:
        """From the left edge of the picture to the first plot's corner."""
        return -math.floor(self.box.left)

    @property
    def top(self) -> int:
        """From the upper edge of the picture to the first plot's corner."""
        return -math.floor(self.box.top)

    @property
    def width(self) -> int:
        """Of the picture, in whole px."""
        return self.left + math.ceil(self.box.right)

    @property
    def height(self) -> int:
        """Of the picture, in whole px."""
        return self.top + math.ceil(self.box.bottom)


def draw(spec: Spec, paint: Paint) -> Drawing:
    """The chart of a specification without a title, which whoever shows it sets.

    paint   from a colour of the specification to what stands in the picture
    Raises  NotDrawn where it uses what the drawer does not draw.
    """
    config = spec.get("config", {})
    only(config, _CONFIG, "config")
    params = {one["name"]: one["value"] for one in spec.get("params", ())}
    padding = spec.get("padding", 5)
    if not isinstance(padding, int | float):
        raise NotDrawn(f"padding is {padding!r}; drawn is a number")
    known = _CONCAT if _concatenated(spec) else _UNIT
    only(spec, _TOP | known, "specification")
    outer = _Outer(config, params, spec.get("datasets", {}), paint)
    drawing = _drawn(spec, outer)
    return Drawing(drawing.body, drawing.box.grown(padding))


@dataclass(frozen=True, slots=True)
class _Outer:
    """What holds for the whole specification."""

    config: Mapping[str, Any]
    params: Mapping[str, Any]
    datasets: Mapping[str, list[dict[str, Any]]]
    paint: Paint


def _concatenated(spec: Mapping[str, Any]) -> bool:
    return "hconcat" in spec or "vconcat" in spec


def _drawn(spec: Mapping[str, Any], outer: _Outer) -> Drawing:
    return _row_of_plots(spec, outer) if _concatenated(spec) else _unit(spec, outer)


def _row_of_plots(spec: Mapping[str, Any], outer: _Outer) -> Drawing:
    """Plots beside or below each other, each as far from the one before as what both take asks for.

    With bounds "flush" plots alone count, with "full", as Vega-Lite has it by default, also what stands around them.
    """
    across = "hconcat" in spec
    must(spec, "align", (None, "each", "all", "none"), "specification")
    must(spec, "bounds", (None, "full", "flush"), "specification")
    must(spec, "center", (None, False), "specification")
    only(spec.get("resolve", {}), _RESOLVED, "resolve")
    spacing = float(spec.get("spacing", _SPACING))
    flush = spec.get("bounds") == "flush"
    body: list[str] = []
    boxes: list[Box] = []
    end: float | None = None
    for part in spec["hconcat" if across else "vconcat"]:
        if not _concatenated(part):
            only(part, _UNIT, "part")
        drawing = _drawn(part, outer)
        size = Box(0.0, 0.0, float(part.get("width", 0)), float(part.get("height", 0)))
        taken = size if flush and not _concatenated(part) else drawing.box
        first, last = (taken.left, taken.right) if across else (taken.top, taken.bottom)
        at = 0.0 if end is None else end + spacing + math.ceil(-first)
        end = at + math.ceil(last)
        x, y = (at, 0.0) if across else (0.0, at)
        body.append(f'<g transform="translate({number(x)},{number(y)})">{drawing.body}</g>' if at else drawing.body)
        boxes.append(drawing.box.moved(x, y))
    whole = around(boxes)
    if whole is None:
        raise NotDrawn("specification without plots")
    return Drawing("".join(body), whole)


@dataclass(frozen=True, slots=True)
class _Marked:
    """A layer that is drawn: its mark and all its channels, and the name of its data set."""

    mark: Mapping[str, Any]
    encoding: Mapping[str, Any]
    data: str
    kept: str | None  # a field that has to hold for a row to be drawn
    where: str


def _layers(spec: Mapping[str, Any], encoding: Mapping[str, Any], data: Any, where: str) -> Iterator[_Marked]:
    """Layers from the lowest up; what a layer does not say, the one around it does."""
    if where != "specification":
        only(spec, _UNIT, where)
    must(spec, "view", (None, {"stroke": None}), where)
    must(spec, "resolve", (None, {}), where)
    encoding = {**encoding, **spec.get("encoding", {})}
    data = spec.get("data", data)
    if "layer" in spec:
        if "transform" in spec:
            raise NotDrawn(f"{where}.transform is outside of what is drawn")
        for number_, inner in enumerate(spec["layer"]):
            yield from _layers(
                inner, encoding, data, f"layer {number_}" if where == "specification" else f"{where}.{number_}"
            )
        return
    if not isinstance(data, dict) or set(data) != {"name"}:
        raise NotDrawn(f"{where}.data is not the name of a data set")
    mark = {"type": spec["mark"]} if isinstance(spec["mark"], str) else spec["mark"]
    yield _Marked(mark, encoding, data["name"], _filter(spec.get("transform", []), where), where)


def _filter(transforms: list[Mapping[str, Any]], where: str) -> str | None:
    if not transforms:
        return None
    match = _FILTER.fullmatch(str(transforms[0].get("filter", "")))
    if len(transforms) > 1 or match is None:
        raise NotDrawn(f"{where}.transform is outside of what is drawn; drawn is a filter by a field")
    return match[1] or match[2]


def _unit(spec: Mapping[str, Any], outer: _Outer) -> Drawing:
    """One plot, its layers and axes."""
    sizes = (spec.get("width"), spec.get("height"))
    if not all(isinstance(size, int | float) for size in sizes):
        raise NotDrawn(f"width and height are {sizes[0]!r} and {sizes[1]!r}; drawn are px")
    config = outer.config
    only(config.get("axis", {}), axes.SETTINGS, "config.axis")
    plot = Plot(float(sizes[0] or 0), float(sizes[1] or 0), outer.params, outer.datasets, config.get("axis", {}))
    layers = list(_layers(spec, {}, None, "specification"))
    groups: list[str] = []
    boxes: list[Box | None] = [Box(0.0, 0.0, plot.width, plot.height)]
    scales: dict[str, Scale | None] = {}
    upper: list[str] = []
    for channel in ("x", "y"):
        asked, axis = _shared(layers, channel)
        scales[channel] = None
        if asked is None:
            continue
        across = channel == "x"
        scale = scales[channel] = scale_of(asked, plot, across=across, where=channel)
        if axis is None:
            continue
        only(config.get(f"axis{channel.upper()}", {}), axes.SETTINGS, f"config.axis{channel.upper()}")
        axis = {**config.get(f"axis{channel.upper()}", {}), **axis}
        grid, *rest = axes.axis(axis, scale, plot, outer.paint, across=across, where=f"{channel}.axis")
        groups.append(written(grid))
        upper += [written(group) for group in rest]
        taken = [piece.box for group in (grid, *rest) for piece in group]
        boxes += [box.moved(-axes.CRISP, -axes.CRISP) for box in taken if box is not None]
    groups += upper
    for one in layers:
        rows = outer.datasets.get(one.data)
        if rows is None:
            raise NotDrawn(f"{one.where}.data {one.data!r} is not among the data sets")
        if one.kept is not None:
            rows = [row for row in rows if row.get(one.kept)]
        layer = Layer(one.mark["type"], one.mark, one.encoding, plot, scales["x"], scales["y"], outer.paint, one.where)
        drawn = pieces(layer, rows)
        groups.append(written(drawn))
        boxes += [piece.box for piece in drawn]
    whole = around(boxes)
    assert whole is not None
    return Drawing("".join(groups), whole)


def _shared(layers: list[_Marked], channel: str) -> tuple[dict[str, Any] | None, dict[str, Any] | None]:
    """Scale and axis of a channel, which all layers of a plot share; None for an axis that none asks for."""
    scale: dict[str, Any] | None = None
    axis: dict[str, Any] | None = None
    silent = fixed = False
    for one in layers:
        given = one.encoding.get(channel, {})
        if "value" in given:
            continue
        for name, earlier in (("scale", scale), ("axis", axis)):
            if given.get(name) and earlier and given[name] != earlier:
                raise NotDrawn(f"{one.where}.{channel}.{name} is another than that of an earlier layer")
        scale, axis = scale or given.get("scale"), axis or given.get("axis")
        fixed = fixed or "datum" in given
        silent = silent or ("axis" not in given and bool(given))
    if fixed and scale is not None and scale.get("nice") is not False:
        raise NotDrawn(f"{channel}.scale.nice is missing, which a datum needs; drawn is False")
    if silent and axis is None and scale is not None:
        raise NotDrawn(f"{channel}.axis is missing; drawn are null and an axis with its title")
    return scale, axis
