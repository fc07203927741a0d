"""A plan: the answer to a question, with the rows to be run."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Any

import numpy as np

from builder.bench.bench import Bench
from builder.bench.sides import Whole
from builder.bench.uncertainty import Term
from builder.planning import answers
from builder.planning.afterwards import NOTHING, Recorded, appended, further_work
from builder.planning.costs import Costs
from builder.planning.lattices import ENDLESS, Lattice
from builder.planning.promises import Promise, promise
from builder.planning.questions import MOST_REPEATS, Ground, Question, goal_in_rate, ground_of
from builder.planning.schedules import PlannedRow, single_runs
from builder.planning.searching import Chosen, Search, Wish, least_half
from catalog.errors import InputRefused

TRIED_REPEATS = 30
NORMAL = 1.96
_TRIES = 5  # at a half-width whose promise is what was asked for
_CLOSE = 1.0 + 1e-9


@dataclass(frozen=True)
class Plan:
    """What to measure next.

    goal      the half-width that was asked for; None for none. [Mbit/s]
    reached   whether the plan promises it
    repeats   of each cell of the lattice, shape (cells,)
    shares    of the variance, by term
    minutes   of the whole plan
    """

    question: Question
    ground: Ground
    costs: Costs
    goal: float | None
    reached: bool
    repeats: Whole
    promise: Promise
    shares: Mapping[Term, float]
    minutes: float
    sentences: tuple[str, ...]
    rows: tuple[PlannedRow, ...]

    @property
    def lattice(self) -> Lattice:
        return self.ground.lattice

    def to_json(self) -> dict[str, Any]:
        """The document of `plan --json`."""
        lattice, group = self.lattice, self.lattice.group
        other = lattice.other
        return {
            "device": lattice.device.subject.id,
            "against": None if other is None else other.subject.id,
            "both": lattice.both,
            "client": lattice.device.client[0],
            "series": group.series,
            "band": group.band,
            "width_mhz": group.width_mhz,
            "direction": group.direction,
            "range": [lattice.low, lattice.high],
            "goal": self.goal,
            "reached": self.reached if self.goal is not None else None,
            "half_width": self.promise.half,
            "likely": [self.promise.low, self.promise.high],
            "minutes": self.minutes,
            "sentence": answers.listed(self.sentences),
            "terms": dict(self.shares),
            "costs": {
                name: {"minutes": getattr(self.costs, name), "source": source}
                for name, source in self.costs.sources.items()
            },
            "notes": list(self.ground.notes),
            "rows": [row.to_json() for row in self.rows],
        }


def plan(bench: Bench, question: Question, costs: Costs, recorded: Recorded = NOTHING) -> Plan:
    """The plan that pays most.

    recorded  what the catalogue holds beside single runs; of that the other's goes behind them as far as the hours allow
    Raises  as `ground_of`; InputRefused where not even the fewest cells fit into the hours.
    """
    ground = ground_of(bench, question)
    lattice = ground.lattice
    goal = None if question.goal is None else goal_in_rate(question.goal, ground.mean)
    minutes = math.inf if question.hours is None else 60 * question.hours
    chosen, made = _searched(lattice, costs, goal, minutes, question.least)
    sentences: list[str] = []
    reached = goal is None or (made is not None and made.half <= goal * _CLOSE)
    if goal is not None and not reached:
        # Out of reach, only what pays is worth its minutes.
        chosen, made = _searched(lattice, costs, None, minutes, question.least)
        best = None if made is None else made.half
        sentences = _why_not(lattice, costs, question, goal, best)
    if chosen is None or made is None:
        needed = Search(lattice, costs, Wish(None, math.inf, question.least)).fewest_minutes()
        too_short = (
            f"Not even the fewest cells that cover the range fit into {answers.time_text(minutes)}: they take "
            f"{answers.time_text(needed)}."
        )
        raise InputRefused(answers.listed([too_short, *sentences]))
    shares = lattice.shares(chosen.repeats)
    size = answers.size_of(lattice, chosen.repeats, chosen.minutes)
    sentences.append(answers.shown(size, made, shares, alone=lattice.other is None))
    if not reached:
        sentences += answers.cures(shares, lattice.scatter, lattice.spots[0].house)
    elif goal is None and chosen.minutes + 30 <= minutes:
        sentences.append(answers.levelled(chosen.minutes))
    rows = single_runs(lattice, chosen.repeats, costs)
    day = max(size.days, 1)
    further = further_work(lattice, recorded, costs, day=day)
    fitting = [
        one
        for one, until in zip(further, accumulate(one.minutes for one in further), strict=True)
        if chosen.minutes + until <= minutes
    ]
    sentences += answers.further(fitting, further[len(fitting) :])
    rows = appended(rows, fitting, minutes=rows[-1].minutes if rows else costs.session_minutes)
    beside = sum(one.minutes for one in fitting) + (costs.session_minutes if fitting and not size.runs else 0.0)
    return Plan(
        question=question,
        ground=ground,
        costs=costs,
        goal=goal,
        reached=reached,
        repeats=chosen.repeats,
        promise=made,
        shares=shares,
        minutes=chosen.minutes + beside,
        sentences=tuple(sentences),
        rows=tuple(rows),
    )


def _searched(
    lattice: Lattice, costs: Costs, goal: float | None, minutes: float, least: int
) -> tuple[Chosen | None, Promise | None]:
    """The plan whose promise is what was asked for: what is expected and what is promised differ a little."""
    target, best, made = goal, None, None
    for _ in range(_TRIES):
        chosen = Search(lattice, costs, Wish(target, minutes, least)).best()
        if chosen is None:
            return None, None
        promised = promise(lattice, chosen.repeats)
        if best is None or made is None or promised.half < made.half:
            best, made = chosen, promised
        if goal is None or target is None or promised.half <= goal or chosen.half > target * _CLOSE:
            break
        target *= 0.998 * goal / promised.half
    return best, made


def _why_not(lattice: Lattice, costs: Costs, question: Question, goal: float, best: float | None) -> list[str]:
    """What stands between the plan and the half-width that was asked for, and what a further day would bring."""
    limit = _limit(lattice)
    sentences: list[str] = []
    if limit > goal:
        sentences.append(answers.never(goal, limit))
    else:
        if question.hours is not None:
            longer, made = _searched(lattice, costs, goal, math.inf, question.least)
            if longer is not None and made is not None and made.half <= goal * _CLOSE:
                return [answers.not_in_time(goal, question.hours, longer.minutes, best)]
        sentences.append(_by_repeats(lattice, costs, goal, question.least))
    further = replace(lattice, days=lattice.days + 1)
    bound = _limit(further) if limit > goal else None
    if bound is None:
        _, made = _searched(further, costs, None, math.inf, question.least)
        bound = None if made is None else made.half
    if bound is not None and math.isfinite(bound):
        sentences.append(answers.day_more(lattice.days, bound, goal))
    return sentences


def _limit(lattice: Lattice) -> float:
    """1.96 u with repeats without end, over every set of spots and number of days. [Mbit/s]"""
    _, repeats = least_half(lattice, ENDLESS, by="u")
    return NORMAL * float(lattice.expected(repeats[np.newaxis]).u[0])


def _by_repeats(lattice: Lattice, costs: Costs, goal: float, least: int) -> str:
    """The least half-width with up to thirty repeats a cell, and whether that is the fault of degrees of freedom."""
    tried = [(*least_half(lattice, often), often) for often in range(least, TRIED_REPEATS + 1)]
    enough = [(half, repeats, often) for half, repeats, often in tried if half <= goal and often > MOST_REPEATS]
    if enough:
        _, repeats, often = enough[0]
        minutes = costs.minutes(repeats[np.newaxis], spots=len(lattice.spots), both=lattice.both)
        return answers.more_repeats(goal, often, float(minutes[0]))
    half, repeats, _ = min(tried, key=lambda one: one[0])
    expected = lattice.expected(repeats[np.newaxis])
    at_fault = float(expected.df[0]) if NORMAL * float(expected.u[0]) <= goal else None
    return answers.not_reached(goal, half, at_fault)
