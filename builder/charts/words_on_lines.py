"""Words that stand on the lines of a chart over time: levels across the whole of it, and steps.

Places are px from the top left corner of the plot, y growing downwards.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from builder.charts.label_text import Box, LabelText
from builder.charts.theme import Layout, text_room

if TYPE_CHECKING:
    from builder.charts.line_labels import Floats

Points = Sequence[tuple[float, float]]

UNIT_FOOT = 14  # of the words over a plot above its frame [px]
_ABOVE = 26  # words may reach this far out of the plot, beside the others over it [px]


@dataclass(frozen=True, slots=True)
class WordedLine:
    """A line and what stands on it.

    pieces  of the line, each from point to point [px]
    around  pieces of what is drawn around it, which its words had better not lie on [px]
    """

    text: str
    pieces: Sequence[Points]
    around: Sequence[Points] = ()


def words_on_lines(
    lines: Mapping[str, WordedLine], *, size: float, width: float, height: float, taken: Sequence[Box], least: int = 1
) -> list[dict[str, Any]]:
    """Words for as many of the *lines* as the plot has room for, the last ones left out first: at least *least*.

    taken   where no words may stand, above the plot or in it
    Returns entries of level, x, at (the middle of its height), text, and where its sample begins and ends, None
            where it needs none because it stands nearest to its own line. [px]
    Raises  ValueError where *least* of them, or all of fewer, do not fit.
    """
    from builder.charts.line_labels import MARK, LineShape, placed  # numpy: only where charts are drawn

    shapes = [LineShape(*_reach(line.pieces, width), *_reach(line.around, width)) for line in lines.values()]
    texts = [LabelText("", line.text).cut(width, size) for line in lines.values()]
    for count in range(len(texts), min(least, len(texts)) - 1, -1):
        try:
            places = placed(shapes, texts[:count], size=size, width=width, top=-_ABOVE, bottom=height - 2, taken=taken)
        except ValueError:
            if count <= least:
                raise
            continue
        return [
            {
                "level": level,
                "x": place.x,
                "at": place.y,
                "text": text.text,
                "sample": None if place.sample is None else (place.sample - MARK, place.sample + MARK),
            }
            for level, text, place in zip(lines, texts, places, strict=False)
        ]
    raise AssertionError("no words always fit")


def over_the_plot(
    unit: str, unit_x: float, ended: str, ended_x: float, layout: Layout
) -> tuple[list[dict[str, Any]], list[Box]]:
    """The words over a plot: the unit at the left, and how a run ended at its last value, above the unit if they would
    meet; with the boxes they take. Entries of x (of the unit's left edge, of the other's right one), at (the baseline)
    and text. [px]
    """
    size = layout.text
    entries: list[dict[str, Any]] = [{"x": unit_x, "at": -float(UNIT_FOOT), "text": unit}]
    boxes: list[Box] = [(unit_x, -UNIT_FOOT - size, unit_x + text_room(unit, size), 4.0 - UNIT_FOOT)]
    if ended:
        wide = text_room(ended, size)
        right = max(ended_x, unit_x + wide)
        foot = -float(UNIT_FOOT) - (size + 5 if right - wide < boxes[0][2] + size else 0)
        entries.append({"x": right, "at": foot, "text": ended})
        boxes.append((right - wide, foot - size, right, foot + 4.0))
    return entries, boxes


def _reach(pieces: Iterable[Points], width: float) -> tuple[Floats, Floats]:
    """How far up and down pieces of a line reach around places STEP px apart; nan where none is. Shape (p,) each. [px]"""
    import numpy as np

    from builder.charts.line_labels import STEP

    count = math.ceil(width / STEP) + 1
    upper, lower = np.full(count, np.nan), np.full(count, np.nan)
    for piece in pieces:
        for (start, y), (end, y2) in pairwise(piece):
            # What lies between two places counts at both.
            near = slice(max(math.floor(start / STEP), 0), math.ceil(end / STEP) + 1)
            upper[near], lower[near] = np.fmin(upper[near], min(y, y2)), np.fmax(lower[near], max(y, y2))
    return upper, lower
