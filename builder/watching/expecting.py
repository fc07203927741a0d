"""What a run of the day should give: how repeats scatter, and how a place differs from another by the older devices."""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from builder.bench.bench import Bench
from builder.bench.cells import Group
from builder.bench.reference import slope_around
from builder.bench.tracks import Track
from builder.metrics.intervals import two_sided_p
from builder.planning.forecasts import STRONG, Spread, at_places, group_spread, group_tracks
from builder.watching.day_runs import DayRun
from catalog.method import PRACTICE_SLOPE_PER_DB

RARE = 1 / 500  # (practice) what chance brings less often is said
LEAST_RESIDUALS = 8  # of the day's own repeats, from which on their scatter counts (own rule)
LEAST_OLDER = 2  # older devices that show how one place differs from another (own rule)
LEAST_OF_VISIT = 3
NEAREST = 2  # places that say what another should give
_NORMAL_MAD = 0.6745  # the median of |z| of normal z


@dataclass(frozen=True, slots=True)
class Expected:
    """What a run should give, and the relative standard uncertainty of that. [Mbit/s, 1]"""

    value: float
    spread: float

    def odds_of(self, value: float) -> float:
        """How likely chance puts a value so far off. [1]"""
        return chance(math.log(value / self.value), self.spread)


class Expecting:
    """What is known of how the day's runs should come out.

    before  the catalogue without the day
    runs    those of the day
    """

    def __init__(self, before: Bench, runs: Sequence[DayRun]) -> None:
        self.before = before
        self.runs = runs
        self.of_cell: Mapping[object, Sequence[DayRun]] = _by(runs, lambda run: run.cell)
        self._of_device = _by(runs, lambda run: (run.device, run.session, run.group))
        self._lines: dict[Group, Mapping[str, Track]] = {}
        self._spreads: dict[Group, Spread | None] = {}
        self._falls: dict[tuple[Group | None, float | None], float] = {}
        self._strong_from: dict[object, float] = {}
        self._residuals: dict[object, list[tuple[int, bool, float]]] = {}

    def spread_of(self, run: DayRun) -> float | None:
        """Relative standard deviation of one run around the others of its visit, where anything shows it.

        That of the group in the catalogue, or that of the device's own runs of today where they scatter more.
        """
        return max((one for one in (self._usual_spread(run), self._own_spread(run)) if one is not None), default=None)

    def least_spread_of(self, run: DayRun, *, apart_from: Collection[int]) -> float | None:
        """The same, or less where the device's runs of other visits scatter less."""
        own = self._own_spread(run, apart_from=apart_from)
        return min((one for one in (self._usual_spread(run), own) if one is not None), default=None)

    def standing_again(self, run: DayRun) -> float:
        """Relative standard deviation of a value by standing at its place again. [1]"""
        return self.before.scatter.placement(run.house).sigma_db * self._fall_at(run)

    def from_elsewhere(self, run: DayRun, *, without: Collection[DayRun] = ()) -> Expected | None:
        """What the device's runs at other places lead to here, as the older devices differ between the two places.

        None where fewer than two of these were measured at both, or the device nowhere else today.
        """
        if run.loss_db is None or run.group is None:
            return None
        places: dict[float, list[float]] = defaultdict(list)
        for one in self._of_device[run.device, run.session, run.group]:
            if one.value and one.loss_db is not None and one.loss_db != run.loss_db and one not in without:
                places[one.loss_db].append(one.value)
        here, guesses = run.loss_db, []
        for loss in sorted(places, key=lambda at: abs(at - here))[:NEAREST]:
            ratios = self._ratios(run.group, loss, here)
            if len(ratios) >= LEAST_OLDER:
                middle = statistics.median(ratios)
                guesses.append((math.log(statistics.median(places[loss])) + middle, statistics.stdev(ratios)))
        if not guesses:
            return None
        value = math.exp(statistics.fmean(guess for guess, _ in guesses))
        spread = max(spread for _, spread in guesses)
        return Expected(value, math.hypot(spread, 2**0.5 * self.standing_again(run), self.spread_of(run) or 0.0))

    def lines(self, group: Group | None) -> Mapping[str, Track]:
        """Lines of the older devices of a group."""
        if group is None or group not in self.before.cells_in:
            return {}
        if group not in self._lines:
            self._lines[group] = group_tracks(self.before, group)
        return self._lines[group]

    def _ratios(self, group: Group, one: float, other: float) -> list[float]:
        """ln of what each older device gives at one place over what it gives at another."""
        pairs = [at_places(track, [one, other]) for track in self.lines(group).values()]
        return [math.log(there / here) for here, there in pairs if here > 0 and there > 0]

    def _fall_at(self, run: DayRun) -> float:
        """How much of a value is lost by one dB more, by the median of the older devices. [1 per dB]"""
        key = run.group, run.loss_db
        if key not in self._falls:
            falls = []
            for track in self.lines(run.group).values() if run.loss_db is not None else ():
                slope = slope_around(run.loss_db or 0.0, track.line.x, track.line.y)
                here = float(at_places(track, [run.loss_db or 0.0])[0])
                if slope is not None and here > 0:
                    falls.append(abs(slope) / here)
            self._falls[key] = statistics.median(falls) if falls else PRACTICE_SLOPE_PER_DB
        return self._falls[key]

    def _usual_spread(self, run: DayRun) -> float | None:
        """That of the group in the catalogue."""
        group = run.group
        if group is None or group not in self.before.cells_in:
            return None
        if group not in self._spreads:
            self._spreads[group] = group_spread(self.before, group)
        spread = self._spreads[group]
        if spread is None:
            return None
        return spread.strong if self._strong(run) else spread.weak

    def _strong(self, run: DayRun) -> bool:
        """Whether a run's value is one of the strong ones of its device, or of the older ones while it is the first."""
        key = run.device, run.session, run.group
        if key not in self._strong_from:
            visits = _by([one for one in self._of_device[key] if one.value], lambda one: one.visit)
            best = [statistics.median([one.value or 0.0 for one in visit]) for visit in visits.values()]
            older = [float(track.line.y.max()) for track in self.lines(run.group).values()]
            self._strong_from[key] = STRONG * max([*best, *([statistics.median(older)] if older else [])], default=0.0)
        return (run.value or 0.0) >= self._strong_from[key]

    def _own_spread(self, run: DayRun, *, apart_from: Collection[int] = ()) -> float | None:
        """By the middle of how far the device's runs of today lie from the median of their visit: a few that are off do
        not widen it.
        """
        key = run.device, run.session, run.group
        if key not in self._residuals:
            self._residuals[key] = []
            alike = _by([one for one in self._of_device[key] if one.value], lambda one: (one.visit, one.cell))
            for visit in alike.values():
                if len(visit) < LEAST_OF_VISIT:
                    continue
                middle = statistics.median([math.log(one.value or 1.0) for one in visit])
                wider = math.sqrt(len(visit) / (len(visit) - 1))
                self._residuals[key] += [
                    (one.visit, self._strong(one), wider * abs(math.log(one.value or 1.0) - middle)) for one in visit
                ]
        strong = self._strong(run)
        off = [of for visit, of_strong, of in self._residuals[key] if of_strong == strong and visit not in apart_from]
        return statistics.median(off) / _NORMAL_MAD if len(off) >= LEAST_RESIDUALS else None


def _by(runs: Sequence[DayRun], key: Callable[[DayRun], object]) -> Mapping[object, list[DayRun]]:
    grouped: dict[object, list[DayRun]] = defaultdict(list)
    for run in runs:
        grouped[key(run)].append(run)
    return grouped


def chance(off: float, spread: float) -> float:
    """How often a normal value lies so far off, in either direction. [1]"""
    return float(two_sided_p(off, max(spread, 1e-9), math.inf))


def odds_text(share: float) -> str:
    """ "one in 500", "not one in 10,000"."""
    if share < 1e-4:
        return "not one in 10,000"
    often = round(1 / share)
    return f"one in {int(round(often, 1 - len(str(often)))):,}"
