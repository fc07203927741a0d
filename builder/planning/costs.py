"""What measuring costs in minutes, as the catalogue's own clock times show it, else as declared, else by practice."""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Literal

import numpy as np

from builder.bench.sides import Floats, Whole
from catalog.records import Run

Source = Literal["measured", "declared", "practice"]

PRACTICE_MINUTES = {"run_minutes": 2.0, "spot_minutes": 6.0, "session_minutes": 45.0, "swap_minutes": 10.0}
LONGEST_MINUTES = 120.0  # between two runs; what is longer was a break
LEAST_GAPS = 10  # that show a cost (own rule)


@dataclass(frozen=True, slots=True)
class Costs:
    """Minutes of one run, of going to a spot, of beginning a day, of hanging the other device; and where each is from."""

    run_minutes: float
    spot_minutes: float
    session_minutes: float
    swap_minutes: float
    sources: Mapping[str, Source]

    def minutes(self, repeats: Whole, *, spots: int, both: bool) -> Floats:
        """Of plans, shape (p, days x spots): how often each cell is repeated.

        both  two devices, each in two passes over the spots of a day, changed twice a day
        """
        visited = repeats > 0
        days = visited.reshape(len(repeats), repeats.shape[1] // spots, spots).any(axis=2).sum(axis=1)
        runs, visits = repeats.sum(axis=1), visited.sum(axis=1)
        if both:
            runs, visits = 2 * runs, 4 * visits
        of_day = self.session_minutes + (2 * self.swap_minutes if both else 0.0)
        return np.asarray(runs * self.run_minutes + visits * self.spot_minutes + days * of_day, dtype=np.float64)


def costs_of(runs: Sequence[Run], declared: Mapping[str, float]) -> Costs:
    """Costs as the clock times of runs show them.

    declared  what the bench said under [bench], by the names of the costs
    """
    shown = _measured(runs)
    minutes: dict[str, float] = {}
    sources: dict[str, Source] = {}
    for name, by_practice in PRACTICE_MINUTES.items():
        if name in shown:
            minutes[name], sources[name] = shown[name], "measured"
        elif name in declared:
            minutes[name], sources[name] = declared[name], "declared"
        else:
            minutes[name], sources[name] = by_practice, "practice"
    return Costs(**minutes, sources=sources)


def _measured(runs: Sequence[Run]) -> dict[str, float]:
    """Medians of the times between runs that follow each other; what too few show is left out."""
    days: dict[str, dict[tuple[str, str, str], list[tuple[datetime, tuple[object, ...]]]]] = defaultdict(
        lambda: defaultdict(list)
    )
    for run in runs:
        if run.clocked:
            place = run.spot, run.attenuation_db if run.spot is None else None
            at = datetime.fromisoformat(run.at_utc)
            days[run.session][run.device, run.unit, run.client].append((at, place))
    stay: list[float] = []
    walk: list[float] = []
    swap: list[float] = []
    for by_device in days.values():
        stretches: dict[tuple[str, str], list[datetime]] = defaultdict(list)
        for (device, unit, _), visited in by_device.items():
            visited.sort(key=lambda one: one[0])
            stretches[device, unit] += [at for at, _ in visited]
            for (before, here), (then, there) in pairwise(visited):
                (stay if here == there else walk).append(_between(before, then))
        spans = sorted((min(times), max(times)) for times in stretches.values())
        swap += [_between(end, begin) for (_, end), (begin, _) in pairwise(spans)]
    medians = [_median([gap for gap in gaps if 0 < gap <= LONGEST_MINUTES]) for gaps in (stay, walk, swap)]
    stayed, to_spot, to_device = medians
    shown: dict[str, float] = {}
    if stayed is not None:
        shown["run_minutes"] = stayed
        if to_spot is not None:
            shown["spot_minutes"] = max(to_spot - stayed, 0.0)
            if to_device is not None:
                shown["swap_minutes"] = max(to_device - to_spot, 0.0)
    return shown


def _between(before: datetime, then: datetime) -> float:
    return (then - before).total_seconds() / 60


def _median(gaps: Sequence[float]) -> float | None:
    return statistics.median(gaps) if len(gaps) >= LEAST_GAPS else None
