"""The cells of a side of a lattice, and its joined line in many versions at once: which cells have runs, and how many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from builder.bench.cells import Cell
from builder.bench.joined_line import SAME_X_DB
from builder.bench.sides import Flags, Floats, PaddedCells, PaddedLines, Whole
from catalog.method import MAX_GAP_DB


@dataclass(frozen=True, slots=True)
class SideCells:
    """The cells of a side: what is measured, then what is planned.

    before, visits_before  how many cells and visits are measured
    n, mean                of each cell, shape (c,)
    spread                 of one run of each planned cell, over its value, shape (planned,)
    x, knot                places, ascending [dB], and which of them each cell has, shape (c,)
    """

    cells: tuple[Cell, ...]
    before: int
    visits_before: int
    n: Floats
    mean: Floats
    spread: Floats
    x: Floats
    knot: Whole

    def repeated(self, repeats: Whole) -> Floats:
        """Runs of every cell if the planned ones are repeated so often, shape (c, p)."""
        before = np.repeat(self.n[: self.before, np.newaxis], len(repeats), axis=1)
        if len(self.cells) == self.before:
            return before
        return np.vstack([before, repeats.T])


def apart(places: Floats) -> Floats:
    ordered = np.sort(places)
    return ordered[np.concatenate([[True], np.diff(ordered) > SAME_X_DB])] if len(ordered) else ordered


@dataclass(frozen=True, slots=True)
class Lines:
    """Joined lines of p versions of a side: knots that have runs, ascending, then nan; shapes as in PaddedLines."""

    x: Floats
    y: Floats
    member: Whole
    share: Floats


def lines_of(side: SideCells, n: Floats, mean: Floats) -> Lines:
    """As `joined_line` joins cells, for p versions at once; n and mean of shape (c, p)."""
    total = np.zeros((len(side.x), n.shape[1]))
    for slot, knot in enumerate(side.knot.tolist()):
        total[knot] += n[slot]
    share = np.divide(n, total[side.knot], out=np.zeros(n.shape), where=n > 0)
    y = np.zeros(total.shape)
    for slot, knot in enumerate(side.knot.tolist()):
        y[knot] += share[slot] * mean[slot]
    present = total > 0
    x = np.where(present, side.x[:, np.newaxis], np.nan)
    order = np.argsort(x, axis=0, kind="stable")  # nan comes last
    rank = np.empty(order.shape, dtype=np.intp)
    np.put_along_axis(rank, order, np.broadcast_to(np.arange(len(order))[:, np.newaxis], order.shape), axis=0)
    return Lines(np.take_along_axis(x, order, axis=0), np.take_along_axis(y, order, axis=0), rank[side.knot], share)


def side_by_side(lines: Sequence[Lines], cells: PaddedCells) -> PaddedLines:
    """The sides' lines side by side; what a line tests as a whole is not asked of these."""
    knots = max(len(line.x) for line in lines)
    slots = len(cells.mean)
    beside = sum(line.x.shape[1] for line in lines)
    x, y = np.full((knots, beside), np.nan), np.zeros((knots, beside))
    member, share = np.zeros((slots, beside), dtype=np.intp), np.zeros((slots, beside))
    start = 0
    for line in lines:
        here = slice(start, start + line.x.shape[1])
        x[: len(line.x), here], y[: len(line.y), here] = line.x, line.y
        member[: len(line.member), here], share[: len(line.share), here] = line.member, line.share
        start = here.stop
    ends = np.full((1, beside), np.nan)
    tested = np.full(beside, np.nan)
    count = (~np.isnan(x)).sum(axis=0)
    return PaddedLines(x, y, ends, ends, tested, tested, count, member, share, cells)


def covers_range(x: Floats, low: float, high: float, least: int) -> Flags:
    """Whether lines with these knots, shape (k, p), cover the range with so many knots inside or on its edge."""
    with np.errstate(invalid="ignore"):
        inside = ((x >= low - SAME_X_DB) & (x <= high + SAME_X_DB)).sum(axis=0)
        starts, ends = (x <= low + SAME_X_DB).any(axis=0), (x >= high - SAME_X_DB).any(axis=0)
        gap = np.diff(x, axis=0) > MAX_GAP_DB + SAME_X_DB
        meets = (x[:-1] < high - SAME_X_DB) & (x[1:] > low + SAME_X_DB)
    return np.asarray(starts & ends & (inside >= least) & ~(gap & meets).any(axis=0))


def along(at: Floats, x: Floats, y: Floats) -> Floats:
    """A line at places; beyond its ends it goes on as its last piece falls. [Mbit/s]"""
    values = np.interp(at, x, y)
    if len(x) < 2:
        return values
    before, behind = (y[1] - y[0]) / (x[1] - x[0]), (y[-1] - y[-2]) / (x[-1] - x[-2])
    values = np.where(at < x[0], y[0] + (at - x[0]) * before, values)
    return np.asarray(np.where(at > x[-1], y[-1] + (at - x[-1]) * behind, values))
