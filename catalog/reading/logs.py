"""What a log states, judged and turned into arrays of whole numbers (`digesting.logs`).

Two forms are read as they are: `t_s, seconds, bytes` or `t_s, mbit_s`, and `t_s or start, ms, outcome`.
Everything else goes through a reading map (maps.py). Times count from the start of the log. [us]
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from catalog.digesting.logs import FAILED, FINISHED, NOT_MADE, Floats, Kind, Log, Whole, lengths_us
from catalog.errors import Problem
from catalog.reading.rawtable import problem_in

MAX_SAMPLES = 5_000_000
MOST = 2.0**53  # beyond it, floating point skips whole numbers
_UNKNOWN = -1
_ENDS_WITHIN_US = 1000  # starts and latencies are each rounded, mostly to a millisecond
_UNIX_END = 4_102_444_800  # the year 2100
OUTCOME_WORDS: Mapping[str, int] = {
    "finished": FINISHED,
    "ok": FINISHED,
    "failed": FAILED,
    "fail": FAILED,
    "error": FAILED,
    "timeout": FAILED,
    "not made": NOT_MADE,
}

Refuse = Callable[[int, str, str, str], None]
"""Notes a problem with the row at an index: sentence, code, remedy."""


@dataclass(frozen=True)
class Words:
    """A column of few different texts, as millions of rows repeat them: row i says texts[place[i]]."""

    texts: Sequence[str]
    place: NDArray[np.integer[Any]]


def words_of(texts: Iterable[str | None]) -> Words:
    """The texts of every row as `Words`; None is blank."""
    known: dict[str, int] = {}
    place = np.fromiter((known.setdefault(text or "", len(known)) for text in texts), np.int64)
    return Words(tuple(known), place)


@dataclass(frozen=True)
class LogColumns:
    """What a log states, column by column, before it is judged. NaN and None mean that nothing was measured.

    line     line or element of the file for an index, for messages
    t_s      times from any begin, or, beside the next two, from the first row. [s]
    began    the instant of the first row, where the log writes instants
    unix_s   the same as seconds since 1970 in UTC (POSIX), where the log writes them so. [s]
    until_next_s  lengths up to the next row of the log, where rows between were left out. [s]
    failed   requests that failed, as their latency or their end says
    places   rows of the file that these are, counted from 0; None for all of them
    """

    kind: Kind
    line: Callable[[int], int]
    t_s: Floats | None = None
    began: dt.datetime | None = None
    unix_s: float | None = None
    seconds: Floats | None = None
    until_next_s: Floats | None = None
    bytes: Floats | None = None
    mbit_s: Floats | None = None
    ms: Floats | None = None
    outcome: Words | None = None
    failed: NDArray[np.bool_] | None = None
    places: Whole | None = None
    width_mhz: Words | None = None
    band: Words | None = None
    channel: Words | None = None

    def link(self) -> dict[str, frozenset[str]]:
        """What the rows say of their link; blanks say nothing."""
        stated = {"width_mhz": self.width_mhz, "band": self.band, "channel": self.channel}
        return {name: frozenset(words.texts) - {""} for name, words in stated.items() if words is not None}


def assemble(file: str, columns: LogColumns, *, skip_first_s: float = 0.0) -> Log | list[Problem]:
    """Judge the columns of a log and turn them into whole numbers."""
    problems: list[Problem] = []

    def refuse(index: int, sentence: str, code: str, remedy: str) -> None:
        problems.append(problem_in(file, columns.line(index), sentence, remedy, code))

    seconds, started = columns.t_s, columns.began
    if seconds is None:
        return [
            problem_in(
                file,
                1,
                "The log has neither t_s nor start.",
                "A log needs a time. `likeloss map` proposes how to read one in another form.",
                "missing-column",
            )
        ]
    if len(seconds) == 0:
        return [problem_in(file, 1, "The log has no rows.", "Leave the cell empty if there is none.", "empty-log")]
    if (missing := np.isnan(seconds)).any():
        refuse(int(missing.argmax()), "The time is missing.", "missing", "Fill it in, or remove the line.")
        return problems
    if columns.unix_s is not None:
        if not 0 <= columns.unix_s < _UNIX_END:
            refuse(0, f"{columns.unix_s:g} s is no Unix time of a test.", "too-large", "Is its unit right?")
            return problems
        started = dt.datetime.fromtimestamp(columns.unix_s, dt.UTC)
    t_us = _whole(seconds, 1e6, "time", "s", refuse)
    back = np.diff(t_us) < 0
    by_answers = bool(back.any()) and _in_order_of_answers(columns, t_us)
    if back.any() and not by_answers and not problems:
        refuse(
            int(back.argmax()) + 1,
            "The time goes backwards here: did the clock jump?",
            "clock-jump",
            "Cut the log before it, or sort it if rows were shuffled.",
        )
    if problems:
        return problems
    judge = _throughput if columns.kind == "throughput" else _requests
    judged = judge(columns, t_us, refuse)
    if isinstance(judged, str):
        return [problem_in(file, 1, judged, "See the forms of logs in the README, under Logs.", "missing-column")]
    if problems:
        return problems
    keep, values = judged
    if by_answers:
        order = np.argsort(t_us, kind="stable")
        columns = replace(columns, places=order if columns.places is None else columns.places[order])
        values, t_us = {name: value[order] for name, value in values.items()}, t_us[order]
        if started is not None:
            started, t_us = started + dt.timedelta(microseconds=int(t_us[0])), t_us - t_us[0]
    values["t_us"] = t_us
    past = np.ones(len(t_us), dtype=np.bool_)
    if skip_first_s:
        past = t_us >= t_us[0] + round(skip_first_s * 1e6)
        keep = keep & past
    if not keep.any():
        return [
            problem_in(
                file,
                1,
                "No row of the log holds a measured value.",
                "Leave the cell empty if there is none.",
                "empty-log",
            )
        ]
    begin, first, last = int(past.argmax()), int(keep.argmax()), len(keep) - 1 - int(keep[::-1].argmax())
    facts: dict[str, Any] = {
        "rows": (columns.line(first), columns.line(last)),
        "warm_up_us": int(t_us[begin] - t_us[0]),
        "before_us": int(t_us[first] - t_us[begin]),
    }
    if columns.kind == "throughput":
        facts["stated_lengths"] = columns.seconds is not None
        facts["from_amounts"] = columns.mbit_s is None
    if last < len(keep) - 1:
        span_us = values["span_us"]
        facts["after_us"] = max(int(t_us[-1] + span_us[-1] - t_us[last] - span_us[last]), 0)
    places = columns.places
    if not keep.all():
        values = {name: kept[keep] for name, kept in values.items()}
        places = np.flatnonzero(keep) if places is None else places[keep]
    facts["places"] = places
    return Log(columns.kind, started=started, link=columns.link(), **values, **facts)


def _in_order_of_answers(columns: LogColumns, t_us: Whole) -> bool:
    """Whether requests that ran in parallel were written as they ended: then starts may go back, and ends never do."""
    if columns.kind != "requests" or columns.ms is None:
        return False
    ended_us = (t_us + columns.ms * 1e3)[~np.isnan(columns.ms)]
    return bool((np.diff(ended_us) >= -_ENDS_WITHIN_US).all())


def _whole(values: Floats, factor: float, what: str, unit: str, refuse: Refuse) -> Whole:
    """Values in units *factor* times smaller, as whole numbers; NaN as 0. The first that is too large is refused."""
    with np.errstate(over="ignore"):
        scaled = values * factor
    if (beyond := np.abs(scaled) > MOST).any():
        value = values[beyond.argmax()]
        size = f"{value:g} {unit}" if np.isfinite(value) else "larger than a number can be"
        refuse(int(beyond.argmax()), f"The {what} is {size}; no test comes to that.", "too-large", "Is its unit right?")
        scaled[beyond] = 0
    scaled[np.isnan(scaled)] = 0
    return np.rint(scaled).astype(np.int64)


def _throughput(columns: LogColumns, t_us: Whole, refuse: Refuse) -> tuple[Any, dict[str, Any]] | str:
    """Which rows were measured, and their rates and lengths."""
    if (same := np.diff(t_us) == 0).any():
        refuse(
            int(same.argmax()) + 1,
            "Two intervals begin at the same time.",
            "same-time",
            "If these are several flows, add them up, or keep one of them with a reading map.",
        )
    lengths = columns.seconds
    if columns.mbit_s is not None:
        rate, factor, unit = columns.mbit_s, 1e6, "Mbit/s"
    elif columns.bytes is not None:
        span_s = lengths if lengths is not None else columns.until_next_s
        if span_s is None:  # each row lasts until the next
            if len(t_us) == 1:
                return "A single row of bytes needs its length in seconds."
            span_s = lengths_us(t_us) / 1e6 if not same.any() else np.ones(len(t_us))
        with np.errstate(all="ignore"):
            rate, factor, unit = np.where(span_s > 0, columns.bytes * 8 / span_s, np.nan), 1.0, "bit/s"
    else:
        return "A throughput log has t_s with mbit_s or bytes, and perhaps seconds."
    measured = ~np.isnan(rate)
    values: dict[str, Any] = {}
    if lengths is not None:
        if (short := lengths < 0.5e-6).any():
            first = int(short.argmax())
            size = "not longer than 0 s" if lengths[first] <= 0 else "shorter than 1 µs"
            refuse(first, f"The interval is {size}.", "too-small", "Correct or remove the line.")
        if (unknown := measured & np.isnan(lengths)).any():
            first = int(unknown.argmax())
            refuse(first, "The length of the interval is missing.", "missing", "Fill it in, or remove the line.")
        values["span_us"] = _whole(lengths, 1e6, "interval", "s", refuse)
    elif columns.until_next_s is not None:
        values["span_us"] = _whole(columns.until_next_s, 1e6, "interval", "s", refuse)
    elif not measured.all() and not same.any():  # an interval ends with the next one, measured or not
        values["span_us"] = lengths_us(t_us)
    if (negative := rate < 0).any():
        refuse(int(negative.argmax()), "The throughput is negative.", "too-small", "Correct or remove the line.")
    values["rate_bit_s"] = _whole(rate, factor, "throughput", unit, refuse)
    return measured, values


def _requests(columns: LogColumns, t_us: Whole, refuse: Refuse) -> tuple[Any, dict[str, Any]] | str:
    """Every row, and the latencies and outcomes."""
    if columns.ms is None:
        return "A request log has t_s or start, ms and outcome."
    rows = np.ones(len(t_us), dtype=np.bool_)
    outcome = np.full(len(t_us), FINISHED, dtype=np.int8)
    if columns.outcome is not None:
        codes = [
            OUTCOME_WORDS.get(text.strip().casefold().replace("_", " "), _UNKNOWN) for text in columns.outcome.texts
        ]
        outcome = np.array(codes, dtype=np.int8)[columns.outcome.place]
        if (unknown := outcome == _UNKNOWN).any():
            first = int(unknown.argmax())
            text = columns.outcome.texts[columns.outcome.place[first]]
            refuse(
                first,
                f"The outcome {text!r} is not finished, failed or not made.",
                "unknown-word",
                "Correct it, or translate it with words in a reading map.",
            )
            return rows, {}
    if columns.failed is not None and columns.failed.any():
        if columns.outcome is not None and (both := columns.failed & (outcome == FINISHED)).any():
            refuse(
                int(both.argmax()),
                "The outcome is finished, but in the place of the latency stands a word for a failure.",
                "value-and-outcome",
                "Correct the words in the reading map.",
            )
        outcome[columns.failed & (outcome == FINISHED)] = FAILED
    if (negative := columns.ms < 0).any():
        first = int(negative.argmax())
        refuse(
            first,
            f"The latency {columns.ms[first]:g} ms is negative: did a clock jump, or do two clocks differ?",
            "negative-latency",
            "Measure start and end with one clock.",
        )
    finished = outcome == FINISHED
    if (blank := finished & np.isnan(columns.ms)).any():
        refuse(
            int(blank.argmax()),
            "A finished request has no latency.",
            "missing",
            "Write it, or mark the request failed.",
        )
    latency = _whole(columns.ms, 1e3, "latency", "ms", refuse)
    latency[~finished] = -1
    values: dict[str, Any] = {"latency_us": latency, "outcome": outcome}
    if columns.bytes is not None:
        if (negative := columns.bytes < 0).any():
            first = int(negative.argmax())
            refuse(
                first,
                f"The amount is negative, {columns.bytes[first]:g} bytes.",
                "too-small",
                "If that means “not measured”, leave it empty or list it as missing in a reading map.",
            )
        amount = _whole(columns.bytes, 1.0, "amount", "bytes", refuse)
        amount[np.isnan(columns.bytes)] = -1
        values["amount_b"] = amount
    return rows, values
