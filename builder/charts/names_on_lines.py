"""The names of a range chart, put on its lines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from builder.charts.heights import Heights
from builder.charts.label_text import Box, LabelText
from builder.charts.line_labels import MARK, STEP, LineShape, Place, placed
from builder.charts.range_content import Across, Content
from builder.charts.range_lines import RangeKnot, RangeSeries, joined, with_interval
from builder.charts.range_template import MARKED_UP, name_size
from builder.charts.theme import Layout

Rows = list[dict[str, Any]]

_ABOVE = 8  # names may reach this far out of the plot, where the unit does not stand [px]


def _shape(line: RangeSeries, content: Content, across: Across, scale: Heights) -> LineShape:
    """How far a line and what is drawn on it reach, in px of the plot."""
    at = np.arange(0, across.width + STEP, STEP, dtype=float)
    upper, lower, band_upper, band_lower = (np.full(at.shape, np.nan) for _ in range(4))
    for piece in joined(line.knots, content.max_gap_db):
        knots: list[RangeKnot] = sorted(piece, key=lambda knot: across.px(knot.x))
        x = np.array([across.px(knot.x) for knot in knots])
        y = np.array([scale.px(knot.value) for knot in knots])
        inside = (at >= x[0]) & (at <= x[-1])
        drawn = np.interp(at[inside], x, y)
        upper[inside], lower[inside] = np.fmin(upper[inside], drawn), np.fmax(lower[inside], drawn)
        for knot, place, height in zip(knots, x, y, strict=True):
            near = np.abs(at - place) <= MARK
            up = MARKED_UP if knot.bound or knot.at_port else MARK
            upper[near], lower[near] = np.fmin(upper[near], height - up), np.fmax(lower[near], height + MARK)
        for stretch in with_interval(knots):
            places = [across.px(knot.x) for knot in stretch]
            reach = (at >= places[0] - MARK) & (at <= places[-1] + MARK)
            band_upper[reach] = np.interp(at[reach], places, [scale.px(knot.high or 0.0) for knot in stretch])
            band_lower[reach] = np.interp(at[reach], places, [scale.px(max(knot.low or 0.0, 0.0)) for knot in stretch])
    return LineShape(upper, lower, band_upper, band_lower)


def names_data(
    content: Content, layout: Layout, across: Across, scale: Heights, shown: int | None, taken: Sequence[Box]
) -> dict[str, Rows]:
    """Data sets of the names on the lines: the longest form in which all stand clear, else that which does best."""
    lines = list(content.lines.values())
    shapes = [_shape(line, content, across, scale) for line in lines]
    size = name_size(layout)
    best: tuple[float, list[LabelText], list[Place]] | None = None
    count = max(len(line.forms) for line in lines)
    # A plot that is too low for so many long names gets them cut.
    for form, most in [*((form, 1.0) for form in range(count)), (count, 0.5), (count, 0.3)]:
        texts = _distinct([line.forms[min(form, len(line.forms) - 1)].cut(across.width * most, size) for line in lines])
        try:
            places = placed(
                shapes, texts, size=size, width=across.width, top=-_ABOVE, bottom=scale.height - 2, taken=taken
            )
        except ValueError:
            continue
        worst = min(place.score for place in places)
        if best is None or worst > best[0]:
            best = worst, texts, places
        if worst >= 0 or form == count - 1:
            break
    if best is None:
        raise ValueError(f"{content.title!r}: {len(lines)} names do not fit into a plot {scale.height} px high")
    return _name_data(list(content.lines)[:shown], best[1], best[2], across, scale, size)


def _distinct(texts: Sequence[LabelText]) -> list[LabelText]:
    """Names that were cut to the same letters get their number."""
    seen: dict[str, int] = {}
    result = []
    for text in texts:
        seen[text.text] = seen.get(text.text, 0) + 1
        again = seen[text.text]
        result.append(text if again == 1 else LabelText("", f"{text.text} ({again})"))
    return result


def _name_data(
    numbers: Sequence[str],
    texts: Sequence[LabelText],
    places: Sequence[Place],
    across: Across,
    scale: Heights,
    size: float,
) -> dict[str, Rows]:
    data: dict[str, Rows] = {name: [] for name in ("firsts", "bold_firsts", "seconds", "bold_seconds", "samples")}
    for number, text, place in zip(numbers, texts, places, strict=False):
        at = scale.value(place.y + 0.34 * size)
        row = {"series": number, "at": at}
        if place.sample is not None:
            data["samples"].append({"series": number, "x": across.at(place.sample), "at": scale.value(place.y)})
        for part, words, x in (
            ("firsts", text.first, place.x - text.gap(size)),
            ("seconds", text.second, place.x),
        ):
            if words:
                name = f"bold_{part}" if f"{text.bold}s" == part else part
                data[name].append({**row, "x": across.at(x), "text": words})
    return data
