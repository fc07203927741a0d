"""Standard uncertainty of a mean or a difference of means, term by term (method.md, section 3).

Terms add in quadrature (JCGM 100:2008, 5.1.2); degrees of freedom by Welch-Satterthwaite (G.4).
Signs are carried through every term, so what two devices share (session, spot, reference kit) cancels
as far as it really is shared.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from builder.comparisons.bounds import PORT_LIMITS
from builder.comparisons.cells import Cell
from builder.metrics.intervals import effective_df, half_width
from catalog.method import MIN_POOLED_DF, PRACTICE_SESSION_SPREAD, PRACTICE_SIGMA_DB, Constants

Match = Literal["attenuation", "level", "spot"]
Component = tuple[float, float]  # variance, degrees of freedom


@dataclass(frozen=True, slots=True)
class Spread:
    """Day-to-day spread of one house as a fraction, and where it comes from."""

    fraction: float
    df: float
    source: Literal["measured", "declared", "assumed"]
    sessions: int = 0


ASSUMED_SPREAD = Spread(PRACTICE_SESSION_SPREAD, math.inf, "assumed")


@dataclass(frozen=True, slots=True)
class Weighted:
    """One device's share in a figure: its cells, their weights (adding to 1) and the slope of its line.

    sign   +1 or -1: how the device's mean enters the figure
    slope  Mbit/s per dB, used by the terms along the axis
    """

    cells: tuple[Cell, ...]
    weights: tuple[float, ...]
    slope: float
    sign: int = 1

    def entries(self) -> list[tuple[Cell, float, float]]:
        """(cell, its mean, signed weight) of every cell that takes part; cells of weight 0 play no part."""
        return [
            (cell, cell.mean, self.sign * weight)
            for cell, weight in zip(self.cells, self.weights, strict=True)
            if weight != 0 and cell.mean is not None
        ]

    @property
    def mean(self) -> float:
        """Weighted mean, without its sign. [Mbit/s]"""
        return sum(abs(weight) * mean for _, mean, weight in self.entries())

    @property
    def at_port(self) -> bool:
        """Whether a cell that takes part was held back by the device's own port."""
        return any(cell.limit in PORT_LIMITS for cell, _, _ in self.entries())


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """u [Mbit/s], its degrees of freedom (math.inf: infinitely many) and the constants it had to assume."""

    u: float
    df: float
    assumed: tuple[str, ...]

    @property
    def half_width(self) -> float:
        """Half of the 95 % interval. [Mbit/s]"""
        return half_width(self.u, self.df)


def standard_uncertainty(
    sides: Sequence[Weighted],
    *,
    match: Match,
    pool: Sequence[Cell],
    constants: Constants,
    spreads: Mapping[str, Spread],
) -> Uncertainty | None:
    """Uncertainty of the signed sum of the sides' means; None where a single run has no spread to take.

    sides    one device (a value) or two with opposite signs (a difference)
    pool     the cells of these devices in this group, inside the range or not: a single run takes their
             pooled relative spread
    spreads  day-to-day spread of every house
    """
    entries = [entry for side in sides for entry in side.entries()]
    repeats = repeat_terms(entries, pool, constants)
    if repeats is None:
        return None
    assumed: list[str] = []
    components = [*repeats, *_session_terms(sides, spreads, assumed)]
    if match == "attenuation":
        components += [(v, math.inf) for v in _place_terms(sides, constants, assumed)]
    elif match == "level":
        components.append((_level_term(sides, constants, assumed), math.inf))
    return Uncertainty(math.sqrt(sum(v for v, _ in components)), effective_df(components), tuple(assumed))


def repeat_terms(
    entries: Sequence[tuple[Cell, float, float]], pool: Sequence[Cell], constants: Constants
) -> list[Component] | None:
    """Term 1: one component a measured cell; all pooled cells together; declared values with infinite df."""
    components: list[Component] = []
    single: float = 0.0
    lonely = False
    for cell, mean, weight in entries:
        if cell.sd is not None:
            components.append((weight**2 * cell.sd**2 / cell.n, cell.n - 1))
        elif (declared := single_variance(cell, constants)) is not None:
            components.append((weight**2 * declared, math.inf))
        else:
            lonely = True
            single += (weight * mean) ** 2
    if lonely:
        spread = pooled_relative_spread(pool)
        if spread is None:
            return None
        relative, df = spread
        components.append((single * relative**2, df))
    return components


def single_variance(cell: Cell, constants: Constants) -> float | None:
    """Variance of a single run by the declared spread [(Mbit/s)^2]; None where none is declared."""
    if constants.house_spread_mbit_s is not None:
        return constants.house_spread_mbit_s**2
    if constants.house_spread_percent is not None:
        return (constants.house_spread_percent / 100 * (cell.mean or 0.0)) ** 2
    return None


def pooled_relative_spread(cells: Sequence[Cell]) -> tuple[float, float] | None:
    """Pooled relative spread of repeated cells and its degrees of freedom; None below 4 of them.

    sqrt(sum (n-1)(s/m)^2 / sum (n-1)); a cell of value 0 has no relative spread and is left out,
    and so is one held back by the client or the lab: its spread is that of the limit.
    """
    found = repeated(cells)
    df = sum(d for d, _ in found)
    if df < MIN_POOLED_DF:
        return None
    return math.sqrt(sum(d * r**2 for d, r in found) / df), float(df)


def repeated(cells: Sequence[Cell]) -> list[tuple[int, float]]:
    """(n - 1, s/m) of every cell whose relative spread may be pooled."""
    return [(c.n - 1, c.sd / c.mean) for c in cells if c.sd is not None and c.mean and not c.bound]


def _session_terms(sides: Sequence[Weighted], spreads: Mapping[str, Spread], assumed: list[str]) -> list[Component]:
    """Term 2: work done in one session partly cancels; with two devices wholly in one session it is 0."""
    by_session: dict[tuple[str, str], float] = defaultdict(float)
    for side in sides:
        for cell, mean, weight in side.entries():
            by_session[cell.house, cell.session] += weight * mean
    if len(sides) > 1 and len(by_session) == 1:
        return []
    by_house: dict[str, float] = defaultdict(float)
    for (house, _), total in by_session.items():
        by_house[house] += total**2
    components: list[Component] = []
    for house in sorted(by_house):
        spread = spreads.get(house, ASSUMED_SPREAD)
        if spread.source == "assumed" and "session_spread" not in assumed:
            assumed.append("session_spread")
        components.append((spread.fraction**2 * by_house[house], spread.df))
    return components


def _place_terms(sides: Sequence[Weighted], constants: Constants, assumed: list[str]) -> list[float]:
    """Terms 3 and 4: the spot's own error, and the offset of the kit it was read with."""
    placement = _noted(constants.attenuation_sigma_db, "attenuation_sigma_db", assumed)
    kit_sigma = _noted(constants.calibration_sigma_db, "calibration_sigma_db", assumed)
    by_place: dict[tuple[str, ...], float] = defaultdict(float)
    variance: dict[tuple[str, ...], float] = {}
    by_kit: dict[str, float] = defaultdict(float)
    for side in sides:
        for cell, _, weight in side.entries():
            place = own_place(cell)
            by_place[place] += weight * side.slope
            variance[place] = cell.reading_variance + placement**2
            by_kit[cell.kit or cell.house] += weight * side.slope
    spots = sum(variance[place] * by_place[place] ** 2 for place in sorted(by_place))
    kits = kit_sigma**2 * sum(by_kit[kit] ** 2 for kit in sorted(by_kit))
    return [spots, kits]


def own_place(cell: Cell) -> tuple[str, ...]:
    """What has one error of its loss: a spot and epoch; a typed attenuation is a spot of its own, shared with nobody."""
    return cell.place if cell.spot is not None else (cell.device, cell.unit, cell.firmware, *cell.place)


def _level_term(sides: Sequence[Weighted], constants: Constants, assumed: list[str]) -> float:
    """Level match, instead of terms 3 and 4: nothing cancels by spot."""
    sigma = _noted(constants.level_sigma_db, "level_sigma_db", assumed)
    return sigma**2 * sum((weight * side.slope) ** 2 for side in sides for _, _, weight in side.entries())


def declared_or_practice(value: float | None) -> float:
    """A declared standard uncertainty along the axis, else that by practice. [dB]"""
    return PRACTICE_SIGMA_DB if value is None else value


def _noted(value: float | None, name: str, assumed: list[str]) -> float:
    if value is None:
        assumed.append(name)
    return declared_or_practice(value)
