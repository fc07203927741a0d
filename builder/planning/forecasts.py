"""What planned cells would give: values from the device's own line, else the median device; scatter from the group."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from builder.bench.bench import Bench, Subject
from builder.bench.cells import Cell, Group
from builder.bench.sides import Floats, repeated
from builder.bench.tracks import Track
from builder.planning.places import Spot
from catalog.method import MIN_POOLED_DF

APART_DF = 16  # of values that are at least half the best and of the others, from which on each has its own scatter
STRONG = 0.5  # of the best value


@dataclass(frozen=True, slots=True)
class Spread:
    """Relative standard deviation of one run [1] with its degrees of freedom, of strong values and of the others."""

    strong: float
    strong_df: float
    weak: float
    weak_df: float


@dataclass(frozen=True, slots=True)
class Kin:
    """How a device of the group differs from the median one: its level and the scatter of its runs, as factors."""

    level: float
    spread: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """What a device would give at S spots.

    values, spread, spread_df  value [Mbit/s], relative standard deviation of one run and its degrees of freedom,
                               shape (S,); a value is nan where nobody measured so near or far
    own_line                   the values are those of its own line
    kin                        the other devices of the group
    """

    values: Floats
    spread: Floats
    spread_df: Floats
    own_line: bool
    kin: tuple[Kin, ...]


def forecast(bench: Bench, subject: Subject, group: Group, spots: Sequence[Spot], spread: Spread) -> Forecast:
    """The forecast for a subject in a group."""
    losses = [spot.loss_db for spot in spots]
    tracks = group_tracks(bench, group)
    others = {device: at_places(track, losses) for device, track in tracks.items() if device != subject.device}
    # With another firmware it is the device still, and nearer to itself than any other is.
    own_track = bench.line(subject, group, "attenuation") or tracks.get(subject.device)
    own = np.full(len(losses), np.nan) if own_track is None else at_places(own_track, losses)
    usual = _median(list(others.values()), len(losses))
    values = _filled_up(own, usual)
    strong = values >= STRONG * np.nanmax(values) if np.isfinite(values).any() else np.zeros(len(losses), np.bool_)
    return Forecast(
        values=values,
        spread=np.where(strong, spread.strong, spread.weak),
        spread_df=np.where(strong, spread.strong_df, spread.weak_df),
        own_line=bool(np.isfinite(own).any()),
        kin=_kin(bench, group, others, usual, spread),
    )


def group_tracks(bench: Bench, group: Group) -> dict[str, Track]:
    """The line of every device of a group that has one, with its current firmware."""
    lines = {device: bench.line(bench.subjects[device], group, "attenuation") for device in bench.cells_in[group]}
    return {device: line for device, line in lines.items() if line is not None}


def at_places(one: Track, losses: Sequence[float]) -> Floats:
    """A line at losses, nan where it was not tested. [Mbit/s]"""
    return np.array([one.line.at([x])[0] if one.line.covers(x, x) else math.nan for x in losses], dtype=np.float64)


def group_spread(bench: Bench, group: Group) -> Spread | None:
    """How runs of a group scatter around the mean of their cell, by all its devices; None where nothing shows it.

    Without four degrees of freedom it is what the bench declared for single runs.
    """
    strong: list[tuple[int, float]] = []
    weak: list[tuple[int, float]] = []
    for cells in bench.cells_in[group].values():
        best = max((cell.mean or 0.0 for cell in cells), default=0.0)
        strong += repeated([cell for cell in cells if (cell.mean or 0.0) >= STRONG * best])
        weak += repeated([cell for cell in cells if (cell.mean or 0.0) < STRONG * best])
    if min(_df(strong), _df(weak)) >= APART_DF:
        return Spread(_pooled(strong), _df(strong), _pooled(weak), _df(weak))
    together = [*strong, *weak]
    if _df(together) >= MIN_POOLED_DF:
        pooled = _pooled(together)
        return Spread(pooled, _df(together), pooled, _df(together))
    declared = bench.constants.house_spread_percent
    if declared is None and bench.constants.house_spread_mbit_s is not None:
        means = [cell.mean for cells in bench.cells_in[group].values() for cell in cells if cell.mean]
        declared = 100 * bench.constants.house_spread_mbit_s / float(np.median(means)) if means else None
    return None if declared is None else Spread(declared / 100, math.inf, declared / 100, math.inf)


def _pooled(repeats: Sequence[tuple[int, float]]) -> float:
    return math.sqrt(sum(df * relative**2 for df, relative in repeats) / _df(repeats))


def _df(repeats: Sequence[tuple[int, float]]) -> float:
    return float(sum(df for df, _ in repeats))


def _median(lines: Sequence[Floats], count: int) -> Floats:
    """The median device at each place; nan where none was tested."""
    if not lines:
        return np.full(count, np.nan)
    table = np.array(lines)
    result = np.full(count, np.nan)
    there = np.isfinite(table).any(axis=0)
    result[there] = np.nanmedian(table[:, there], axis=0)
    return result


def _filled_up(own: Floats, usual: Floats) -> Floats:
    """The device's own values; where it has none the median device's, as high as the device is where both are known."""
    both = np.isfinite(own) & np.isfinite(usual) & (usual > 0)
    if not both.any():
        return np.where(np.isfinite(own), own, usual)
    known = np.flatnonzero(both)
    nearest = known[np.abs(np.arange(len(own))[:, np.newaxis] - known).argmin(axis=1)]
    return np.where(np.isfinite(own), own, usual * own[nearest] / usual[nearest])


def _kin(bench: Bench, group: Group, others: Mapping[str, Floats], usual: Floats, spread: Spread) -> tuple[Kin, ...]:
    """Of each other device that was tested at half of the places and often enough to show its scatter."""
    kin = []
    for device, values in others.items():
        both = np.isfinite(values) & np.isfinite(usual) & (usual > 0)
        ratio = spread_ratio(bench.cells_in[group][device], spread)
        if 2 * both.sum() >= len(values) and ratio is not None:
            kin.append(Kin(float(np.mean(values[both] / usual[both])), ratio))
    return tuple(kin)


def spread_ratio(cells: Sequence[Cell], spread: Spread) -> float | None:
    """How much more than usual a device's runs scatter; None below four degrees of freedom."""
    best = max((cell.mean or 0.0 for cell in cells), default=0.0)
    total = df = 0.0
    for cell in cells:
        usual = spread.strong if (cell.mean or 0.0) >= STRONG * best else spread.weak
        for of_cell, relative in repeated([cell]):
            total += of_cell * (relative / usual) ** 2 if usual else 0.0
            df += of_cell
    return math.sqrt(total / df) if df >= MIN_POOLED_DF else None
