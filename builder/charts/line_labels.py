"""Names that stand on the lines of a chart: where each goes, so that none lies on another or leaves the plot.

A name stands above or below its own line, where the other lines are farthest. There is no legend and no leader line.
Where a name cannot stand nearest to its own line, it is told to bring a sample of its mark along.
Places are px from the top left corner of the plot, y growing downwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.charts.label_text import Box, LabelText

Floats = NDArray[np.float64]

STEP = 8  # between the places that are looked at [px]
MARK = 7  # a mark reaches this far from its place [px]
SAMPLE = 20  # of a mark before its name [px]
LEADING = 1.25  # of a text's size is its height, with a little air

_GAP = 6  # between a line and its name [px]
_NEAR_LEVELS = 3  # heights of a name that it may stand off its line, tried first
_ANYWHERE = 0  # at last: wherever there is room
_CLEAR = 60  # beyond that a neighbour is far enough [px]
_ON_A_LINE, _ON_A_BAND, _A_LEVEL, _NEARER_TO_ANOTHER, _OUTWARD, _AWAY = 200.0, 14.0, 25.0, 60.0, 8.0, 0.4
_SURE = 3  # a name is nearer to its own line than to any other by this much [px]


@dataclass(frozen=True, slots=True)
class LineShape:
    """How far one line reaches up and down at places STEP px apart; nan where it does not go. Shape (p,). [px]

    upper, lower            the line and its marks
    band_upper, band_lower  its interval; nan where there is none
    """

    upper: Floats
    lower: Floats
    band_upper: Floats
    band_lower: Floats


@dataclass(frozen=True, slots=True)
class Place:
    """Where a name stands.

    x, y    the place where its parts meet, and the middle of its height [px]
    sample  where a sample of its mark stands before it; None where it needs none [px]
    score   how well it stands; below 0 it lies on another line, or far from its own
    box     what is kept free for it
    """

    x: float
    y: float
    sample: float | None
    score: float
    box: Box


def placed(
    shapes: Sequence[LineShape],
    texts: Sequence[LabelText],
    *,
    size: float,
    width: float,
    top: float,
    bottom: float,
    taken: Sequence[Box] = (),
) -> list[Place]:
    """A place for the name of each line.

    size         of the text [px]
    width        of the plot; no name is wider (`LabelText.cut`) [px]
    top, bottom  what names stay between [px]
    taken        where no name may stand
    Raises       ValueError where the names together do not fit between *top* and *bottom*.
    """
    choices = [_Choices(shapes, i, text, size, width, top, bottom, taken) for i, text in enumerate(texts)]
    order = sorted(range(len(texts)), key=lambda i: choices[i].best)
    places: dict[int, Place] = {}
    for i in order:
        places[i] = choices[i].choose([places[j].box for j in places])
    for i in order:  # once more, now that all others stand
        again = choices[i].choose([places[j].box for j in places if j != i])
        if again.score > places[i].score:
            places[i] = again
    return [places[i] for i in range(len(texts))]


@dataclass(frozen=True, slots=True)
class _Boxes:
    """Where a name might stand; arrays of shape (c,). [px]

    left, top     corners of what is kept free; all are *wide* px wide, *before* of it for a sample of the mark
    score         how well it would stand
    sure          whether it is nearest to its own line
    """

    left: Floats
    top: Floats
    wide: float
    before: float
    score: Floats
    sure: NDArray[np.bool_]


class _Choices:
    """Where the name of one line may stand, and how well."""

    def __init__(
        self,
        shapes: Sequence[LineShape],
        number: int,
        text: LabelText,
        size: float,
        width: float,
        top: float,
        bottom: float,
        taken: Sequence[Box],
    ) -> None:
        self.shapes, self.number, self.taken = shapes, number, taken
        self.left, self.height = text.left(size), size * LEADING
        self.wide = min(self.left + text.right(size), width)
        self.width, self.top, self.bottom = width, top, bottom
        self.known: dict[tuple[int, float], _Boxes] = {}
        self.best = float(self._boxes(_NEAR_LEVELS, 0).score.max(initial=-math.inf))

    def choose(self, others: Sequence[Box]) -> Place:
        """The best place that is free of *others*."""
        place = self._free(self._boxes(_NEAR_LEVELS, 0), others, only_sure=True)
        # Where it is not sure whose name it is, it needs a sample of its mark, and room for that.
        for levels, before in ((_NEAR_LEVELS, SAMPLE), (_ANYWHERE, SAMPLE), (_ANYWHERE, 0)):
            place = place or self._free(self._boxes(levels, before), others)
        if place is None:
            raise ValueError("the names of the lines do not fit into the plot")
        return place

    def _free(self, boxes: _Boxes, others: Sequence[Box], *, only_sure: bool = False) -> Place | None:
        right, bottom = boxes.left + boxes.wide, boxes.top + self.height
        free = boxes.sure.copy() if only_sure else np.ones(boxes.left.shape, dtype=np.bool_)
        for x, y, x2, y2 in (*self.taken, *others):
            free &= (right <= x) | (x2 <= boxes.left) | (bottom <= y) | (y2 <= boxes.top)
        if not free.any():
            return None
        best = int(np.argmax(np.where(free, boxes.score, -np.inf)))
        x, y = float(boxes.left[best]), float(boxes.top[best])
        return Place(
            x=x + boxes.before + self.left,
            y=y + self.height / 2,
            sample=x + MARK if boxes.before >= 2 * MARK else None,
            score=float(boxes.score[best]),
            box=(x, y, x + boxes.wide, y + self.height),
        )

    def _boxes(self, levels: int, before: float) -> _Boxes:
        if (levels, before) not in self.known:
            self.known[levels, before] = self._weighed(levels, before)
        return self.known[levels, before]

    def _weighed(self, levels: int, before: float) -> _Boxes:
        """Boxes that touch the line's own stretch, at several heights above and below it, with their scores.

        before  what a sample of the mark takes, as far as the plot is wide enough [px]
        """
        own = self.shapes[self.number]
        before = min(before, max(self.width - self.wide, 0.0))
        wide = self.wide + before
        window = min(math.ceil(wide / STEP) + 1, len(own.upper))
        starts = np.arange(len(own.upper) - window + 1)

        # A row for each place of a window: the least of short columns is found much sooner than that of short rows.
        places = np.arange(window)[:, None] + starts
        highest_of, lowest_of = _least(own.upper, places), -_least(-own.lower, places)
        touches = np.isfinite(highest_of)
        tops: list[Floats] = []
        rows: list[float] = []
        for level in range(levels):
            away = level * self.height
            # First off the interval, then off the line itself, then farther and farther away.
            edges = [(highest_of, lowest_of)]
            if level == 0:
                high, low = _least(own.band_upper, places), -_least(-own.band_lower, places)
                edges.append((np.minimum(highest_of, high), np.maximum(lowest_of, low)))
            for high, low in edges:
                tops += [high - _GAP - self.height - away, low + _GAP + away]
                rows += [level, level]
        if levels == _ANYWHERE:
            touches = np.ones(len(starts), dtype=np.bool_)
            tops = [np.full(len(starts), at) for at in np.arange(self.top, self.bottom - self.height, _GAP)]
            rows = [_NEAR_LEVELS] * len(tops)
        top, start = np.concatenate(tops), np.tile(starts, len(tops))
        level_of = np.repeat(np.array(rows, dtype=float), len(starts))
        inside = np.tile(touches, len(tops)) & (top >= self.top) & (top + self.height <= self.bottom)
        top, start, level_of = top[inside], start[inside], level_of[inside]
        left = np.minimum(start * float(STEP), max(self.width - wide, 0.0))
        under = places[:, start]

        def gap(above: Floats, below: Floats) -> Floats:
            """Least distance upright between each box and what reaches from *above* to *below*; inf where nothing is."""
            apart = np.maximum(_far(above)[under] - (top + self.height), top + _far(-below)[under])
            return np.asarray(apart.min(axis=0, initial=np.inf))

        mine, height = gap(own.upper, own.lower), _mean((own.upper + own.lower) / 2, window)[start]
        middle = top + self.height / 2
        others, on_band = np.full(top.shape, np.inf), np.zeros(top.shape, dtype=np.bool_)
        highest, lowest = np.ones(top.shape, dtype=np.bool_), np.ones(top.shape, dtype=np.bool_)
        for number, shape in enumerate(self.shapes):
            on_band |= gap(shape.band_upper, shape.band_lower) < 0
            if number != self.number:
                others = np.minimum(others, gap(shape.upper, shape.lower))
                theirs = _mean((shape.upper + shape.lower) / 2, window)[start]
                highest &= ~(theirs < height)
                lowest &= ~(theirs > height)
        sure = (others >= mine + _SURE) & (level_of == 0)
        score = (
            np.clip(others, 0, _CLEAR)
            - _ON_A_LINE * (others < 0)
            - _ON_A_BAND * on_band
            - _A_LEVEL * level_of
            - _NEARER_TO_ANOTHER * ~sure
            + _OUTWARD * np.where(middle < height, highest, lowest)
            - _AWAY * np.minimum(np.nan_to_num(np.abs(middle - height), nan=200.0), 200)
            - 0.01 * left
        )
        return _Boxes(left, top, wide, before, score, sure)


def _far(values: Floats) -> Floats:
    """With inf where there is nothing."""
    return np.where(np.isnan(values), np.inf, values)


def _least(values: Floats, places: NDArray[np.intp]) -> Floats:
    """Of the values at some places, down the columns; inf where there is nothing."""
    return np.asarray(_far(values)[places].min(axis=0))


def _mean(values: Floats, window: int) -> Floats:
    """Of each so many values in a row; nan where there is nothing."""
    near = np.lib.stride_tricks.sliding_window_view(values, window)
    there = ~np.isnan(near)
    count, total = there.sum(axis=1), np.where(there, near, 0.0).sum(axis=1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
