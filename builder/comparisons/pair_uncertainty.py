"""Standard uncertainties of many values or differences at once, term by term (method.md, section 3).

The set-wise twin of `uncertainty`.

What a side brings into a figure depends only on the side and the range, not on what it is compared with. So it is
summed up once for each side and range that occurs, and pairs only put two such sums together; what both share
(session, spot, kit) enters as the square of a difference.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from builder.comparisons.padded_sides import Flags, Floats, PaddedCells, Shared, Whole, columns
from builder.comparisons.uncertainty import ASSUMED_SPREAD, Match, Spread, declared_or_practice
from catalog.method import MIN_POOLED_DF, Constants


@dataclass(frozen=True, slots=True)
class SideSums:
    """What r sides over their ranges bring into every figure; shape (r,) unless said otherwise.

    who              number of the side
    mean             weighted mean of its cells [Mbit/s]
    n                finished runs behind it [1]
    bound            whether a cell behind it is only a lower bound
    at_port          whether a cell behind it was held back by the device's own port
    once             whether a cell behind it was measured once
    variance         of its repeats, and for level match of its levels [(Mbit/s)^2]
    freed            sum of variance^2 / degrees of freedom of the repeats [(Mbit/s)^4]
    lonely, single   whether a cell takes the pooled spread, and the sum of (weight * mean)^2 of those
    sessions, takes  weight * mean by session, shape (t, r), and whether the session takes part
    places, kits     weight * slope by spot and by kit, shape (t, r); None where the match has no such term
    """

    who: Whole
    mean: Floats
    n: Whole
    bound: Flags
    at_port: Flags
    once: Flags
    variance: Floats
    freed: Floats
    lonely: Flags
    single: Floats
    sessions: Floats
    takes: Flags
    places: Floats | None
    kits: Floats | None


@dataclass(frozen=True, slots=True)
class Uncertainties:
    """u [Mbit/s] and its degrees of freedom; known is False where a single run has no spread to take. Shape (p,)."""

    u: Floats
    df: Floats
    known: Flags
    assumed_session: Flags  # a house's day-to-day spread is assumed


def side_sums(
    cells: PaddedCells, who: Whole, weights: Floats, slope: Floats, *, match: Match, constants: Constants
) -> SideSums:
    """Sums over the cells of sides *who*, shape (r,).

    weights  of their cells, adding to 1 down, shape (c, r)
    slope    of their lines, shape (r,). [Mbit/s per dB]
    """
    taken = weights != 0
    means, repeats = weights * columns(cells.mean, who), weights**2 * columns(cells.variance, who)
    single = taken & columns(cells.single, who)
    falls = weights * slope
    levels = declared_or_practice(constants.level_sigma_db) ** 2 * (falls**2).sum(axis=0) if match == "level" else 0.0
    by_place = match == "attenuation"
    return SideSums(
        who=who,
        mean=means.sum(axis=0),
        n=(taken * columns(cells.n, who)).sum(axis=0),
        bound=(taken & columns(cells.bound, who)).any(axis=0),
        at_port=(taken & columns(cells.at_port, who)).any(axis=0),
        once=(taken & columns(cells.once, who)).any(axis=0),
        variance=repeats.sum(axis=0) + levels,
        freed=(repeats**2 / columns(cells.df, who)).sum(axis=0),
        lonely=single.any(axis=0),
        single=np.where(single, means**2, 0.0).sum(axis=0),
        sessions=cells.session.totals(means, who),
        takes=cells.session.totals(taken.astype(np.float64), who) > 0,
        places=cells.place.totals(falls, who) if by_place else None,
        kits=cells.kit.totals(falls, who) if by_place else None,
    )


def value_uncertainties(
    cells: PaddedCells, sums: SideSums, *, constants: Constants, spreads: Mapping[str, Spread]
) -> Uncertainties:
    """Uncertainty of the mean of each side that was summed up, for itself, shape (r,)."""
    variance, freed, known = _with_single_runs(
        cells,
        sums.variance,
        sums.freed,
        sums.lonely,
        sums.single,
        cells.pool_df[sums.who],
        cells.pool_squares[sums.who],
    )
    spread_of = _spreads(cells, spreads)
    houses = columns(cells.session_house, sums.who)
    for number, spread in enumerate(spread_of):
        of_house = spread.fraction**2 * (sums.sessions**2 * (houses == number)).sum(axis=0)
        variance, freed = variance + of_house, freed + of_house**2 / spread.df
    if sums.places is not None and sums.kits is not None:
        placement = declared_or_practice(constants.attenuation_sigma_db) ** 2
        kit = declared_or_practice(constants.calibration_sigma_db) ** 2
        variance = variance + ((columns(cells.place_variance, sums.who) + placement) * sums.places**2).sum(axis=0)
        variance = variance + kit * (sums.kits**2).sum(axis=0)
    assumed = np.array([spread.source == "assumed" for spread in spread_of])
    leans = (sums.takes & assumed[houses]).any(axis=0)
    return Uncertainties(np.sqrt(variance), _effective_df(variance, freed), known, leans)


def uncertainties(
    cells: PaddedCells, sums: SideSums, a: Whole, b: Whole, *, constants: Constants, spreads: Mapping[str, Spread]
) -> Uncertainties:
    """Uncertainty of each difference a - b of two of the sides that were summed up, shape (p,)."""
    who_a, who_b = sums.who[a], sums.who[b]
    variance, freed, known = _with_single_runs(
        cells, sums.variance[a] + sums.variance[b], sums.freed[a] + sums.freed[b], sums.lonely[a] | sums.lonely[b],
        sums.single[a] + sums.single[b], cells.pool_df[who_a] + cells.pool_df[who_b],
        cells.pool_squares[who_a] + cells.pool_squares[who_b],
    )  # fmt: skip
    by_house, leans = _sessions(cells, sums, a, b, spreads)
    for of_house, house_df in by_house:
        variance = variance + of_house
        freed = freed + of_house**2 / house_df
    if sums.places is not None and sums.kits is not None:
        placement = declared_or_practice(constants.attenuation_sigma_db) ** 2
        kit = np.full(cells.kit.key.shape, declared_or_practice(constants.calibration_sigma_db) ** 2)
        variance = variance + _squares(cells.place, sums.places, cells.place_variance + placement, sums.who, a, b)
        variance = variance + _squares(cells.kit, sums.kits, kit, sums.who, a, b)
    return Uncertainties(np.sqrt(variance), _effective_df(variance, freed), known, leans)


def _effective_df(variance: Floats, freed: Floats) -> Floats:
    """Welch-Satterthwaite; infinite where no component has finitely many."""
    some = freed > 0
    return np.where(some, variance**2 / np.where(some, freed, 1.0), math.inf)


def _with_single_runs(
    cells: PaddedCells, variance: Floats, freed: Floats, lonely: Flags, single: Floats, df: Floats, squares: Floats
) -> tuple[Floats, Floats, Flags]:
    """Variance and its freedom with the pooled spread of single runs; False where one is needed and cannot be pooled.

    df, squares  of the cells from which it is pooled
    """
    if not cells.single.any():
        return variance, freed, np.ones(len(lonely), dtype=np.bool_)
    enough = df >= MIN_POOLED_DF
    per_df = np.where(enough, 1 / np.where(enough, df, 1.0), 0.0)
    of_single = single * squares * per_df
    return variance + of_single, freed + of_single**2 * per_df, enough | ~lonely


def _spreads(cells: PaddedCells, spreads: Mapping[str, Spread]) -> list[Spread]:
    """Day-to-day spread of each house, by its number."""
    return [spreads.get(house, ASSUMED_SPREAD) for house in cells.houses] or [ASSUMED_SPREAD]


def _sessions(
    cells: PaddedCells, sums: SideSums, a: Whole, b: Whole, spreads: Mapping[str, Spread]
) -> tuple[list[tuple[Floats, float]], Flags]:
    """Term 2 by house with its degrees of freedom, 0 where a pair comes wholly from one session; and what is assumed."""
    session = cells.session
    meets, lacks = session.meeting(sums.who[a], sums.who[b]), session.lacking(sums.who[a], sums.who[b])
    there = columns(sums.takes, a) | (session.beside(columns(sums.takes, b), meets) > 0)
    only_b = columns(sums.takes, b) & lacks
    several = there.sum(axis=0) + only_b.sum(axis=0) > 1
    squares = [
        (columns(sums.sessions, a) - session.beside(columns(sums.sessions, b), meets)) ** 2 * several,
        columns(sums.sessions, b) ** 2 * (lacks & several),
    ]
    spread_of = _spreads(cells, spreads)
    houses = [columns(cells.session_house, sums.who[side]) for side in (a, b)]
    terms = []
    for number, spread in enumerate(spread_of):
        own = squares if len(spread_of) == 1 else [s * (h == number) for s, h in zip(squares, houses, strict=True)]
        terms.append((spread.fraction**2 * (own[0].sum(axis=0) + own[1].sum(axis=0)), spread.df))
    assumed = np.array([spread.source == "assumed" for spread in spread_of])
    leans = (there & assumed[houses[0]]).any(axis=0) | (only_b & assumed[houses[1]]).any(axis=0)
    return terms, np.asarray(several & leans)


def _squares(shared: Shared, totals: Floats, variance: Floats, who: Whole, a: Whole, b: Whole) -> Floats:
    """Sum over keys of variance times the squared difference of the sides' totals, shape (p,)."""
    side_a, side_b = who[a], who[b]
    left = columns(totals, a) - shared.beside(columns(totals, b), shared.meeting(side_a, side_b))
    rest = columns(totals, b) * shared.lacking(side_a, side_b)
    return np.asarray((columns(variance, side_a) * left**2 + columns(variance, side_b) * rest**2).sum(axis=0))
