"""Small charts of differences: what a firmware brought, over all and at each spot, and two devices at named spots."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from builder import wording
from builder.bench.bench import Bench, cells_of_subject
from builder.bench.cells import Group, natural
from builder.bench.naming import conditions, series_name
from builder.charts.figures import Figure
from builder.charts.step_chart import StepRow, step_figure
from builder.pages.parts.drawing import two_sentences
from builder.pairs.compare import since_there
from builder.pairs.histories import Step
from builder.pairs.pairing import Pairing
from builder.pairs.verdicts import PairFigure
from catalog.figure_names import joined_id

OVER_ALL = "over all"


def firmware_step_figure(bench: Bench, step: Step) -> Figure | None:
    """The chart of a step in the leading group of its pair; None where nothing of it can be drawn."""
    if step.pairing is None or step.pairing.leading.group is None:
        return None
    leading = step.pairing.leading
    figures = [f for f in step.pairing.by_spot if f.spot and f.group == leading.group and f.verdict != "refused"]
    rows = spot_rows(bench, figures)
    over_all = _row(leading, OVER_ALL, None)
    if not rows or all(row.value is None for row in (over_all, *rows)):
        return None
    return step_figure(
        key=joined_id("step", leading.a.device, step.older, step.newer),
        title=f"Did firmware {step.newer} help?",
        newer=step.newer,
        older=step.older,
        over_all=over_all,
        rows=rows,
        notes=[
            f"{step.newer} minus {step.older}, Mbit/s, with the 95 % interval. Blue: zero is outside, so the tests can tell the two apart.",
            "Each spot is judged by itself.",
        ],
        spoken=two_sentences(leading.sentence),
    )


def spot_figure(bench: Bench, comparison: Pairing) -> Figure | None:
    """The chart of two devices that are compared at named spots alone; None where no spot compares them."""
    by_group: dict[Group, list[PairFigure]] = {}
    for figure in comparison.by_spot:
        if figure.spot and figure.group is not None and figure.difference is not None:
            by_group.setdefault(figure.group, []).append(figure)
    if not by_group:
        return None
    group, figures = max(by_group.items(), key=lambda item: len(item[1]))  # of equals the first
    one, other = comparison.names
    return step_figure(
        key="~".join([joined_id("spots", comparison.a.id, comparison.b.id), group.slug]),
        title=f"Which gives more at the same spots, {one} or {other}?",
        newer=one,
        older=other,
        over_all=None,
        rows=spot_rows(bench, figures),
        notes=[
            f"{one} minus {other}, Mbit/s, with the 95 % interval. Blue: zero is outside, so the tests can tell the two apart.",
            f"{series_name(bench, group.series)}, {conditions(group)}. Each spot is judged by itself, never pooled.",
        ],
        spoken=two_sentences(figures[0].sentence),
    )


def spot_rows(bench: Bench, figures: Sequence[PairFigure]) -> list[StepRow]:
    """A row for each comparison at a spot, the least loss first."""
    several = len({figure.house for figure in figures}) > 1
    rows = [_row(figure, _name(bench, figure, several=several), _loss(bench, figure)) for figure in figures]
    return sorted(rows, key=lambda row: (row.x is None, row.x or 0.0, natural(row.name)))


def _name(bench: Bench, figure: PairFigure, *, several: bool) -> str:
    house = bench.houses.get(figure.house or "")
    return f"{figure.spot}, {house.name}" if several and house else figure.spot or ""


def _loss(bench: Bench, figure: PairFigure) -> float | None:
    """Of the spot, in the epoch of the comparison. [dB]"""
    there = (
        cell.attenuation_db
        for cell in cells_of_subject(bench, figure.a, figure.group)
        if (cell.house, cell.spot) == (figure.house, figure.spot)
        and since_there(bench, cell, figure) == (figure.epoch or "")
    )
    return next((loss for loss in there if loss is not None), None)


def _row(figure: PairFigure, name: str, loss: float | None) -> StepRow:
    told = figure.verdict in ("separated", "at-least")
    value = figure.difference
    bound: Literal["least", "most"] | None = None
    if figure.verdict == "at-least" and value is not None:
        # The least lead; of the older one where that leads.
        value, bound = (abs(value), "least") if figure.leader == "a" else (-abs(value), "most")
    low, high = figure.interval or (None, None)
    return StepRow(name, loss, value, low, high, bound, told, _words(figure, value))


def _words(figure: PairFigure, value: float | None) -> str:
    """ "99 more", "cannot tell"."""
    if figure.verdict == "refused":
        return "not compared"
    if figure.verdict not in ("separated", "at-least") or value is None:
        return "cannot tell" if figure.verdict == "not-separated" else "no verdict"
    least = "at least " if figure.verdict == "at-least" else ""
    return f"{least}{wording.number(abs(value), figure.decimals)} {'more' if value > 0 else 'less'}"
