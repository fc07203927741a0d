"""What a house's reference device shows: how much days differ, and a place when client and device return to it.

Only the reference device is asked, one unit with one firmware and client in one group as one chain, so that adding a
device never alters another pair (method.md, section 3, terms 2 and 3).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from builder.bench.cells import Cell, Place, natural
from builder.bench.joined_line import SAME_X_DB, slopes_through
from builder.bench.scatter import ASSUMED_PLACEMENT, ASSUMED_SPREAD, DaySpread, Placement, Scatter
from builder.bench.sides import Floats, repeated, single_variance
from catalog.dates import is_month
from catalog.method import (
    LEAST_PLACEMENT_DB,
    LEAST_SESSION_SPREAD,
    MIN_KNOTS,
    MIN_PLACEMENT_DF,
    MIN_POOLED_DF,
    MIN_REFERENCE_SESSIONS,
    MIN_REFERENCE_SPOTS,
    SLOPE_WITHIN_DB,
    Constants,
)
from catalog.records import House


@dataclass(frozen=True, slots=True)
class Chain:
    """What one device, as one unit with one firmware and client in one group, did in S sessions at the P spots that
    were measured in each of them.

    cells      the measured cells, shape (S, P)
    values     shape (S, P). [Mbit/s]
    """

    sessions: tuple[str, ...]
    spots: tuple[Place, ...]
    cells: tuple[tuple[Cell, ...], ...]
    values: Floats

    @property
    def relative(self) -> Floats:
        """value / long-run mean of its spot, shape (S, P). [1]"""
        return np.asarray(self.values / self.values.mean(axis=0), dtype=np.float64)

    @property
    def covariances(self) -> tuple[float, float]:
        """c^2, the mean covariance over sessions of two spots, and v, what a spot varies beyond that. [1]"""
        matrix = np.cov(self.relative, rowvar=False)
        spots = len(self.spots)
        common = float((matrix.sum() - np.trace(matrix)) / (spots * (spots - 1)))
        return common, float(np.trace(matrix) / spots) - common

    def day_df(self, common: float, per_spot: float) -> float:
        """Degrees of freedom of c^2 as this chain estimates it, if c^2 is *common* and v is *per_spot*. [1]"""
        sessions, spots = len(self.sessions), len(self.spots)
        return (sessions - 1) * common**2 / ((common + per_spot / spots) ** 2 + (per_spot / spots) ** 2 / (spots - 1))

    @property
    def placement_df(self) -> int:
        """Degrees of freedom of what its spots vary beyond the day. [1]"""
        return (len(self.sessions) - 1) * (len(self.spots) - 1)


def learnt(houses: Iterable[House], cells: Sequence[Cell], constants: Constants) -> Scatter:
    """Day-to-day spread and placement of every house: learnt, else declared, else by practice."""
    days: dict[str, DaySpread] = {}
    placements: dict[str, Placement] = {}
    for house in houses:
        chain = reference_chain(house, cells)
        days[house.house_id] = _day(chain, constants)
        placements[house.house_id] = _placement(chain, constants)
    return Scatter(constants, days, placements)


def reference_chain(house: House, cells: Iterable[Cell]) -> Chain | None:
    """The reference device's most informative chain in a house; None where none has enough sessions and spots."""
    of_reference = [c for c in cells if c.house == house.house_id and c.device == house.reference_device]
    return fullest_chain(of_reference, sessions=MIN_REFERENCE_SESSIONS)


def fullest_chain(cells: Iterable[Cell], *, sessions: int) -> Chain | None:
    """The most informative chain among one device's cells in a house; None where none has that many sessions."""
    grouped: dict[tuple[object, ...], list[Cell]] = defaultdict(list)
    for cell in cells:
        if cell.mean and not cell.bound and not is_month(cell.date):
            grouped[_chain_key(cell)].append(cell)
    chains = [chain for key in sorted(grouped, key=repr) if (chain := _common(grouped[key], sessions)) is not None]
    return max(chains, key=lambda chain: chain.placement_df, default=None)


def _chain_key(cell: Cell) -> tuple[object, ...]:
    return cell.unit, cell.firmware, cell.client, cell.group


def _common(cells: Sequence[Cell], least: int) -> Chain | None:
    """The sessions of one chain with the spots that each of them has; sessions that lack most are left out first."""
    by_session: dict[str, dict[Place, Cell]] = defaultdict(dict)
    for cell in cells:
        by_session[cell.session][cell.place] = cell
    sessions = sorted(by_session, key=lambda name: (-len(by_session[name]), natural(name)))
    while len(sessions) >= least:
        spots = sorted(set.intersection(*(set(by_session[name]) for name in sessions)))
        if len(spots) >= MIN_REFERENCE_SPOTS:
            sessions.sort(key=natural)
            table = tuple(tuple(by_session[name][spot] for spot in spots) for name in sessions)
            values = np.array([[cell.mean for cell in row] for row in table], dtype=np.float64)
            return Chain(tuple(sessions), tuple(spots), table, values)
        sessions.pop()
    return None


def _day(chain: Chain | None, constants: Constants) -> DaySpread:
    """Term 2: the covariance that all spots of a session share."""
    if chain is None:
        declared = constants.session_spread
        return ASSUMED_SPREAD if declared is None else DaySpread(declared, math.inf, "declared")
    sessions = len(chain.sessions)
    common, per_spot = chain.covariances
    if common < LEAST_SESSION_SPREAD**2:
        return DaySpread(LEAST_SESSION_SPREAD, math.inf, "measured", sessions)
    return DaySpread(math.sqrt(common), max(chain.day_df(common, per_spot), 2.0), "measured", sessions)


def _placement(chain: Chain | None, constants: Constants) -> Placement:
    """Term 3, placement: what a spot varies beyond the day and its repeats, over how steeply the line falls there."""
    enough = chain is not None and chain.placement_df >= MIN_PLACEMENT_DF
    variance = placement_variance(chain, constants) if chain is not None and enough else None
    if chain is None or variance is None:
        declared = constants.placement_sigma_db
        return ASSUMED_PLACEMENT if declared is None else Placement(declared, math.inf, "declared")
    sigma = math.sqrt(variance) if variance > 0 else LEAST_PLACEMENT_DB
    return Placement(sigma, chain.placement_df, "measured", len(chain.sessions))


def placement_variance(chain: Chain, constants: Constants) -> float | None:
    """Squared scatter of placement, below 0 where repeats and days explain more than all of it; None where the chain
    does not show it: no loss or no slope at a spot, or single runs without a spread. [dB^2]
    """
    spots = len(chain.spots)
    losses = [cell.attenuation_db for cell in chain.cells[0]]
    if None in losses:
        return None
    means = chain.values.mean(axis=0)
    slopes = [slope_around(losses[i] or 0.0, losses, means.tolist()) for i in range(spots)]  # type: ignore[arg-type]
    repeats = [[_repeat_variance(cell, chain, constants) for cell in row] for row in chain.cells]
    if None in slopes or any(None in row for row in repeats):
        return None
    fall = float(((np.array(slopes, dtype=np.float64) / means) ** 2).sum())
    if fall == 0:
        return None
    of_repeats = float((np.array(repeats, dtype=np.float64) / means**2).mean(axis=0).sum())
    return float(spots * chain.covariances[1] - of_repeats) / fall


def _repeat_variance(cell: Cell, chain: Chain, constants: Constants) -> float | None:
    """Variance of a cell's mean by its repeats, or for a single run by the spread it may take; None without either."""
    if cell.variance is not None:
        return cell.variance
    if (declared := single_variance(cell, constants)) is not None:
        return declared
    pool = repeated([other for row in chain.cells for other in row])
    df = sum(d for d, _ in pool)
    if df < MIN_POOLED_DF or cell.mean is None:
        return None
    return cell.variance_of_mean(cell.mean**2 * sum(d * r**2 for d, r in pool) / df)


def slope_around(x: float, xs: Sequence[float] | Floats, ys: Sequence[float] | Floats) -> float | None:
    """Least-squares slope of the knots within 12 dB of *x*; None with fewer than two. [Mbit/s per dB]"""
    at, values = np.asarray(xs)[:, np.newaxis], np.asarray(ys)[:, np.newaxis]
    near = np.abs(at - x) <= SLOPE_WITHIN_DB + SAME_X_DB
    if len(np.unique(at[near])) < MIN_KNOTS:
        return None
    return float(slopes_through(at, values, near)[0])


def relative_slopes(houses: Mapping[str, House], cells: Sequence[Cell]) -> list[float]:
    """Slope over value at each place of every reference device's line among *cells*. [1 per dB]"""
    results: list[float] = []
    lines: dict[tuple[object, ...], dict[float, list[Cell]]] = defaultdict(lambda: defaultdict(list))
    for cell in cells:
        house = houses.get(cell.house)
        if (
            house is not None
            and cell.device == house.reference_device
            and cell.mean
            and cell.attenuation_db is not None
        ):
            lines[_chain_key(cell)][cell.attenuation_db].append(cell)
    for places in lines.values():
        xs = sorted(places)
        ys = [sum((c.mean or 0.0) * c.n for c in places[x]) / sum(c.n for c in places[x]) for x in xs]
        slopes = [(slope_around(x, xs, ys), y) for x, y in zip(xs, ys, strict=True)]
        results += [slope / y for slope, y in slopes if slope is not None]
    return results
