"""The chart of waits over hours: what half, 95 and 99 of 100 requests were answered within, and the slowest answers.

A step a line and hour, and behind them the slowest answer of each column of one or two px, so that a single late one still shows.
Stretches without a log stay empty; a column with a request that was not answered has a mark at the foot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import Any

from builder.charts.figures import Figure, Spec, TableTwin
from builder.charts.longrun_chart import BELOW_AXIS, HOUR_S, MINUTES_BELOW_S, MOST_COLUMNS, Level
from builder.charts.longwaits_template import NARROW, WIDE, Y_TITLE, left_of, longwaits_template
from builder.charts.range_template import is_wide, right_of
from builder.charts.theme import Layout, balanced, wrapped
from builder.charts.waiting_bars import TimeAxis, nice_step
from builder.charts.words_on_lines import WordedLine, over_the_plot, words_on_lines

LEVELS = {50: "half", 95: "95 of 100", 99: "99 of 100"}
WORDED = ("mark", "95", "99", "50", "slowest")  # where there is no room for all words, the last ones go first
LEAST_WORDED = 2
AIR = 1.15  # between what is drawn and either end of the axis


@dataclass(frozen=True, slots=True)
class HourOfAnswers:
    """One hour. Times from the start of the run. [s]

    ms     LEVELS -> within what so many were answered; None: not drawn. [ms]
    """

    start_s: float
    end_s: float
    ms: Mapping[int, float | None]


def longwaits_figure(
    *,
    key: str,
    title: str,
    t_s: Sequence[float],
    waits_ms: Sequence[float | None],
    hours: Sequence[HourOfAnswers],
    joined_s: float,
    mark: Level | None,
    ended: str,
    notes: Sequence[str],
    spoken: str,
    table: TableTwin,
) -> Figure:
    """The chart of one log of requests.

    t_s       when each request was made, not falling, shape (n,), n at least 1. [s]
    waits_ms  how long it waited, above 0; None: not answered, shape (n,). [ms]
    hours     in order of time
    joined_s  neighbours farther apart have a gap between them. [s]
    mark      what is asked for, with its words. [ms]
    ended     how it broke off, in words; "" for one that ran to its end
    Raises    ValueError for no requests, unequal shapes or times that fall.
    """
    if not t_s or len(t_s) != len(waits_ms):
        raise ValueError(f"{len(waits_ms)} waits do not fit {len(t_s)} requests")
    if any(later < earlier for earlier, later in pairwise(t_s)):
        raise ValueError("the times of a long run must not fall")
    run = _Run(title, [t - t_s[0] for t in t_s], list(waits_ms), hours, joined_s, mark, ended, notes)
    return Figure(
        key=key,
        title=title,
        spec=_laid_out(run, WIDE),
        spoken=spoken,
        table=table,
        notes=tuple(notes),
        narrow=_laid_out(run, NARROW),
        drawn=partial(_laid_out, run),
        parts=1,
    )


@dataclass(frozen=True, slots=True)
class _Run:
    """What is drawn, before any size is known. Times in s from its start."""

    title: str
    t: Sequence[float]
    waits: Sequence[float | None]
    hours: Sequence[HourOfAnswers]
    joined_s: float
    mark: Level | None
    ended: str
    notes: Sequence[str]

    @property
    def length(self) -> float:
        """Of the time axis. [s]"""
        return max(self.t[-1], *(hour.end_s for hour in self.hours)) or 60.0

    @property
    def unit(self) -> tuple[str, float]:
        return ("min", 60.0) if self.length < MINUTES_BELOW_S else ("h", HOUR_S)

    @property
    def limits(self) -> tuple[float, float]:
        """Whole steps of 1, 2, 5 around everything drawn. [ms]"""
        places = [wait for wait in self.waits if wait]
        places += [ms for hour in self.hours for ms in hour.ms.values() if ms]
        places += [self.mark.value] if self.mark else []
        if not places:
            return 1.0, 1000.0
        least = min([ms for hour in self.hours for ms in hour.ms.values() if ms] or places)
        return nice_step(least / AIR, up=False), nice_step(max(places) * AIR, up=True)


def _laid_out(run: _Run, layout: Layout, shown: int | None = None) -> Spec:
    """The specification for one layout; nothing but axes and words where *shown* is 0."""
    height, width = float(layout.plot_height), layout.plot_width
    axis = TimeAxis(*run.limits, layout.plot_height)
    unit, unit_s = run.unit

    def time(t: float) -> float:
        return round(t / unit_s, 4)

    def across(px: float) -> float:
        return float(f"{px / width * run.length / unit_s:.6g}")

    def at(px: float) -> float:
        return axis.ms(height - px)

    sets: dict[str, list[dict[str, Any]]] = {"slowest": [], "hours": [], "lost": [], "mark": []}
    slowest = _slowest(run, min(width, MOST_COLUMNS))
    steps = {str(percent): _steps(run, percent) for percent in LEVELS}
    if run.mark:
        sets["mark"].append({"value": run.mark.value, "level": "mark"})
    if shown is None or shown:
        for number, piece in enumerate(slowest):
            sets["slowest"] += [_row(time(t), number, axis.held(ms)) for t, ms in piece]
        for level, pieces in steps.items():
            for number, piece in enumerate(pieces):
                sets["hours"] += [_row(time(t), f"{level}-{number}", axis.held(ms), level=level) for t, ms in piece]
        sets["lost"] = [{"t": time(t)} for t in _lost(run, min(width, MOST_COLUMNS))]

    unit_x = 0.0 if is_wide(layout) else -float(left_of(layout))
    over, taken = over_the_plot(Y_TITLE, unit_x, run.ended, run.t[-1] / run.length * width, layout)
    sets["unit"], sets["ended"] = (
        [{"t": across(one["x"]), "at": at(one["at"]), "text": one["text"]} for one in some]
        for some in (over[:1], over[1:])
    )
    words = words_on_lines(
        _worded(run, {**steps, "slowest": slowest}, axis, width),
        size=layout.text,
        width=width,
        height=height,
        taken=taken,
        least=LEAST_WORDED,
    )
    sets["words"] = [
        {"t": across(one["x"]), "at": at(one["at"] + 0.34 * layout.text), "text": one["text"]} for one in words
    ]
    sets["samples"] = [
        {"level": one["level"], "t": across(one["sample"][0]), "t2": across(one["sample"][1]), "at": at(one["at"])}
        for one in words
        if one["sample"]
    ]
    whole = left_of(layout) + width + right_of(layout)
    notes = [text for note in run.notes for text in wrapped(note, whole, layout.note)]
    sets["notes"] = [
        {"at": at(height + BELOW_AXIS + row * (layout.note + 5)), "text": text} for row, text in enumerate(notes)
    ]
    sets["frame"] = [{"at": axis.low}]
    spec = longwaits_template(layout, unit)
    spec["title"] = {"text": balanced(run.title, whole, layout.text + 5, bold=True)}
    spec["params"] = [
        {"name": "x_high", "value": time(run.length)},
        {"name": "y_low", "value": axis.low},
        {"name": "y_high", "value": axis.high},
        {"name": "y_ticks", "value": _ticks(axis, layout)},
    ]
    spec["datasets"] = sets
    return spec


def _worded(
    run: _Run, drawn: Mapping[str, Sequence[Sequence[tuple[float, float]]]], axis: TimeAxis, width: int
) -> dict[str, WordedLine]:
    """The lines that are there, with their words. drawn: level -> its pieces. [s, ms]"""
    words = {str(percent): text for percent, text in LEVELS.items()} | {"slowest": "slowest"}
    pieces = dict(drawn)
    if run.mark:
        words["mark"] = run.mark.text
        pieces["mark"] = [[(0.0, run.mark.value), (run.length, run.mark.value)]]
    lines = {}
    for level in WORDED:
        if pieces.get(level):
            px = [[(t / run.length * width, axis.width - axis.px(ms)) for t, ms in piece] for piece in pieces[level]]
            lines[level] = WordedLine(words[level], px)
    return lines


def _ticks(axis: TimeAxis, layout: Layout) -> list[float]:
    """Powers of ten with their double and fivefold, as far as their numbers have room above each other."""
    tall = TimeAxis(axis.low, axis.high, axis.width * 3)  # a number is a third as high as it is wide
    return tall.ticks(layout.text)


def _row(t: float, piece: int | str, value: float, **more: str) -> dict[str, Any]:
    return {"t": t, "piece": str(piece), "value": float(f"{value:.5g}"), **more}


def _slowest(run: _Run, count: int) -> list[list[tuple[float, float]]]:
    """The slowest answer of each column of the plot, in pieces without a gap. [s, ms]"""
    width = run.length / count
    pieces: list[list[tuple[float, float]]] = []
    column, before = -1, -1.0
    for t, wait in zip(run.t, run.waits, strict=True):
        if wait is None:
            continue
        index = min(int(t / width), count - 1)
        if before < 0 or t - before > run.joined_s:
            pieces.append([])
            column = -1
        if index != column:
            pieces[-1].append((index * width, wait))
        elif wait > pieces[-1][-1][1]:
            pieces[-1][-1] = (index * width, wait)
        column, before = index, t
    for piece in pieces:  # each value lasts to the end of its column
        piece.append((piece[-1][0] + width, piece[-1][1]))
    return pieces


def _steps(run: _Run, percent: int) -> list[list[tuple[float, float]]]:
    """One level hour by hour, in pieces of hours that follow each other. [s, ms]"""
    pieces: list[list[tuple[float, float]]] = []
    end_s = -1.0
    for hour in run.hours:
        ms = hour.ms.get(percent)
        if ms is None:
            continue
        if hour.start_s == end_s:
            pieces[-1].pop()
        else:
            pieces.append([])
        pieces[-1] += [(hour.start_s, ms), (hour.end_s, ms)]
        end_s = hour.end_s
    return pieces


def _lost(run: _Run, count: int) -> list[float]:
    """Middles of the columns with a request that was not answered. [s]"""
    width = run.length / count
    columns = {min(int(t / width), count - 1) for t, wait in zip(run.t, run.waits, strict=True) if wait is None}
    return [(column + 0.5) * width for column in sorted(columns)]
