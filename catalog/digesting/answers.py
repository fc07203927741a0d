"""Figures of requests over hours: how they were answered hour by hour, and the longest outage. Times are microseconds.

Nothing here rounds, and nothing is filled in where nothing was logged.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from catalog.digesting.coverage import MOST_STEPS
from catalog.digesting.digests import request_digest
from catalog.digesting.latency import nearest_rank
from catalog.digesting.logs import FINISHED, Floats, Log, Whole

HOUR_US = 3_600_000_000

HOUR_PERCENTS = (50, 95, 99)
"""Percentiles of every hour. [%]"""

LONGEST_WAIT_US = 60_000_000
"""A request without an answer lasts until the next one, if that is made within this time (practice). [us]"""

OFTEN = 0.95
"""A step of requests that is longer than this share of all is none of the usual ones (practice). [1]"""

LATE_FIGURE = "late"
"""Requests beyond the mark, of the run and, behind `hour_N_`, of each hour: figures that rest on the mark."""

UNEVEN = 1.5
"""Steps differ where the upper quartile is more than so many times the lower (practice). [1]"""

_ALONE_US = 1_000_000  # a single request without an answer is taken to last so long


def usual_pace(starts: Whole) -> int:
    """The usual step from one request to the next, also where they come in bursts or at random. [us]

    Half of the time lies in steps that are at most as long, and three quarters where steps differ (`UNEVEN`). A few long
    gaps may hold most of the time, so it is never longer than nearly all steps are (`OFTEN`).

    starts  shape (n,), n at least 2, in order. [us]
    Raises  ValueError for fewer than two requests.
    Source  own rule.
    """
    if len(starts) < 2:
        raise ValueError(f"one request has no pace, got {len(starts)} start times")
    steps = np.sort(np.diff(starts))
    elapsed = np.cumsum(steps)
    uneven = steps[len(steps) * 3 // 4] > UNEVEN * steps[len(steps) // 4]
    by_time = steps[np.searchsorted(elapsed, elapsed[-1] * (0.75 if uneven else 0.5))]
    often = steps[max(int(OFTEN * len(steps)), 1) - 1]
    return max(int(min(by_time, often)), 1)


@dataclass(frozen=True)
class Hour:
    """One hour, counted from the first request; the last may be shorter.

    logged_us  time of it that the log covers. [us]
    waits_ms   of its requests that were answered, in order of their length, shape (finished,). [ms]
    requests   made in it, and never made. [1]
    """

    number: int
    logged_us: int
    waits_ms: Floats
    requests: int

    def percentile_ms(self, percent: int) -> float | None:
        """Nearest rank over all requests of the hour; None: among those without an answer. [ms]"""
        return nearest_rank(self.waits_ms, percent, planned=self.requests)

    def late(self, mark_ms: float) -> int:
        """Requests that were answered later than the mark, or not at all. [1]"""
        return self.requests - int(np.count_nonzero(self.waits_ms <= mark_ms))


@dataclass(frozen=True)
class Answers:
    """The requests of a log in order of time.

    starts    shape (n,), n at least 1, rising. [us]
    waits     shape (n,), how long each waited for its answer; -1: none came. [us]
    """

    starts: Whole
    waits: Whole

    @cached_property
    def answered(self) -> NDArray[np.bool_]:
        """Whether an answer came, shape (n,)."""
        return np.asarray(self.waits >= 0)

    @cached_property
    def ends(self) -> Whole:
        """Until when each request covers time, shape (n,). [us]

        Until the next one, or for the usual step before a gap (`MOST_STEPS`) and at the end; but at least until its
        answer, and without one, until the next that was made within `LONGEST_WAIT_US`.
        """
        if len(self.starts) == 1:
            return self.starts + (self.waits if self.answered[0] else _ALONE_US)
        pace = usual_pace(self.starts)
        steps = np.append(np.diff(self.starts), pace)
        most = np.where(self.answered, MOST_STEPS * pace, max(MOST_STEPS * pace, LONGEST_WAIT_US))
        ends: Whole = self.starts + np.maximum(np.where(steps > most, pace, steps), self.waits)
        return ends

    @cached_property
    def gaps(self) -> Whole:
        """Time between the end of all before a request and its start; the first has none, shape (n,). [us]"""
        gaps: Whole = np.zeros(len(self.starts), dtype=np.int64)
        gaps[1:] = np.maximum(self.starts[1:] - np.maximum.accumulate(self.ends)[:-1], 0)
        return gaps

    @property
    def duration(self) -> int:
        """From the first request to the end of all. [us]"""
        return int(self.ends.max() - self.starts[0])

    @property
    def covered(self) -> int:
        """Time that some request covers. [us]"""
        return self.duration - int(self.gaps.sum())

    def longest_outage(self) -> tuple[int, int]:
        """The longest time in which requests were made and none was answered, and when it began. [us]

        From the first request without an answer to the next one that was answered; a gap ends it, because what happened
        in it is unknown. (0, 0) where every request was answered.

        Source  own rule (practice).
        """
        without = ~self.answered
        if not without.any():
            return 0, 0
        begins = without & (np.append(True, self.answered[:-1]) | (self.gaps > 0))
        first = np.flatnonzero(begins)
        place = np.cumsum(begins)[without] - 1
        until = np.zeros(len(first), dtype=np.int64)
        np.maximum.at(until, place, self.ends[without])
        lengths = until - self.starts[first]
        longest = int(lengths.argmax())
        return int(lengths[longest]), int(self.starts[first[longest]])

    def hours(self) -> list[Hour]:
        """Every hour in which a request was made."""
        since = self.starts - self.starts[0]
        numbers = since // HOUR_US
        cuts = np.flatnonzero(np.diff(numbers, prepend=-1))
        covered = self._covered_until(np.append(numbers[cuts], numbers[cuts] + 1) * HOUR_US)
        logged = covered[len(cuts) :] - covered[: len(cuts)]
        ends = np.append(cuts[1:], len(since))
        hours = []
        for place, (first, last) in enumerate(zip(cuts.tolist(), ends.tolist(), strict=True)):
            waits = self.waits[first:last]
            hours.append(Hour(int(numbers[first]), int(logged[place]), np.sort(waits[waits >= 0]) / 1e3, last - first))
        return hours

    def _covered_until(self, moments: Whole) -> Whole:
        """Time covered from the first request to each moment after it. [us]"""
        ends = np.maximum.accumulate(self.ends) - self.starts[0]
        begins = np.append(0, np.maximum(self.starts[1:] - self.starts[0], ends[:-1]))
        known = np.column_stack([begins, ends]).ravel()
        covered = np.repeat(np.cumsum(ends - begins), 2)
        covered[::2] -= ends - begins
        return np.asarray(np.rint(np.interp(moments, known, covered)), dtype=np.int64)


def answers_of(log: Log) -> Answers:
    """The answers of a request log; requests that failed or were never made have none."""
    assert log.latency_us is not None
    return Answers(log.t_us, np.where(log.outcome == FINISHED, log.latency_us, -1))


def answers_digest(log: Log, *, mark_ms: float | None) -> dict[str, float]:
    """Figures of a long run of requests: those of its log, its coverage, its longest outage, and each hour's.

    mark_ms  an answer that took longer is late; None: not asked. [ms]

    hour_N_requests, hour_N_finished, hour_N_logged_s, hour_N_pNN_ms and hour_N_late are of hour N from 0; a percentile
    among requests without an answer is left out.
    """
    answers = answers_of(log)
    outage_us, outage_at_us = answers.longest_outage()
    before_us, after_us = log.before_us, log.after_us
    figures = request_digest(log, planned=len(log), role={}) | {
        "duration_s": (before_us + answers.duration + after_us) / 1e6,
        "logged_s": answers.covered / 1e6,
        "longest_gap_s": max(before_us, int(answers.gaps.max()), after_us) / 1e6,
        "longest_outage_s": outage_us / 1e6,
        "outage_at_s": (outage_at_us - int(log.t_us[0])) / 1e6 if outage_us else 0.0,
    }
    for hour in answers.hours():
        of = f"hour_{hour.number}_"
        figures |= {
            f"{of}requests": float(hour.requests),
            f"{of}finished": float(len(hour.waits_ms)),
            f"{of}logged_s": hour.logged_us / 1e6,
        }
        for percent in HOUR_PERCENTS:
            if (ms := hour.percentile_ms(percent)) is not None:
                figures[f"{of}p{percent}_ms"] = ms
    return figures | late_figures(log, mark_ms=mark_ms)


def late_figures(log: Log, *, mark_ms: float | None) -> dict[str, float]:
    """What of `answers_digest` rests on the mark: none without one.

    Source  definition; a request without an answer is late, as RFC 7679 treats a lost packet.
    """
    if mark_ms is None:
        return {}
    late = {f"hour_{hour.number}_{LATE_FIGURE}": float(hour.late(mark_ms)) for hour in answers_of(log).hours()}
    return {LATE_FIGURE: sum(late.values()), **late}
