"""Results as they would have been on an average day of their house (method.md, section 9).

The house's reference device, measured in a session, says how good a day it was: raw / factor is the normalised value,
and the reference's own uncertainty joins its interval. Raw is what is shown unless somebody asks.
"""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from builder import wording
from builder.bench.bench import Bench
from builder.bench.cells import Cell, Group
from builder.bench.decisions import Decision
from builder.bench.falls import fall_at
from builder.bench.sides import padded_cells
from builder.bench.tracks import track
from builder.bench.uncertainty import repeat_terms, side_sums, value_uncertainty
from builder.bench.weighted import Weighted
from builder.metrics.intervals import effective_df, half_width
from catalog.dates import is_month
from catalog.figure_names import joined_id

SUSPENDED_OUTSIDE = (0.90, 1.10)
OTHER_SESSIONS = 2  # fewer do not make a long run to compare a day with (own rule)

FactorKey = tuple[str, str, Group]  # house, session, group
State = Literal["in force", "suspended", "set aside"]


@dataclass(frozen=True, slots=True)
class SessionFactor:
    """What the reference device did in a session, divided by what it does in the long run, in one group.

    factor     mean over its places of value / mean of the other sessions at that place [1]
    u, df      its standard uncertainty and degrees of freedom; u None where the reference ran once without a
               spread to take [1]
    sessions   other sessions the long run is made of [1]
    decision   what somebody decided on the session; None: nobody had to, or did
    """

    house: str
    session: str
    group: Group
    factor: float
    u: float | None
    df: float
    sessions: int
    decision: Decision | None = None

    @property
    def figure(self) -> str:
        return "~".join([joined_id("factor", self.house, self.session), self.group.slug])

    @property
    def odd(self) -> bool:
        """Whether the day was so odd that somebody has to decide before its factor is used."""
        low, high = SUSPENDED_OUTSIDE
        return not low <= self.factor <= high

    @property
    def state(self) -> State:
        """Whether the factor is used: an odd one only after a decision, none that was set aside."""
        if self.decision is not None:
            return "set aside" if self.decision.word == "set aside" else "in force"
        return "suspended" if self.odd else "in force"

    @property
    def suspended(self) -> bool:
        """Whether the day's normalised results wait until someone decides."""
        return self.state == "suspended"

    @property
    def interval(self) -> tuple[float, float] | None:
        """95 % interval of the factor; None without an uncertainty."""
        if self.u is None:
            return None
        half = float(half_width(self.u, self.df))
        return self.factor - half, self.factor + half

    @property
    def sentence(self) -> str:
        text = f"The reference device gave {wording.ratio(self.factor)} of its long-run mean that day"
        outside = f", outside {wording.between(*SUSPENDED_OUTSIDE, 2)}" if self.odd else ""
        if self.decision is not None and (self.odd or self.state == "set aside"):
            return f"{text}{outside}. {self.decision.sentence}."
        return f"{text}{outside}: suspended until someone decides." if self.suspended else f"{text}."


@dataclass(frozen=True, slots=True)
class Normalised:
    """A cell's normalised value, or why there is none.

    value, half_width  [Mbit/s]; half_width None for a single run
    factor             None where the reference was not measured in that session and group, or is the cell's device
    """

    value: float | None
    half_width: float | None
    factor: SessionFactor | None
    bound: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class _Part:
    """The reference at one place on one day, and the mean and standard deviation of its other days there."""

    cell: Cell
    mean: float
    sd: float
    others: int
    members: Sequence[Cell]


def session_factors(bench: Bench) -> dict[FactorKey, SessionFactor]:
    """The factor of every session and group in which its house's reference device can be compared with other days."""
    references = {house.house_id: house.reference_device for house in bench.houses.values()}
    alike: dict[tuple[object, ...], list[Cell]] = defaultdict(list)
    for cell in bench.cells:
        usual = cell.mean and not cell.bound and not is_month(cell.date)
        if cell.device == references.get(cell.house) and usual:
            alike[cell.house, cell.group, cell.unit, cell.firmware, cell.client, cell.driver, cell.place].append(cell)
    parts: dict[FactorKey, list[_Part]] = defaultdict(list)
    for members in alike.values():  # one a session: the rest of what makes a cell is equal
        if len(members) <= OTHER_SESSIONS:
            continue
        values = np.array([cell.mean for cell in members], dtype=float)
        for number, cell in enumerate(members):
            others = np.delete(values, number)
            part = _Part(cell, float(others.mean()), float(others.std(ddof=1)), len(others), members)
            parts[cell.house, cell.session, cell.group].append(part)
    results = {key: _factor(bench, key, of_group) for key, of_group in parts.items()}
    return dict(sorted(results.items(), key=lambda item: (item[0][0], item[0][1], item[0][2].sort_key)))


def normalised(bench: Bench, factors: Mapping[FactorKey, SessionFactor], cell: Cell) -> Normalised:
    """The normalised value of a cell with a mean.

    Raises  ValueError for a cell in which nothing finished.
    """
    return _normalised(bench, factors, cell, [c for c in bench.cells_of[cell.subject_id] if _pooled_with(c, cell)])


def normalised_cells(
    bench: Bench, factors: Mapping[FactorKey, SessionFactor], device: str
) -> list[tuple[Cell, Normalised]]:
    """Every cell of a device that has a mean, in the order of the bench, with its normalised value."""
    pools: dict[tuple[object, ...], list[Cell]] = defaultdict(list)
    cells = bench.cells_of.get(device, ())
    for cell in cells:
        pools[_pool_key(cell)].append(cell)
    return [(c, _normalised(bench, factors, c, pools[_pool_key(c)])) for c in cells if c.mean is not None]


def normalised_json(result: Normalised) -> dict[str, Any]:
    """A normalised value as part of a cell: Mbit/s; null where there is none."""
    factor, half = result.factor, result.half_width
    return {
        "value": result.value,
        "interval": None if result.value is None or half is None else [result.value - half, result.value + half],
        "factor": None if factor is None else factor.factor,
        "factor_u": None if factor is None else factor.u,
        "suspended": factor is not None and factor.suspended,
        "state": None if factor is None else factor.state,
        "sentence": result.sentence,
    }


def factor_json(result: SessionFactor) -> dict[str, Any]:
    """A session factor: ratios without a unit; df null where infinite."""
    return {
        "house": result.house,
        "session": result.session,
        "factor": result.factor,
        "u": result.u,
        "df": result.df if math.isfinite(result.df) else None,
        "interval": None if result.interval is None else list(result.interval),
        "other_sessions": result.sessions,
        "state": result.state,
        "sentence": result.sentence,
        "figure": result.figure,
    }


def _normalised(
    bench: Bench, factors: Mapping[FactorKey, SessionFactor], cell: Cell, pool: Sequence[Cell]
) -> Normalised:
    if cell.mean is None:
        raise ValueError("nothing finished, so there is nothing to normalise")
    house = bench.houses.get(cell.house)
    if house is not None and cell.device == house.reference_device:
        sentence = "Not normalised: it is the reference device, of which the factor is made."
        return Normalised(None, None, None, cell.bound, sentence)
    factor = factors.get((cell.house, cell.session, cell.group))
    if factor is None:
        return Normalised(
            None,
            None,
            None,
            cell.bound,
            "Not normalised: the reference device cannot be compared with other days in this session and group.",
        )
    if factor.state != "in force":
        return Normalised(None, None, factor, cell.bound, factor.sentence)
    value = cell.mean / factor.factor
    half = None if cell.bound else _half_width(bench, cell, cell.mean, factor, pool)
    return Normalised(value, half, factor, cell.bound, factor.sentence)


def _half_width(bench: Bench, cell: Cell, mean: float, factor: SessionFactor, pool: Sequence[Cell]) -> float | None:
    """The terms of section 3 for one value, relative to it, and the factor's, relative to that."""
    one = Weighted((cell,), (1.0,), fall_at(bench, [cell], track(pool, match="attenuation")).slope)
    raw = value_uncertainty(bench, one, match="spot", pool=pool)
    if raw is None or factor.u is None:
        return None
    value = mean / factor.factor
    components = [((value * raw.u / mean) ** 2, raw.df), ((value * factor.u / factor.factor) ** 2, factor.df)]
    return float(half_width(math.sqrt(sum(v for v, _ in components)), effective_df(components)))


def _pool_key(cell: Cell) -> tuple[object, ...]:
    return cell.unit, cell.firmware, cell.group


def _pooled_with(one: Cell, cell: Cell) -> bool:
    return _pool_key(one) == _pool_key(cell)


def _factor(bench: Bench, key: FactorKey, parts: Sequence[_Part]) -> SessionFactor:
    """Mean of the places' ratios. Their days are the same ones, so the long run's error is shared, not averaged."""
    ratios = [(part.cell.mean or 0.0) / part.mean for part in parts]
    long_run = sum(
        ratio * part.sd / math.sqrt(part.others) / part.mean / len(parts)
        for ratio, part in zip(ratios, parts, strict=True)
    )
    sessions = min(part.others for part in parts)
    factor, decision = statistics.fmean(ratios), bench.decisions.get(key[1])
    cells = padded_cells(
        [[part.cell for part in parts]],
        bench.scatter,
        pools=[[cell for part in parts for cell in part.members]],
    )
    weights = np.array([[1 / (part.mean * len(parts))] for part in parts])
    one = np.array([0])
    sums = side_sums(cells, one, weights, np.zeros(1), match="spot", scatter=bench.scatter)
    variance, dof, known = (values[0].item() for values in repeat_terms(cells, sums, one))
    if not known:
        return SessionFactor(*key, factor, None, math.inf, sessions, decision)
    repeats = (variance, variance**2 / dof if dof else math.inf)
    components = [repeats, (long_run**2, sessions - 1)]
    return SessionFactor(*key, factor, math.sqrt(variance + long_run**2), effective_df(components), sessions, decision)
