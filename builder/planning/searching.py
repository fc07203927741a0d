"""The plan that pays most: all sets of a small lattice, else starts, steps and exchanges, many plans at once.

What counts is one number a plan, its *merit*: ln(half-width) + minutes / 3000, for thirty more minutes have to take
off one percent. Where a half-width is asked for, it is the minutes among the plans that reach it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from builder.bench.sides import Flags, Floats, Whole
from builder.planning.costs import Costs
from builder.planning.lattices import Expected, Lattice
from builder.planning.moves import Moves
from builder.planning.questions import MOST_REPEATS

EXHAUSTIVE_UP_TO = 12  # cells of a lattice of which every set is looked at
WORTH_MINUTES = 30.0  # that have to take off ...
WORTH = 0.01  # ... this share of the half-width
ASTRAY = 0.25  # of the half-width: how far the other's mean over the planned knots may be from its own

_PER_MINUTE = WORTH / WORTH_MINUTES
_ROUNDS = 12  # of exchanges; far more than were ever needed
_KEPT = 12  # plans that are filled up in a round


@dataclass(frozen=True)
class Wish:
    """What a plan is for.

    half     the half-width to be reached; None: as small as the minutes allow. [Mbit/s]
    minutes  at most; infinite where nobody said
    least    repeats of a cell at least
    """

    half: float | None
    minutes: float
    least: int


@dataclass(frozen=True)
class Chosen:
    """The plan that was chosen, shape (cells,), with what is expected of it and its minutes."""

    repeats: Whole
    half: float
    minutes: float


class Search:
    """Over one lattice, for one wish."""

    def __init__(self, lattice: Lattice, costs: Costs, wish: Wish) -> None:
        self.lattice, self.costs, self.wish = lattice, costs, wish
        self.spots, self.days = len(lattice.spots), lattice.days
        self.moves = Moves(self.days, self.spots, wish.least)
        whole = np.full((1, lattice.size), wish.least)
        # Where even all spots lead astray more than is wished, no plan does better than they.
        self.unavoidable = float(lattice.expected(whole).astray[0])

    def best(self) -> Chosen | None:
        """None where no plan covers the range within the minutes."""
        plans = self._starts()
        if self.lattice.size <= EXHAUSTIVE_UP_TO:
            plans = np.vstack([plans, self._every_set()])
            plans = self._first_of(plans, _KEPT)
        plans = self._allowed(plans)
        if not len(plans):
            return None
        plans = self._filled(plans)
        best = self._first_of(plans, 1)
        for _ in range(_ROUNDS):
            changed = self._filled(self._first_of(self.moves.exchanged(best[0]), _KEPT))
            better = self._first_of(np.vstack([best, changed]), 1)
            if (better == best).all():
                break
            best = better
        half, minutes = self._worked_out(best)
        return Chosen(best[0], float(half[0]), float(minutes[0]))

    def fewest_minutes(self) -> float:
        """Of the quickest plan to begin with."""
        return float(self.minutes(self._allowed(self._starts())).min())

    def minutes(self, plans: Whole) -> Floats:
        """Of plans."""
        return self.costs.minutes(plans, spots=self.spots, both=self.lattice.both)

    def _worked_out(self, plans: Whole) -> tuple[Floats, Floats]:
        """Half-widths, infinite where a plan leads astray, and minutes."""
        expected: Expected = self.lattice.expected(plans)
        astray = expected.astray > np.maximum(ASTRAY * expected.half, self.unavoidable * (1 + 1e-9))
        return np.where(astray, np.inf, expected.half), self.minutes(plans)

    def _merit(self, half: Floats, minutes: Floats) -> Floats:
        """Less is better; what reaches the half-width that is wished is better than all that does not."""
        with np.errstate(divide="ignore"):
            merit = np.log(half) + minutes * _PER_MINUTE
        if self.wish.half is not None:
            merit = np.where(half <= self.wish.half, minutes - 1e9, merit)
        return np.where(minutes <= self.wish.minutes, merit, np.inf)

    def _first_of(self, plans: Whole, count: int) -> Whole:
        """The best plans, each once."""
        plans = np.unique(self._allowed(self._in_order(plans)), axis=0)
        if not len(plans):
            return plans
        merit = self._merit(*self._worked_out(plans))
        return plans[np.argsort(merit, kind="stable")[:count]]

    def _allowed(self, plans: Whole) -> Whole:
        """Those that cover the range and keep to the minutes and to the numbers of repeats."""
        return plans[self._able(plans)]

    def _able(self, plans: Whole) -> Whole:
        """The numbers of those."""
        sizes = ((plans == 0) | ((plans >= self.wish.least) & (plans <= MOST_REPEATS))).all(axis=1)
        able = np.flatnonzero(sizes & (self.minutes(plans) <= self.wish.minutes))
        return able[self.lattice.covers(plans[able])] if len(able) else able

    def _in_order(self, plans: Whole) -> Whole:
        """With the days of a plan in one order: no new day differs from another."""
        tables = plans.reshape(len(plans), self.days, self.spots)
        key = tables @ ((MOST_REPEATS + 1.0) ** -np.arange(self.spots))
        order = np.argsort(-key, axis=1, kind="stable")
        return np.take_along_axis(tables, order[:, :, np.newaxis], axis=1).reshape(len(plans), -1)

    # --- Where to begin ---------------------------------------------------------------------------------------

    def _starts(self) -> Whole:
        """The fewest cells that cover, all spots, the same on each number of days, and shared out over two."""
        layouts = [self._fewest(), np.ones(self.spots, dtype=np.bool_)]
        starts = [np.zeros((self.days, self.spots), dtype=np.intp)]
        for layout in layouts:
            for days in range(1, self.days + 1):
                plan = np.zeros((self.days, self.spots), dtype=np.intp)
                plan[:days, layout] = self.wish.least
                starts.append(plan)
            if self.days > 1:
                plan = np.zeros((self.days, self.spots), dtype=np.intp)
                places = np.flatnonzero(layout)
                plan[0, places[::2]], plan[1, places[1::2]] = self.wish.least, self.wish.least
                starts.append(plan)
        return np.array(starts).reshape(len(starts), -1)

    def _fewest(self) -> Flags:
        """Spots left when those are taken away, one after the other, without which the range is still covered."""
        layout = np.ones(self.spots, dtype=np.bool_)
        while True:
            fewer = [layout & (np.arange(self.spots) != spot) for spot in np.flatnonzero(layout)]
            plans = np.array([self._on_first_day(one) for one in fewer])
            plans = plans[self.lattice.covers(plans)] if len(plans) else plans
            if not len(plans):
                return layout
            half = self.lattice.expected(plans).half
            layout = plans[int(np.argmin(half))][: self.spots] > 0

    def _on_first_day(self, layout: Flags) -> Whole:
        plan = np.zeros((self.days, self.spots), dtype=np.intp)
        plan[0, layout] = self.wish.least
        return plan.ravel()

    def _every_set(self) -> Whole:
        """All sets of cells, each with every number of repeats the same everywhere."""
        sets = (np.arange(2**self.lattice.size)[:, np.newaxis] >> np.arange(self.lattice.size)) & 1
        return np.vstack([sets * often for often in range(self.wish.least, MOST_REPEATS + 1)])

    # --- Steps ------------------------------------------------------------------------------------------------

    def _filled(self, plans: Whole) -> Whole:
        """Each plan with the steps that take off most a minute, as long as one is worth its minutes."""
        plans = self._allowed(plans)
        results = []
        half, minutes = self._worked_out(plans) if len(plans) else (np.zeros(0), np.zeros(0))
        while len(plans):
            halves = self._best_halves(plans)
            steps = [self.moves.steps(plan, best) for plan, best in zip(plans, halves, strict=True)]
            owner = np.repeat(np.arange(len(plans)), [len(one) for one in steps])
            every = np.vstack(steps)
            able = self._able(every)
            every, owner = every[able], owner[able]
            if not len(owner):
                break
            then, later = self._worked_out(every)
            longer = later - minutes[owner]
            reached = self._reached(then)
            with np.errstate(divide="ignore", invalid="ignore"):
                gain = np.log(half[owner]) - np.log(then)
                rate = np.where(longer > 0, gain / longer, -np.inf)
            # A plan that leads astray or is not known has infinite half-width; any step out of that is worth taking.
            rate = np.where(np.isinf(half[owner]) & np.isfinite(then), 1e6 - longer, rate)
            rate = np.where(reached & (longer > 0), 1e9 - longer, rate)
            rate = np.where(np.isnan(rate), -np.inf, rate)
            going = []
            for number in range(len(plans)):
                own = np.flatnonzero(owner == number)
                done = bool(self._reached(half[number : number + 1])[0])
                step = int(own[np.argmax(rate[own])]) if len(own) else -1
                least = 0.0 if self.wish.half is not None else _PER_MINUTE
                if done or step < 0 or rate[step] <= least:
                    results.append(plans[number])
                else:
                    going.append(step)
            plans, half, minutes = every[going], then[going], later[going]
            plans, first = np.unique(plans, axis=0, return_index=True)
            half, minutes = half[first], minutes[first]
        return np.array([*results, *plans], dtype=np.intp).reshape(-1, self.lattice.size)

    def _reached(self, half: Floats) -> Flags:
        if self.wish.half is None:
            return np.zeros(len(half), dtype=np.bool_)
        return np.asarray(half <= self.wish.half)

    def _best_halves(self, plans: Whole) -> list[Whole]:
        """Of each plan with a day to spare, the half of its spots that by themselves take off most on that day."""
        results = [np.zeros(0, dtype=np.intp)] * len(plans)
        tried, owner, spots = [], [], []
        for number, plan in enumerate(plans):
            if (day := self.moves.next_day(plan)) is None:
                continue
            for spot in self.moves.places(plan):
                more = self.moves.table(plan).copy()
                more[day, spot] = self.wish.least
                tried.append(more.ravel())
                owner.append(number)
                spots.append(spot)
        if tried:
            half, _ = self._worked_out(np.array(tried))
            for number in set(owner):
                own = np.flatnonzero(np.array(owner) == number)
                order = own[np.argsort(half[own], kind="stable")]
                results[number] = np.array(spots)[order[: (len(own) + 1) // 2]]
        return results


def least_half(lattice: Lattice, repeats: int, *, by: Literal["half", "u"] = "half") -> tuple[float, Whole]:
    """The least half-width, or uncertainty, and its plan, over every set of spots, the same on each number of days.

    repeats  of each cell that is taken
    """
    spots, most = len(lattice.spots), lattice.days
    if spots <= EXHAUSTIVE_UP_TO:
        sets = (np.arange(1, 2**spots)[:, np.newaxis] >> np.arange(spots)) & 1
    else:
        every = np.ones(spots, dtype=np.intp)
        sets = np.array([every, *(every - one for one in np.eye(spots, dtype=np.intp))])
    plans = [
        np.hstack([np.tile(sets, (1, on)), np.zeros((len(sets), spots * (lattice.days - on)), dtype=np.intp)])
        for on in range(1, most + 1)
    ]
    tried = np.vstack(plans) * repeats
    sizes = getattr(lattice.expected(tried), by)
    best = int(np.argmin(sizes))
    return float(sizes[best]), tried[best]
