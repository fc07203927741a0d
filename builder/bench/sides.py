"""The cells and lines of many subjects in one group as padded arrays: what set-wise comparing works on.

Slots (cells, knots, pieces) run down, sides run across, so that a sum over the slots of all sides at once adds in
the order in which `uncertainty` adds one side's cells. Slots beyond a side's own are empty: weight 0, x not a number.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, fields, replace
from itertools import chain
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from builder.bench.bounds import PORT_LIMITS
from builder.bench.cells import Cell
from builder.bench.scatter import Scatter
from builder.bench.tracks import Track
from catalog.dates import is_month
from catalog.method import MIN_READINGS, Constants

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]
Flags = NDArray[np.bool_]
Scalar = TypeVar("Scalar", np.float64, np.intp, np.bool_)


def columns(values: NDArray[Scalar], side: Whole) -> NDArray[Scalar]:
    """Those of the sides numbered *side*, shape (slots, r), laid out so that sums over the slots add in their order."""
    return np.take(values, side, axis=1)  # values[:, side] would be laid out the other way round


@dataclass(frozen=True, slots=True)
class Shared:
    """What cells have in common (a session, a spot, a kit), and where the other side of a pair has the same.

    slot   which of its side's keys each cell has, shape (c, s)
    key    number of each key of a side, shape (t, s); `alone` where no other side has it, or beyond its own
    row    in which slot a side holds a key, shape (s, keys + 1); t where it does not
    alone  the number that stands for "nobody else's", the last column of row
    plain  every cell has a key of its own, in order, so that sums over cells of one key are the cells themselves
    """

    slot: Whole
    key: Whole
    row: Whole
    alone: int
    plain: bool

    def of_sides(self, side: Whole) -> Shared:
        """The same of the sides numbered *side*, in their order; a side may be there several times."""
        return Shared(columns(self.slot, side), columns(self.key, side), self.row[side], self.alone, self.plain)

    def totals(self, values: Floats, side: Whole) -> Floats:
        """Sums of a value over the cells of each key, shape (t, p), of values of shape (c, p) of the sides numbered *side*."""
        if self.plain:
            return values
        if len(self.key) == 1:
            return np.asarray(values.sum(axis=0, keepdims=True), dtype=np.float64)
        result = np.zeros((len(self.key), values.shape[1]))
        across = np.arange(values.shape[1])
        for slot, value in zip(columns(self.slot, side), values, strict=True):
            result[slot, across] += value
        return result

    def of_keys(self, values: Floats) -> Floats:
        """What all cells of a key have alike, shape (t, s), from values of shape (c, s)."""
        result = np.zeros(self.key.shape)
        across = np.arange(values.shape[1])
        for slot, value in reversed(list(zip(self.slot, values, strict=True))):
            result[slot, across] = value
        return result

    def beside(self, of_b: Floats | Flags, meets: Whole) -> Floats:
        """b's totals set against a's keys, 0 where b has no such key, shape (t, p)."""
        padded = np.vstack([of_b, np.zeros((1, of_b.shape[1]))])
        return np.asarray(np.take_along_axis(padded, meets, axis=0), dtype=np.float64)

    def meeting(self, a: Whole, b: Whole) -> Whole:
        """In which slot b holds each key of a, shape (t, p); t where it does not."""
        return self.row[b, columns(self.key, a)]

    def lacking(self, a: Whole, b: Whole) -> Flags:
        """Which keys of b, or empty slots of it, a does not hold, shape (t, p)."""
        return np.asarray(self.meeting(b, a) == len(self.key))


@dataclass(frozen=True, slots=True)
class PaddedCells:
    """Cells of s sides, at most c each.

    mean             shape (c, s). [Mbit/s]
    n                finished repeats; 0 beyond a side's own
    variance, df     of a mean by its repeats or by what was declared for single runs; 0 and infinite where neither
    single           takes the pooled spread: measured once or a summary without a spread, nothing declared
    lent             which part of the variance of one run its mean has: 1 / n, of a median more
    once, alone      measured once or a summary without a spread; measured once
    median           a summary by its median
    bound            only a lower bound
    at_port          held back by the device's own port
    session, place, kit   what it may share with the other side
    visit            the same of visits to a place, of shape (v, s), v at least c: a cell may be of several
    visited, visit_share  which cell each visit belongs to and its share in that cell's mean, shape (v, s)
    session_house, visit_house  number in `houses` of the house of each session and visit, shape (keys of a side, s)
    place_variance   of what is not known of each place's loss, shape (places of a side, s). [dB^2]
    pool_squares, pool_df sum of (n-1)(s/m)^2 and of n-1 over the pooled cells, shape (s,)
    """

    mean: Floats
    n: Whole
    variance: Floats
    df: Floats
    single: Flags
    lent: Floats
    once: Flags
    alone: Flags
    median: Flags
    bound: Flags
    at_port: Flags
    session: Shared
    place: Shared
    kit: Shared
    visit: Shared
    visited: Whole
    visit_share: Floats
    houses: tuple[str, ...]
    session_house: Whole
    visit_house: Whole
    place_variance: Floats
    pool_squares: Floats
    pool_df: Floats

    def of_sides(self, side: Whole) -> PaddedCells:
        """The cells of the sides numbered *side*, in their order; a side may be there several times."""
        taken: dict[str, Any] = {}
        for one in fields(self):
            value = getattr(self, one.name)
            if isinstance(value, Shared):
                taken[one.name] = value.of_sides(side)
            elif isinstance(value, np.ndarray):
                taken[one.name] = value[..., side]
        return replace(self, **taken)


@dataclass(frozen=True, slots=True)
class PaddedLines:
    """Joined lines of s sides, at most k knots and q pieces without a gap each, and the cells behind them.

    x, y          shape (k, s); nan and 0 beyond a side's own. [dB, Mbit/s]
    low, high     ends of the pieces, shape (q, s); nan beyond a side's own. [dB]
    first, last   outermost knots, shape (s,); nan for a side without a line. [dB]
    knots         how many, shape (s,)
    member, share knot of each cell and the cell's share in it, shape (c, s)
    """

    x: Floats
    y: Floats
    low: Floats
    high: Floats
    first: Floats
    last: Floats
    knots: Whole
    member: Whole
    share: Floats
    cells: PaddedCells

    def cell_weights(self, knot_weights: Floats, side: Whole) -> Floats:
        """Weights of the cells behind weighted knots of the sides numbered *side*, shape (c, r); knot_weights of shape (k, r)."""
        return np.take_along_axis(knot_weights, columns(self.member, side), axis=0) * columns(self.share, side)


def padded_cells(sides: Sequence[Sequence[Cell]], scatter: Scatter, *, pools: Sequence[Sequence[Cell]]) -> PaddedCells:
    """Cells of the sides of one group; *pools* are the cells from which a side's single runs take their spread."""
    flat = [cell for side in sides for cell in side]
    at = _Places([len(side) for side in sides])
    declared = [single_variance(cell, scatter.constants) if cell.sd is None else None for cell in flat]
    repeats = [repeated(pool) for pool in pools]
    houses = tuple(sorted({cell.house for cell in flat})) or ("",)
    session, place = (at.shared([list(map(key, side)) for side in sides]) for key in (_session, own_place))
    visits = [[(slot, *one) for slot, cell in enumerate(side) for one in cell.visits] for side in sides]
    at_visit = _Places([len(of_side) for of_side in visits])
    visit = at_visit.shared([[one for _, one, _ in of_side] for of_side in visits])
    house_of = [[houses.index(cell.house) for cell in side] for side in sides]
    return PaddedCells(
        mean=at.floats([cell.mean or 0.0 for cell in flat]),
        n=at.whole([cell.n for cell in flat]),
        variance=at.floats(
            [
                (variance or 0.0) if cell.variance is None else cell.variance
                for cell, variance in zip(flat, declared, strict=True)
            ]
        ),
        df=at.floats([math.inf if cell.sd is None else cell.n - 1 for cell in flat], math.inf),
        single=at.flags([cell.sd is None and variance is None for cell, variance in zip(flat, declared, strict=True)]),
        lent=at.floats([cell.variance_of_mean(1.0) if cell.n else 0.0 for cell in flat]),
        once=at.flags([cell.sd is None for cell in flat]),
        alone=at.flags([cell.sd is None and not cell.summary for cell in flat]),
        median=at.flags([cell.statistic == "median" for cell in flat]),
        bound=at.flags([cell.bound for cell in flat]),
        at_port=at.flags([cell.limit in PORT_LIMITS for cell in flat]),
        session=session,
        place=place,
        kit=at.shared([[cell.kit or cell.house for cell in side] for side in sides]),
        visit=visit,
        visited=at_visit.whole([slot for of_side in visits for slot, _, _ in of_side]),
        visit_share=at_visit.floats([share for of_side in visits for _, _, share in of_side]),
        houses=houses,
        session_house=session.of_keys(at.floats([h for of_side in house_of for h in of_side])).astype(np.intp),
        visit_house=visit.of_keys(
            at_visit.floats(
                [house[slot] for house, of_side in zip(house_of, visits, strict=True) for slot, _, _ in of_side]
            )
        ).astype(np.intp),
        place_variance=place.of_keys(at.floats([spot_variance(cell, scatter) for cell in flat])),
        pool_squares=np.array([sum(d * r**2 for d, r in of_side) for of_side in repeats], dtype=np.float64),
        pool_df=np.array([sum(d for d, _ in of_side) for of_side in repeats], dtype=np.float64),
    )


def padded_lines(tracks: Sequence[Track | None], scatter: Scatter) -> PaddedLines:
    """Lines of the sides of one group; None is a side none of whose cells has a place on the axis."""
    cells = [track.cells if track else () for track in tracks]
    at, knots = _Places([len(of_side) for of_side in cells]), _Places([len(t.line.x) if t else 0 for t in tracks])
    pieces = [track.line.pieces if track else [] for track in tracks]
    ends = _Places([len(p) for p in pieces])
    lines = [track.line for track in tracks if track]
    return PaddedLines(
        x=knots.floats([x for line in lines for x in line.x.tolist()], math.nan),
        y=knots.floats([y for line in lines for y in line.y.tolist()]),
        low=ends.floats([low for of_line in pieces for low, _ in of_line], math.nan),
        high=ends.floats([high for of_line in pieces for _, high in of_line], math.nan),
        first=np.array([track.line.tested[0] if track else math.nan for track in tracks], dtype=np.float64),
        last=np.array([track.line.tested[1] if track else math.nan for track in tracks], dtype=np.float64),
        knots=knots.lengths,
        member=at.whole([knot for line in lines for knot in line.member.tolist()]),
        share=at.floats([share for line in lines for share in line.share.tolist()]),
        cells=padded_cells(cells, scatter, pools=cells),
    )


def single_variance(cell: Cell, constants: Constants) -> float | None:
    """Variance of a single run, or of a summary without a spread, by the declared one; None where none is declared.

    [(Mbit/s)^2]
    """
    if constants.house_spread_mbit_s is not None:
        return cell.variance_of_mean(constants.house_spread_mbit_s**2)
    if constants.house_spread_percent is not None:
        return cell.variance_of_mean((constants.house_spread_percent / 100 * (cell.mean or 0.0)) ** 2)
    return None


def repeated(cells: Sequence[Cell]) -> list[tuple[int, float]]:
    """(n - 1, s/m) of every cell whose relative spread may be lent to single runs.

    A cell of value 0 has no relative spread; the spread of one held back by the client or the lab is that of the limit.
    """
    return [(c.n - 1, c.sd / c.mean) for c in cells if c.sd is not None and c.mean and not c.bound]


def spot_variance(cell: Cell, scatter: Scatter) -> float:
    """What is not known of a spot's own attenuation: as declared, else from its readings; one typed is one reading.

    [dB^2]
    """
    declared = scatter.constants.attenuation_sigma_db
    if declared is not None:
        return declared**2
    if cell.readings >= MIN_READINGS and cell.readings_sd_db is not None:
        return cell.readings_sd_db**2 / cell.readings
    return scatter.placement(cell.house).sigma_db ** 2 / cell.readings


def _session(cell: Cell) -> tuple[str, ...]:
    """The day that a cell shares with others; in a month every device may have had days of its own."""
    if is_month(cell.date):
        return cell.house, cell.session, cell.subject_id, cell.unit, cell.firmware
    return cell.house, cell.session


def own_place(cell: Cell) -> tuple[str, ...]:
    """What has one error of its loss: a spot and epoch; a typed attenuation is a spot of its own, shared with nobody."""
    return cell.place if cell.spot is not None else (cell.device, cell.unit, cell.firmware, *cell.place)


class _Places:
    """Where the things of each side go in an array of slots by sides."""

    def __init__(self, lengths: Sequence[int]) -> None:
        self.lengths: Whole = np.array(lengths, dtype=np.intp)
        self.shape = (max([1, *lengths]), len(lengths))
        self.side = np.repeat(np.arange(len(lengths)), self.lengths)
        starts = np.repeat(np.cumsum(self.lengths) - self.lengths, self.lengths)
        self.slot = np.arange(len(self.side)) - starts

    def floats(self, values: Sequence[float], empty: float = 0.0) -> Floats:
        result = np.full(self.shape, empty, dtype=np.float64)
        result[self.slot, self.side] = values
        return result

    def whole(self, values: Sequence[int]) -> Whole:
        result = np.zeros(self.shape, dtype=np.intp)
        result[self.slot, self.side] = values
        return result

    def flags(self, values: Sequence[bool]) -> Flags:
        result = np.zeros(self.shape, dtype=np.bool_)
        result[self.slot, self.side] = values
        return result

    def shared(self, sides: Sequence[Sequence[Hashable]]) -> Shared:
        """From the key of every thing of every side."""
        keys_of = [dict.fromkeys(side) for side in sides]
        holders: dict[Hashable, int] = {}
        for held in chain.from_iterable(keys_of):
            holders[held] = holders.get(held, 0) + 1
        numbers = {one: number for number, one in enumerate(one for one, often in holders.items() if often > 1)}
        alone = len(numbers)
        slots = [{key: slot for slot, key in enumerate(keys)} for keys in keys_of]
        of_keys = _Places([len(keys) for keys in keys_of])
        key = np.full(of_keys.shape, alone, dtype=np.intp)
        key[of_keys.slot, of_keys.side] = [numbers.get(k, alone) for keys in keys_of for k in keys]
        row = np.full((len(sides), alone + 1), len(key), dtype=np.intp)
        row[of_keys.side, key[of_keys.slot, of_keys.side]] = of_keys.slot
        row[:, alone] = len(key)
        slot = self.whole([slots[i][one] for i, side in enumerate(sides) for one in side])
        plain = all(len(keys) == len(side) for keys, side in zip(keys_of, sides, strict=True))
        return Shared(slot, key, row, alone, plain and len(key) == len(slot))
