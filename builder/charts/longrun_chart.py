"""The long-run chart: throughput over hours, so that a single second without it still shows.

Where there are more values than px, columns of one or two px hold the lowest and the highest of their values: nothing is
averaged away. Stretches without a log stay empty. A column that carried as good as nothing has a mark at the foot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import Any

from builder.charts.figures import Figure, Spec, TableTwin
from builder.charts.heights import Heights
from builder.charts.longrun_template import NARROW, WIDE, longrun_template
from builder.charts.placing import axis_end
from builder.charts.range_template import is_wide, left_of, whole_width
from builder.charts.theme import Layout, balanced, wrapped
from builder.charts.words_on_lines import WordedLine, over_the_plot, words_on_lines
from builder.wording import number, rate_decimals, trimmed

UNIT = "Mbit/s"
BELOW_AXIS = 62  # from the foot of the plot to what is written under it [px]
HOUR_S = 3600.0
MINUTES_BELOW_S = 2 * HOUR_S  # shorter runs have an axis in minutes
MOST_ROWS = 24
MOST_COLUMNS = 400  # of a drawing: one for each px of a wide one would cut the heaviest page of the demo once more


@dataclass(frozen=True, slots=True)
class Level:
    """A value drawn across the whole run, with its words. [Mbit/s]"""

    value: float
    text: str


def longrun_figure(
    *,
    key: str,
    title: str,
    t_s: Sequence[float],
    mbit_s: Sequence[float],
    joined_s: float,
    median: Level,
    fifth_percentile: Level,
    stalled_at: float,
    ended: str,
    notes: Sequence[str],
    spoken: str,
) -> Figure:
    """The long-run chart of one log.

    t_s         start of each value, rising, shape (n,), n at least 1. [s]
    mbit_s      its value, from 0, shape (n,). [Mbit/s]
    joined_s    neighbours farther apart have a gap between them. [s]
    stalled_at  a value at or below this is a stall. [Mbit/s]
    ended       how it broke off, in words; "" for one that ran to its end
    Raises      ValueError for no values, unequal shapes, times that do not rise or a value below 0.
    """
    if not t_s or len(t_s) != len(mbit_s):
        raise ValueError(f"{len(mbit_s)} values do not fit {len(t_s)} times")
    if any(later <= earlier for earlier, later in pairwise(t_s)):
        raise ValueError("the times of a long run must rise")
    if min(mbit_s) < 0:
        raise ValueError(f"a throughput is at least 0, got {min(mbit_s):g}")
    start = t_s[0]
    unit = ("min", 60.0) if t_s[-1] - start < MINUTES_BELOW_S else ("h", HOUR_S)
    run = _Run(
        title,
        [t - start for t in t_s],
        list(mbit_s),
        joined_s,
        (median, fifth_percentile),
        stalled_at,
        ended,
        notes,
        *unit,
    )
    return Figure(
        key=key,
        title=title,
        spec=_laid_out(run, WIDE),
        spoken=spoken,
        table=_table(run),
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
    values: Sequence[float]
    joined_s: float
    levels: tuple[Level, Level]
    stalled_at: float
    ended: str
    notes: Sequence[str]
    unit: str
    unit_s: float

    @property
    def length(self) -> float:
        """Of the time axis. [s]"""
        return self.t[-1] if self.t[-1] > 0 else self.unit_s

    def pieces(self) -> list[range]:
        """Places of values without a gap between them."""
        cuts = [i + 1 for i, (a, b) in enumerate(pairwise(self.t)) if b - a > self.joined_s]
        return [range(a, b) for a, b in pairwise([0, *cuts, len(self.t)])]


@dataclass(frozen=True, slots=True)
class _Column:
    """Lowest and highest value of a stretch one or two px wide. [s, Mbit/s]"""

    start: float
    end: float
    low: float
    high: float


def _columns(run: _Run, piece: range, count: int) -> list[_Column]:
    """A piece in columns of the plot. One without a value of its own goes on with that of the one before."""
    width = run.length / count
    filled: dict[int, tuple[float, float]] = {}
    for place in piece:
        index = min(int(run.t[place] / width), count - 1)
        low, high = filled.get(index, (run.values[place], run.values[place]))
        filled[index] = min(low, run.values[place]), max(high, run.values[place])
    columns: list[_Column] = []
    last = max(filled)
    low, high = filled[min(filled)]
    for index in range(min(filled), last + 1):
        low, high = filled.get(index, (low, high))
        columns.append(_Column(index * width, (index + 1) * width, low, high))
    return columns


def _laid_out(run: _Run, layout: Layout, shown: int | None = None) -> Spec:
    """The specification for one layout; nothing but axes and levels where *shown* is 0."""
    limit = axis_end(max(*run.values, *(level.value for level in run.levels)))
    scale, width = Heights(0.0, limit, layout.plot_height), layout.plot_width

    def time(px: float) -> float:
        return float(f"{px / width * run.length / run.unit_s:.6g}")

    sets: dict[str, list[dict[str, Any]]] = {"band": [], "line": [], "stalls": [], "end": []}
    dense = len(run.values) > width
    for number_of, piece in enumerate(run.pieces() if shown is None or shown else []):
        name = str(number_of)
        if dense:
            columns = _columns(run, piece, min(width, MOST_COLUMNS))
            sets["band"] += [_row(run, c.start, name, low=c.low, high=c.high) for c in columns]
            sets["band"].append(_row(run, columns[-1].end, name, low=columns[-1].low, high=columns[-1].high))
            stalls = [(c.start + c.end) / 2 for c in columns if c.low <= run.stalled_at]
        else:
            sets["line"] += [_row(run, run.t[i], name, value=run.values[i]) for i in piece]
            stalls = [run.t[i] for i in piece if run.values[i] <= run.stalled_at]
        sets["stalls"] += [{"t": _time(run, t)} for t in stalls]
    if run.ended:
        sets["end"].append({"t": _time(run, run.t[-1]), "value": round(run.values[-1], 2)})
    unit_x = 0.0 if is_wide(layout) else -float(left_of(layout))
    over, taken = over_the_plot(UNIT, unit_x, run.ended, run.t[-1] / run.length * width, layout)
    sets["unit"], sets["ended"] = (
        [{"t": time(one["x"]), "at": scale.value(one["at"]), "text": one["text"]} for one in some]
        for some in (over[:1], over[1:])
    )
    sets["levels"] = [{"level": str(i), "value": level.value} for i, level in enumerate(run.levels)]
    words = words_on_lines(_worded(run, width, scale), size=layout.text, width=width, height=scale.height, taken=taken)
    sets["words"] = [
        {"t": time(one["x"]), "at": scale.value(one["at"] + 0.34 * layout.text), "text": one["text"]} for one in words
    ]
    sets["samples"] = [
        {"level": one["level"], "t": time(one["sample"][0]), "t2": time(one["sample"][1]), "at": scale.value(one["at"])}
        for one in words
        if one["sample"]
    ]
    notes = [text for note in run.notes for text in wrapped(note, whole_width(layout), layout.note)]
    sets["notes"] = [
        {"at": scale.value(scale.height + BELOW_AXIS + row * (layout.note + 5)), "text": text}
        for row, text in enumerate(notes)
    ]
    sets["frame"] = [{"at": 0.0}]
    spec = longrun_template(layout, run.unit)
    spec["title"] = {"text": balanced(run.title, whole_width(layout), layout.text + 5, bold=True)}
    spec["params"] = [
        {"name": "x_high", "value": _time(run, run.length)},
        {"name": "y_high", "value": limit},
    ]
    spec["datasets"] = sets
    return spec


def _worded(run: _Run, width: int, scale: Heights) -> dict[str, WordedLine]:
    """The levels across the plot, and around them what was measured, of which the words keep clear. [px]"""
    measured: list[list[tuple[float, float]]] = []
    for piece in run.pieces():
        columns = _columns(run, piece, min(width, MOST_COLUMNS))
        for ends in ([c.low for c in columns], [c.high for c in columns]):
            measured.append(
                [(c.start / run.length * width, scale.px(end)) for c, end in zip(columns, ends, strict=True)]
            )
    return {
        str(i): WordedLine(
            level.text, [[(0.0, scale.px(level.value)), (float(width), scale.px(level.value))]], measured
        )
        for i, level in enumerate(run.levels)
    }


def _time(run: _Run, t: float) -> float:
    return round(t / run.unit_s, 4)


def _row(run: _Run, t: float, piece: str, **values: float) -> dict[str, Any]:
    return {"t": _time(run, t), "piece": piece, **{name: round(value, 2) for name, value in values.items()}}


def _table(run: _Run) -> TableTwin:
    """Lowest and highest value drawn in each hour, or in each longer stretch of a longer run."""
    stretch = next(
        n * run.unit_s for n in (1, 2, 3, 4, 6, 12, 24, 48, 168, 1e9) if run.length < n * run.unit_s * MOST_ROWS
    )
    parts: dict[int, list[float]] = {}
    for t, value in zip(run.t, run.values, strict=True):
        parts.setdefault(int(t // stretch), []).append(value)
    decimals = rate_decimals(*(level.value for level in run.levels))
    rows = []
    for index in range(max(parts) + 1):
        texts = parts.get(index)
        span = f"{trimmed(index * stretch / run.unit_s, 0)}–{trimmed((index + 1) * stretch / run.unit_s, 0)}"
        ends = ("no log", "no log") if not texts else (number(min(texts), decimals), number(max(texts), decimals))
        rows.append((span, *ends))
    return TableTwin(
        caption="Lowest and highest throughput drawn in each stretch (Mbit/s)",
        columns=(f"Time since its start ({run.unit})", "Lowest", "Highest"),
        rows=tuple(rows),
    )
