"""Marks: the rows of a data set as pieces of a drawing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Any

from builder.charts.channels import Reading, Row, look, position, words
from builder.charts.grammar import NotDrawn, Plot, must, only
from builder.charts.lettering import Lettering, lettered, look_of_letters
from builder.charts.pieces import Box, Look, Paint, Piece, number, straight
from builder.charts.scales import Scale
from builder.charts.symbols import symbol

_PAINTED = ("color", "fill", "stroke", "opacity", "fillOpacity", "strokeOpacity", "strokeWidth", "strokeDash")
_MARK = {
    "area": ("interpolate", "line"),
    "line": ("interpolate",),
    "point": ("filled", "shape", "size"),
    "rect": (),
    "rule": (),
    "text": ("align", "angle", "baseline", "dx", "dy", "fontSize", "fontWeight", "strokeJoin"),
}
_CHANNELS = {
    "area": ("x", "y", "y2", "detail"),
    "line": ("x", "y", "detail"),
    "point": ("x", "y", "shape", "size"),
    "rect": ("x", "y", "x2", "y2"),
    "rule": ("x", "y", "x2", "y2"),
    "text": ("x", "y", "text"),
}
# All that a mark and its channels may say.
_OF_MARK = {kind: frozenset(("type", *_PAINTED, *more)) for kind, more in _MARK.items()}
_OF_CHANNELS = {kind: frozenset(("href", *_PAINTED, *more)) for kind, more in _CHANNELS.items()}
_FILLED = ("area", "rect", "text")  # what `color` means for them; for the others it is the stroke
_STROKE_WIDTH = {"line": 2, "point": 2}  # Vega-Lite's own; 1 for the others, which SVG has, too
_SVG_NAMES = {
    "fill": "fill",
    "stroke": "stroke",
    "opacity": "opacity",
    "fillOpacity": "fill-opacity",
    "strokeOpacity": "stroke-opacity",
    "strokeWidth": "stroke-width",
    "strokeJoin": "stroke-linejoin",
}
TEXT_SIZE = 11.0  # Vega-Lite's own [px]


@dataclass(frozen=True, slots=True)
class Layer:
    """One mark with its channels, on a plot."""

    kind: str
    mark: Mapping[str, Any]
    encoding: Mapping[str, Any]
    plot: Plot
    x: Scale | None
    y: Scale | None
    paint: Paint
    where: str

    def place(self, channel: str) -> Reading | None:
        """How a row reads a channel of place."""
        scale = self.x if channel.startswith("x") else self.y
        return position(self.encoding.get(channel), scale, self.plot, f"{self.where}.{channel}")

    def value(self, name: str, otherwise: Any = None) -> Any:
        """A property of the mark."""
        return self.plot.literal(self.mark.get(name, otherwise), f"{self.where}.mark.{name}")


def pieces(layer: Layer, rows: Sequence[Row]) -> list[Piece]:
    """The rows as drawn. Raises NotDrawn for a mark, property or channel outside of what is drawn."""
    if layer.kind not in _MARK:
        raise NotDrawn(f"{layer.where}.mark {layer.kind!r} is outside of what is drawn")
    only(layer.mark, _OF_MARK[layer.kind], f"{layer.where}.mark")
    only(layer.encoding, _OF_CHANNELS[layer.kind], layer.where)
    href = words(layer.encoding.get("href"), layer.plot, f"{layer.where}.href")
    drawn = _DRAWN[layer.kind](layer, rows, _look(layer))
    return [Piece(p.tag, p.place, p.look, p.box, p.text, href(row)) if href else p for row, p in drawn]


Drawn = Iterator[tuple[Row, Piece]]


def _look(layer: Layer) -> Callable[[Row], Look]:
    """The presentation attributes of a row."""
    encoding = layer.encoding
    filled = layer.kind in _FILLED or (layer.kind == "point" and bool(layer.mark.get("filled")))
    fixed: dict[str, Any] = {name: layer.value(name) for name in (*_SVG_NAMES, "strokeDash") if name in layer.mark}
    read = {
        name: look(encoding[name], layer.plot, f"{layer.where}.{name}")
        for name in (*_SVG_NAMES, "strokeDash")
        if name in encoding
    }
    side = "fill" if filled else "stroke"
    if "color" in encoding:
        read.setdefault(side, look(encoding["color"], layer.plot, f"{layer.where}.color"))
    elif side not in fixed and "color" in layer.mark:
        fixed[side] = layer.value("color")
    shown = any(fixed.get(name) is not None or name in read for name in ("fill", "stroke"))
    if (side not in fixed and side not in read) or not shown:
        raise NotDrawn(f"{layer.where}.mark.color is missing")
    if "strokeWidth" not in read and "stroke" in {**fixed, **read}:
        fixed.setdefault("strokeWidth", _STROKE_WIDTH.get(layer.kind, 1))
    if layer.kind == "point":
        fixed.setdefault("opacity", 0.7)
    paint = layer.paint
    always = _attributes(fixed, paint)
    if not read:
        return lambda row: always
    return lambda row: {**always, **_attributes({name: one(row) for name, one in read.items()}, paint)}


def _attributes(values: Mapping[str, Any], paint: Paint) -> Look:
    attributes: Look = {}
    for name, value in values.items():
        if value is None:
            continue
        if name in ("fill", "stroke"):
            attributes[name] = paint(value)
        elif name == "strokeDash":
            if sum(value[1::2]):  # a dash without gaps is a line
                attributes["stroke-dasharray"] = ",".join(number(length) for length in value)
        elif name == "strokeJoin":
            attributes["stroke-linejoin"] = value
        elif float(value) != 1:  # what SVG takes for granted
            attributes[_SVG_NAMES[name]] = number(float(value))
    return attributes


def _edge(attributes: Look) -> float:
    """Half the width of the stroke, which lies outside of a shape. [px]"""
    return float(attributes.get("stroke-width", 1)) / 2 if "stroke" in attributes else 0.0


def _spans(layer: Layer, first: str, second: str, whole: float) -> Callable[[Row], tuple[float, float] | None]:
    """Both ends along one direction by row; the whole plot where no channel says anything, None where a value lacks."""
    one, other = layer.place(first), layer.place(second)
    if one is None:
        if other is not None:
            raise NotDrawn(f"{layer.where}.{second} needs {first}")
        return lambda row: (0.0, whole)

    def read(row: Row) -> tuple[float, float] | None:
        start = one(row)
        if start is None:
            return None
        end = start if other is None else other(row)
        return None if end is None else (start, end)

    return read


def _boxes(layer: Layer, rows: Sequence[Row]) -> Iterator[tuple[Row, float, float, float, float]]:
    across, down = _spans(layer, "x", "x2", layer.plot.width), _spans(layer, "y", "y2", layer.plot.height)
    for row in rows:
        x, y = across(row), down(row)
        if x is not None and y is not None:
            yield row, x[0], y[0], x[1], y[1]


def _rects(layer: Layer, rows: Sequence[Row], look_of: Callable[[Row], Look]) -> Drawn:
    for row, x, y, x2, y2 in _boxes(layer, rows):
        attributes = look_of(row)
        box = Box(min(x, x2), min(y, y2), max(x, x2), max(y, y2))
        wide, high = number(box.right - box.left), number(box.bottom - box.top)
        place = f'd="M{number(box.left)},{number(box.top)}h{wide}v{high}h-{wide}Z"'
        yield row, Piece("path", place, attributes, box.grown(_edge(attributes)))


def _rules(layer: Layer, rows: Sequence[Row], look_of: Callable[[Row], Look]) -> Drawn:
    for row, x, y, x2, y2 in _boxes(layer, rows):
        attributes = look_of(row)
        box = Box(min(x, x2), min(y, y2), max(x, x2), max(y, y2)).grown(_edge(attributes))
        yield row, Piece("path", straight(x, y, x2 - x, y2 - y), attributes, box)


def _spots(layer: Layer, rows: Sequence[Row]) -> Iterator[tuple[Row, float, float]]:
    x, y = layer.place("x"), layer.place("y")
    if x is None or y is None:
        raise NotDrawn(f"{layer.where} needs x and y")
    for row in rows:
        left, top = x(row), y(row)
        if left is not None and top is not None:
            yield row, left, top


def _points(layer: Layer, rows: Sequence[Row], look_of: Callable[[Row], Look]) -> Drawn:
    def channel(name: str, otherwise: Any) -> Reading:
        if name in layer.encoding:
            return look(layer.encoding[name], layer.plot, f"{layer.where}.{name}")
        fixed = layer.value(name, otherwise)
        return lambda row: fixed

    shape, size = channel("shape", "circle"), channel("size", 30)
    for row, x, y in _spots(layer, rows):
        attributes, kind = look_of(row), shape(row)
        path, room = symbol(kind, float(size(row)))
        if kind == "circle":
            tag, place = "circle", f'cx="{number(x)}" cy="{number(y)}" r="{number(room.right)}"'
        else:
            tag, place = "path", f'transform="translate({number(x)},{number(y)})" d="{path}"'
        yield row, Piece(tag, place, attributes, room.moved(x, y).grown(_edge(attributes)))


def _texts(layer: Layer, rows: Sequence[Row], look_of: Callable[[Row], Look]) -> Drawn:
    text = words(layer.encoding.get("text"), layer.plot, f"{layer.where}.text")
    if text is None:
        raise NotDrawn(f"{layer.where}.text is missing")
    look_of_text = Lettering(
        size=float(layer.value("fontSize", TEXT_SIZE)),
        bold=layer.value("fontWeight", "normal") in ("bold", 700),
        align=layer.value("align", "center"),
        baseline=layer.value("baseline", "middle"),
        angle=float(layer.value("angle", 0)),
    )
    dx, dy = float(layer.value("dx", 0)), float(layer.value("dy", 0))
    must(layer.mark, "fontWeight", (None, "normal", "bold", 400, 700), f"{layer.where}.mark")
    attributes: Look | None = None
    shown: Look = {}
    for row, x, y in _spots(layer, rows):
        if line := text(row):
            if (of_row := look_of(row)) is not attributes:
                attributes, shown = of_row, look_of_letters(look_of_text, of_row)
            yield row, lettered(line, x, y, look_of_text, shown, dx=dx, dy=dy)


def _stretches(layer: Layer, rows: Sequence[Row]) -> Iterator[list[Row]]:
    """Rows that one line joins: those of one value of every channel that names a series, as they come."""
    channels = ("detail", "color", "fill", "stroke", "strokeDash", "opacity", "strokeWidth")
    given = [layer.encoding[name] for name in channels if name in layer.encoding]
    details = [one for entry in given for one in (entry if isinstance(entry, list) else [entry])]
    fields = [one["field"] for one in details if "field" in one]
    series: dict[tuple[Any, ...], list[Row]] = {}
    for row in rows:
        series.setdefault(tuple(row.get(field) for field in fields), []).append(row)
    yield from series.values()


def _joined(
    layer: Layer, rows: Sequence[Row], look_of: Callable[[Row], Look], path: Callable[[list[tuple[float, ...]]], str]
) -> Drawn:
    readings = [layer.place(name) for name in ("x", "y", "y2") if name in layer.encoding]
    if len(readings) < 2 or "x" not in layer.encoding:
        raise NotDrawn(f"{layer.where} needs x and y")
    for stretch in _stretches(layer, rows):
        read = [tuple(one(row) for one in readings if one is not None) for row in stretch]
        # Along x; a row without a value interrupts the line.
        order = sorted(range(len(read)), key=lambda i: (read[i][0] is None, read[i][0] or 0.0))
        parts = [[read[i] for i in part] for whole, part in groupby(order, key=lambda i: None not in read[i]) if whole]
        if not parts:
            continue
        attributes = look_of(stretch[0])
        across = [place[0] for part in parts for place in part]
        down = [y for part in parts for place in part for y in place[1:]]
        box = Box(min(across), min(down), max(across), max(down)).grown(_edge(attributes))
        yield stretch[0], Piece("path", f'd="{"".join(path(part) for part in parts)}"', attributes, box)


def _stepped(layer: Layer) -> bool:
    must(layer.mark, "interpolate", (None, "linear", "step-after"), f"{layer.where}.mark")
    return layer.mark.get("interpolate") == "step-after"


def _through(places: Sequence[tuple[float, float]], *, stepped: bool, start: str = "M") -> str:
    """A path along places; stepped: at the height of each up to the next, or back down to the one before."""
    text = [f"{start}{number(places[0][0])},{number(places[0][1])}"]
    back = len(places) > 1 and places[-1][0] < places[0][0]
    for (_, y0), (x, y) in pairwise(places):
        if not stepped:
            text.append(f"L{number(x)},{number(y)}")
        elif back:
            text.append(f"V{number(y)}H{number(x)}")
        else:
            text.append(f"H{number(x)}" if y == y0 else f"H{number(x)}V{number(y)}")
    return "".join(text)


def _lines(layer: Layer, rows: Sequence[Row], look_of: Callable[[Row], Look]) -> Drawn:
    stepped = _stepped(layer)
    # A place without a neighbour is a line of no length: Vega closes it, and a butt end shows nothing of it.
    return _joined(layer, rows, look_of, lambda part: _through([(x, y) for x, y in part], stepped=stepped))


def _areas(layer: Layer, rows: Sequence[Row], look_of: Callable[[Row], Look]) -> Drawn:
    must(layer.mark, "line", (None, False), f"{layer.where}.mark")
    if "y2" not in layer.encoding:
        raise NotDrawn(f"{layer.where}.y2 is missing")
    stepped = _stepped(layer)

    def path(part: list[tuple[float, ...]]) -> str:
        there = _through([(x, y) for x, y, _ in part], stepped=stepped)
        return there + _through([(x, y2) for x, _, y2 in reversed(part)], stepped=stepped, start="L") + "Z"

    return _joined(layer, rows, look_of, path)


_DRAWN: dict[str, Callable[[Layer, Sequence[Row], Callable[[Row], Look]], Drawn]] = {
    "area": _areas,
    "line": _lines,
    "point": _points,
    "rect": _rects,
    "rule": _rules,
    "text": _texts,
}
