"""Traces of figures made of cells: a cell itself, window means, reaches, pairs, links, and implied EIRP.

Each gives the result, the formula in words, and inputs from which the figure can be computed again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from builder.bench.bench import Bench, Subject, cells_of_subject, subject_called, subject_named
from builder.bench.cells import Cell, Group, cell_figure
from builder.bench.falls import fall_at
from builder.bench.sessions import factor_json, normalised, normalised_json, session_factors
from builder.bench.tracks import Track, track
from builder.bench.weighted import Match, Weighted
from builder.pairs.compare import compare, since_there
from builder.pairs.verdicts import PairFigure, to_json
from builder.registers.eirp import eirp_json, implied_eirps
from builder.traces.formulas import (
    BOUND,
    CELL,
    FACTOR,
    LEVELS,
    LINE,
    PLACE,
    REPEATS,
    SPOTS,
    UNCERTAINTY,
    VISITS,
    WIDTH,
)
from builder.traces.ids import FigureId
from builder.traces.inputs import (
    Json,
    Sources,
    ceilings_json,
    cell_input,
    constants_json,
    excluded_json,
    scatter_json,
    side_json,
)
from builder.traces.showing import cell_json
from builder.windows.indirect import IndirectComparison, link_json, links
from builder.windows.ranking import window_figure, window_value
from builder.windows.reach import is_rate, reach_json, reach_text, reaches
from catalog.method import WINDOW_NAMES

MATCHES: tuple[Match, ...] = ("attenuation", "level", "spot")


@dataclass(frozen=True, kw_only=True)
class Traced:
    """What a trace of one figure is made of; `details` are what its kind adds."""

    result: Json
    sentence: str
    formula: tuple[str, ...]
    inputs: list[Json]
    excluded: list[Json]
    details: Json = field(default_factory=dict)


def trace_cell(sources: Sources, figure: FigureId) -> Traced | None:
    """The mean of one cell, and what it is on an average day of its house."""
    bench = sources.bench
    cell = next((c for c in bench.cells_of.get(figure.names[0], ()) if cell_figure(c) == figure.text), None)
    if cell is None:
        return None
    result = cell_json(cell)
    if cell.mean is not None:
        result["normalised"] = normalised_json(normalised(bench, session_factors(bench), cell))
    return Traced(
        result=result,
        sentence="",
        formula=(
            CELL,
            BOUND,
            f"Normalised = mean / factor. {FACTOR}",
        ),
        inputs=[{"side": "a", "sign": 1, "cells": [cell_input(sources, cell, "attenuation", weight=1.0)]}],
        excluded=excluded_json(sources, [cell], match=None),
        details={
            "ceilings": ceilings_json(sources, [cell]),
            "reference_cells": _reference_cells(bench, cell.house, cell.group),
        },
    )


def trace_pair(sources: Sources, figure: FigureId) -> Traced | None:
    """The difference of two subjects in one group under one match."""
    bench = sources.bench
    a, b = _subject(sources, figure.names[:3]), _subject(sources, figure.names[3:])
    result = next(
        (one for match in MATCHES for one in compare(bench, a, b, match=match) if one.figure == figure.text), None
    )
    if result is None or result.group is None or result.verdict == "refused":
        return None
    groups = (result.group, result.group_b or result.group)
    cells_a, cells_b = (
        _of_setup(cells_of_subject(bench, subject, group), result)
        for subject, group in zip((a, b), groups, strict=True)
    )
    sides = (
        _spot_sides(bench, result, cells_a, cells_b)
        if result.match == "spot"
        else _line_sides(result, cells_a, cells_b)
    )
    axis = LEVELS if result.match == "level" else f"{VISITS}{SPOTS}" if result.match == "attenuation" else VISITS
    join = (PLACE, LINE) if result.match != "spot" else ("The value at the spot is the mean of its cells by n.",)
    return Traced(
        result=to_json(result),
        sentence=result.sentence,
        formula=(
            CELL,
            *join,
            BOUND,
            "difference = mean of a − mean of b",
            f"{REPEATS}{axis}.",
            WIDTH,
            "Separated where 0 lies outside difference ± half-width.",
        ),
        inputs=[side_json(sources, name, side, result.match) for name, side in zip("ab", sides, strict=True)],
        excluded=excluded_json(sources, [*cells_a, *cells_b], match=None if result.match == "spot" else result.match),
        details=ground(sources, (*cells_a, *cells_b), result.match),
    )


def trace_window(sources: Sources, figure: FigureId) -> Traced | None:
    """The mean of one subject's line over a window."""
    subject = _subject(sources, figure.names)
    for group, one in _lines(sources, subject):
        for window in WINDOW_NAMES:
            low_high = sources.bench.constants.window(group.band, window)
            if (
                low_high is None
                or window_figure(subject, group, window) != figure.text
                or not one.line.covers(*low_high)
            ):
                continue
            weighted, spread = window_value(sources.bench, one, low_high)
            half = None if spread is None or weighted.bound else spread.half_width
            return Traced(
                result={
                    "window": window,
                    "range": list(low_high),
                    "value": weighted.mean,
                    "bound": weighted.bound,
                    "standard_uncertainty": None if spread is None else spread.u,
                    "interval": None if half is None else [weighted.mean - half, weighted.mean + half],
                    "assumed": list(spread.assumed) if spread else [],
                },
                sentence="",
                formula=(CELL, PLACE, LINE, BOUND, UNCERTAINTY, WIDTH),
                inputs=[side_json(sources, "a", weighted, "attenuation")],
                excluded=excluded_json(sources, cells_of_subject(sources.bench, subject, group), match="attenuation"),
                details=ground(sources, one.cells, "attenuation"),
            )
    return None


def trace_reach(sources: Sources, figure: FigureId) -> Traced | None:
    """The attenuation at which a line first falls below a rate."""
    subject = _subject(sources, figure.names)
    try:
        rate = float(figure.rest[-1])
    except (IndexError, ValueError):
        return None
    if not is_rate(rate):
        return None
    result = next((r for r in reaches(sources.bench, subject, [rate]) if r.figure == figure.text), None)
    if result is None:
        return None
    cells = cells_of_subject(sources.bench, subject, result.group)
    one = track(cells, match="attenuation")
    assert one is not None
    return Traced(
        result=reach_json(result),
        sentence=f"{rate:g} Mbit/s: {reach_text(result.reach)}{' dB' if result.reach.db is not None else ''}.",
        formula=(
            CELL,
            PLACE,
            LINE.split(". ")[0] + ".",
            BOUND,
            "The reach is the first x where the line falls below the rate; a value equal to it is not below. Never: ≥ the "
            "last knot. Already at the first: <. Inside a gap: between its ends. From a bound: ≥; below at a bound: undecided.",
            "Its interval runs from the loss at which the lower end of the line's 95 % band falls below the rate to the "
            "one at which the upper end does; the slope of that band is that of the knots within 12 dB.",
        ),
        inputs=[
            {"side": "a", "sign": 1, "cells": [cell_input(sources, c, "attenuation", weight=1.0) for c in one.cells]}
        ],
        excluded=excluded_json(sources, cells, match="attenuation"),
        details={"ceilings": ceilings_json(sources, one.cells)},
    )


def trace_link(sources: Sources, figure: FigureId) -> Traced | None:
    """An indirect comparison over bridges."""
    bench = sources.bench
    a, b = _subject(sources, figure.names[:3]), _subject(sources, figure.names[3:])
    result = next((one for one in links(bench, a, b) if one.figure == figure.text), None)
    if result is None or result.joint.verdict == "refused":
        return None
    ends = _link_ends(sources, result)
    cells = [c for _, _, one, _ in ends for c in one.cells]
    inputs = []
    for side, group, _, weighted in ends:
        inputs.append({**side_json(sources, side, weighted, "attenuation"), "series": group.series})
    return Traced(
        result=link_json(result),
        sentence=result.sentence,
        formula=(
            CELL,
            PLACE,
            LINE,
            UNCERTAINTY,
            "On the log scale: a / b = (a with its client / bridge with that client) · (bridge with b's client / b with "
            "its client). The bridge parts are averaged by inverse variance. To first order each cell enters with weight / "
            "mean of its value, + for a, − for b, and the share of its bridge for bridges; the terms above are summed over "
            "all cells with their signs, so that what parts share counts once.",
            "Bridge parts agree where every |z| is at most the normal quantile of 1 − 0.025 / pairs; else the link is "
            "withheld.",
            WIDTH,
        ),
        inputs=inputs,
        excluded=excluded_json(sources, cells, match="attenuation"),
        details=ground(sources, cells, "attenuation")
        | {
            "window": {
                "name": result.window,
                "range": list(bench.constants.window(result.group_a.band, result.window) or ()),
            }
        },
    )


def trace_eirp(sources: Sources, figure: FigureId) -> Traced | None:
    """How strongly a device seems to send, read by one client setup."""
    subject = _subject(sources, figure.names[:3])
    result = next((one for one in implied_eirps(sources.bench, subject) if one.figure == figure.text), None)
    if result is None:
        return None
    return Traced(
        result=eirp_json(result),
        sentence=result.sentence,
        formula=(
            PLACE,
            "Implied EIRP of a cell = mean level of its runs + attenuation of its place; here the mean of "
            "the downlink cells and their standard deviation.",
        ),
        inputs=[
            {"side": "a", "sign": 1, "cells": [cell_input(sources, c, "attenuation", weight=1.0) for c in result.cells]}
        ],
        excluded=excluded_json(sources, result.cells, match=None),
    )


def trace_factor(sources: Sources, figure: FigureId) -> Traced | None:
    """What kind of day a session was for one group, by the reference device of its house."""
    bench = sources.bench
    house, session = figure.names
    result = next(
        (
            f
            for (h, s, _), f in session_factors(bench).items()
            if (h, s) == (house, session) and f.figure == figure.text
        ),
        None,
    )
    if result is None:
        return None
    cells = _references_of(bench, house, result.group)
    today = [c for c in cells if c.session == session]
    return Traced(
        result=factor_json(result),
        sentence=result.sentence,
        formula=(
            CELL,
            FACTOR,
            "u² = Σ over places of s² / n · (1 / (places · long-run mean))² + (mean over places of factor · s "
            "of the other days / √(their number) / their mean)²: the other days are the same ones at every place.",
            WIDTH,
        ),
        inputs=[
            {
                "side": "a",
                "sign": 1,
                "cells": [cell_input(sources, c, "attenuation", weight=1 / len(today)) for c in today],
            }
        ],
        excluded=excluded_json(sources, today, match=None),
        details={"reference_cells": _reference_cells(bench, house, result.group)},
    )


def _references_of(bench: Bench, house: str, group: Group) -> list[Cell]:
    reference = bench.houses[house].reference_device
    cells = bench.cells_of.get(reference or "", ())
    return [c for c in cells if c.house == house and c.group == group and c.mean and not c.bound]


def _reference_cells(bench: Bench, house: str, group: Group) -> list[Json]:
    """What a house's reference device did in a group, on every day: session factors are made of it."""
    return [
        {
            "cell": cell_figure(c),
            "session": c.session,
            "place": list(c.place),
            "unit": c.unit,
            "firmware": c.firmware,
            "client": c.client,
            "driver": c.driver,
            "mean": c.mean,
            "sd": c.sd,
            "n": c.n,
        }
        for c in _references_of(bench, house, group)
    ]


def _subject(sources: Sources, names: Sequence[str]) -> Subject:
    return subject_called(sources.bench, names)


def _lines(sources: Sources, subject: Subject) -> Iterable[tuple[Group, Track]]:
    cells = cells_of_subject(sources.bench, subject)
    for group in sorted({c.group for c in cells}, key=lambda g: g.sort_key):
        one = track([c for c in cells if c.group == group], match="attenuation")
        if one is not None:
            yield group, one


def _of_setup(cells: Sequence[Cell], result: PairFigure) -> list[Cell]:
    """The cells a pair looks at: at like level those of its setup, at a spot those of the epoch; others lend nothing."""
    with_value = [c for c in cells if c.mean is not None or c.outcomes]
    if result.match == "level":
        return [c for c in with_value if (c.client, c.driver or "") == (result.client, result.driver)]
    return with_value


def _line_sides(result: PairFigure, cells_a: Sequence[Cell], cells_b: Sequence[Cell]) -> list[Weighted]:
    assert result.range is not None
    low, high = result.range if result.match == "attenuation" else (-result.range[1], -result.range[0])
    sides = []
    for cells, sign in ((cells_a, 1), (cells_b, -1)):
        one = track(cells, match=result.match)
        assert one is not None
        sides.append(one.over(low, high, sign=sign))
    return sides


def _spot_sides(bench: Bench, result: PairFigure, cells_a: Sequence[Cell], cells_b: Sequence[Cell]) -> list[Weighted]:
    """Cells at the spot by n; the others of the group weigh nothing and only lend a pooled spread."""
    sides = []
    for cells, sign in ((cells_a, 1), (cells_b, -1)):
        measured = [c for c in cells if c.mean is not None]
        at = [
            c.n if c.spot == result.spot and (since_there(bench, c, result) or None) == result.epoch else 0
            for c in measured
        ]
        there = [c for c, n in zip(measured, at, strict=True) if n]
        fall = fall_at(bench, there, track(measured, match="attenuation"))
        sides.append(Weighted(tuple(measured), tuple(n / sum(at) for n in at), fall.slope, sign, fall.assumed))
    return sides


def _link_ends(sources: Sources, result: IndirectComparison) -> list[tuple[str, Group, Track, Weighted]]:
    """a and b with their clients, and every bridge with both, each over the window."""
    bench = sources.bench
    window = bench.constants.window(result.group_a.band, result.window)
    assert window is not None
    ends = [("a", result.a, result.group_a), ("b", result.b, result.group_b)]
    for device in result.joint.bridges:
        subject = subject_named(bench, device)
        ends += [
            (f"bridge {device}, a's client", subject, result.group_a),
            (f"bridge {device}, b's client", subject, result.group_b),
        ]
    made = []
    for side, subject, group in ends:
        one = track(cells_of_subject(bench, subject, group), match="attenuation")
        assert one is not None
        made.append((side, group, one, one.over(*window)))
    return made


def ground(sources: Sources, cells: Sequence[Cell], match: Match) -> Json:
    """Constants, day-to-day spreads and ceilings that a figure of these cells rests on."""
    with_value = [c for c in cells if c.mean is not None]
    return {
        "constants": constants_json(sources, match),
        **scatter_json(sources, with_value),
        "ceilings": ceilings_json(sources, with_value),
    }
