"""The long-run chart: throughput over hours, so that a single second without it still shows.

Where there are more values than px, each px column holds the lowest and the highest of its values: nothing is
averaged away. Stretches without a log stay empty. A column that carried as good as nothing has a mark at the foot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import Any

from builder.charts.figures import Figure, Spec, TableTwin
from builder.charts.label_column import text_start
from builder.charts.longrun_template import Y_AXIS_WIDTH, longrun_template
from builder.charts.placing import axis_end, spread
from builder.charts.theme import NARROW, WIDE, Layout, balanced, wrapped
from builder.wording import number, rate_decimals, trimmed

BELOW_AXIS = 58  # from the foot of the plot to what is written under it [px]
HOUR_S = 3600.0
MINUTES_BELOW_S = 2 * HOUR_S  # shorter runs have an axis in minutes
MOST_ROWS = 24


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
    """Lowest and highest value of a stretch one px wide. [s, Mbit/s]"""

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
    height = float(layout.plot_height)
    limit = axis_end(max(*run.values, *(level.value for level in run.levels)))
    sets: dict[str, list[dict[str, Any]]] = {"band": [], "line": [], "stalls": [], "end": [], "ended": []}
    dense = len(run.values) > layout.plot_width
    for number_of, piece in enumerate(run.pieces() if shown is None or shown else []):
        name = str(number_of)
        if dense:
            columns = _columns(run, piece, layout.plot_width)
            sets["band"] += [_row(run, c.start, name, low=c.low, high=c.high) for c in columns]
            sets["band"].append(_row(run, columns[-1].end, name, low=columns[-1].low, high=columns[-1].high))
            stalls = [(c.start + c.end) / 2 for c in columns if c.low <= run.stalled_at]
        else:
            sets["line"] += [_row(run, run.t[i], name, value=run.values[i]) for i in piece]
            stalls = [run.t[i] for i in piece if run.values[i] <= run.stalled_at]
        sets["stalls"] += [{"t": _time(run, t)} for t in stalls]
    if run.ended:
        sets["end"].append({"t": _time(run, run.t[-1]), "value": round(run.values[-1], 2)})
        sets["ended"].append({"t": _time(run, run.t[-1]), "text": run.ended})

    def at(px: float) -> float:
        return round((1 - px / height) * limit, 3)

    texts = [balanced(level.text, layout.label_width, layout.text - 1) for level in run.levels]
    heights = [len(lines) * layout.line_height + 4.0 for lines in texts]
    centres = spread(
        [(1 - level.value / limit) * height - 1e-3 * (level is run.levels[0]) for level in run.levels],
        heights,
        low=0.0,
        high=height,
    )
    sets["levels"] = [
        {"level": str(i), "value": level.value, "at": at(centre)}
        for i, (level, centre) in enumerate(zip(run.levels, centres, strict=True))
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
    spec = longrun_template(layout, run.unit)
    spec["title"] = {"text": balanced(run.title, width, layout.text + 5, bold=True)}
    spec["params"] = [
        {"name": "x_high", "value": _time(run, run.length)},
        {"name": "y_high", "value": limit},
    ]
    spec["datasets"] = sets
    return spec


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
