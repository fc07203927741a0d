"""Logs as arrays of whole numbers: throughput by interval, or requests one by one.

Two forms are read as they are: `t_s, seconds, bytes` or `t_s, mbit_s`, and `t_s or start, ms, outcome`.
Everything else goes through a reading map (maps.py). Times count from the start of the log. [us]
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from catalog.errors import Problem
from catalog.reading.rawtable import problem_in

MAX_SAMPLES = 5_000_000
FINISHED, FAILED, NOT_MADE = 0, 1, 2
_UNKNOWN = -1
OUTCOME_WORDS: Mapping[str, int] = {
    "finished": FINISHED,
    "ok": FINISHED,
    "failed": FAILED,
    "fail": FAILED,
    "error": FAILED,
    "timeout": FAILED,
    "not made": NOT_MADE,
}

Kind = Literal["throughput", "requests"]
Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
InstantReader = Callable[[str], dt.datetime | str]
"""A typed time as an instant in UTC, or the sentence that says why not."""


@dataclass(frozen=True)
class Log:
    """One log.

    t_us         start of each interval or request, from the start of the log. [us]
    started      the instant of t = 0, where the log states instants
    rate_bit_s   throughput of each interval. [bit/s]
    span_us      length of each interval, where the log states it. [us]
    latency_us   time to the answer, -1 where none came. [us]
    outcome      FINISHED, FAILED or NOT_MADE
    amount_b     bytes that came with each answer, -1 where not stated. [byte]
    link         what the log says of its link, as typed: "width_mhz", "band", "channel" -> all its values
    """

    kind: Kind
    t_us: Whole
    started: dt.datetime | None = None
    rate_bit_s: Whole | None = None
    span_us: Whole | None = None
    latency_us: Whole | None = None
    outcome: Whole | None = None
    amount_b: Whole | None = None
    link: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.t_us)


@dataclass(frozen=True)
class Words:
    """A column of few different texts, as millions of rows repeat them: row i says texts[place[i]]."""

    texts: Sequence[str]
    place: Whole


def words_of(texts: Iterable[str | None]) -> Words:
    """The texts of every row as `Words`; None is blank."""
    known: dict[str, int] = {}
    place = np.fromiter((known.setdefault(text or "", len(known)) for text in texts), np.int64)
    return Words(tuple(known), place)


@dataclass(frozen=True)
class LogColumns:
    """What a log states, column by column, before it is judged. NaN and None mean that nothing was measured.

    line     line or element of the file for an index, for messages
    """

    kind: Kind
    line: Callable[[int], int]
    t_s: Floats | None = None
    start: Sequence[str] | None = None
    seconds: Floats | None = None
    bytes: Floats | None = None
    mbit_s: Floats | None = None
    ms: Floats | None = None
    outcome: Words | None = None
    width_mhz: Words | None = None
    band: Words | None = None
    channel: Words | None = None

    def link(self) -> dict[str, frozenset[str]]:
        """What the rows say of their link; blanks say nothing."""
        stated = {"width_mhz": self.width_mhz, "band": self.band, "channel": self.channel}
        return {name: frozenset(words.texts) - {""} for name, words in stated.items() if words is not None}


def assemble(
    file: str, columns: LogColumns, *, instant: InstantReader, skip_first_s: float = 0.0
) -> Log | list[Problem]:
    """Judge the columns of a log and turn them into whole numbers."""
    problems: list[Problem] = []

    def refuse(index: int, sentence: str, code: str, remedy: str = "") -> None:
        problems.append(problem_in(file, columns.line(index), sentence, remedy, code))

    started: dt.datetime | None = None
    if columns.t_s is not None:
        seconds = columns.t_s
    elif columns.start is not None:
        found = _instants(columns.start, instant, refuse)
        if found is None:
            return problems
        started, seconds = found
    else:
        return [problem_in(file, 1, "The log has neither t_s nor start.", "A log needs a time.", "missing-column")]
    if len(seconds) == 0:
        return [problem_in(file, 1, "The log has no rows.", "Leave the cell empty if there is none.", "empty-log")]
    if (bad := np.flatnonzero(~np.isfinite(seconds))).size:
        refuse(int(bad[0]), "The time is missing.", "missing", "Fill it in, or remove the line.")
        return problems
    if (back := np.flatnonzero(np.diff(seconds) < 0)).size:
        refuse(
            int(back[0]) + 1,
            "The time goes backwards here: did the clock jump?",
            "clock-jump",
            "Cut the log before it, or sort it if rows were shuffled.",
        )
        return problems
    t_us = np.rint(seconds * 1e6).astype(np.int64)
    keep = t_us >= round(skip_first_s * 1e6) + (t_us[0] if skip_first_s else 0)
    log = _throughput(columns, t_us, refuse) if columns.kind == "throughput" else _requests(columns, t_us, refuse)
    if isinstance(log, str):
        return [problem_in(file, 1, log, "See the forms of logs in the README, under Logs.", "missing-column")]
    if problems:
        return problems
    keep &= log.pop("measured").astype(bool)
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
    kept = {name: values[keep] for name, values in log.items()}
    return Log(columns.kind, t_us[keep], started, **kept, link=columns.link())


def _throughput(columns: LogColumns, t_us: Whole, refuse: Callable[..., None]) -> dict[str, Whole] | str:
    if columns.mbit_s is not None:
        rate = columns.mbit_s * 1e6
    elif columns.bytes is not None and columns.seconds is not None:
        with np.errstate(divide="ignore", invalid="ignore"):
            rate = columns.bytes * 8 / columns.seconds
    else:
        return "A throughput log has t_s with mbit_s, or t_s, seconds and bytes."
    if columns.seconds is not None and (bad := np.flatnonzero(columns.seconds <= 0)).size:
        refuse(int(bad[0]), "The interval is not longer than 0 s.", "too-small", "Correct or remove the line.")
    if (bad := np.flatnonzero(rate < 0)).size:
        refuse(int(bad[0]), "The throughput is negative.", "too-small", "Correct or remove the line.")
    if (same := np.flatnonzero(np.diff(t_us) == 0)).size:
        refuse(
            int(same[0]) + 1,
            "Two intervals begin at the same time.",
            "same-time",
            "If these are several flows, add them up, or keep one of them with a reading map.",
        )
    measured = np.isfinite(rate)
    found = {"measured": measured.astype(np.int64), "rate_bit_s": np.rint(np.where(measured, rate, 0)).astype(np.int64)}
    if columns.seconds is not None:
        found["span_us"] = np.rint(np.nan_to_num(columns.seconds) * 1e6).astype(np.int64)
    return found


def _requests(columns: LogColumns, t_us: Whole, refuse: Callable[..., None]) -> dict[str, Whole] | str:
    if columns.ms is None:
        return "A request log has t_s or start, ms and outcome."
    outcome = np.zeros(len(t_us), dtype=np.int64)
    if columns.outcome is not None:
        codes = [
            OUTCOME_WORDS.get(text.strip().casefold().replace("_", " "), _UNKNOWN) for text in columns.outcome.texts
        ]
        outcome = np.array(codes, dtype=np.int64)[columns.outcome.place]
        if (bad := np.flatnonzero(outcome == _UNKNOWN)).size:
            text = columns.outcome.texts[columns.outcome.place[bad[0]]]
            refuse(
                int(bad[0]),
                f"The outcome {text!r} is not finished, failed or not made.",
                "unknown-word",
                "Correct it, or translate it with words in a reading map.",
            )
            return {"measured": outcome}
    finished = outcome == FINISHED
    if (bad := np.flatnonzero(columns.ms < 0)).size:
        refuse(
            int(bad[0]),
            f"The latency {columns.ms[bad[0]]:g} ms is negative: did a clock jump, or do two clocks differ?",
            "negative-latency",
            "Measure start and end with one clock.",
        )
    if (bad := np.flatnonzero(finished & ~np.isfinite(columns.ms))).size:
        refuse(
            int(bad[0]),
            "A finished request has no latency.",
            "missing",
            "Write it, or mark the request failed.",
        )
    latency = np.where(finished & np.isfinite(columns.ms), np.nan_to_num(columns.ms) * 1000, -1)
    found = {
        "measured": np.ones(len(t_us), dtype=np.int64),
        "latency_us": np.rint(latency).astype(np.int64),
        "outcome": outcome,
    }
    if columns.bytes is not None:
        found["amount_b"] = np.rint(np.nan_to_num(columns.bytes, nan=-1)).astype(np.int64)
    return found


def _instants(
    texts: Sequence[str], instant: InstantReader, refuse: Callable[..., None]
) -> tuple[dt.datetime, Floats] | None:
    """The first instant, and seconds from it."""
    moments: list[dt.datetime] = []
    for index, text in enumerate(texts):
        moment = instant(text)
        if isinstance(moment, str):
            refuse(index, moment, "not-a-time")
            return None
        moments.append(moment)
    if not moments:
        return dt.datetime(1970, 1, 1, tzinfo=dt.UTC), np.empty(0)
    first = moments[0]
    return first, np.array([(moment - first).total_seconds() for moment in moments])
