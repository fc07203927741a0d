"""Questions about the log of one row, in the order in which one may explain the next, and what an answer changes.

An answer changes how the log is read, as a reading map would; the file itself is kept as it is. The first question
without an answer holds the row, and those after it are not asked: they may only follow from it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from catalog.checking import guards, log_guards
from catalog.checking.days_and_months import of_another_day
from catalog.checking.known import Row
from catalog.checking.log_guards import TIME_UNITS, US_PER_S, Missing
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import Trouble
from catalog.dates import has_clock
from catalog.digesting.answers import LONGEST_WAIT_US, answers_of, usual_pace
from catalog.digesting.logs import NOT_MADE, Log, Whole
from catalog.reading.format import DID_NOT_FINISH, FINISHED
from catalog.reading.logs import MAX_SAMPLES

Step = Callable[[Log], Log | None]

AS_SECONDS = "seconds"
ANOTHER_CLOCK = "another clock"
LEFT_OUT, MEASURED = "left out", "measured"
COUNTER, AMOUNTS = "counter", "amounts"
NO_DATA, NOT_LOGGED = "no data came", "not logged"
COPIES, REQUESTS = "copies", "requests"
LATENCIES, END_TIMES = "latencies", "end times"


def settled_rates(table: TypedTable, typed: TypedRow, row: Row, log: Log, *, stated_s: float | None) -> Log | None:
    """A throughput log as read after its answers; None where a question holds the row.

    row       of run or longrun; its outcome becomes "did not finish" where that is the answer
    stated_s  duration of the run as stated in the row, where it is. [s]
    """
    lasted_s = stated_s if row["outcome"] in (None, FINISHED) else None
    hold_another_row(table, typed, row, log, planned_s=stated_s)
    steps: tuple[Step, ...] = (
        lambda log: _in_seconds(table, typed, log, stated_s=lasted_s),
        lambda log: _without_sum(table, typed, log),
        lambda log: _amounts(table, typed, log),
        lambda log: _covered(table, typed, log, stated_s=lasted_s),
        lambda log: log if _ended(table, typed, row, log) else None,
    )
    return _through(steps, log)


def settled_requests(table: TypedTable, typed: TypedRow, row: Row, log: Log) -> Log | None:
    """A request log of a station as read after its answers; None where a question holds the row.

    Whether it is from its row's time is asked together with the other logs of its mix (mixes.py).
    """
    planned_s = row["planned_s"]
    steps: tuple[Step, ...] = (
        lambda log: _in_seconds(table, typed, log, stated_s=planned_s if row["outcome"] == FINISHED else None),
        lambda log: _without_copies(table, typed, log),
        lambda log: _latencies(table, typed, log, planned_s=planned_s),
    )
    return _through(steps, log)


def settled_answers(table: TypedTable, typed: TypedRow, row: Row, log: Log) -> Log | None:
    """The request log of a long run as read after its answers; None where a question holds the row.

    row  of longrun; its outcome becomes "did not finish" where that is the answer
    """

    def lasted_s(log: Log) -> float:
        return float(log.t_us[-1] - log.t_us[0]) / US_PER_S

    hold_another_row(table, typed, row, log, planned_s=lasted_s(log))
    steps: tuple[Step, ...] = (
        lambda log: _in_seconds(table, typed, log, stated_s=None),
        lambda log: _without_copies(table, typed, log),
        lambda log: _latencies(table, typed, log, planned_s=lasted_s(log) + LONGEST_WAIT_US / US_PER_S),
        lambda log: _covered(table, typed, log, stated_s=None),
        lambda log: log if _ended(table, typed, row, log) else None,
    )
    return _through(steps, log)


def _through(steps: tuple[Step, ...], log: Log) -> Log | None:
    for step in steps:
        if (settled := step(log)) is None:
            return None
        log = settled
    return log


def another_clock(table: TypedTable, typed: TypedRow, row: Row, log: Log, *, planned_s: float | None) -> bool:
    """Whether a person answered that the log belongs to its row despite its instants, because its clock was off."""
    question = _of_another_row(row, log, planned_s)
    return question is not None and table.answered(typed, "log", question, options=[ANOTHER_CLOCK]) is not None


def hold_another_row(table: TypedTable, typed: TypedRow, row: Row, log: Log, *, planned_s: float | None) -> None:
    """Hold a row whose log is from another time."""
    if (question := _of_another_row(row, log, planned_s)) is not None:
        table.ask(typed, "log", question, options=[ANOTHER_CLOCK])


def _of_another_row(row: Row, log: Log, planned_s: float | None) -> Trouble | None:
    if row["at_utc"] is None:
        return None
    if not has_clock(row["at_utc"]):
        return of_another_day(log, row["log_path"], row["at_utc"])
    when = dt.datetime.fromisoformat(row["at_utc"])
    return log_guards.of_another_row(log, row["log_path"], when, planned_s=planned_s)


def _in_seconds(table: TypedTable, typed: TypedRow, log: Log, *, stated_s: float | None) -> Log | None:
    if (doubt := log_guards.not_seconds(log, stated_s=stated_s)) is None:
        return log
    question, guess = doubt
    means = table.ask(typed, "log", question, options=[AS_SECONDS, guess] if guess else [AS_SECONDS])
    if means is None or means == AS_SECONDS:
        return None if means is None else log
    return _in_unit(log, TIME_UNITS[means])


def _in_unit(log: Log, size: float) -> Log:
    """The log with its times read as so many seconds each; lengths and rates, if they were written in them, too."""
    changed = replace(
        log,
        t_us=_scaled(log.t_us, size),
        warm_up_us=round(log.warm_up_us * size),
        before_us=round(log.before_us * size),
        after_us=round(log.after_us * size),
    )
    if log.span_us is None or log.rate_bit_s is None:
        return changed
    if len(log) > 1 and np.median(log.span_us) < np.median(np.diff(log.t_us)) * max(size, 1 / size) ** -0.5:
        return changed  # the lengths were seconds all along
    rates = _scaled(log.rate_bit_s, 1 / size) if log.from_amounts else log.rate_bit_s
    return replace(changed, span_us=_scaled(log.span_us, size), rate_bit_s=rates)


def _scaled(values: Whole, factor: float) -> Whole:
    scaled: Whole = np.rint(values * factor).astype(np.int64)
    return scaled


def _without_sum(table: TypedTable, typed: TypedRow, log: Log) -> Log | None:
    if (question := log_guards.closing_sum(log)) is None:
        return log
    means = table.ask(typed, "log", question, options=[LEFT_OUT, MEASURED])
    if means == LEFT_OUT:
        return _kept(log, slice(0, -1))
    return log if means == MEASURED else None


def _without_copies(table: TypedTable, typed: TypedRow, log: Log) -> Log | None:
    if (question := log_guards.doubled(log)) is None:
        return log
    means = table.ask(typed, "log", question, options=[COPIES, REQUESTS])
    if means != COPIES:
        return log if means == REQUESTS else None
    assert log.latency_us is not None
    assert log.outcome is not None
    once = slice(None, None, 2)
    amount_b = None if log.amount_b is None else log.amount_b[once]
    return replace(
        log, t_us=log.t_us[once], latency_us=log.latency_us[once], outcome=log.outcome[once], amount_b=amount_b
    )


def _amounts(table: TypedTable, typed: TypedRow, log: Log) -> Log | None:
    if (question := log_guards.only_growing(log)) is None:
        return log
    means = table.ask(typed, "log", question, options=[COUNTER, AMOUNTS])
    if means == COUNTER:
        return _differences(log)
    return log if means == AMOUNTS else None


def _differences(log: Log) -> Log:
    """The log of a counter: from one reading to the next it carried the difference of both."""
    steps = np.diff(log.t_us)
    rates = np.rint(np.diff(log_guards.amounts_b(log)) * 8 * US_PER_S / steps).astype(np.int64)
    return replace(_kept(log, slice(0, -1)), span_us=steps, rate_bit_s=rates)


def _kept(log: Log, rows: slice) -> Log:
    """Some intervals of a throughput log."""
    assert log.rate_bit_s is not None
    return replace(log, t_us=log.t_us[rows], rate_bit_s=log.rate_bit_s[rows], span_us=log.spans_us[rows])


def _covered(table: TypedTable, typed: TypedRow, log: Log, *, stated_s: float | None) -> Log | None:
    if (question := log_guards.not_covered(log, stated_s=stated_s)) is None:
        return log
    means = table.ask(typed, "log", question, options=[NO_DATA, NOT_LOGGED])
    if means == NO_DATA:
        lost = log_guards.missing(log, stated_s=stated_s)
        return _with_zeros(log, lost) if log.kind == "throughput" else _with_never_made(log, lost)
    return log if means == NOT_LOGGED else None


def _with_zeros(log: Log, lost: Missing) -> Log:
    """The log with intervals of rate 0 where it covers nothing."""
    assert log.rate_bit_s is not None
    spans = log.spans_us
    ends = log.t_us + spans
    after = np.append(lost.between, lost.after)
    empty = after > 0
    starts = np.concatenate([[log.t_us[0] - lost.before][: lost.before > 0], log.t_us, ends[empty]]).astype(np.int64)
    lengths = np.concatenate([[lost.before][: lost.before > 0], spans, after[empty]]).astype(np.int64)
    rates = np.zeros(len(starts), dtype=np.int64)
    rates[int(lost.before > 0) :][: len(log)] = log.rate_bit_s
    order = np.argsort(starts, kind="stable")
    return replace(log, t_us=starts[order], span_us=lengths[order], rate_bit_s=rates[order], before_us=0, after_us=0)


def _with_never_made(log: Log, lost: Missing) -> Log:
    """The log with requests that were never made, at its usual pace, where it covers nothing."""
    assert log.latency_us is not None
    assert log.outcome is not None
    pace = max(usual_pace(log.t_us), -(-lost.total // MAX_SAMPLES))
    until = np.maximum.accumulate(answers_of(log).ends)[:-1]
    added = np.concatenate(
        [np.arange(end, end + gap, pace) for end, gap in zip(until.tolist(), lost.between.tolist(), strict=True) if gap]
    )
    order = np.argsort(np.concatenate([log.t_us, added]), kind="stable")

    def filled(values: Any, value: int) -> Any:
        return np.concatenate([values, np.full(len(added), value, dtype=values.dtype)])[order]

    return replace(
        log,
        t_us=np.concatenate([log.t_us, added])[order],
        latency_us=filled(log.latency_us, -1),
        outcome=filled(log.outcome, NOT_MADE),
        amount_b=None if log.amount_b is None else filled(log.amount_b, -1),
    )


def _ended(table: TypedTable, typed: TypedRow, row: Row, log: Log) -> bool:
    """Whether it is known how the run ended; one that stopped has no throughput."""
    if row["outcome"] not in (None, FINISHED) or row.get("throughput_mbit_s") == 0:
        return True
    if (question := log_guards.stopped(log)) is None:
        return True
    means = table.ask(typed, "log", question, options=[FINISHED, DID_NOT_FINISH])
    if means == DID_NOT_FINISH:
        row["outcome"] = DID_NOT_FINISH
        if row.get("throughput_mbit_s") is not None:
            table.hold(typed, "throughput", guards.value_and_outcome(DID_NOT_FINISH))
    return means is not None


def _latencies(table: TypedTable, typed: TypedRow, log: Log, *, planned_s: float | None) -> Log | None:
    if planned_s is None or (question := log_guards.outlasting(log, planned_s=planned_s)) is None:
        return log
    means = table.ask(typed, "log", question, options=[LATENCIES, END_TIMES])
    if means == END_TIMES:
        return _from_ends(table, typed, log)
    return log if means == LATENCIES else None


def _from_ends(table: TypedTable, typed: TypedRow, log: Log) -> Log | None:
    """The log whose latencies are the times at which answers came: since 1970 where they are that large."""
    assert log.latency_us is not None
    came = log.latency_us >= 0
    unix_us = 0
    if log.started is not None and int(log.latency_us.max()) >= 1e15:
        unix_us = round(log.started.timestamp() * US_PER_S)
    latency = np.where(came, log.latency_us - log.t_us - unix_us, -1)
    if (latency[came] < 0).any():
        early = Trouble(
            "Read as the time of its end, a request ends before it begins.",
            "Read start and end through one reading map, from one clock.",
            "request-outlasts-log",
        )
        table.hold(typed, "log", early)
        return None
    return replace(log, latency_us=latency)
