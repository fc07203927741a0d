"""The step chart: by how much one gives more than another, over all and at each spot, with its interval.

The two are versions of one device, or two devices that were tested at named spots only.

One drawing for page and phone, 340 px wide. Rows in the first hue say that zero lies outside of the interval; those that
cannot tell step back. In words at the right stands the same.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from builder.charts.figures import Figure, Spec, TableTwin
from builder.charts.label_text import LabelText
from builder.charts.placing import ticks
from builder.charts.templates import template
from builder.charts.theme import (
    AXIS,
    GRID,
    GROUND,
    SERIES,
    TEXT,
    TEXT_MUTED,
    Layout,
    balanced,
    config,
    text_room,
    text_width,
    wrapped,
)
from builder.wording import decibels

WIDTH = 340
LAYOUT = Layout(plot_width=WIDTH, plot_height=1, label_width=0, text=13, note=13)
END_TICK, END_SIZE = "M0,-1L0,1", 225  # it reaches out of a dot that is wider than its interval [px²]
ARROWS = {"least": "M0.6,0L2.6,0M1.9,-0.6L2.7,0L1.9,0.6", "most": "M-0.6,0L-2.6,0M-1.9,-0.6L-2.7,0L-1.9,0.6"}

_SIZE = 13
_TOP, _FIRST, _LINE, _ROWS, _ROW = 20, 41, 56, 71, 27  # of the grid, the first row, the line below it, the others [px]
_PLACE, _MOST_PLACE = 84, 140  # right end of the places, and where names are long [px]
_BESIDE, _LEAST_PLOT, _AIR = 8, 100, 10
_BASELINE = 4.5  # of a text below the middle of its row [px]


@dataclass(frozen=True, slots=True)
class StepRow:
    """A difference of the two versions.

    name       "B1"
    x          its attenuation [dB]; None over all, and where it is not known
    value      newer minus older [Mbit/s]; None where there is no figure
    low, high  its interval, None where there is none [Mbit/s]
    bound      whether it is at least, or at most, so much
    told       whether zero lies outside of its interval
    text       what it says: "99 more", "cannot tell"
    """

    name: str
    x: float | None
    value: float | None
    low: float | None
    high: float | None
    bound: Literal["least", "most"] | None
    told: bool
    text: str


def step_figure(
    *,
    key: str,
    title: str,
    newer: str,
    older: str,
    over_all: StepRow | None,
    rows: Sequence[StepRow],
    notes: Sequence[str],
    spoken: str,
) -> Figure:
    """*newer* minus *older*, *over_all* where there is such a figure, and at each place.

    Raises  ValueError where no row has a value.
    """
    every = [*([over_all] if over_all else []), *rows]
    if all(row.value is None for row in every):
        raise ValueError(f"nothing is known of {newer} minus {older}")
    return Figure(
        key=key,
        title=title,
        spec=_laid_out(title, newer, every, notes, first_bold=over_all is not None),
        spoken=spoken,
        table=_table(newer, older, every),
        notes=tuple(notes),
        parts=len(every),
        zooms=False,
    )


def _table(newer: str, older: str, rows: Sequence[StepRow]) -> TableTwin:
    return TableTwin(
        caption=f"{newer} minus {older}, Mbit/s, with the 95 % interval",
        columns=("Spot", "Attenuation (dB)", "What these tests say"),
        rows=tuple((row.name, "–" if row.x is None else decibels(row.x), row.text) for row in rows),
    )


def _laid_out(title: str, newer: str, rows: Sequence[StepRow], notes: Sequence[str], *, first_bold: bool) -> Spec:
    first = [_FIRST] if first_bold else []
    middles = [*first, *((_ROWS if first else _FIRST) + _ROW * number for number in range(len(rows) - len(first)))]
    foot = middles[-1] + 14
    words = max(text_room(row.text, _SIZE, bold=first_bold and row is rows[0]) for row in rows)
    low, high = _ends(rows)
    place = _place(rows)
    left = place + _BESIDE
    right = max(WIDTH - words - _AIR, left + _LEAST_PLOT)
    per_px = (high - low) / (right - left)
    limits = low - left * per_px, high + (WIDTH - right) * per_px

    def across(value: float) -> float:
        return (value - limits[0]) / per_px

    height = foot + 22
    spec: Spec = json.loads(built())
    spec["title"] = {"text": balanced(title, WIDTH, _SIZE + 5, bold=True)}
    spec["height"] = height
    places = [at for at in ticks(low, high, most=5) if at and low <= at <= high]
    lines = [line for note in notes for line in wrapped(note, WIDTH, _SIZE)]
    data: dict[str, list[dict[str, Any]]] = {
        "frame": [{"at": _LINE if first_bold else _TOP}],
        "grid": [{"x": at, "at": _TOP, "foot": foot} for at in places],
        "zero": [{"x": 0.0, "at": _TOP, "foot": foot}],
        "ticks": [
            {"x": at, "at": foot + 17, "text": f"{at:g}".replace("-", "−")} for at in _apart([0.0, *places], across)
        ],
        "heads": [{"at": 13, "text": "dB"}] if any(row.x is not None for row in rows) else [],
        "toward": [_toward(f"more with {newer} →", across(0.0), limits[0], per_px)],
        **_row_data(rows, middles, place - _BESIDE - _places_width(rows), first_bold=first_bold),
        "notes": [{"at": height + 14 + row * (_SIZE + 5), "text": text} for row, text in enumerate(lines)],
    }
    for layer in spec["layer"]:
        if layer["data"]["name"] in ("heads", "places"):
            layer["encoding"]["x"]["value"] = place
        for channel, ends in (("x", limits), ("y", (0, height))):
            if "scale" in layer["encoding"].get(channel, {}):
                layer["encoding"][channel]["scale"]["domain"] = list(ends)
    spec["layer"] = [layer for layer in spec["layer"] if data[layer["data"]["name"]]]
    spec["datasets"] = data
    return spec


def _place(rows: Sequence[StepRow]) -> int:
    """Where the places end: right of the names. [px]"""
    names = max((text_room(row.name, _SIZE) for row in rows if row.x is not None), default=0.0)
    return min(max(_PLACE, round(names + _BESIDE + _places_width(rows))), _MOST_PLACE)


def _places_width(rows: Sequence[StepRow]) -> float:
    return max((text_width(decibels(row.x), _SIZE) for row in rows if row.x is not None), default=0.0)


def _ends(rows: Sequence[StepRow]) -> tuple[float, float]:
    """What is drawn: zero, and every value with its interval. [Mbit/s]"""
    values = [end for row in rows for end in (row.low, row.value, row.high) if end is not None]
    low, high = min(0.0, *values), max(0.0, *values)
    # Where nothing is below zero, there is a little of it all the same, so that the zero line is none of the frame.
    air = max(high - low, 1.0) * 0.06
    return low - air, high + air


def _apart(places: Sequence[float], px: Any) -> list[float]:
    """Those ticks whose numbers keep clear of the ones before."""
    kept: list[float] = []
    for place in places:
        wide = text_room(f"{place:g}", _SIZE) + 4
        if all(abs(px(place) - px(other)) >= wide for other in kept):
            kept.append(place)
    return kept


def _row_data(
    rows: Sequence[StepRow], middles: Sequence[int], room: float, *, first_bold: bool
) -> dict[str, list[dict[str, Any]]]:
    names = (
        "names",
        "bold_names",
        "places",
        "words",
        "bold_words",
        "soft_words",
        "told",
        "open",
        "told_ends",
        "open_ends",
    )
    data: dict[str, list[dict[str, Any]]] = {
        name: [] for name in (*names, "told_dots", "open_dots", "at_least", "at_most")
    }
    for number, (row, middle) in enumerate(zip(rows, middles, strict=True)):
        foot, bold = middle + _BASELINE, first_bold and not number
        look = "told" if row.told else "open"
        name = LabelText("", row.name).cut(room if row.x is not None else _PLACE, _SIZE).text
        data["bold_names" if bold else "names"].append({"at": foot, "text": name})
        which = "bold_words" if bold else "words" if row.told else "soft_words"
        data[which].append({"at": foot, "text": row.text})
        if row.x is not None:
            data["places"].append({"at": foot, "text": decibels(row.x)})
        if row.value is None:
            continue
        if row.bound:
            data[f"at_{row.bound}"].append({"x": row.value, "at": middle})
        data[f"{look}_dots"].append({"x": row.value, "at": middle})
        if row.low is not None and row.high is not None:
            data[look].append({"x": row.low, "x2": row.high, "at": middle})
            data[f"{look}_ends"] += [{"x": end, "at": middle} for end in (row.low, row.high)]
    return data


def _toward(text: str, zero: float, low: float, per_px: float) -> dict[str, Any]:
    """Which way is more, from the zero line on as far as the frame allows."""
    left = min(zero + 4, WIDTH - text_room(text, _SIZE))
    return {"x": low + left * per_px, "at": 13, "text": text}


@template
def built() -> str:
    import altair as alt  # a third of a second: only where charts are drawn

    x = alt.X("x:Q", scale=alt.Scale(domain=[0, 1], nice=False, zero=False), axis=None)
    y = alt.Y("at:Q", scale=alt.Scale(domain=[0, 1], nice=False, reverse=True), axis=None)

    def data(name: str) -> Any:
        return alt.Chart(alt.NamedData(name))

    def text(name: str, at: Any, role: Any = TEXT, align: str = "left", **more: Any) -> Any:
        mark = {"align": align, "baseline": "alphabetic", "fontSize": _SIZE, "color": role.light, **more}
        return data(name).mark_text(**mark).encode(x=at, y=y, text="text:N")

    def px(at: float) -> Any:
        return alt.value(at)

    layers = [
        data("frame").mark_rule(color=AXIS.light, strokeWidth=1).encode(x=px(0.5), x2=px(WIDTH - 0.5), y=y),
        data("grid").mark_rule(color=GRID.light, strokeWidth=1).encode(x=x, y=y, y2="foot:Q"),
        data("zero").mark_rule(color=TEXT.light, strokeWidth=1.5).encode(x=x, y=y, y2="foot:Q"),
        text("ticks", x, TEXT_MUTED, "center"),
        text("heads", px(0), TEXT_MUTED, "right"),
        text("toward", x, TEXT_MUTED),
        text("bold_names", px(0), fontWeight="bold"),
        text("names", px(0)),
        text("places", px(0), TEXT_MUTED, "right"),
        text("bold_words", px(WIDTH), align="right", fontWeight="bold"),
        text("words", px(WIDTH), align="right"),
        text("soft_words", px(WIDTH), TEXT_MUTED, "right"),
    ]
    for look, hue in (("open", AXIS.light), ("told", SERIES[0].light)):
        layers += [
            data(look).mark_rule(color=hue, strokeWidth=2.25).encode(x=x, x2="x2:Q", y=y),
            data(f"{look}_ends")
            .mark_point(shape=END_TICK, filled=False, size=END_SIZE, strokeWidth=2.25, opacity=1, color=hue)
            .encode(x=x, y=y),
        ]
    layers += [
        data(f"at_{bound}")
        .mark_point(shape=path, filled=False, size=200, strokeWidth=2.25, opacity=1, color=SERIES[0].light)
        .encode(x=x, y=y)
        for bound, path in ARROWS.items()
    ]
    layers += [
        data(f"{look}_dots")
        .mark_point(filled=True, size=80, color=hue, stroke=GROUND.light, strokeWidth=1.5, opacity=1)
        .encode(x=x, y=y)
        for look, hue in (("open", AXIS.light), ("told", SERIES[0].light))
    ]
    layers.append(text("notes", px(0), TEXT_MUTED))
    spec: Spec = alt.layer(*layers).properties(width=WIDTH, height=1).to_dict()
    spec["config"] = config(LAYOUT)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return json.dumps(spec)
