"""The chart of waits over hours: what half, 95 and 99 of 100 requests were answered within, and the slowest answers.

A step a line and hour, and behind them the slowest answer of each px column, so that a single late one still shows.
Stretches without a log stay empty; a column with a request that was not answered has a mark at the foot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import Any

from builder.charts import longrun_template
from builder.charts.figures import Figure, Spec, TableTwin
from builder.charts.label_column import text_start
from builder.charts.longrun_chart import BELOW_AXIS, HOUR_S, MINUTES_BELOW_S, Level
from builder.charts.longwaits_template import Y_AXIS_WIDTH, longwaits_template
from builder.charts.placing import spread
from builder.charts.theme import NARROW, WIDE, Layout, balanced, wrapped
from builder.charts.waiting_bars import TimeAxis, nice_step

LEVELS = {50: "half", 95: "95 of 100", 99: "99 of 100"}
LABEL_AIR = 4.0  # between the words of two lines [px]
FIRST_DROPPED = ("slowest", "99", "50")  # where there is no room for all words
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
    # As wide in all as the chart of a throughput, whose numbers are narrower.
    layout = replace(layout, plot_width=layout.plot_width - (Y_AXIS_WIDTH - longrun_template.Y_AXIS_WIDTH))
    height = float(layout.plot_height)
    axis = TimeAxis(*run.limits, layout.plot_height)
    unit, unit_s = run.unit

    def time(t: float) -> float:
        return round(t / unit_s, 4)

    def at(px: float) -> float:
        return axis.ms(height - px)

    sets: dict[str, list[dict[str, Any]]] = {"slowest": [], "hours": [], "lost": [], "mark": [], "ended": []}
    ends: dict[str, tuple[float, str]] = {}
    slowest = _slowest(run, layout.plot_width)
    steps = {level: _steps(run, percent) for percent, level in LEVELS.items()}
    for percent, level in LEVELS.items():
        if steps[level]:
            ends[str(percent)] = (axis.held(steps[level][-1][-1][1]), level)
    if slowest:
        ends["slowest"] = (axis.held(slowest[-1][-1][1]), "slowest")
    if run.mark:
        ends["mark"] = (run.mark.value, run.mark.text)
        sets["mark"].append({"value": run.mark.value, "level": "mark"})
    if shown is None or shown:
        for number, piece in enumerate(slowest):
            sets["slowest"] += [_row(time(t), number, axis.held(ms)) for t, ms in piece]
        for percent, level in LEVELS.items():
            for number, piece in enumerate(steps[level]):
                name = f"{percent}-{number}"
                sets["hours"] += [_row(time(t), name, axis.held(ms), level=str(percent)) for t, ms in piece]
        sets["lost"] = [{"t": time(t)} for t in _lost(run, layout.plot_width)]
    if run.ended:
        sets["ended"].append({"text": run.ended})

    order, texts, heights = _labels(ends, layout)
    wanted = [height - axis.px(ends[level][0]) + 1e-3 * n for n, level in enumerate(order)]
    centres = spread(wanted, heights, low=0.0, high=height)
    sets["keys"] = [
        {"level": level, "value": ends[level][0], "at": at(centre)}
        for level, centre in zip(order, centres, strict=True)
    ]
    sets["texts"] = [
        {"at": at(centre + (i - (len(lines) - 1) / 2) * layout.line_height), "text": text}
        for lines, centre in zip(texts, centres, strict=True)
        for i, text in enumerate(lines)
    ]
    width = Y_AXIS_WIDTH + layout.plot_width + text_start(layout) + layout.label_width
    notes = [text for note in run.notes for text in wrapped(note, width, layout.note)]
    sets["notes"] = [
        {"at": at(height + BELOW_AXIS + row * (layout.note + 5)), "text": text} for row, text in enumerate(notes)
    ]
    spec = longwaits_template(layout, unit)
    spec["title"] = {"text": balanced(run.title, width, layout.text + 5, bold=True)}
    spec["params"] = [
        {"name": "x_high", "value": time(run.length)},
        {"name": "y_low", "value": axis.low},
        {"name": "y_high", "value": axis.high},
        {"name": "y_ticks", "value": _ticks(axis, layout)},
    ]
    spec["datasets"] = sets
    return spec


def _labels(ends: Mapping[str, tuple[float, str]], layout: Layout) -> tuple[list[str], list[list[str]], list[float]]:
    """Ends of lines from the highest, their words in lines, and how high these are: as many as the plot has room for. [px]

    ends  level -> where its line ends [ms], and its words
    """
    order = sorted(ends, key=lambda level: -ends[level][0])
    for dropped in (None, *FIRST_DROPPED):
        order = [level for level in order if level != dropped]
        texts = [balanced(ends[level][1], layout.label_width, layout.text - 1) for level in order]
        lines = sum(map(len, texts)) * layout.line_height
        if lines <= layout.plot_height:
            break
    air = min(LABEL_AIR, (layout.plot_height - lines) / max(len(order), 1))
    return order, texts, [len(one) * layout.line_height + air for one in texts]


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
