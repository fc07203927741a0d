"""Standard uncertainties of values and of differences, term by term: the one statement of method section 3.

One figure, one pair, all pairs of a group and all devices of a window go through it. Terms add in quadrature
(JCGM 100:2008, 5.1.2), degrees of freedom by Welch and Satterthwaite (G.4).

What a side brings into a figure depends only on the side and the range, not on what it is compared with. So it is
summed up once for each side and range that occurs, and pairs only put two such sums together; what both share
(session, visit, spot, kit) enters as the square of a difference. A value is a difference from nobody.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from builder.bench.bench import Bench
from builder.bench.cells import Cell
from builder.bench.scatter import DaySpread, Placement, Scatter
from builder.bench.sides import Flags, Floats, PaddedCells, Shared, Whole, columns, padded_cells
from builder.bench.weighted import Match, Weighted
from builder.metrics.intervals import half_width
from catalog.method import MIN_POOLED_DF

Term = Literal["repeats", "session", "placement", "spot", "kit"]
TERMS: tuple[Term, ...] = get_args(Term)
# The constants that the terms along the axis take, beside each house's placement.
_ALONG: Mapping[Match, tuple[str, ...]] = {
    "attenuation": ("calibration_sigma_db",),
    "level": ("level_sigma_db",),
    "spot": (),
}


@dataclass(frozen=True, slots=True)
class SideSums:
    """What r sides over their ranges bring into every figure of one match; shape (r,) unless stated otherwise.

    side             number of the side
    mean             weighted mean of its cells [Mbit/s]
    n                finished runs behind it [1]
    bound            whether a cell behind it is only a lower bound
    at_port          whether a cell behind it was held back by the device's own port
    once, alone      whether a cell behind it was measured once or is a summary without a spread; measured once
    median           whether a cell behind it is a summary by its median
    variance         of its repeats, and for level match of its levels [(Mbit/s)^2]
    over_df          sum of variance^2 / degrees of freedom of the repeats [(Mbit/s)^4]
    pooled, single   whether a cell takes the pooled spread, and the sum of (weight * mean)^2 / n of those
    sessions, takes  weight * mean by session, shape (t, r), and whether the session takes part
    visits           weight * slope by visit, shape (t, r); None for level match
    places, kits     the same by spot and by kit; None where the match has no such term
    """

    match: Match
    side: Whole
    mean: Floats
    n: Whole
    bound: Flags
    at_port: Flags
    once: Flags
    alone: Flags
    median: Flags
    variance: Floats
    over_df: Floats
    pooled: Flags
    single: Floats
    sessions: Floats
    takes: Flags
    visits: Floats | None
    places: Floats | None
    kits: Floats | None


@dataclass(frozen=True, slots=True)
class Component:
    """What one term adds to p figures; a term of days or placement is there once for every house.

    term      "repeats", "session", "placement", "spot" or "kit"
    variance  shape (p,). [(Mbit/s)^2]
    over_df   its sum of variance^2 / degrees of freedom, 0 where these are infinite, shape (p,). [(Mbit/s)^4]
    """

    term: Term
    variance: Floats
    over_df: Floats | float = 0.0


@dataclass(frozen=True, slots=True)
class Uncertainties:
    """Of p figures; arrays have shape (p,).

    u        standard uncertainty [Mbit/s]
    df       its degrees of freedom, math.inf for infinitely many
    known    False where a single run has no spread to take
    assumed  of each constant of this match: where it was neither measured nor declared
    """

    u: Floats
    df: Floats
    known: Flags
    assumed: Mapping[str, Flags]

    def assumed_by(self, figure: int) -> tuple[str, ...]:
        """Names of the constants that one figure had to assume."""
        return tuple(name for name, where in self.assumed.items() if where[figure])


def side_sums(
    cells: PaddedCells, side: Whole, weights: Floats, slope: Floats, *, match: Match, scatter: Scatter
) -> SideSums:
    """Sums over the cells of sides numbered *side*, shape (r,).

    weights  of their cells, adding to 1 down, shape (c, r)
    slope    of their lines, shape (r,), or of each cell's line, shape (c, r). [Mbit/s per dB]
    """
    taken = weights != 0
    means, repeats = weights * columns(cells.mean, side), weights**2 * columns(cells.variance, side)
    single = taken & columns(cells.single, side)
    falls = weights * slope
    levels = scatter.level_sigma_db**2 * (falls**2).sum(axis=0) if match == "level" else 0.0
    of_visits = np.take_along_axis(falls, columns(cells.visited, side), axis=0) * columns(cells.visit_share, side)
    by_place = match == "attenuation"
    return SideSums(
        match=match,
        side=side,
        mean=means.sum(axis=0),
        n=(taken * columns(cells.n, side)).sum(axis=0),
        bound=(taken & columns(cells.bound, side)).any(axis=0),
        at_port=(taken & columns(cells.at_port, side)).any(axis=0),
        once=(taken & columns(cells.once, side)).any(axis=0),
        alone=(taken & columns(cells.alone, side)).any(axis=0),
        median=(taken & columns(cells.median, side)).any(axis=0),
        variance=repeats.sum(axis=0) + levels,
        over_df=(repeats**2 / columns(cells.df, side)).sum(axis=0),
        pooled=single.any(axis=0),
        single=np.where(single, means**2 * columns(cells.lent, side), 0.0).sum(axis=0),
        sessions=cells.session.totals(means, side),
        takes=cells.session.totals(taken.astype(np.float64), side) > 0,
        visits=cells.visit.totals(of_visits, side) if match != "level" else None,
        places=cells.place.totals(falls, side) if by_place else None,
        kits=cells.kit.totals(falls, side) if by_place else None,
    )


def uncertainties(
    cells: PaddedCells, sums: SideSums, a: Whole, b: Whole | None = None, *, scatter: Scatter
) -> Uncertainties:
    """Uncertainty of each difference a - b of two of the sides that were summed up, shape (p,).

    a, b  places in *sums*; without b: of the means of a by themselves
    """
    components, known, assumed = components_of(cells, sums, a, b, scatter=scatter)
    variance, over_df = components[0].variance, components[0].over_df
    for component in components[1:]:
        variance, over_df = variance + component.variance, over_df + component.over_df
    every = np.ones(len(a), dtype=np.bool_)
    assumed |= {name: every for name in _ALONG[sums.match] if getattr(scatter.constants, name) is None}
    if sums.median.any():
        assumed["median_for_mean"] = sums.median[a] if b is None else sums.median[a] | sums.median[b]
    return Uncertainties(np.sqrt(variance), _effective_df(variance, np.asarray(over_df)), known, assumed)


def components_of(
    cells: PaddedCells, sums: SideSums, a: Whole, b: Whole | None = None, *, scatter: Scatter
) -> tuple[list[Component], Flags, dict[str, Flags]]:
    """The terms of each difference, repeats first; where it is known how single runs scatter; and where the scatter of
    days and of placement was assumed.
    """
    variance, over_df, known = repeat_terms(cells, sums, a, b)
    components = [Component("repeats", variance, over_df)]
    days = [scatter.day(house) for house in cells.houses]
    by_house, leans = _session_terms(cells, sums, a, b, days)
    assumed = {"session_spread": leans}
    for of_house, day in zip(by_house, days, strict=True):
        components.append(Component("session", of_house, of_house**2 / day.df))
    if sums.visits is not None:
        placements = [scatter.placement(house) for house in cells.houses]
        by_house = _placement_terms(cells, sums, a, b, placements)
        for of_house, placement in zip(by_house, placements, strict=True):
            components.append(Component("placement", of_house, of_house**2 / placement.df))
        guessed = [of_house > 0 for of_house, one in zip(by_house, placements, strict=True) if one.source == "assumed"]
        assumed["placement_sigma_db"] = np.logical_or.reduce(guessed) if guessed else np.zeros(len(a), dtype=np.bool_)
    if sums.places is not None and sums.kits is not None:
        kit = np.full(cells.kit.key.shape, scatter.kit_sigma_db**2)
        (of_spots,) = _squares(cells.place, sums.places, [cells.place_variance], sums.side, a, b)
        (of_kits,) = _squares(cells.kit, sums.kits, [kit], sums.side, a, b)
        components += [Component("spot", of_spots), Component("kit", of_kits)]
    return components, known, assumed


def repeat_terms(cells: PaddedCells, sums: SideSums, a: Whole, b: Whole | None = None) -> tuple[Floats, Floats, Flags]:
    """Term 1 of each difference a - b, or of each a: its variance, the sum of variance^2 / degrees of freedom over its
    components, and False where a single run has no spread to take; each of shape (p,). Level terms are in the variance.
    """
    variance, over_df = _both(sums.variance, a, b), _both(sums.over_df, a, b)
    if not cells.single.any():
        return variance, over_df, np.ones(len(a), dtype=np.bool_)
    df, squares = (_both(of_pool[sums.side], a, b) for of_pool in (cells.pool_df, cells.pool_squares))
    enough = df >= MIN_POOLED_DF
    per_df = np.where(enough, 1 / np.where(enough, df, 1.0), 0.0)
    of_single = _both(sums.single, a, b) * squares * per_df
    pooled = sums.pooled[a] if b is None else sums.pooled[a] | sums.pooled[b]
    return variance + of_single, over_df + of_single**2 * per_df, enough | ~pooled


def _both(values: Floats, a: Whole, b: Whole | None) -> Floats:
    return values[a] if b is None else values[a] + values[b]


def _effective_df(variance: Floats, over_df: Floats) -> Floats:
    """Welch-Satterthwaite; infinite where no component has finitely many."""
    some = over_df > 0
    return np.where(some, variance**2 / np.where(some, over_df, 1.0), math.inf)


def _session_terms(
    cells: PaddedCells, sums: SideSums, a: Whole, b: Whole | None, days: Sequence[DaySpread]
) -> tuple[list[Floats], Flags]:
    """Term 2 by house, 0 where a pair comes wholly from one session; and where it leans on an assumed spread."""
    session, there = cells.session, columns(sums.takes, a)
    parts = [(columns(sums.sessions, a) ** 2, there, columns(cells.session_house, sums.side[a]))]
    several: Flags = np.ones(len(a), dtype=np.bool_)
    if b is not None:
        meets, lacks = session.meeting(sums.side[a], sums.side[b]), session.lacking(sums.side[a], sums.side[b])
        there = there | (session.beside(columns(sums.takes, b), meets) > 0)
        only_b = columns(sums.takes, b) & lacks
        several = np.asarray(there.sum(axis=0) + only_b.sum(axis=0) > 1)
        differing = (columns(sums.sessions, a) - session.beside(columns(sums.sessions, b), meets)) ** 2
        parts = [
            (differing * several, there, parts[0][2]),
            (columns(sums.sessions, b) ** 2 * (lacks & several), only_b, columns(cells.session_house, sums.side[b])),
        ]
    terms = []
    for number, day in enumerate(days):
        of_house = [
            (squares if len(days) == 1 else squares * (house == number)).sum(axis=0) for squares, _, house in parts
        ]
        terms.append(day.fraction**2 * sum(of_house))
    assumed = np.array([day.source == "assumed" for day in days])
    leans = np.logical_or.reduce([(takes & assumed[house]).any(axis=0) for _, takes, house in parts])
    return terms, np.asarray(several & leans)


def _placement_terms(
    cells: PaddedCells, sums: SideSums, a: Whole, b: Whole | None, placements: Sequence[Placement]
) -> list[Floats]:
    """Placement at each visit, by house; a visit on both sides enters with both signs."""
    assert sums.visits is not None
    variances = [one.sigma_db**2 * (cells.visit_house == number) for number, one in enumerate(placements)]
    return _squares(cells.visit, sums.visits, variances, sums.side, a, b)


def _squares(
    shared: Shared, totals: Floats, variances: Sequence[Floats], side: Whole, a: Whole, b: Whole | None
) -> list[Floats]:
    """For each of the variances: the sum over keys of it times the squared difference of the sides' totals, shape (p,)."""
    if b is None or not shared.alone:  # nobody shares a key, so every pair has the squares of both
        squares = [columns(variance, side) * totals**2 for variance in variances]
        alone = [columns(one, a) if b is None else columns(one, a) + columns(one, b) for one in squares]
        return [np.asarray(one.sum(axis=0)) for one in alone]
    side_a, side_b = side[a], side[b]
    left = (columns(totals, a) - shared.beside(columns(totals, b), shared.meeting(side_a, side_b))) ** 2
    rest = (columns(totals, b) * shared.lacking(side_a, side_b)) ** 2
    return [
        np.asarray((columns(variance, side_a) * left + columns(variance, side_b) * rest).sum(axis=0))
        for variance in variances
    ]


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """u [Mbit/s] of one figure, its degrees of freedom (math.inf: infinitely many) and the constants it had to assume."""

    u: float
    df: float
    assumed: tuple[str, ...]

    @property
    def half_width(self) -> float:
        """Half of the 95 % interval. [Mbit/s]"""
        return float(half_width(self.u, self.df))


def value_uncertainty(
    bench: Bench, one: Weighted, *, match: Match, pool: Sequence[Cell] | None = None
) -> Uncertainty | None:
    """Uncertainty of one device's mean; None where a single run has no spread to take.

    pool  the cells from which a single run takes its spread; left out: those of *one*, whatever they weigh
    """
    return value_uncertainties(bench, [one], match=match, pools=[one.cells if pool is None else pool])[0]


def value_uncertainties(
    bench: Bench, every: Sequence[Weighted], *, match: Match, pools: Sequence[Sequence[Cell]]
) -> list[Uncertainty | None]:
    """`value_uncertainty` of several means at once; *pools* as in `summed`."""
    if not every:
        return []
    cells, sums = summed(bench, every, match=match, pools=pools)
    result = uncertainties(cells, sums, np.arange(len(every)), scatter=bench.scatter)
    figures = zip(result.u.tolist(), result.df.tolist(), result.known.tolist(), strict=True)
    return [Uncertainty(u, df, result.assumed_by(i)) if known else None for i, (u, df, known) in enumerate(figures)]


def summed(
    bench: Bench, sides: Sequence[Weighted], *, match: Match, pools: Sequence[Sequence[Cell]]
) -> tuple[PaddedCells, SideSums]:
    """A few weighted means as arrays.

    pools  of each side, the cells from which its single runs take their spread
    """
    # Means of one line at several places have the very same cells, which are brought into arrays once.
    both = {(id(side.cells), id(pool)): (side.cells, pool) for side, pool in zip(sides, pools, strict=True)}
    numbers = {one: number for number, one in enumerate(both)}
    of_side = np.array([numbers[id(side.cells), id(pool)] for side, pool in zip(sides, pools, strict=True)])
    cells = padded_cells([one for one, _ in both.values()], bench.scatter, pools=[pool for _, pool in both.values()])
    weights: Floats = np.zeros((len(cells.mean), len(sides)))
    for number, side in enumerate(sides):
        weights[: len(side.weights), number] = side.weights
    slopes = np.array([side.slope for side in sides])
    return cells, side_sums(cells, of_side, weights, slopes, match=match, scatter=bench.scatter)
