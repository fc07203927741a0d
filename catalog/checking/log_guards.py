"""Implausible logs: each guard detects one kind of mistake and asks about it.

A log is taken as it was read; nothing is changed here. What an answer changes stands in settled_logs.py.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from catalog.checking.troubles import Trouble
from catalog.digesting.answers import answers_of
from catalog.digesting.coverage import gaps, usual_step
from catalog.digesting.logs import FINISHED, Floats, Log, Whole

US_PER_S = 1_000_000
COVERED_SHARE = 0.95  # (practice) with less of the run covered, a question asks what the rest was
STOPPED_SHARE = 0.1  # (practice) a rate of 0 for the last tenth
CLOCK_OFF_S = 60.0
LONGEST_STEP_S = 900.0  # (practice) hardly any log writes just one row every quarter of an hour
LONGEST_LOG_S = 31 * 86_400.0  # (practice) no test with one client takes more than a month
SUMMING_ROWS = 3  # fewer others add up to the last one by chance
COUNTING_ROWS = 8  # (practice) of fewer, amounts grow from row to row by chance
NEAR = 0.02

# What a time may have been written in -> seconds.
TIME_UNITS = {"milliseconds": 1e-3, "microseconds": 1e-6, "minutes": 60.0, "hours": 3600.0}


def of_another_row(log: Log, path: str, when: dt.datetime, *, planned_s: float | None) -> Trouble | None:
    """A log whose instants lie more than a minute outside its row's time.

    when       of the row
    planned_s  duration stated in its row; None: as long as the log
    """
    if log.started is None:
        return None
    first_s, last_s = int(log.t_us[0]) / US_PER_S, int(log.t_us[-1]) / US_PER_S
    off_s = (log.started - when).total_seconds() + first_s
    lasted_s = planned_s or 0.0
    if log.kind == "throughput":
        lasted_s = max(lasted_s, last_s - first_s)
    if off_s >= -CLOCK_OFF_S and off_s + last_s - first_s <= lasted_s + CLOCK_OFF_S:
        return None
    hours, rest = divmod(abs(off_s) + CLOCK_OFF_S, 3600)
    zone = f" It begins {hours:g} h off: is a time zone missing?" if 0 < hours < 15 and rest <= 2 * CLOCK_OFF_S else ""
    return Trouble(
        f"{path} runs from {log.started:%Y-%m-%d %H:%M:%S}Z, for {duration(last_s)}; its row is of "
        f"{when:%Y-%m-%d %H:%M:%S}Z.{zone} Another row's log, or another clock?",
        "Correct the log or the time of the row.",
        "log-of-another-row",
    )


def not_seconds(log: Log, *, stated_s: float | None) -> tuple[Trouble, str | None] | None:
    """Times in a unit other than seconds, and the likely unit.

    stated_s  duration of the run as stated in its row, where it is. [s]
    """
    if log.started is not None or len(log) < 2:
        return None
    lasted_s = float(log.t_us[-1] - log.t_us[0]) / US_PER_S
    step_s = float(usual_step(log.t_us)) / US_PER_S
    if stated_s and lasted_s > 10 * stated_s:
        reason = f"the row says that the run lasted {duration(stated_s)}"
        guess = _unit_of(stated_s / lasted_s)
    elif stated_s and lasted_s and len(log) >= COUNTING_ROWS and stated_s > lasted_s and _unit_of(stated_s / lasted_s):
        guess = _unit_of(stated_s / lasted_s)
        reason = f"the row says that the run lasted {duration(stated_s)}"
    elif log.kind == "throughput" and log.stated_lengths and _unit_of(_length_s(log) / step_s) is not None:
        reason = f"each row says that it lasted {duration(_length_s(log))}"
        guess = _unit_of(_length_s(log) / step_s)
    elif step_s >= LONGEST_STEP_S and (log.kind == "throughput" or len(log) >= COUNTING_ROWS):
        reason = "no log of a test has so few rows"
        guess = "milliseconds" if step_s < 1e3 * LONGEST_STEP_S else "microseconds"
    elif lasted_s > LONGEST_LOG_S:
        reason = "no test takes so long"
        guess = "milliseconds" if lasted_s < 1e3 * LONGEST_LOG_S else "microseconds"
    else:
        return None
    question = Trouble(
        f"Read as seconds, the log has a row every {step_s:g} s and lasts {duration(lasted_s)}, but {reason}. "
        f"Does it count {guess or 'in another unit'}?",
        "",
        "steps-not-seconds",
    )
    return question, guess


def _unit_of(share: float) -> str | None:
    """The unit that a time was written in, if *share* is what one of it is in seconds, within a fifth."""
    return next((name for name, size in TIME_UNITS.items() if 0.8 <= share / size <= 1.25), None)


def _length_s(log: Log) -> float:
    return float(np.median(log.spans_us)) / US_PER_S


def closing_sum(log: Log) -> Trouble | None:
    """A last row that is the sum of the others: of their rates, or of what they carried and how long they lasted."""
    assert log.rate_bit_s is not None
    rates, spans = log.rate_bit_s, log.spans_us
    others = rates[:-1]
    if np.count_nonzero(others) < SUMMING_ROWS:
        return None
    rates_add_up = _near(rates[-1], others.sum()) and rates[-1] > 1.5 * others.max()
    lengths_add_up = _near(spans[-1], spans[:-1].sum())
    if not (rates_add_up or (lengths_add_up and _near(rates[-1] / 1e6 * spans[-1], np.dot(others / 1e6, spans[:-1])))):
        return None
    return Trouble(
        f"The last row, {rates[-1] / 1e6:g} Mbit/s, is the sum of the {len(others)} before it. Is it a summary?",
        "",
        "sum-row",
    )


def _near(value: float, wanted: float) -> bool:
    return bool(abs(value - wanted) <= NEAR * abs(wanted))


def only_growing(log: Log) -> Trouble | None:
    """Amounts of bytes that grow from row to row and never fall."""
    if not log.from_amounts or len(log) < COUNTING_ROWS:
        return None
    amounts = amounts_b(log)
    if (steps := np.diff(amounts)).min() < 0 or 2 * np.count_nonzero(steps) < len(steps):
        return None
    return Trouble(
        f"The bytes only grow, from {amounts[0]:.0f} in the first row to {amounts[-1]:.0f} in the last. "
        "Is it a counter that was never set back?",
        "",
        "counter-not-amount",
    )


def amounts_b(log: Log) -> Floats:
    """What every interval carried. [byte]"""
    assert log.rate_bit_s is not None
    return np.rint(log.rate_bit_s * (log.spans_us / (8 * US_PER_S)))


@dataclass(frozen=True)
class Missing:
    """Time of a run that its log does not cover: at its begin, after every interval but the last, at its end. [us]"""

    before: int
    between: Whole
    after: int

    @property
    def total(self) -> int:
        return self.before + int(self.between.sum()) + self.after


def missing(log: Log, *, stated_s: float | None) -> Missing:
    """What a log does not cover, up to the duration stated in its row.

    stated_s  duration of the run as stated in its row, where it is. [s]
    """
    if log.kind == "requests":
        return Missing(log.before_us, answers_of(log).gaps[1:], log.after_us)
    spans = log.spans_us
    lasted = int(log.t_us[-1] + spans[-1] - log.t_us[0]) + log.before_us + log.after_us
    short = max(round((stated_s or 0.0) * US_PER_S) - log.warm_up_us - lasted, 0)
    return Missing(log.before_us, gaps(log.t_us, spans), log.after_us + short)


def _ends(log: Log) -> Whole:
    """Until when all rows up to each one cover time, shape (n,). [us]"""
    return np.maximum.accumulate(answers_of(log).ends) if log.kind == "requests" else log.t_us + log.spans_us


def not_covered(log: Log, *, stated_s: float | None) -> Trouble | None:
    """A run of which the log covers less than 95 %. stated_s as `missing`."""
    lost, ends = missing(log, stated_s=stated_s), _ends(log)
    logged = int(ends[-1] - log.t_us[0]) - int(lost.between.sum())
    whole = logged + lost.total
    if logged >= COVERED_SHARE * whole:
        return None
    longest, since = max(
        (lost.before, int(log.t_us[0]) - lost.before),
        (int(lost.between.max(initial=0)), int(ends[lost.between.argmax()]) if len(lost.between) else 0),
        (lost.after, int(ends[-1])),
    )
    return Trouble(
        f"The log covers {duration(logged / US_PER_S)} of a run of {duration(whole / US_PER_S)}; its longest gap is "
        f"{duration(longest / US_PER_S)}, from {duration(since / US_PER_S)} on. Did no data come then, or was it only "
        "not logged?",
        "",
        "log-not-covered",
    )


def stopped(log: Log) -> Trouble | None:
    """A rate that is 0 for the last tenth or longer, or throughout; or so long no answer."""
    if (since_s := stopped_at_s(log)) is None:
        return None
    requests = log.kind == "requests"
    if since_s == 0:
        nothing = "No request of the log was answered." if requests else "The rate is 0 in the whole log."
        return Trouble(f"{nothing} Did the run finish?", "", "rate-stopped")
    end_s = float(_ends(log)[-1]) / US_PER_S
    nothing = "no request was answered" if requests else "the rate is 0"
    return Trouble(
        f"The run stopped at {since_s:g} s: from there to the end of the log, at {end_s:g} s, {nothing}. Did it finish?",
        "",
        "rate-stopped",
    )


def stopped_at_s(log: Log) -> float | None:
    """When the rate of such a log became 0 for good; 0 where it never was anything else. [s]"""
    came = answers_of(log).answered if log.rate_bit_s is None else log.rate_bit_s != 0
    if came[-1]:
        return None
    ends = _ends(log)
    carrying = np.flatnonzero(came)
    if not len(carrying):
        return 0.0
    since, end = int(ends[carrying[-1]]), int(ends[-1])
    return since / US_PER_S if end - since >= STOPPED_SHARE * (end - int(log.t_us[0])) else None


def outlasting(log: Log, *, planned_s: float) -> Trouble | None:
    """A request that took longer than its run, or latencies that are the times of their ends."""
    assert log.latency_us is not None
    assert log.outcome is not None
    came = log.outcome == FINISHED
    if not came.any():
        return None
    longest = int(log.latency_us.max())
    if longest > planned_s * US_PER_S:
        return Trouble(
            f"A request took {duration(longest / US_PER_S)}, longer than its run, which was planned to last "
            f"{duration(planned_s)}. Was the time at which it ended read as its latency?",
            "",
            "request-outlasts-log",
        )
    starts, latencies = log.t_us[came], log.latency_us[came]
    spread = len(starts) >= COUNTING_ROWS and 2 * int(starts[-1]) >= int(latencies[-1])  # not all asked for at once
    if spread and (latencies >= starts).all() and (np.diff(latencies) > 0).all():
        return Trouble(
            f"The latencies only grow, up to {duration(longest / US_PER_S)}, and each is at least the time at which its "
            "request began. Were the times at which they ended read as latencies?",
            "",
            "request-outlasts-log",
        )
    return None


def doubled(log: Log) -> Trouble | None:
    """A log of requests in which every row stands twice, one after the other."""
    assert log.latency_us is not None
    t, waits = log.t_us, log.latency_us
    if len(t) < 2 * COUNTING_ROWS or len(t) % 2 or t[0] != t[1] or waits[0] != waits[1]:
        return None
    copies = np.array_equal(t[::2], t[1::2]) and np.array_equal(waits[::2], waits[1::2])
    if not copies or np.count_nonzero(np.diff(waits[::2])) < COUNTING_ROWS - 1:
        return None
    return Trouble("Every row of the log stands there twice. Is one of each two a copy?", "", "doubled-rows")


def duration(seconds: float) -> str:
    """A length of time in words."""
    if seconds < 600:
        return f"{seconds:.4g} s"
    return f"{seconds / 60:.4g} min" if seconds < 36_000 else f"{seconds / 3600:.4g} h"
