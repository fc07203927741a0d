"""The peer's pictures: of lines, bars and points over time, by Altair and vl-convert or as text put together."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

SIZES = ((780, 420), (300, 340))  # wide and narrow, in px
_COLOURS = ("#1b6ca8", "#b5442e", "#4c7d3f", "#7b5aa6")
_DASHES = ("", "6 3", "2 3", "8 3 2 3")


@dataclass(frozen=True)
class Plot:
    """What a picture shows: series of the same length of x and y, with a band where there is one."""

    kind: str  # lines, bars or time
    title: str
    x_title: str
    y_title: str
    series: Sequence[tuple[str, np.ndarray, np.ndarray]]


Drawn = tuple[list[str], str]  # a picture a size, and the specification of the first
Draw = Callable[[Plot], Drawn]


def by_altair(plot: Plot) -> Drawn:
    """A specification by Altair a size, drawn by vl-convert with its defaults."""
    import altair as alt
    import pandas as pd
    import vl_convert

    frame = pd.concat(
        [pd.DataFrame({"x": x, "y": y, "name": name}) for name, x, y in plot.series], ignore_index=True
    ).dropna()
    alt.data_transformers.disable_max_rows()
    pictures, first = [], ""
    for width, height in SIZES:
        y = alt.Y("y:Q", title=plot.y_title)
        if plot.kind == "bars":
            chart = alt.Chart(frame).mark_bar().encode(x=alt.X("y:Q", title=plot.y_title), y=alt.Y("name:N", sort=None))
            chart = chart + alt.Chart(frame).mark_rule().encode(x="x:Q", x2="y:Q", y="name:N")
        else:
            bare = alt.Chart(frame).encode(x=alt.X("x:Q", title=plot.x_title, scale=alt.Scale(zero=False)), y=y)
            named = bare.encode(color="name:N", strokeDash="name:N")
            chart = named.mark_line() + named.mark_point() if plot.kind == "lines" else named.mark_line(strokeWidth=1)
        specification = chart.properties(width=width, height=height, title=plot.title).to_json(indent=None)
        first = first or specification
        pictures.append(vl_convert.vegalite_to_svg(specification))
    return pictures, first


def by_text(plot: Plot) -> Drawn:
    """The same by hand: scales, ticks and paths as text, no layout of labels, and no specification but its data."""
    data = {name: [x.tolist(), y.tolist()] for name, x, y in plot.series}
    return [_svg(plot, *size) for size in SIZES], json.dumps(data)


def _svg(plot: Plot, width: int, height: int) -> str:
    if plot.kind == "bars":
        most = max([float(np.nanmax(y)) for _, _, y in plot.series if len(y)] or [1.0]) or 1.0
        step = (height - 40) / max(sum(len(y) for _, _, y in plot.series), 1)
        marks, at = [], 20.0
        for name, _, y in plot.series:
            for value in y.tolist():
                marks.append(
                    f'<rect x="110" y="{at:.1f}" width="{(width - 120) * value / most:.1f}" height="{step * 0.7:.1f}" '
                    f'fill="{_COLOURS[0]}"/><text x="105" y="{at + step / 2:.1f}" text-anchor="end">{name}</text>'
                )
                at += step
        return _framed(plot, width, height, "".join(marks))
    xs = np.concatenate([x for _, x, _ in plot.series] or [np.zeros(1)])
    ys = np.concatenate([y for _, _, y in plot.series] or [np.zeros(1)])
    left, right, top = (
        float(np.nanmin(xs)),
        float(np.nanmax(xs)),
        float(np.nanmax(ys, initial=1.0, where=~np.isnan(ys))),
    )
    across, up = (width - 60) / max(right - left, 1e-9), (height - 50) / max(top, 1e-9)
    marks = []
    for tick in np.linspace(left, right, 6).tolist():
        x = 50 + (tick - left) * across
        marks.append(
            f'<path d="M{x:.1f},{height - 30}v5" stroke="#666"/><text x="{x:.1f}" y="{height - 12}">{tick:.0f}</text>'
        )
    for tick in np.linspace(0, top, 5).tolist():
        y = height - 30 - tick * up
        marks.append(
            f'<path d="M50,{y:.1f}H{width - 10}" stroke="#ddd"/><text x="45" y="{y:.1f}" text-anchor="end">{tick:.0f}</text>'
        )
    for place, (name, x, y) in enumerate(plot.series):
        seen = ~np.isnan(y)
        points = np.column_stack([50 + (x[seen] - left) * across, height - 30 - y[seen] * up]).round(1).tolist()
        path = " ".join(f"{a},{b}" for a, b in points)
        colour, dash = _COLOURS[place % 4], _DASHES[place % 4]
        marks.append(f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-dasharray="{dash}"/>')
        if plot.kind == "lines":
            marks += [f'<circle cx="{a}" cy="{b}" r="2.5" fill="{colour}"/>' for a, b in points[::5]]
        if points:
            marks.append(f'<text x="{points[-1][0]}" y="{points[-1][1]}" fill="{colour}">{name}</text>')
    return _framed(plot, width, height, "".join(marks))


def _framed(plot: Plot, width: int, height: int, marks: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" class="chart" role="img" '
        f'font-family="sans-serif" font-size="11"><title>{plot.title}</title>'
        f'<text x="{width / 2}" y="12" text-anchor="middle">{plot.title}</text>{marks}</svg>'
    )
