"""What a row of a long run says about its log: what kind it is, and what only one kind has."""

from __future__ import annotations

from catalog.checking.known import Row
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import Trouble


def what_was_logged(table: TypedTable, row: TypedRow) -> Row:
    """What the log of a long run holds, throughput where nothing is said, of which link, and how the run ended.

    What does not fit that kind is held.
    """
    values = row.values
    kind = str(values["kind"] or "throughput")
    if kind == "throughput" and values["direction"] is None and "direction" not in row.typed:
        which = Trouble(
            "direction is empty.", "Fill in down or up; only a long run of requests may leave it out.", "missing"
        )
        table.hold(row, "direction", which)
    if kind == "throughput" and values["mark_ms"] is not None:
        no_answers = Trouble(
            "A throughput has no mark for answers.",
            'Write requests into the column "kind", or leave mark_ms empty.',
            "mark-of-throughput",
        )
        table.hold(row, "mark_ms", no_answers)
    link = ("band", "width_mhz", "direction", "mark_ms", "outcome", "note")
    return {"kind": kind, **{name: values[name] for name in link}}
