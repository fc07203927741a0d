"""The joined line of one device in one group, and what two lines share.

x is dB of loss, or minus the received level in dBm. Knots are measured cells; cells at the same x are
first averaged by their number of repeats. Straight lines join neighbouring knots, none across a gap
above 12 dB, and nothing goes beyond the end knots (method.md, section 2).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from catalog.method import MAX_GAP_DB

Array = NDArray[np.float64]

# Losses are sums of decimals that floats only come near to: what differs by less is the same.
SAME_X_DB = 1e-9


@dataclass(frozen=True, slots=True)
class JoinedLine:
    """One device's line.

    x        knots, ascending, shape (k,). [dB]
    y        values at the knots, shape (k,). [Mbit/s]
    bound    whether a knot is only a lower bound, shape (k,)
    member   knot of every cell handed in, shape (c,)
    share    share of every cell in its knot's value, shape (c,); those of one knot add to 1
    """

    x: Array
    y: Array
    bound: NDArray[np.bool_]
    member: NDArray[np.intp]
    share: Array

    @property
    def tested(self) -> tuple[float, float]:
        """The outermost knots. [dB]"""
        return float(self.x[0]), float(self.x[-1])

    def pieces(self) -> list[tuple[float, float]]:
        """Stretches without a gap, ascending; a lone knot is a stretch of no length. [dB]"""
        x: list[float] = self.x.tolist()
        breaks = [i for i, (left, right) in enumerate(pairwise(x)) if right - left > MAX_GAP_DB + SAME_X_DB]
        return [(x[s], x[e]) for s, e in zip([0, *(b + 1 for b in breaks)], [*breaks, len(x) - 1], strict=True)]

    def covers(self, low: float, high: float) -> bool:
        """Whether one stretch without a gap holds the whole range."""
        return any(start <= low + SAME_X_DB and high <= end + SAME_X_DB for start, end in self.pieces())

    def knots_within(self, low: float, high: float) -> NDArray[np.intp]:
        """Knots inside the range or on its edge."""
        return np.flatnonzero((self.x >= low - SAME_X_DB) & (self.x <= high + SAME_X_DB))

    def mean_weights(self, low: float, high: float) -> Array:
        """Weights over the knots whose sum with y is the exact mean of the line over a covered range.

        Shape (k,), adding to 1. The range must lie inside one stretch and have a length.
        """
        assert high > low
        assert self.covers(low, high)
        x: list[float] = self.x.tolist()
        found = [0.0] * len(x)
        for i, (left, right) in enumerate(pairwise(x)):
            start, end = max(left, low), min(right, high)
            if end - start <= SAME_X_DB:
                continue
            # The integral of a straight piece is its length times its middle value.
            place = ((start + end) / 2 - left) / (right - left)
            found[i] += (end - start) * (1 - place)
            found[i + 1] += (end - start) * place
        # Added in the order of the knots, as `pairs.ranges` adds, so that a mean has the same digits either way.
        return np.array(found) / sum(found)

    def point_weights(self, x: float) -> Array:
        """Weights over the knots that give the line at *x*, shape (k,); x must be covered."""
        assert self.covers(x, x)
        weights = np.zeros(len(self.x))
        right = int(np.searchsorted(self.x, x - SAME_X_DB))
        if right < len(self.x) and abs(self.x[right] - x) <= SAME_X_DB:
            weights[right] = 1.0
            return weights
        place = (x - self.x[right - 1]) / (self.x[right] - self.x[right - 1])
        weights[right - 1], weights[right] = 1 - place, place
        return weights

    def at(self, x: float) -> float:
        """The line at a covered x. [Mbit/s]"""
        return float(self.point_weights(x) @ self.y)

    def slope(self, low: float, high: float) -> float:
        """Least-squares slope of the knots inside a covered range. [Mbit/s per dB]

        Where fewer than two knots lie inside, the slope between the range's two ends. For a single point it is
        the slope of the stretch's knots around it: the neighbours on both sides.
        """
        inside = self.knots_within(low, high)
        if len(inside) >= 2:
            x, y = self.x[inside], self.y[inside]
            centred = x - x.mean()
            return float(centred @ y / (centred @ centred))
        if high - low > SAME_X_DB:
            return (self.at(high) - self.at(low)) / (high - low)
        piece = next((p for p in self.pieces() if p[0] - SAME_X_DB <= low <= p[1] + SAME_X_DB), None)
        if piece is None or piece[1] - piece[0] <= SAME_X_DB:
            return 0.0  # a lone knot: nothing is known of how the line falls
        below = self.x[(self.x >= piece[0]) & (self.x < low - SAME_X_DB)]
        above = self.x[(self.x <= piece[1]) & (self.x > low + SAME_X_DB)]
        left = float(below[-1]) if len(below) else low
        right = float(above[0]) if len(above) else low
        return (self.at(right) - self.at(left)) / (right - left)

    def cell_weights(self, knot_weights: Array) -> Array:
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


def shared_range(a: JoinedLine, b: JoinedLine) -> tuple[float, float] | None:
    """The longest interval both lines cover without a gap; None where they share not even a point. [dB]"""
    best: tuple[float, float] | None = None
    for a_low, a_high in a.pieces():
        for b_low, b_high in b.pieces():
            low, high = max(a_low, b_low), min(a_high, b_high)
            if low <= high and (best is None or high - low > best[1] - best[0] + SAME_X_DB):
                best = (low, high)
    return best


def lead_changes(a: JoinedLine, b: JoinedLine, low: float, high: float) -> list[float]:
    """Where the two drawn lines cross inside a range both cover, ascending. [dB]

    A touch without a change of lead does not count; where they run together, the place where they meet does.
    """
    inner = [float(v) for v in np.concatenate([a.x, b.x]) if low < v < high]
    places = sorted({low, high, *inner})
    gaps = [a.at(x) - b.at(x) for x in places]
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
