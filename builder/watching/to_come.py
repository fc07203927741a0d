"""The cells of a day as they are and as they will be: half-widths of a difference with further runs, by section 3.

Runs to come stand in for themselves with what is expected of them, in their own session and visits, so that nothing of
method section 3 is stated here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from builder.bench.bench import Bench, Subject, cells_of_subject
from builder.bench.cells import Cell, Visit
from builder.bench.tracks import Track, track
from builder.bench.uncertainty import summed, uncertainties
from builder.metrics.intervals import half_width
from builder.planning.forecasts import STRONG, Spread, forecast, spread_ratio
from builder.planning.lattices import Lattice
from builder.planning.places import Spot
from builder.watching.day_plan import DayPlan
from catalog.method import MIN_KNOTS

Key = tuple[str, str, str]
"""Device, session and label of the spot of a cell of the day."""

_TO_COME = -1  # no visit of a bench has such a number


@dataclass(frozen=True)
class Standing:
    """Both sides of a day's question as they are now.

    after  the bench with the day
    usual  how runs of the group scatter without it
    """

    plan: DayPlan
    lattice: Lattice
    after: Bench
    usual: Spread

    @property
    def sides(self) -> tuple[Subject, ...]:
        """The device, and the other if there is one."""
        return (self.plan.device,) if self.plan.other is None else (self.plan.device, self.plan.other)

    @cached_property
    def cells(self) -> Mapping[str, list[Cell]]:
        """Everything each has on the axis."""
        result: dict[str, list[Cell]] = {}
        for side in self.sides:
            own = cells_of_subject(self.after, side, self.lattice.group)
            result[side.device] = [cell for cell in own if cell.mean and cell.attenuation_db is not None]
        return result

    @cached_property
    def today(self) -> Mapping[Key, Cell]:
        """The cells of the day."""
        sessions = {session for _, session, _ in self.plan.cells}
        return {
            (device, cell.session, spot_label(cell)): cell
            for device, cells in self.cells.items()
            for cell in cells
            if cell.session in sessions
        }

    def own_scatter(self, device: str) -> float | None:
        """How much more than usual a device's runs of today scatter; None below four degrees of freedom."""
        today = [cell for (of, _, _), cell in self.today.items() if of == device]
        return spread_ratio(today, self.usual)

    @cached_property
    def spreads(self) -> Mapping[str, Spread]:
        """How one run of each device scatters: by its own runs of today where these show it, else as in the group."""
        results: dict[str, Spread] = {}
        for side in self.sides:
            ratio = self.own_scatter(side.device)
            ratio = 1.0 if ratio is None else ratio
            results[side.device] = replace(self.usual, strong=ratio * self.usual.strong, weak=ratio * self.usual.weak)
        return results

    def with_more(self, more: Mapping[Key, int], *, stays: Key | None = None) -> dict[str, list[Cell]]:
        """The cells of each side with so many further runs in some of them.

        stays  the cell where client and device stand now: its further runs are of the same visit
        """
        results: dict[str, list[Cell]] = {}
        for number, side in enumerate(self.sides):
            grown = {key: often for key, often in more.items() if key[0] == side.device and often > 0}
            replaced = {id(self.today[key]) for key in grown if key in self.today}
            cells = [cell for cell in self.cells[side.device] if id(cell) not in replaced]
            for key, often in grown.items():
                cell = self._grown(number, key, often, stays=key == stays)
                cells += [] if cell is None else [cell]
            results[side.device] = cells
        return results

    def half(self, cells: Mapping[str, Sequence[Cell]]) -> float:
        """Half-width over the range of the plan; infinite where that is not covered. [Mbit/s]"""
        tracks = [self._covering(cells[side.device]) for side in self.sides]
        covering = [one for one in tracks if one is not None]
        if len(covering) < len(tracks):
            return math.inf
        low, high = self.lattice.low, self.lattice.high
        weighted = [one.over(low, high, sign=1 if number == 0 else -1) for number, one in enumerate(covering)]
        padded, sums = summed(self.after, weighted, match="attenuation", pools=[one.cells for one in weighted])
        other = np.array([1]) if len(weighted) > 1 else None
        unsure = uncertainties(padded, sums, np.array([0]), other, scatter=self.after.scatter)
        return float(half_width(unsure.u, unsure.df)[0]) if unsure.known[0] else math.inf

    def uncovered(self, cells: Mapping[str, Sequence[Cell]]) -> list[Subject]:
        """The sides that do not cover the range of the plan yet."""
        return [side for side in self.sides if self._covering(cells[side.device]) is None]

    def _covering(self, cells: Sequence[Cell]) -> Track | None:
        joined = track(list(cells), match="attenuation") if cells else None
        low, high = self.lattice.low, self.lattice.high
        if joined is None or not joined.line.covers(low, high):
            return None
        return joined if len(joined.line.knots_within(low, high)) >= min(MIN_KNOTS, self.lattice.inside) else None

    def _grown(self, number: int, key: Key, often: int, *, stays: bool) -> Cell | None:
        """A cell with further runs that come out as expected: a visit of their own, unless somebody stands there."""
        device, session, label = key
        spot = self.plan.spots.get(label)
        planned = self.lattice.sides[number]
        if spot is None or ((cell := self.today.get(key)) is None and len(planned.cells) == planned.before):
            return None
        known = cell is not None and cell.mean is not None
        mean = cell.mean or 0.0 if cell is not None and known else self._expected[device].get(label, math.nan)
        if not math.isfinite(mean):
            return None
        squares = often * (self._spread(device, mean) * mean) ** 2
        if cell is None:
            fresh = planned.cells[planned.before + list(self.plan.spots).index(label)]
            visit = _visit_to_come(fresh, session, spot)
            sd = math.sqrt(squares / often) if often > 1 else None
            return replace(fresh, session=session, n=often, mean=mean, sd=sd, visits=((visit, 1.0),))
        n = cell.n + often
        squares += (cell.n - 1) * cell.sd**2 if cell.sd is not None else 0.0
        visits = [(visit, share * cell.n / n) for visit, share in cell.visits]
        if stays and visits:
            visits[-1] = visits[-1][0], visits[-1][1] + often / n
        else:
            visits.append((_visit_to_come(cell, session, spot), often / n))
        return replace(cell, n=n, sd=math.sqrt(squares / (n - 1)), visits=tuple(visits))

    @cached_property
    def _expected(self) -> Mapping[str, Mapping[str, float]]:
        """What each side should give at each spot, by its own line of today where that reaches. [Mbit/s]"""
        results: dict[str, Mapping[str, float]] = {}
        for side in self.sides:
            spread = self.spreads[side.device]
            expected = forecast(self.after, side, self.lattice.group, self.lattice.spots, spread)
            results[side.device] = dict(zip(self.plan.spots, expected.values.tolist(), strict=True))
        return results

    def _spread(self, device: str, value: float) -> float:
        best = max((cell.mean or 0.0 for cell in self.cells[device]), default=value)
        return self.spreads[device].strong if value >= STRONG * best else self.spreads[device].weak


def _visit_to_come(cell: Cell, session: str, spot: Spot) -> Visit:
    return session, cell.client, cell.device, cell.unit, (spot.place, _TO_COME)


def spot_label(cell: Cell) -> str:
    """What the place of a cell is called in a plan."""
    return cell.spot or Spot(cell.house, None, None, cell.attenuation_db or 0.0, 1, None, None).label
