"""The joined line of one device in one group, and what two lines share.

x is dB of loss, or minus the received level in dBm. Knots are measured cells; cells at the same x are
first averaged by their number of repeats. Straight lines join neighbouring knots, none across a gap
above 12 dB, and nothing goes beyond the end knots (method.md, section 2).

The functions that take knots as columns, shape (k, r), serve r lines at once; a line with fewer knots than another is
filled up with x not a number and y 0. One line of shape (k, 1) serves r places. `JoinedLine` asks them for one line.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from catalog.method import MAX_GAP_DB, MIN_KNOTS

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]
Flags = NDArray[np.bool_]

# Losses are sums of decimals that floats only come near to: what differs by less is the same.
SAME_X_DB = 1e-9


@dataclass(frozen=True)
class JoinedLine:
    """One device's line.

    x        knots, ascending, shape (k,). [dB]
    y        values at the knots, shape (k,). [Mbit/s]
    bound    whether a knot is only a lower bound, shape (k,)
    member   knot of every cell handed in, shape (c,)
    share    share of every cell in its knot's value, shape (c,); those of one knot add to 1
    """

    x: Floats
    y: Floats
    bound: Flags
    member: Whole
    share: Floats

    @property
    def tested(self) -> tuple[float, float]:
        """The outermost knots. [dB]"""
        return float(self.x[0]), float(self.x[-1])

    @cached_property
    def pieces(self) -> list[tuple[float, float]]:
        """Stretches without a gap, ascending; a lone knot is a stretch of no length. [dB]"""
        x = self._knots[0]
        breaks: list[int] = np.flatnonzero(~joined(self.x)).tolist()
        return [(x[s], x[e]) for s, e in zip([0, *(b + 1 for b in breaks)], [*breaks, len(x) - 1], strict=True)]

    @cached_property
    def _knots(self) -> tuple[list[float], list[float]]:
        """x and y as plain numbers: for a single place they take a tenth of the time of arrays."""
        return self.x.tolist(), self.y.tolist()

    def _place(self, at: float) -> tuple[int, float]:
        """What `places_on` gives for one place."""
        x, _ = self._knots
        knot = min(max(bisect_right(x, at + SAME_X_DB) - 1, 0), max(len(x) - 2, 0))
        left, right = x[knot], x[min(knot + 1, len(x) - 1)]
        if at - left <= SAME_X_DB:
            return knot, 0.0
        return knot, 1.0 if right - at <= SAME_X_DB else (at - left) / (right - left)

    def covers(self, low: float, high: float) -> bool:
        """Whether one stretch without a gap holds the whole range."""
        return any(start <= low + SAME_X_DB and high <= end + SAME_X_DB for start, end in self.pieces)

    def knots_within(self, low: float, high: float) -> Whole:
        """Knots inside the range or on its edge."""
        return np.flatnonzero((self.x >= low - SAME_X_DB) & (self.x <= high + SAME_X_DB))

    def mean_weights(self, low: float, high: float) -> Floats:
        """Weights over the knots whose sum with y is the exact mean of the line over a covered range.

        Shape (k,), adding to 1. The range must lie inside one stretch and have a length.
        """
        assert high > low
        assert self.covers(low, high)
        return range_weights(self.x[:, np.newaxis], np.array([low]), np.array([high]))[:, 0]

    def point_weights(self, x: float) -> Floats:
        """Weights over the knots that give the line at *x*, shape (k,); x must be covered."""
        assert self.covers(x, x)
        knot, share = self._place(x)
        weights = np.zeros(len(self.x))
        weights[knot] = 1 - share
        if share:
            weights[knot + 1] = share
        return weights

    def at(self, x: Sequence[float]) -> list[float]:
        """The line at covered places. [Mbit/s]"""
        y = self._knots[1]
        places = [self._place(at) for at in x]
        return [(1 - share) * y[knot] + share * y[min(knot + 1, len(y) - 1)] for knot, share in places]

    def slope(self, low: float, high: float) -> float:
        """Least-squares slope of the knots inside a covered range. [Mbit/s per dB]

        Where fewer than two knots lie inside, the slope between the range's two ends. For a single point it is
        the slope of the stretch's knots around it: the neighbours on both sides.
        """
        inside = self.knots_within(low, high)
        if len(inside) >= MIN_KNOTS:
            x, y = self.x[inside, np.newaxis], self.y[inside, np.newaxis]
            return float(slopes_through(x, y, np.ones(x.shape, dtype=np.bool_))[0])
        if high - low > SAME_X_DB:
            at_low, at_high = self.at((low, high))
            return (at_high - at_low) / (high - low)
        piece = next((p for p in self.pieces if p[0] - SAME_X_DB <= low <= p[1] + SAME_X_DB), None)
        if piece is None or piece[1] - piece[0] <= SAME_X_DB:
            return 0.0  # a lone knot: nothing is known of how the line falls
        around = [x for x in self._knots[0] if piece[0] <= x <= piece[1]]
        left = max((x for x in around if x < low - SAME_X_DB), default=low)
        right = min((x for x in around if x > low + SAME_X_DB), default=low)
        at_left, at_right = self.at((left, right))
        return (at_right - at_left) / (right - left)

    def cell_weights(self, knot_weights: Floats) -> Floats:
        """The weights of the cells behind weighted knots, shape (c,)."""
        return knot_weights[self.member] * self.share


def joined_line(x: Sequence[float], y: Sequence[float], n: Sequence[int], bound: Sequence[bool]) -> JoinedLine:
    """Join measured cells into a line.

    x  place of each cell, shape (c,), any order, c >= 1. [dB]
    y  its value. [Mbit/s]
    n  its finished repeats, at least 1: the weight among cells at the same place. [1]
    bound  whether it is only a lower bound
    """
    place, value, repeats = np.asarray(x, float), np.asarray(y, float), np.asarray(n, float)
    order = np.argsort(place, kind="stable")
    fresh = np.concatenate([[True], np.diff(place[order]) > SAME_X_DB])
    member = np.empty(len(place), dtype=np.intp)
    member[order] = np.cumsum(fresh) - 1
    total = np.bincount(member, weights=repeats)
    share = repeats / total[member]
    return JoinedLine(
        x=place[order][fresh],
        y=np.asarray(np.bincount(member, weights=share * value), dtype=np.float64),
        bound=np.bincount(member, weights=np.asarray(bound, float)) > 0,
        member=member,
        share=share,
    )


def places_on(x: Floats, at: Floats) -> tuple[Whole, Floats]:
    """The knot before each place of a line, and the share of the way from it to the next, both of shape (r,).

    A place that is a knot but for rounding is that knot: its neighbour plays no part.

    x   knots, ascending, shape (k, r) or (k, 1). [dB]
    at  places between the end knots, shape (r,). [dB]
    """
    last_piece = np.maximum((~np.isnan(x)).sum(axis=0) - 2, 0)
    knot = np.clip((x <= at + SAME_X_DB).sum(axis=0) - 1, 0, last_piece)
    x = np.broadcast_to(x, (len(x), len(at)))
    across = np.arange(len(at))
    left, right = x[knot, across], x[np.minimum(knot + 1, len(x) - 1), across]
    share = np.divide(at - left, right - left, out=np.zeros(len(at)), where=right - left > 0)
    share = np.where(at - left <= SAME_X_DB, 0.0, np.where(right - at <= SAME_X_DB, 1.0, share))
    return np.asarray(knot, dtype=np.intp), share


def point_weights(knot: Whole, share: Floats, knots: int) -> Floats:
    """Weights over the knots that give lines at r places, adding to 1, shape (knots, r).

    knot, share  of each place, as `places_on` gives them
    """
    weights, across = np.zeros((knots + 1, len(knot))), np.arange(len(knot))  # one more, for share 0 at the last knot
    weights[knot, across] = 1 - share
    weights[knot + 1, across] = share
    return weights[:-1]


def range_weights(x: Floats, low: Floats, high: Floats) -> Floats:
    """Weights over the knots whose sum with y is the exact mean of each line over a range, adding to 1, shape (k, r).

    x          knots, ascending, shape (k, r). [dB]
    low, high  ranges of some length that each line covers, shape (r,). [dB]
    """
    with np.errstate(invalid="ignore"):  # x that is not a number weighs nothing
        start, end = np.maximum(x[:-1], low), np.minimum(x[1:], high)
        length = end - start
        used = length > SAME_X_DB
        # The integral of a straight piece is its length times its middle value.
        share = ((start + end) / 2 - x[:-1]) / (x[1:] - x[:-1])
        near, far = np.where(used, length * (1 - share), 0.0), np.where(used, length * share, 0.0)
    weights = np.zeros(x.shape)
    weights[:-1] += near
    weights[1:] += far
    # A running sum adds in the order of the knots whatever the shape, so that one line alone has the digits of many.
    return np.asarray(weights / weights.cumsum(axis=0)[-1])


def joined(x: Floats) -> Flags:
    """Whether a line is drawn between a knot and the next one, shape (k - 1, r), or (k - 1,) for one line."""
    return np.asarray(np.diff(x, axis=0) <= MAX_GAP_DB + SAME_X_DB)


def slopes_through(x: Floats, y: Floats, taken: Flags) -> Floats:
    """Least-squares slopes through those knots that are taken, 0 where fewer than two are, shape (r,). [Mbit/s per dB]

    x, y   shape (k, r) or (k, 1). [dB, Mbit/s]
    taken  shape (k, r)
    """
    count = taken.sum(axis=0)
    known = np.where(taken, x, 0.0)
    centred = np.where(taken, known - known.sum(axis=0) / np.maximum(count, 1), 0.0)
    squares = np.where(count < MIN_KNOTS, 1.0, (centred**2).sum(axis=0))
    return np.asarray((centred * y).sum(axis=0) / squares, dtype=np.float64)


def shared_range(a: JoinedLine, b: JoinedLine) -> tuple[float, float] | None:
    """The longest interval both lines cover without a gap; None where they share not even a point. [dB]"""
    best: tuple[float, float] | None = None
    for a_low, a_high in a.pieces:
        for b_low, b_high in b.pieces:
            low, high = max(a_low, b_low), min(a_high, b_high)
            if low <= high and (best is None or high - low > best[1] - best[0] + SAME_X_DB):
                best = (low, high)
    return best


def lead_changes(a: JoinedLine, b: JoinedLine, low: float, high: float) -> list[float]:
    """Where the two drawn lines cross inside a range both cover, ascending. [dB]

    A touch without a change of lead does not count; where they run together, the place where they meet does.
    """
    inner = [x for line in (a, b) for x in line._knots[0] if low < x < high]
    places = sorted({low, high, *inner})
    gaps = [of_a - of_b for of_a, of_b in zip(a.at(places), b.at(places), strict=True)]
    crossings: list[float] = []
    last = 0  # index of the last place where someone led
    for i, gap in enumerate(gaps):
        if gap == 0:
            continue
        if gaps[last] * gap < 0:
            if i == last + 1:
                crossings.append(places[last] + (places[i] - places[last]) * gaps[last] / (gaps[last] - gap))
            else:
                crossings.append(places[last + 1])
        last = i
    return crossings
