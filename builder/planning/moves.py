"""Ways from one plan to others: a step more, and what may be exchanged for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from builder.bench.sides import Whole


@dataclass(frozen=True, slots=True)
class Moves:
    """Over plans of so many days and spots, with cells of *least* repeats or more.

    A plan has the shape (days x spots,).
    """

    days: int
    spots: int
    least: int

    def steps(self, plan: Whole, best_half: Whole) -> Whole:
        """A repeat, a repeat everywhere, a cell, a spot, a day over all spots or over half of them, shape (p, cells).

        best_half  spots of the next day that take off most
        """
        there, each = plan > 0, np.eye(len(plan), dtype=np.intp)
        steps = [*(plan + each[there]), plan + there, *(plan + self.least * each[~there])]
        table = self.table(plan)
        used = (table > 0).any(axis=1)
        common = int(np.median(plan[there])) if there.any() else self.least
        for spot in range(self.spots):
            more = table.copy()
            more[used, spot] = np.maximum(more[used, spot], common)
            steps.append(more.ravel())
        if not used.all():
            for of_day in (self.places(plan), best_half):
                for often in {self.least, common}:
                    more = table.copy()
                    more[self.next_day(plan), of_day] = often
                    steps.append(more.ravel())
        return np.unique(np.array(steps), axis=0)

    def exchanged(self, plan: Whole) -> Whole:
        """The plan with a step or two less, with one moved, without a cell, a day or a spot, or with a spot in the place of
        another; itself, too; shape (p, cells).
        """
        cells = range(len(plan))
        each = np.eye(len(plan), dtype=np.intp)
        fewer = [self._less(plan, cell) for cell in cells if plan[cell]]
        results = [plan, *fewer]
        results += [self._less(one, cell) for one in fewer for cell in cells if one[cell]]
        results += [one + each[cell] * (1 if one[cell] else self.least) for one in fewer for cell in cells]
        results += [plan * (np.arange(len(plan)) != cell) for cell in cells]
        results += [table.ravel() for table in self._rearranged(self.table(plan))]
        return np.unique(np.array(results), axis=0)

    def table(self, plan: Whole) -> Whole:
        """A plan as days by spots."""
        return plan.reshape(self.days, self.spots)

    def next_day(self, plan: Whole) -> int | None:
        """The first day without a cell; None where there is none."""
        used = (self.table(plan) > 0).any(axis=1)
        return None if used.all() else int(np.argmin(used))

    def places(self, plan: Whole) -> Whole:
        """The spots that are used, all of an empty plan."""
        used = (self.table(plan) > 0).any(axis=0)
        return np.flatnonzero(used) if used.any() else np.arange(self.spots)

    def _less(self, plan: Whole, cell: int) -> Whole:
        """One repeat less of a cell; of its fewest, none of it."""
        less = plan.copy()
        less[cell] = less[cell] - 1 if less[cell] > self.least else 0
        return less

    def _rearranged(self, table: Whole) -> Iterator[Whole]:
        for day in range(self.days):
            less = table.copy()
            less[day] = 0
            yield less
        for spot in range(self.spots):
            less = table.copy()
            less[:, spot] = 0
            yield less
            for other in range(self.spots):
                if spot != other:
                    instead = less.copy()
                    instead[:, other] = np.maximum(table[:, spot], table[:, other])
                    yield instead
        yield np.where(table > 0, self.least, 0)
