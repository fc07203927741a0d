"""Stills for video and articles: a figure on a picture of fixed size, with its question above and its source below.

A still is laid out at a third of its size and drawn three times as large: so its smallest text, 12 px in a layout,
is 36 px high, and lines and marks grow with it. Nothing lies within 5 % of an edge. The figure is fitted by laying
it out again, never by shrinking it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from builder.charts import face
from builder.charts.converting import converter
from builder.charts.drawer import Drawing, draw
from builder.charts.figures import Figure, Spec, bare
from builder.charts.rendering import Ground, coloured, painted, placed, text_line, whole_picture
from builder.charts.theme import GROUND, TEXT, TEXT_MUTED, Layout, balanced, wrapped

SCALE = 3
MARGIN = 0.05  # of either side
SMALLEST_TEXT_PX = 36

_NOTE = SMALLEST_TEXT_PX // SCALE
_TITLES = (20, 18, 16, 14)  # sizes tried for the question, the largest that takes two lines is taken
_MOST_TITLE_LINES = 2
_AIR = 8
_LEADING = 3
_SOFT = 1  # letters may reach a little over their place on either side
_TRIES = 6
_LEAST_PLOT = 110  # below this height what stands between the spots is left out

ShapeName = Literal["wide", "square"]


@dataclass(frozen=True, slots=True)
class Shape:
    """A size of picture [px], and the layout it is begun with."""

    width: int
    height: int
    ranking: Layout
    rows: Layout
    lines: Layout


SHAPES: dict[ShapeName, Shape] = {
    "wide": Shape(
        1920,
        1080,
        ranking=Layout(plot_width=250, plot_height=200, label_width=150, text=13, note=_NOTE),
        rows=Layout(plot_width=170, plot_height=200, label_width=222, text=13, note=_NOTE),
        lines=Layout(plot_width=500, plot_height=200, label_width=0, text=13, note=_NOTE),
    ),
    "square": Shape(
        1080,
        1080,
        ranking=Layout(plot_width=200, plot_height=200, label_width=0, text=13, note=_NOTE),
        rows=Layout(plot_width=300, plot_height=200, label_width=0, text=13, note=_NOTE),
        lines=Layout(plot_width=270, plot_height=180, label_width=0, text=13, note=_NOTE),
    ),
}
GROUNDS: tuple[Ground, ...] = ("light", "dark")


@dataclass(frozen=True, slots=True)
class Still:
    """A figure fitted to a shape: drawn once, coloured as often as wanted.

    parts  its lines or rows in the picture; fewer than the figure's where not all rows fit
    """

    figure: Figure
    shape: Shape
    layout: Layout
    title: tuple[str, ...]
    title_size: int
    stamp: tuple[str, ...]
    without_ruler: bool
    parts: int


def fitted(figure: Figure, shape: ShapeName, *, source: str) -> Still:
    """The figure laid out for a shape.

    source  who publishes, and where: stamped below the figure's own notes
    Raises  ValueError for a figure that cannot be laid out anew, or that no layout makes small enough.
    """
    if figure.drawn is None:
        raise ValueError(f"{figure.key} cannot be laid out anew")
    size = SHAPES[shape]
    width, _ = _inside(size)
    title_size, title = _title(figure.title, width)
    stamp = _stamp(figure, source, width, rows=figure.parts)
    datasets = figure.spec["datasets"]
    kinds = {"spots": size.ranking, "rows": size.rows}
    layout = next((one for name, one in kinds.items() if name in datasets), size.lines)
    still = Still(figure, size, layout, title, title_size, stamp, False, figure.parts)
    fitting = _lines_fitted(still) if layout == size.lines else _rows_fitted(still, source)
    if fitting is None:
        raise ValueError(f"{figure.key} does not fit {size.width} × {size.height} px in text of {SMALLEST_TEXT_PX} px")
    return fitting


def _lines_fitted(still: Still) -> Still | None:
    """With the walls between the spots if they leave the plot its height, else without."""
    width, room = _inside(still.shape)[0], _room(still)
    for without_ruler in (False, True):
        tried, fitting = replace(still, without_ruler=without_ruler), None
        for _ in range(_TRIES):
            wide, high = _natural_size(tried)
            layout = tried.layout
            if wide <= width and high <= room and layout.plot_height >= _LEAST_PLOT:
                fitting = tried
                if high >= room - 1:
                    break
            plot_height = int(layout.plot_height + room - high)
            plot_width = int(layout.plot_width + width - wide)
            tried = replace(tried, layout=replace(layout, plot_width=plot_width, plot_height=plot_height))
            if plot_height < _LEAST_PLOT:
                break
        if fitting is not None:
            return fitting
    return None


def _rows_fitted(still: Still, source: str) -> Still | None:
    """With as many rows, from the first, as there is room for; the stamp says how many are left out."""
    width = _inside(still.shape)[0]
    tried = replace(still, layout=replace(still.layout, plot_height=int(_room(still))))
    for _ in range(_TRIES + still.parts):
        spec = _spec(tried, None)
        rows = len(spec["datasets"].get("spots") or spec["datasets"]["rows"])
        tried = replace(tried, parts=rows, stamp=_stamp(still.figure, source, width, rows=rows))
        wide, high = _natural_size(tried)
        layout = tried.layout
        if wide > width or wide < width - 1:
            layout = replace(layout, plot_width=int(layout.plot_width + width - wide))
        elif high > _room(tried):
            left = int(_room(tried) - (high - spec["height"]))
            layout = replace(layout, plot_height=min(left, spec["height"] - 1))
        else:
            return tried
        tried = replace(tried, layout=layout)
    return None


def _room(still: Still) -> float:
    """Height between the question and the stamp. [px of the layout]"""
    lines = len(still.title) * (still.title_size + _LEADING) + len(still.stamp) * (_NOTE + _LEADING)
    return _inside(still.shape)[1] - lines - 2 * _AIR


def still_svg(still: Still, *, ground: Ground, shown: int | None = None, clear: bool = False) -> str:
    """The picture as SVG.

    shown  parts of the figure that are drawn, None for all: the frames of a reveal, on the same axes
    clear  without a ground, to be laid over something else
    """
    size = still.shape
    left, top = size.width / SCALE * MARGIN + _SOFT, size.height / SCALE * MARGIN
    height = _inside(size)[1]
    parts = [
        text_line(
            text,
            left,
            top + row * (still.title_size + _LEADING) - 5,
            still.title_size,
            coloured(TEXT, ground),
            bold=True,
        )
        for row, text in enumerate(still.title, start=1)
    ]
    chart = draw(_spec(still, shown), painted(ground))
    # A frame without its first names begins further left: the plots are laid upon each other, not the edges.
    whole = _whole(still)
    below = top + len(still.title) * (still.title_size + _LEADING) + _AIR
    parts.append(placed(chart, left + whole.left - chart.left, below + whole.top - chart.top))
    first = top + height - (len(still.stamp) - 1) * (_NOTE + _LEADING) - 3
    parts += [
        text_line(text, left, first + row * (_NOTE + _LEADING), _NOTE, coloured(TEXT_MUTED, ground))
        for row, text in enumerate(still.stamp)
    ]
    return whole_picture(
        still.figure,
        "".join(parts),
        size=(size.width, size.height),
        shown=(size.width / SCALE, size.height / SCALE),
        ground="" if clear else coloured(GROUND, ground),
    )


def _with_face(svg: str) -> str:
    """The picture with the face it is set in; the converter of pictures has that by itself."""
    head, desc, rest = svg.partition("</desc>")
    return f"{head}{desc}<style>{face.rules()}</style>{rest}"


def still_png(svg: str) -> bytes:
    """The picture as PNG, as large as its SVG says, in the one face the converter carries."""
    return bytes(converter().svg_to_png(svg))


def pictures(figure: Figure, *, source: str) -> Iterator[tuple[str, bytes]]:
    """(end of a file name, bytes) of every still of a figure: shapes, grounds, SVG, PNG, clear PNG, reveal frames."""
    for name in SHAPES:
        still = fitted(figure, name, source=source)
        stem = f"{still.shape.width}x{still.shape.height}"
        for ground in GROUNDS:
            svg = still_svg(still, ground=ground)
            yield f"{stem}-{ground}.svg", _with_face(svg).encode()
            yield f"{stem}-{ground}.png", still_png(svg)
            yield f"{stem}-{ground}-clear.png", still_png(still_svg(still, ground=ground, clear=True))
            for shown in range(still.parts if still.parts > 1 else 0):
                frame = still_svg(still, ground=ground, shown=shown)
                yield f"{stem}-{ground}-reveal-{shown}.png", still_png(frame)


def _inside(size: Shape) -> tuple[float, float]:
    """Width and height between the margins. [px of the layout]"""
    return size.width / SCALE * (1 - 2 * MARGIN) - 2 * _SOFT, size.height / SCALE * (1 - 2 * MARGIN)


def _title(text: str, width: float) -> tuple[int, tuple[str, ...]]:
    for size in _TITLES:
        lines = balanced(text, width, size, bold=True)
        if len(lines) <= _MOST_TITLE_LINES:
            return size, tuple(lines)
    return _TITLES[-1], tuple(lines)


def _stamp(figure: Figure, source: str, width: float, *, rows: int) -> tuple[str, ...]:
    """What is written below: the conditions of the figure, rows left out, and the source."""
    texts: Sequence[str] = [*figure.notes[:1], source]
    if rows < figure.parts:
        texts = [f"First {rows} of {figure.parts}.", *texts]
    return tuple(wrapped(" ".join(texts), width, _NOTE))


def _spec(still: Still, shown: int | None) -> Spec:
    drawn = still.figure.plainer or still.figure.drawn
    assert drawn is not None
    spec = bare(drawn(still.layout, shown))
    spec["padding"] = 0
    if still.without_ruler:
        spec["datasets"] = {name: [] if name.startswith("ruler") else rows for name, rows in spec["datasets"].items()}
    return spec


def _whole(still: Still) -> Drawing:
    """The drawing with all its parts; places do not depend on colours."""
    return draw(_spec(still, None), str)


def _natural_size(still: Still) -> tuple[float, float]:
    """Width and height of the drawing. [px of the layout]"""
    drawing = _whole(still)
    return drawing.width, drawing.height
