"""A range chart laid out: from lines and sizes to the data sets, scales and ticks of its specification."""

from __future__ import annotations

from typing import Any

from builder.charts.difference_panel import HEADING_ROOM, difference_data
from builder.charts.figures import Spec
from builder.charts.heights import Heights
from builder.charts.label_text import Box
from builder.charts.placing import ticks
from builder.charts.range_content import Across, Content
from builder.charts.range_lines import joined, with_interval
from builder.charts.range_template import (
    AXIS_UNITS,
    is_wide,
    panels,
    range_template,
    right_of,
    scaled,
    whole_width,
)
from builder.charts.theme import Layout, balanced, text_room, text_width, wrapped
from builder.charts.walls import chosen, hung

Rows = list[dict[str, Any]]

# From the foot of the plot down. [px]
_TICK_WORDS, _WINDOWS, _WINDOW_NAMES, _BELOW_WINDOWS = 20, 32, 48, 28
_RULER = {True: 36, False: 34}
_FIRST_WORDS = 13
_STEP = {True: 42, False: 23}
_LEADING = {True: 16, False: 15}
_LEAST_WINDOW = 14
_INSET = 2  # of a bracket, from either end of its window


def laid_out(content: Content, layout: Layout, shown: int | None = None) -> Spec:
    """The specification of *content* for one layout; *shown* of its lines are drawn, the axes are those of all."""
    from builder.charts.names_on_lines import names_data  # numpy: only where charts are drawn

    wide, difference = is_wide(layout), content.difference
    across = Across(*content.x_limits, layout.plot_width, content.axis == "level")
    height = layout.plot_height - (0 if difference is None else 30 if wide else 16)
    scale = Heights(0.0, content.y_limit, height)
    spec = range_template(content.axis, layout, difference=difference is not None)
    spec["title"] = {"text": balanced(content.title, whole_width(layout), layout.text + 5, bold=True)}
    shared, taken = _shared(content, layout, across, scale)
    datasets: dict[str, Rows] = {
        "frame": [{"at": 0.0}],
        **_marks(content, shown),
        **shared,
        **names_data(content, layout, across, scale, shown, taken),
        "unit": [{"at": scale.value(-14), "text": content.unit}],
    }
    upper = panels(spec)[0]
    upper["height"] = height
    x_ticks = _x_ticks(content, layout, across)
    scaled(upper, "x", content.x_limits, x_ticks)
    scaled(upper, "y", (0.0, content.y_limit), ticks(0.0, content.y_limit, most=7))
    if difference is not None:
        lower = panels(spec)[1]
        scale = Heights(0.0, 1.0, layout.plot_height * 5 // 11 if wide else height * 6 // 10)
        drawn = shown is None or shown >= len(content.lines)
        data, scale, headings = difference_data(
            difference, layout, across.px, across.at, scale.height, content.max_gap_db
        )
        datasets |= data if drawn else {name: [] for name in data}
        datasets["frame"] = [{"at": 0.0}]
        lower["height"] = scale.height
        scaled(lower, "x", content.x_limits, x_ticks)
        scaled(lower, "y", (scale.low, scale.high), [])
        spec["spacing"] = HEADING_ROOM + 18 * (headings - 1)
    below, foot = _under_the_axis(content, layout, across, scale)
    notes = [line for note in content.notes for line in wrapped(note, whole_width(layout), layout.note)]
    datasets |= below
    datasets["notes"] = [
        {"at": scale.value(foot + 22 + row * (layout.note + 5)), "text": text} for row, text in enumerate(notes)
    ]
    spec["datasets"] = datasets
    for panel in panels(spec):
        # A panel has its axes whether or not any line is drawn yet.
        kept = [one for one in panel["layer"] if datasets[one["data"]["name"]] or one["mark"]["type"] == "line"]
        panel["layer"] = kept
    return spec


def _x_ticks(content: Content, layout: Layout, across: Across) -> list[float]:
    """Round places whose numbers stay clear of the unit on the left and of the frame on the right."""
    every = ticks(*content.x_limits, most=max(2, min(7, layout.plot_width // 55)))
    halves = {at: text_width(f"{at:g}".replace("-", "−"), layout.text) / 2 for at in every}
    end = layout.plot_width + right_of(layout)
    return [at for at in every if across.px(at) - halves[at] >= -4 and across.px(at) + halves[at] <= end] or every[:1]


def _marks(content: Content, shown: int | None) -> dict[str, Rows]:
    """Data sets of lines, knots, bounds and intervals."""
    data: dict[str, Rows] = {name: [] for name in ("knots", "bounds", "ports", "bands", "lone")}
    for number, line in list(content.lines.items())[:shown]:
        for index, piece in enumerate(joined(line.knots, content.max_gap_db)):
            name = f"{number}.{index}"
            rows = [{"series": number, "x": knot.x, "value": knot.value} for knot in piece]
            data["knots"] += [{**row, "piece": name} for row in rows]
            data["bounds"] += [row for row, knot in zip(rows, piece, strict=True) if knot.bound]
            data["ports"] += [row for row, knot in zip(rows, piece, strict=True) if knot.at_port and not knot.bound]
            for part, stretch in enumerate(with_interval(piece)):
                # An interval may reach below 0, a throughput does not.
                ends = [
                    {"series": number, "x": knot.x, "low": max(knot.low or 0.0, 0.0), "high": knot.high}
                    for knot in stretch
                ]
                if len(ends) == 1:
                    data["lone"] += ends
                else:
                    data["bands"] += [{**row, "piece": f"{name}.{part}"} for row in ends]
    data["labels"] = [{"series": number, "text": line.label} for number, line in content.lines.items()]
    return data


def _shared(content: Content, layout: Layout, across: Across, scale: Heights) -> tuple[dict[str, Rows], list[Box]]:
    """The range the lines share, where it is not all that is drawn, and the box of its words."""
    none: dict[str, Rows] = {"shared": [], "shared_words": []}
    if content.shared_range is None or content.difference is not None:
        return none, []
    low, high = sorted(content.shared_range)
    if low <= min(content.places) + 0.05 and high >= max(content.places) - 0.05:
        return none, []
    left, right = (low, high) if content.axis == "attenuation" else (high, low)
    text, foot, start = "shared range", scale.height - 8, across.px(left) + 5
    box = (start, foot - layout.text, start + text_room(text, layout.text), foot + 4.0)
    words = [{"x": left, "at": scale.value(foot), "text": text}] if box[2] <= layout.plot_width else []
    return {"shared": [{"x": left, "x2": right}], "shared_words": words}, [box] if words else []


def _under_the_axis(content: Content, layout: Layout, across: Across, scale: Heights) -> tuple[dict[str, Rows], float]:
    """Data sets of what stands below the axis, and how far down it reaches. [px]"""
    wide, foot = is_wide(layout), float(scale.height)
    at_left: Rows = [{"at": scale.value(foot + _TICK_WORDS), "text": AXIS_UNITS[content.axis]}]
    data: dict[str, Rows] = {"axis_unit": at_left, **_windows(content, layout, across, scale)}
    end = foot + _TICK_WORDS
    first = foot + _RULER[wide]
    if data["windows"]:
        end, first = foot + _WINDOW_NAMES, first + _BELOW_WINDOWS
    x_low, x_high = content.x_limits
    marks = [mark for mark in content.ruler if x_low <= mark.x <= x_high]
    if not wide:
        marks = [marks[i] for i in chosen([mark.text for mark in marks])]
    walls = hung(
        [across.px(mark.x) for mark in marks],
        [mark.text for mark in marks],
        size=layout.text - 0.5 if wide else layout.text,
        leading=_LEADING[wide],
        step=_STEP[wide],
        left=0.0,
        right=float(layout.plot_width + right_of(layout)),
    )
    data |= {"ruler": [], "ruler_before": [], "ruler_lines": []}
    for wall in walls:
        top = first + _FIRST_WORDS + wall.top
        last = top + (len(wall.lines) - 1) * _LEADING[wide]
        x = across.at(wall.x)
        data["ruler_lines"].append({"x": x, "top": scale.value(first), "at": scale.value(last + 3)})
        data["ruler_before" if wall.before else "ruler"] += [
            {"x": x, "at": scale.value(top + row * _LEADING[wide]), "text": text} for row, text in enumerate(wall.lines)
        ]
        end = max(end, last + 3)
    data["ruler_word"] = []
    if walls and wide:
        data["ruler_word"] = [{"at": scale.value(first + _FIRST_WORDS), "text": "walls"}]
    return data, end


def _windows(content: Content, layout: Layout, across: Across, scale: Heights) -> dict[str, Rows]:
    """Brackets of the windows as far as they are drawn, with their names where there is room."""
    windows: Rows = []
    ends: Rows = []
    names: Rows = []
    x_low, x_high = content.x_limits
    at = scale.value(scale.height + _WINDOWS)
    foot = scale.value(scale.height + _WINDOWS - 5)
    for window in content.windows if content.axis == "attenuation" else ():
        low, high = max(window.low, x_low), min(window.high, x_high)
        left, right = across.px(low) + _INSET, across.px(high) - _INSET
        if high <= low or right - left < _LEAST_WINDOW:
            continue
        windows.append({"x": across.at(left), "x2": across.at(right), "at": at})
        # A window that goes on beyond what is drawn has no end there.
        ends += [
            {"x": across.at(x), "at": at, "foot": foot}
            for x, seen in ((left, window.low >= x_low), (right, window.high <= x_high))
            if seen
        ]
        for text in (window.text, window.short):
            if text_room(text, layout.text) <= right - left:
                middle = across.at((left + right) / 2)
                names.append({"x": middle, "at": scale.value(scale.height + _WINDOW_NAMES), "text": text})
                break
    return {"windows": windows, "window_ends": ends, "window_names": names}
