"""Each spot on each day beside what is measured already, and the half-widths that plans over them would have.

A plan says how often each cell of the lattice is repeated. Its cells go through `bench.uncertainty` like measured
ones: nothing of method section 3 is stated here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from builder.bench.bench import Subject
from builder.bench.cells import Cell, Group, Visit
from builder.bench.joined_line import SAME_X_DB
from builder.bench.scatter import Scatter
from builder.bench.sides import Flags, Floats, PaddedCells, Whole, padded_cells
from builder.bench.uncertainty import TERMS, SideSums, Term, components_of, side_sums, uncertainties
from builder.metrics.intervals import half_width
from builder.pairs.ranges import weights_over
from builder.planning.forecasts import Forecast
from builder.planning.places import Spot
from builder.planning.side_cells import SideCells, along, apart, covers_range, lines_of, side_by_side
from catalog.method import MIN_KNOTS

ENDLESS = 10**6
"""Repeats of a cell of which more would change nothing."""

_AT_ONCE = 4096  # plans that are worked out together, so that memory stays small
_MONTHLESS = "9999-12-31"  # the date of a day to come; only that it is no month counts


@dataclass(frozen=True, slots=True)
class Side:
    """A subject with what it has in the group already, and what it would give at the spots.

    measured  its cells on the axis
    forecast  None for one that nothing is planned for
    client    the client setup and driver its planned cells are measured with
    """

    subject: Subject
    measured: tuple[Cell, ...]
    forecast: Forecast | None
    client: tuple[str, str | None]


@dataclass(frozen=True, slots=True)
class Drawn:
    """What p benches would find instead of what is expected.

    level    its factor on the planned values, shape (p,)
    squares  s^2 of each planned cell over the expected, shape (p, cells)
    """

    level: Floats
    squares: Floats


@dataclass(frozen=True, slots=True)
class Expected:
    """Of p plans; arrays of shape (p,).

    u, df  standard uncertainty [Mbit/s] and its degrees of freedom
    half   half-width of the 95 % interval; infinite for a plan that does not cover the range. [Mbit/s]
    astray how far the other's mean over the planned knots lies from that over its own. [Mbit/s]
    """

    u: Floats
    df: Floats
    half: Floats
    astray: Floats


@dataclass(frozen=True)
class Lattice:
    """All that a plan may hold.

    device, other  the sides; other None where the mean of the device by itself is asked for
    spots, days    a cell of the lattice is one spot on one day, days after each other
    low, high      the range, which every plan covers. [dB]
    both           the other is measured again, beside the device on the same days, in two passes each
    inside         knots that each side needs inside of the range or on its edge
    """

    group: Group
    device: Side
    other: Side | None
    spots: tuple[Spot, ...]
    days: int
    low: float
    high: float
    both: bool
    scatter: Scatter
    inside: int = MIN_KNOTS

    @property
    def size(self) -> int:
        """Cells of the lattice."""
        return len(self.spots) * self.days

    @cached_property
    def sides(self) -> tuple[SideCells, ...]:
        """The device, and the other if there is one."""
        sides = [self._cells(self.device, planned=True)]
        return (*sides, self._cells(self.other, planned=self.both)) if self.other else tuple(sides)

    @cached_property
    def padded(self) -> PaddedCells:
        """Their cells; what is planned stands in for itself."""
        return padded_cells(
            [side.cells for side in self.sides],
            self.scatter,
            pools=[side.cells[: side.before] for side in self.sides],
        )

    @cached_property
    def own(self) -> tuple[Floats, float]:
        """What the other gives at the device's knots, and its mean over the range by all of its own, with what is planned
        of it where it is measured again; without another, what is expected of the device. [Mbit/s]
        """
        side = next(side for side in reversed(self.sides) if side.cells)
        n = np.ones((len(side.cells), 1))
        lines = lines_of(side, n, side.mean[:, np.newaxis])
        x, y = lines.x[~np.isnan(lines.x[:, 0]), 0], lines.y[~np.isnan(lines.x[:, 0]), 0]
        inside = np.unique([self.low, *x[(x > self.low) & (x < self.high)], self.high])
        return along(self.sides[0].x, x, y), float(np.trapezoid(along(inside, x, y), inside) / (self.high - self.low))

    def expected(self, repeats: Whole, drawn: Drawn | None = None) -> Expected:
        """Of plans, shape (p, cells): how often each cell is repeated, 0 for not at all."""
        parts = [
            self._expected(
                repeats[start : start + _AT_ONCE],
                None if drawn is None else Drawn(drawn.level[start:][:_AT_ONCE], drawn.squares[start:][:_AT_ONCE]),
            )
            for start in range(0, len(repeats), _AT_ONCE)
        ]
        return Expected(*(np.concatenate([getattr(part, name) for part in parts]) for name in Expected.__slots__))

    def shares(self, repeats: Whole) -> dict[Term, float]:
        """What part of the variance of a plan, shape (cells,), each term is."""
        cells, sums, a, b, _ = self._summed(repeats[np.newaxis], None)
        components, _, _ = components_of(cells, sums, a, b, scatter=self.scatter)
        by_term = dict.fromkeys(TERMS, 0.0)
        for component in components:
            by_term[component.term] += float(component.variance[0])
        total = sum(by_term.values())
        return {term: variance / total if total else 0.0 for term, variance in by_term.items()}

    def covers(self, repeats: Whole) -> Flags:
        """Whether plans, shape (p, cells), leave no gap in the range, on either side."""
        covered = np.ones(len(repeats), dtype=np.bool_)
        for number, side in enumerate(self.sides):
            planned = number == 0 or self.both
            n = side.repeated(repeats if planned else repeats[:1] * 0)
            x = lines_of(side, n, np.zeros(n.shape)).x
            covered &= covers_range(x, self.low, self.high, self.inside)
        return covered

    def _expected(self, repeats: Whole, drawn: Drawn | None) -> Expected:
        count = len(repeats)
        u, half, astray = (np.full(count, np.inf) for _ in range(3))
        df = np.full(count, np.inf)
        able = np.flatnonzero(self.covers(repeats))
        if len(able):
            of_able = None if drawn is None else Drawn(drawn.level[able], drawn.squares[able])
            cells, sums, a, b, means = self._summed(repeats[able], of_able)
            unsure = uncertainties(cells, sums, a, b, scatter=self.scatter)
            u[able], df[able] = unsure.u, unsure.df
            half[able] = np.where(unsure.known, half_width(unsure.u, unsure.df), np.inf)
            astray[able] = np.abs(means - self.own[1])
        return Expected(u, df, half, astray)

    def _summed(self, repeats: Whole, drawn: Drawn | None) -> tuple[PaddedCells, SideSums, Whole, Whole | None, Floats]:
        """Sides of p plans that cover the range as figures take them, and the other's mean over the planned knots."""
        count = len(repeats)
        copies = [count, count if self.both else 1][: len(self.sides)]
        cells = self.padded.of_sides(np.repeat(np.arange(len(copies)), copies))
        mean, variance, df, n = (getattr(cells, name).astype(np.float64) for name in ("mean", "variance", "df", "n"))
        share = cells.visit_share.copy()
        pool_df, pool_squares = cells.pool_df.copy(), cells.pool_squares.copy()
        lines, start = [], 0
        for number, (side, many) in enumerate(zip(self.sides, copies, strict=True)):
            here, slots = slice(start, start + many), slice(side.before, len(side.cells))
            if len(side.cells) > side.before:
                often = repeats.T.astype(np.float64)
                level = 1.0 if drawn is None or number else drawn.level
                squares = 1.0 if drawn is None else drawn.squares.T
                mean[slots, here] = side.mean[side.before :, np.newaxis] * level
                spread = (side.spread[:, np.newaxis] * mean[slots, here]) ** 2 * squares
                taken = often > 0
                n[slots, here] = often
                variance[slots, here] = np.where(taken, spread / np.where(taken, often, 1.0), 0.0)
                df[slots, here] = np.where(often > 1, often - 1, np.inf)
                pool_df[here] += np.maximum(often - 1, 0).sum(axis=0)
                pool_squares[here] += (np.maximum(often - 1, 0) * side.spread[:, np.newaxis] ** 2).sum(axis=0)
                if self.both:
                    # Two passes are two visits, but where a day has one spot: nobody walks away in between.
                    walks = taken.reshape(self.days, len(self.spots), -1).sum(axis=1) > 1
                    walks = np.repeat(walks, len(self.spots), axis=0)
                    first = np.where(taken & walks, np.ceil(often / 2) / np.where(taken, often, 1.0), 1.0)
                    visits = side.visits_before + 2 * np.arange(self.size)
                    share[visits, here] = first
                    share[visits + 1, here] = np.where(taken, 1 - first, 0.0)
            rows = slice(0, len(side.cells))
            lines.append(lines_of(side, n[rows, here], mean[rows, here]))
            start += many
        cells = replace(
            cells,
            mean=mean,
            n=n.astype(np.intp),
            variance=variance,
            df=df,
            visit_share=share,
            pool_df=pool_df,
            pool_squares=pool_squares,
        )
        every = np.arange(sum(copies))
        line = side_by_side(lines, cells)
        low, high = (np.full(len(every), end) for end in (self.low, self.high))
        weights, slopes = weights_over(line, every, low, high)
        sums = side_sums(cells, every, weights, slopes, match="attenuation", scatter=self.scatter)
        device = self.sides[0]
        means = (weights[: len(device.cells), :count] * self.own[0][device.knot][:, np.newaxis]).sum(axis=0)
        a = np.arange(count)
        b = None if self.other is None else a + count if self.both else np.full(count, count)
        return cells, sums, a, b, means

    def _cells(self, side: Side, *, planned: bool) -> SideCells:
        cells = list(side.measured)
        visits = sum(len(cell.visits) for cell in cells)
        spread = np.zeros(0)
        if planned:
            assert side.forecast is not None
            for day in range(self.days):
                for spot, value in zip(self.spots, side.forecast.values.tolist(), strict=True):
                    cells.append(self._to_measure(side, day, spot, value))
            spread = np.tile(side.forecast.spread, self.days)
        places = np.array([cell.attenuation_db for cell in cells], dtype=np.float64)
        x = apart(places)
        return SideCells(
            cells=tuple(cells),
            before=len(side.measured),
            visits_before=visits,
            n=np.array([cell.n for cell in cells], dtype=np.float64),
            mean=np.array([cell.mean for cell in cells], dtype=np.float64),
            spread=spread,
            x=x,
            knot=np.searchsorted(x, places - SAME_X_DB),
        )

    def _to_measure(self, side: Side, day: int, spot: Spot, value: float) -> Cell:
        client, driver = side.client
        session = f"day {day + 1}"
        passes = (1, 2) if self.both else (1,)
        visits: tuple[tuple[Visit, float], ...] = tuple(
            ((session, client, side.subject.device, side.subject.unit, (spot.place, number)), 1 / len(passes))
            for number in passes
        )
        return Cell(
            group=self.group,
            device=side.subject.device,
            unit=side.subject.unit,
            firmware=side.subject.firmware,
            client=client,
            driver=driver,
            session=session,
            date=_MONTHLESS,
            house=spot.house,
            spot=spot.name,
            spot_since=spot.since,
            place=spot.place,
            kit=spot.kit,
            attenuation_db=spot.loss_db,
            readings=spot.readings,
            readings_sd_db=spot.readings_sd_db,
            level_dbm=None,
            channels=(),
            n=2,
            mean=value,
            sd=0.0,
            median=None,
            bound=False,
            median_bound=False,
            limit=None,
            outcomes={},
            run_ids=(),
            visits=visits,
        )
