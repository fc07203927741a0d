"""The role chart: what share of a role's requests is still waiting after a time.

A line falls as requests are answered. Requests that failed, or were never made, never are: the line then runs on to
the right edge and ends there in an open mark. The target is a gate that a line has to pass on its near side.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from builder.charts.figures import Figure, Spec, TableTwin
from builder.charts.placing import spread
from builder.charts.range_template import text_start
from builder.charts.role_template import Y_AXIS_WIDTH, role_template
from builder.charts.theme import MAX_SERIES, NARROW, WIDE, Layout, balanced, text_width, wrapped
from builder.wording import milliseconds, percent

BELOW_AXIS = 58  # from the foot of the plot to what is written under it [px]
STEP_PX = 1.5  # no two points of a line are closer on the time axis
TICK_PX = 36  # for a number on the time axis
NOT_TESTED = "not tested"


@dataclass(frozen=True, slots=True)
class Answered:
    """Within which time so many per cent of the planned requests were answered; None: so many never were. [ms]"""

    percent: int
    ms: float | None
    text: str


@dataclass(frozen=True, slots=True)
class RoleSeries:
    """One line.

    position  1 to 6: gives hue, dash and shape, so that a device keeps them over the charts of a page
    label     what its label says in bold; *detail* stands below
    waits_ms  answered requests' waits, ascending, shape (n,). [ms]
    ranks     how many requests were answered by then, shape (n,); the last is how many ever were. [1]
    planned   requests that were planned, at least the last rank. [1]
    answered  the percentiles that carry a mark
    """

    position: int
    label: str
    detail: str
    waits_ms: tuple[float, ...]
    ranks: tuple[int, ...]
    planned: int
    answered: tuple[Answered, ...]

    @property
    def finished(self) -> int:
        """Requests that were answered. [1]"""
        return self.ranks[-1] if self.ranks else 0

    @property
    def failed_share(self) -> float:
        """Requests that were never answered, of those planned. [%]"""
        return 100 * (self.planned - self.finished) / self.planned


@dataclass(frozen=True, slots=True)
class Target:
    """What the role asks for: *share* of the planned requests within *ms*. [1, ms]"""

    ms: float
    share: float

    @property
    def text(self) -> str:
        return f"target: {percent(self.share)} within {milliseconds(self.ms)} ms"


def role_figure(
    *,
    key: str,
    title: str,
    series: Sequence[RoleSeries],
    target: Target | None,
    notes: Sequence[str],
    spoken: str,
) -> Figure:
    """The role chart of one to six lines.

    target  None where the role sets none
    notes   lines for under the chart
    Raises  ValueError for no series or more than six, two in one position, or waits, ranks and planned that do not
            fit each other.
    """
    lines = sorted(series, key=lambda one: one.position)
    _require_sound(lines)
    content = _Content(title, lines, target, notes)
    return Figure(
        key=key,
        title=title,
        spec=_laid_out(content, WIDE),
        spoken=spoken,
        table=_table(lines),
        notes=tuple(notes),
        narrow=_laid_out(content, NARROW),
        drawn=partial(_laid_out, content),
        parts=len(lines),
    )


def _require_sound(lines: Sequence[RoleSeries]) -> None:
    if not 1 <= len(lines) <= MAX_SERIES:
        raise ValueError(f"a chart holds 1 to {MAX_SERIES} series, got {len(lines)}")
    positions = [line.position for line in lines]
    if len(set(positions)) < len(positions) or not set(positions) <= set(range(1, MAX_SERIES + 1)):
        raise ValueError(f"positions are 1 to {MAX_SERIES}, each once, got {positions}")
    for line in lines:
        if len(line.waits_ms) != len(line.ranks):
            raise ValueError(f"{line.label!r} has {len(line.waits_ms)} waits, but {len(line.ranks)} ranks")
        if line.planned < max(line.finished, 1):
            raise ValueError(f"{line.label!r} has {line.planned} planned requests, but {line.finished} were answered")
        if list(line.waits_ms) != sorted(line.waits_ms) or list(line.ranks) != sorted(line.ranks):
            raise ValueError(f"waits and ranks of {line.label!r} must rise")


@dataclass(frozen=True, slots=True)
class _Content:
    """What is drawn, before any size is known."""

    title: str
    lines: Sequence[RoleSeries]
    target: Target | None
    notes: Sequence[str]

    @property
    def x_limits(self) -> tuple[float, float]:
        """Whole steps of 1, 2, 5 around everything drawn, with room on the right for a line that never ends. [ms]"""
        places = [wait for line in self.lines for wait in (*line.waits_ms[:1], *line.waits_ms[-1:]) if wait > 0]
        places += [self.target.ms] if self.target else []
        if not places:
            places = [1.0, 1000.0]
        return _step_below(min(places) / 1.05), _step_above(max(places) * 1.15)


def _steps() -> Iterator[float]:
    for power in range(-6, 10):
        yield from (digit * 10.0**power for digit in (1, 2, 5))


def _step_below(value: float) -> float:
    return max(step for step in _steps() if step <= value)


def _step_above(value: float) -> float:
    return min(step for step in _steps() if step >= value)


def _ticks(low: float, high: float, plot_width: int) -> list[float]:
    """Places with a number: each power of ten, and 2 and 5 where there is room for them. [ms]"""
    within = [step for step in _steps() if low * 0.999 <= step <= high * 1.001]
    if len(within) * TICK_PX <= plot_width:
        return within
    return [step for step in within if math.isclose(math.log10(step), round(math.log10(step)), abs_tol=1e-9)]


def _laid_out(content: _Content, layout: Layout, shown: int | None = None) -> Spec:
    """The specification of *content* for one layout; *shown* of its lines are drawn, the axes are those of all."""
    low, high = content.x_limits
    across = layout.plot_width / math.log(high / low)
    names = [balanced(line.label, layout.label_width, layout.text, bold=True) for line in content.lines]
    details = [balanced(line.detail, layout.label_width, layout.text - 1) for line in content.lines]
    heights = [len(a + b) * layout.line_height + 4.0 for a, b in zip(names, details, strict=True)]
    height = max(float(layout.plot_height), sum(heights))
    ends = [_end(line, low, high) for line in content.lines]
    # Lines that end on the axis end at different times: the earliest gets the highest label, so leaders do not cross.
    wanted = [(1 - share / 100) * height - 1e-3 * math.log(high / t) for t, share in ends]
    centres = spread(wanted, heights, low=0.0, high=height)

    def at(px: float) -> float:
        return round((1 - px / height) * 100, 2)

    width = Y_AXIS_WIDTH + layout.plot_width + text_start(layout) + layout.label_width
    notes = [text for note in content.notes for text in wrapped(note, width, layout.note)]
    spec = role_template(layout)
    spec["title"] = {"text": balanced(content.title, width, layout.text + 5, bold=True)}
    spec["height"] = round(height)
    spec["params"] = [
        {"name": "x_low", "value": low},
        {"name": "x_high", "value": high},
        {"name": "x_ticks", "value": _ticks(low, high, layout.plot_width)},
    ]
    sets: dict[str, list[dict[str, Any]]] = {
        name: [] for name in ("lines", "marks", "ends", "labels", "names", "details")
    }
    for line, (t, share), centre, name, detail in list(zip(content.lines, ends, centres, names, details, strict=True))[
        :shown
    ]:
        number = str(line.position)
        points = list(_points(line, low, high, across))
        sets["lines"] += [{"series": number, "t": _short(t), "share": round(s, 3)} for t, s in points]
        sets["marks"] += [
            {"series": number, "t": _short(max(a.ms, low)), "share": 100 - a.percent}
            for a in line.answered
            if a.ms is not None
        ]
        if line.failed_share:
            sets["ends"].append({"series": number, "t": high, "share": round(share, 3)})
        first = centre - (len(name + detail) - 1) * layout.line_height / 2
        rows = [{"at": at(first + i * layout.line_height), "text": text} for i, text in enumerate(name + detail)]
        sets["labels"].append({"series": number, "t": _short(t), "share": round(share, 3), "at": rows[0]["at"]})
        sets["names"] += rows[: len(name)]
        sets["details"] += rows[len(name) :]
    spec["datasets"] = {
        **_gate(content.target, layout, low, high, across, at),
        **sets,
        "notes": [
            {"at": at(height + BELOW_AXIS + row * (layout.note + 5)), "text": text} for row, text in enumerate(notes)
        ],
    }
    return spec


def _gate(
    target: Target | None, layout: Layout, low: float, high: float, across: float, at: Any
) -> dict[str, list[dict[str, Any]]]:
    """The target's line and its words over the plot, moved left where they would leave it."""
    if target is None:
        return {"gate": [], "gate_text": []}
    place = math.log(target.ms / low) * across
    start = max(0.0, min(place, layout.plot_width - text_width(target.text, layout.text - 1)))
    return {
        "gate": [{"t": target.ms, "share": round(100 * (1 - target.share), 3), "top": 100}],
        "gate_text": [{"t": _short(low * math.exp(start / across)), "at": at(-9.0), "text": target.text}],
    }


def _end(line: RoleSeries, low: float, high: float) -> tuple[float, float]:
    """Where a line ends: at its slowest answer, or, where some never came, at the right edge. [ms, %]"""
    if line.failed_share:
        return high, line.failed_share
    return max(line.waits_ms[-1], low), 0.0


def _points(line: RoleSeries, low: float, high: float, across: float) -> Iterator[tuple[float, float]]:
    """Steps of a line, at most one each STEP_PX: the lowest share reached by then. [ms, %]"""
    yield low, 100.0
    kept: tuple[float, float] | None = None
    start = -math.inf
    for wait, rank in zip(line.waits_ms, line.ranks, strict=True):
        place = math.log(max(wait, low) / low) * across
        if kept is not None and place - start >= STEP_PX:
            yield kept
            kept, start = None, place
        if kept is None:
            start = place
        kept = max(wait, low), 100 * (1 - rank / line.planned)
    if kept is not None:
        yield kept
    if line.failed_share:
        yield high, line.failed_share


def _short(t: float) -> float:
    """A time with five digits: a hundredth of a px at most. [ms]"""
    return float(f"{t:.5g}")


def _table(lines: Sequence[RoleSeries]) -> TableTwin:
    """One row per percentile, one column per line, and how many were never answered."""
    percents = sorted({a.percent for line in lines for a in line.answered})
    texts = [{a.percent: a.text for a in line.answered} for line in lines]
    rows = [(f"{p} %", *(column.get(p, NOT_TESTED) for column in texts)) for p in percents]
    rows.append(("Never answered", *(f"{line.planned - line.finished} of {line.planned}" for line in lines)))
    return TableTwin(
        caption="Time within which so many of the planned requests were answered (ms)",
        columns=("Answered", *(f"{line.label}, {line.detail}" for line in lines)),
        rows=tuple(rows),
    )
