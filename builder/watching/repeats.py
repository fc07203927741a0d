"""A repeat that stands apart from the others of its cell, and a value that no other place of the device leads to."""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Container, Sequence
from dataclasses import dataclass

from builder import wording
from builder.watching.day_runs import DayRun
from builder.watching.expecting import RARE, Expected, Expecting, chance, odds_text

LEAST_OFF = 0.10  # (practice) a repeat less far from its siblings is nobody's slip, however little they scatter
MANY_SIBLINGS = 4  # from which on nothing else is asked (own rule)
LEAST_ELSEWHERE = 2  # repeats of other visits that vouch for one of this (own rule)
LINE_OFF = math.log(1.5)  # (practice) the same of a value beside what the device's other places lead to


@dataclass(frozen=True, slots=True)
class Odd:
    """A run whose value does not fit.

    expected  what it should have given, and how surely
    siblings  how many repeats that rests on; 0 for what other places lead to
    beside    the other of two repeats, where nothing tells which of them is off
    """

    run: DayRun
    expected: Expected
    siblings: int
    beside: DayRun | None = None

    @property
    def off(self) -> float:
        """How far off, as a fraction of what it should have given."""
        return (self.run.value or 0.0) / self.expected.value - 1

    @property
    def sentence(self) -> str:
        """What is known of it."""
        value, side = wording.rate(self.run.value or 0.0), "under" if self.off < 0 else "over"
        how_far = f"{wording.number(100 * abs(self.off), 0)} %"
        odds = odds_text(self.expected.odds_of(self.run.value or 0.0))
        if self.beside is not None:
            return (
                f"{self.run.name} gives {value} Mbit/s and {self.beside.name} {wording.rate(self.beside.value or 0.0)}: "
                f"{odds} pairs of repeats lies so far apart, and nothing tells yet which is off."
            )
        if self.siblings:
            others = (
                "the other repeat" if self.siblings == 1 else f"the other {wording.in_words(self.siblings)} repeats"
            )
            return (
                f"{self.run.name} gives {value} Mbit/s, {how_far} {side} {others} of this cell, of which {odds} lies so "
                "far off."
            )
        return (
            f"{self.run.name} gives {value} Mbit/s, {how_far} {side} the {wording.rate(self.expected.value)} to which this "
            "device’s other places lead, as the older devices differ between them."
        )


def odd_runs(runs: Sequence[DayRun], expecting: Expecting, *, held_back: Container[DayRun] = ()) -> list[Odd]:
    """Every run that stands apart from its siblings, or without any from what other places lead to.

    held_back  runs at a height that is no measure of their device: no run of another visit is held against them
    """
    odd: list[Odd] = []
    by_visit: dict[tuple[object, ...], list[DayRun]] = defaultdict(list)
    by_cell: dict[tuple[object, ...], list[DayRun]] = defaultdict(list)
    for run in runs:
        if run.value is not None:
            by_visit[run.visit, run.cell].append(run)
            by_cell[run.cell].append(run)
    for members in by_visit.values():
        elsewhere = [one for one in by_cell[members[0].cell] if one not in members and one not in held_back]
        left = list(members)
        while (worst := _worst(left, elsewhere, expecting)) is not None:
            odd.append(worst)
            left = [one for one in left if one is not worst.run and one is not worst.beside]
    alone = [members[0] for members in by_cell.values() if len(members) == 1]
    blamed = [one.run for one in odd]
    odd += [one for run in alone if (one := _off_the_line(run, blamed, expecting)) is not None]
    return odd


def _worst(left: Sequence[DayRun], elsewhere: Sequence[DayRun], expecting: Expecting) -> Odd | None:
    """The run of a visit that stands farthest apart, if one does; *elsewhere* are repeats of its cell at other visits."""
    worse: list[tuple[float, Odd]] = []
    for run in left:
        siblings = [one for one in left if one is not run] or list(elsewhere)
        spread = expecting.spread_of(run)
        if not siblings or spread is None:
            continue
        middle = statistics.median([one.value or 0.0 for one in siblings])
        again = 0.0 if len(left) > 1 else 2**0.5 * expecting.standing_again(run)
        expected = Expected(middle, math.hypot(spread * math.sqrt(1 + 1 / len(siblings)), again))
        if len(siblings) < MANY_SIBLINGS and _as_elsewhere(run, middle, elsewhere, expecting):
            continue
        off = math.log((run.value or 0.0) / middle)
        if abs(off) >= -math.log(1 - LEAST_OFF) and chance(off, expected.spread) < RARE:
            worse.append((abs(off) / expected.spread, Odd(run, expected, len(siblings))))
    if not worse:
        return None
    worst = max(worse, key=lambda one: one[0])[1]
    return _of_two(worst, left, elsewhere, expecting) if len(left) == 2 else worst


def _as_elsewhere(run: DayRun, middle: float, elsewhere: Sequence[DayRun], expecting: Expecting) -> bool:
    """Whether a run fits the other visits to its place, or what other places lead to, and its siblings do not."""
    there = _elsewhere(run, elsewhere, expecting)
    return there is not None and there.odds_of(middle) < RARE <= there.odds_of(run.value or 0.0)


def _elsewhere(run: DayRun, elsewhere: Sequence[DayRun], expecting: Expecting) -> Expected | None:
    if len(elsewhere) < LEAST_ELSEWHERE:
        return expecting.from_elsewhere(run)
    middle = statistics.median([one.value or 0.0 for one in elsewhere])
    return Expected(middle, math.hypot(expecting.spread_of(run) or 0.0, 2**0.5 * expecting.standing_again(run)))


def _of_two(worst: Odd, left: Sequence[DayRun], elsewhere: Sequence[DayRun], expecting: Expecting) -> Odd:
    """Which of two repeats is off, by other visits to the place, else by other places; both where neither tells."""
    first, second = left
    other = _elsewhere(first, elsewhere, expecting)
    if other is not None:
        odds = [other.odds_of(one.value or 0.0) for one in left]
        if min(odds) < RARE <= max(odds):
            blamed, sound = (first, second) if odds[0] < odds[1] else (second, first)
            return Odd(blamed, Expected(sound.value or 0.0, worst.expected.spread), 1)
    return Odd(second, Expected(first.value or 0.0, worst.expected.spread), 1, beside=first)


def _off_the_line(run: DayRun, blamed: Sequence[DayRun], expecting: Expecting) -> Odd | None:
    expected = expecting.from_elsewhere(run, without=blamed)
    if expected is None or run.value is None:
        return None
    off = math.log(run.value / expected.value)
    return Odd(run, expected, 0) if abs(off) >= LINE_OFF and expected.odds_of(run.value) < RARE else None
