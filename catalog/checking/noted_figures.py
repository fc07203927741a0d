"""Figures of a role that a row states itself, without a log: those of one run, in the order that percentiles have."""

from __future__ import annotations

from itertools import pairwise

from catalog.checking.known import Row
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import Trouble

PERCENTILES = ("p50_ms", "p75_ms", "p90_ms", "p95_ms", "p99_ms")
FIGURES = ("on_time_share", "mark_ms", *PERCENTILES)


def figures_noted(table: TypedTable, row: TypedRow) -> Row:
    """The columns of a station that its row states; a row with a log has its figures from there."""
    values = row.values
    stated = [name for name in FIGURES if name != "mark_ms" and values[name] is not None]
    if stated and values["log"] is not None:
        both = Trouble(
            f"The row names a log and states {stated[0]}: figures are taken from the log.",
            "Leave one of them out.",
            "summary-and-log",
        )
        table.hold(row, stated[0], both)
    for lower, higher in pairwise(name for name in PERCENTILES if values[name] is not None):
        if values[lower] > values[higher]:
            falls = Trouble(
                f"{higher} is {values[higher]:g}, less than {lower}, {values[lower]:g}: more requests take longer.",
                "Correct one of the two.",
                "percentiles-fall",
            )
            table.hold(row, higher, falls)
    planned_s = values["planned_s"]
    longest = next((name for name in reversed(PERCENTILES) if values[name] is not None), None)
    if longest is not None and planned_s and values[longest] > planned_s * 1000:
        beyond = Trouble(
            f"{longest} is {values[longest]:g} ms, longer than the run, which was planned to last {planned_s:g} s.",
            "Correct one of the two; percentiles are in ms.",
            "longer-than-run",
        )
        table.hold(row, longest, beyond)
    return {name: values[name] for name in FIGURES}
