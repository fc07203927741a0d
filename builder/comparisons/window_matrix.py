"""All values and all pairs of one window at once (method.md, sections 3 to 5).

Over a fixed window a device's weights, slope and sums are the same whatever it is compared with. So the terms of a pair
come from those of its two sides: variances of repeats add, and what both may share (session, spot, kit) enters as the
square of a difference, for all pairs as one matrix product. `judging.judged` says the same of one pair at a time.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.comparisons.bench import Bench
from builder.comparisons.bounds import apart
from builder.comparisons.cells import Cell
from builder.comparisons.shares import Shares, SquaredDifferences, added_up, shares
from builder.comparisons.uncertainty import (
    ASSUMED_SPREAD,
    Spread,
    Weighted,
    declared_or_practice,
    own_place,
    repeated,
    single_variance,
)
from builder.metrics.intervals import half_widths, holm_separated_rows, two_sided_ps
from catalog.method import MIN_POOLED_DF, Constants

Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]
Truths = NDArray[np.bool_]

_BLOCK = 250_000  # pairs looked at together: about twenty matrices of 2 MB
_LEAST_T = 1.95  # a little below the normal quantile: what is nearer to 0 is separated with no degrees of freedom


@dataclass(frozen=True, slots=True)
class WindowSides:
    """The window means of n devices, and what each brings into any comparison; arrays have shape (n,).

    mean            [Mbit/s]
    bound           whether a cell behind it is only a lower bound
    runs            finished runs behind it [1]
    half_width      of the mean's own 95 % interval; nan for a single run without a spread [Mbit/s]
    assumed         constants that had to be assumed for it
    repeats         term 1 of the cells whose spread was measured or declared [Mbit^2/s^2]
    repeats_freed   sum of variance^2 / degrees of freedom over those cells [Mbit^4/s^4]
    lonely          whether a cell takes the pooled relative spread
    single          sum of (weight * mean)^2 over those cells [Mbit^2/s^2]
    pool, pool_df   sums of (n - 1) * (s / mean)^2 and of n - 1 over the device's cells in the group [1]
    days            of each house: its day-to-day spread, and weight * mean by session [Mbit/s]
    only_day        number of the session that every cell comes from; -1 for several
    spots, spot_sd  weight * slope by place [Mbit/s per dB], and the standard deviation of each entry's loss [dB]
    kits, kit_sd    weight * slope by kit [Mbit/s per dB], and the standard deviation of any kit's offset [dB]
    """

    mean: Floats
    bound: Truths
    runs: Numbers
    half_width: Floats
    assumed: tuple[tuple[str, ...], ...]
    repeats: Floats
    repeats_freed: Floats
    lonely: Truths
    single: Floats
    pool: Floats
    pool_df: Floats
    days: tuple[tuple[Spread, Shares], ...]
    only_day: Numbers
    spots: Shares
    spot_sd: Floats
    kits: Shares
    kit_sd: float


def window_sides(bench: Bench, means: Sequence[Weighted]) -> WindowSides:
    """The sides of a table from the weighted means of its devices, each of one device's line in one group.

    Sums are taken in the order in which `uncertainty` takes them, so that a value has the same digits either way.
    """
    n, constants = len(means), bench.constants
    own = [mean.entries() for mean in means]
    entries = [entry for one in own for entry in one]
    side = np.repeat(np.arange(n), [len(one) for one in own])
    cells = [cell for cell, _, _ in entries]
    value = np.array([mean for _, mean, _ in entries])
    weight = np.abs(np.array([weight for _, _, weight in entries]))

    def total(amounts: Floats) -> Floats:
        return added_up(side, amounts, n)

    variance, df, pooled = _repeats(cells, weight, constants)
    pool, pool_df = _pools(means) if pooled.any() else (np.zeros(n), np.zeros(n))
    single = total(np.where(pooled, (weight * value) ** 2, 0.0))
    lonely = total(pooled.astype(float)) > 0
    days, only_day = _days(bench, n, side, cells, weight * value)
    slope = weight * np.array([mean.slope for mean in means])[side]
    spots = shares(n, side, _numbers(map(own_place, cells)), slope)
    kits = shares(n, side, _numbers((cell.kit or cell.house,) for cell in cells), slope)
    placement = declared_or_practice(constants.attenuation_sigma_db)
    spot_variance = np.array([cell.reading_variance for cell in cells])[spots.first] + placement**2
    kit_sd = declared_or_practice(constants.calibration_sigma_db)

    alone = np.where(lonely & (pool_df >= MIN_POOLED_DF), single * np.sqrt(_over(pool, pool_df)) ** 2, 0.0)
    daily = [spread.fraction**2 * own.squares() for spread, own in days]
    whole = total(variance) + alone
    for part in daily:
        whole = whole + part
    whole = whole + spots.squares(spot_variance) + kit_sd**2 * kits.squares()
    freed = total(_over(variance, whole[side]) ** 2 / df) + _over(alone, whole) ** 2 / np.maximum(pool_df, 1)
    for part, (spread, _) in zip(daily, days, strict=True):
        freed = freed + _over(part, whole) ** 2 / spread.df
    half = half_widths(np.sqrt(whole), _inverse(freed))
    return WindowSides(
        mean=total(weight * value),
        bound=total(np.array([cell.bound for cell in cells], dtype=float)) > 0,
        runs=total(np.array([cell.n for cell in cells], dtype=float)).astype(np.intp),
        half_width=np.where(lonely & (pool_df < MIN_POOLED_DF), math.nan, half),
        assumed=_assumed(n, days, constants),
        repeats=total(variance),
        repeats_freed=total(variance**2 / df),
        lonely=lonely,
        single=single,
        pool=pool,
        pool_df=pool_df,
        days=days,
        only_day=only_day,
        spots=spots,
        spot_sd=np.sqrt(spot_variance),
        kits=kits,
        kit_sd=kit_sd,
    )


def told_apart(sides: WindowSides) -> Truths:
    """Which devices each is separated from, Holm over its own comparisons, shape (n, n); at-least leads count."""
    n = len(sides.mean)
    p = _p_values(sides)
    found = np.zeros((n, n), dtype=np.bool_)
    for start, end in _blocks(n):
        others = np.arange(n) != np.arange(start, end)[:, np.newaxis]
        rows = p[start:end][others].reshape(end - start, n - 1)
        found[start:end][others] = holm_separated_rows(rows).ravel()
    return found


def _p_values(sides: WindowSides) -> Floats:
    """Two-sided p-value of every pair, shape (n, n); 1 where the pair has no verdict or its bounds decide nothing."""
    n = len(sides.mean)
    apart_in = [(spread, SquaredDifferences(own)) for spread, own in sides.days]
    spots, kits = SquaredDifferences(sides.spots, sides.spot_sd), SquaredDifferences(sides.kits, sides.kit_sd)
    p = np.ones((n, n))
    for start, end in _blocks(n):
        rows, columns = slice(start, end), slice(start, n)  # the pairs before were those of earlier rows

        def pair(own: Floats, rows: slice = rows, columns: slice = columns) -> Floats:
            return own[rows, np.newaxis] + own[columns]

        variance, freed = pair(sides.repeats), pair(sides.repeats_freed)
        known = np.ones(variance.shape, dtype=np.bool_)
        if sides.lonely.any():
            lonely = sides.lonely[rows, np.newaxis] | sides.lonely[columns]
            df = pair(sides.pool_df)
            known = ~lonely | (df >= MIN_POOLED_DF)
            part = np.where(lonely & known, pair(sides.single) * _over(pair(sides.pool), df), 0.0)
            variance += part
            freed += part**2 / np.maximum(df, 1)
        days = sides.only_day
        one_day = (days[rows, np.newaxis] == days[columns]) & (days[columns] >= 0)
        for spread, squares in apart_in:
            part = np.where(one_day, 0.0, spread.fraction**2 * squares.of(rows, columns))
            variance += part
            freed += part**2 / spread.df
        variance += spots.of(rows, columns) + kits.of(rows, columns)
        difference = apart(sides.mean[rows, np.newaxis], sides.mean[columns])
        behind_is_exact = np.where(difference > 0, ~sides.bound[columns], ~sides.bound[rows, np.newaxis])
        u = np.sqrt(variance)
        asked = known & behind_is_exact & (np.abs(difference) > _LEAST_T * u)
        df = _inverse(_over(freed[asked], variance[asked] ** 2))
        p[rows, columns][asked] = two_sided_ps(difference[asked], u[asked], df)
        p[columns, rows] = p[rows, columns].T
    return p


def _blocks(n: int) -> list[tuple[int, int]]:
    rows = max(1, _BLOCK // max(1, n))
    return [(start, min(n, start + rows)) for start in range(0, n, rows)]


def _repeats(cells: Sequence[Cell], weight: Floats, constants: Constants) -> tuple[Floats, Floats, Truths]:
    """Variance of each cell's repeats as it counts, its degrees of freedom, and whether it takes the pooled spread."""
    once = [cell.sd is None for cell in cells]
    declared = [single_variance(cell, constants) if alone else None for cell, alone in zip(cells, once, strict=True)]
    runs = np.array([cell.n for cell in cells], dtype=float)
    spread = np.array([cell.sd or 0.0 for cell in cells])
    variance = weight**2 * spread**2 / runs + weight**2 * np.array([own or 0.0 for own in declared])
    pooled = [alone and own is None for alone, own in zip(once, declared, strict=True)]
    return variance, np.where(once, math.inf, runs - 1), np.array(pooled, dtype=np.bool_)


def _pools(means: Sequence[Weighted]) -> tuple[Floats, Floats]:
    """Of each device the two sums that `pooled_relative_spread` divides."""
    own = [repeated(mean.cells) for mean in means]
    squares, df = [sum(d * r**2 for d, r in one) for one in own], [sum(d for d, _ in one) for one in own]
    return np.array(squares, dtype=float), np.array(df, dtype=float)


def _days(
    bench: Bench, n: int, side: Numbers, cells: Sequence[Cell], amount: Floats
) -> tuple[tuple[tuple[Spread, Shares], ...], Numbers]:
    session = _numbers((cell.house, cell.session) for cell in cells)
    house = np.array([cell.house for cell in cells], dtype=object)
    found: list[tuple[Spread, Shares]] = []
    for name in sorted(set(house.tolist())):
        own = house == name
        day = shares(n, side[own], session[own], amount[own])
        met = np.argsort(day.first, kind="stable")
        found.append((bench.spreads.get(name, ASSUMED_SPREAD),
                      Shares(n, day.side[met], day.column[met], day.amount[met], day.first[met])))  # fmt: skip
    least, most = np.full(n, len(cells)), np.full(n, -1)
    np.minimum.at(least, side, session)
    np.maximum.at(most, side, session)
    return tuple(found), np.where(least == most, least, -1)


def _assumed(n: int, days: Sequence[tuple[Spread, Shares]], constants: Constants) -> tuple[tuple[str, ...], ...]:
    """Names of the constants each value had to assume, as `standard_uncertainty` names them."""
    day = np.zeros(n, dtype=np.bool_)
    for spread, own in days:
        if spread.source == "assumed":
            day[own.side] = True
    places = tuple(
        name for name in ("attenuation_sigma_db", "calibration_sigma_db") if getattr(constants, name) is None
    )
    return tuple((("session_spread", *places) if one else places) for one in day.tolist())


def _numbers(keys: Iterable[tuple[str, ...]]) -> Numbers:
    """The place of each key among all of them in order."""
    found = list(keys)
    numbers = {key: number for number, key in enumerate(sorted(set(found)))}
    return np.array([numbers[key] for key in found], dtype=np.intp)


def _over(above: Floats, below: Floats) -> Floats:
    """Quotients; 0 where nothing is divided by nothing."""
    return np.divide(above, below, out=np.zeros_like(above), where=below > 0)


def _inverse(values: Floats) -> Floats:
    """1 / value; infinite for 0."""
    return np.divide(1.0, values, out=np.full_like(values, math.inf), where=values > 0)
