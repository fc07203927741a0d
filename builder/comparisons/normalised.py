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
from typing import Any

from builder import wording
from builder.comparisons.bench import Bench
from builder.comparisons.cells import Cell, Group
from builder.comparisons.judging import difference_uncertainty
from builder.comparisons.uncertainty import Weighted, repeat_terms
from builder.metrics.intervals import effective_df, half_width

SUSPENDED_OUTSIDE = (0.90, 1.10)
OTHER_SESSIONS = 2  # fewer are no long run to compare a day with (own rule)

FactorKey = tuple[str, str, Group]  # house, session, group


@dataclass(frozen=True, slots=True)
class SessionFactor:
    """What the reference device did in a session, divided by what it does in the long run, in one group.

    factor     mean over its places of value / mean of the other sessions at that place [1]
    u, df      its standard uncertainty and degrees of freedom; u None where the reference ran once without a
               spread to take [1]
    sessions   other sessions the long run is made of [1]
    """

    house: str
    session: str
    group: Group
    factor: float
    u: float | None
    df: float
    sessions: int

    @property
    def suspended(self) -> bool:
        """Whether the day was so odd that its normalised results wait until someone decides."""
        low, high = SUSPENDED_OUTSIDE
        return not low <= self.factor <= high

    @property
    def sentence(self) -> str:
        ends = wording.between(*SUSPENDED_OUTSIDE, 2)
        text = f"The reference device gave {wording.ratio(self.factor)} of its long-run mean that day"
        return f"{text}, outside {ends}: suspended until someone decides." if self.suspended else f"{text}."


@dataclass(frozen=True, slots=True)
class Normalised:
    """A cell's normalised value, or why there is none.

    value, half_width  [Mbit/s]; half_width None for a single run
    factor             None where the reference was not measured in that session and group
    """

    value: float | None
    half_width: float | None
    factor: SessionFactor | None
    bound: bool
    sentence: str


def session_factors(bench: Bench) -> dict[FactorKey, SessionFactor]:
    """The factor of every session and group in which its house's reference device can be compared with other days."""
    references = {house.house_id: house.reference_device for house in bench.houses.values()}
    alike: dict[tuple[object, ...], list[Cell]] = defaultdict(list)
    for cell in bench.cells:
        if cell.device == references.get(cell.house) and cell.mean and not cell.bound:
            alike[cell.house, cell.group, cell.unit, cell.firmware, cell.client, cell.driver, cell.place].append(cell)
    parts: dict[FactorKey, list[tuple[Cell, list[Cell]]]] = defaultdict(list)
    for members in alike.values():
        for cell in members:
            others = [c for c in members if c.session != cell.session]
            if len({c.session for c in others}) >= OTHER_SESSIONS:
                parts[cell.house, cell.session, cell.group].append((cell, others))
    found = {key: _factor(bench, key, own) for key, own in parts.items()}
    return dict(sorted(found.items(), key=lambda item: (item[0][0], item[0][1], item[0][2].sort_key)))


def normalised(bench: Bench, factors: Mapping[FactorKey, SessionFactor], cell: Cell) -> Normalised:
    """The normalised value of a cell with a mean.

    Raises  ValueError for a cell in which nothing finished.
    """
    if cell.mean is None:
        raise ValueError("nothing finished, so there is nothing to normalise")
    factor = factors.get((cell.house, cell.session, cell.group))
    if factor is None:
        return Normalised(
            None, None, None, cell.bound,
            "Not normalised: the reference device cannot be compared with other days in this session and group.",
        )  # fmt: skip
    if factor.suspended:
        return Normalised(None, None, factor, cell.bound, factor.sentence)
    value = cell.mean / factor.factor
    half = None if cell.bound else _half_width(bench, cell, cell.mean, factor)
    return Normalised(value, half, factor, cell.bound, factor.sentence)


def normalised_json(found: Normalised) -> dict[str, Any]:
    """A normalised value as part of a cell: Mbit/s; null where there is none."""
    factor, half = found.factor, found.half_width
    return {
        "value": found.value,
        "interval": None if found.value is None or half is None else [found.value - half, found.value + half],
        "factor": None if factor is None else factor.factor,
        "factor_u": None if factor is None else factor.u,
        "suspended": factor is not None and factor.suspended,
        "sentence": found.sentence,
    }


def _half_width(bench: Bench, cell: Cell, mean: float, factor: SessionFactor) -> float | None:
    """The terms of section 3 for one value, relative to it, and the factor's, relative to that."""
    one = Weighted((cell,), (1.0,), 0.0)
    pool = [c for c in bench.cells_of[cell.device] if _same(c, cell)]
    raw = difference_uncertainty(bench, (one,), match="spot", pool=pool)
    if raw is None or factor.u is None:
        return None
    value = mean / factor.factor
    components = [((value * raw.u / mean) ** 2, raw.df), ((value * factor.u / factor.factor) ** 2, factor.df)]
    return half_width(math.sqrt(sum(v for v, _ in components)), effective_df(components))


def _same(one: Cell, cell: Cell) -> bool:
    return (one.device, one.unit, one.firmware, one.group) == (cell.device, cell.unit, cell.firmware, cell.group)


def _factor(bench: Bench, key: FactorKey, parts: Sequence[tuple[Cell, list[Cell]]]) -> SessionFactor:
    """Mean of the places' ratios. Their days are the same ones, so the long run's error is shared, not averaged."""
    ratios: list[float] = []
    entries: list[tuple[Cell, float, float]] = []
    long_run, sessions = 0.0, min(len({c.session for c in others}) for _, others in parts)
    for cell, others in parts:
        daily = _by_session(others)
        mean = statistics.fmean(daily)
        assert cell.mean is not None
        ratio = cell.mean / mean
        ratios.append(ratio)
        long_run += ratio * statistics.stdev(daily) / math.sqrt(len(daily)) / mean / len(parts)
        entries.append((cell, cell.mean, 1 / (mean * len(parts))))
    repeats = repeat_terms(entries, [c for cell, others in parts for c in (cell, *others)], bench.constants)
    factor = statistics.fmean(ratios)
    if repeats is None:
        return SessionFactor(*key, factor, None, math.inf, sessions)
    components = [*repeats, (long_run**2, sessions - 1)]
    return SessionFactor(*key, factor, math.sqrt(sum(v for v, _ in components)), effective_df(components), sessions)


def _by_session(cells: Sequence[Cell]) -> list[float]:
    by_session: dict[str, list[float]] = defaultdict(list)
    for cell in cells:
        by_session[cell.session].append(cell.mean or 0.0)
    return [statistics.fmean(values) for _, values in sorted(by_session.items())]
