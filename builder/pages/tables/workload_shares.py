"""The table behind the picture of a workload: devices by roles, in each cell the share in time and 90 % of the waits."""

from __future__ import annotations

from builder import wording
from builder.bench.bench import Subject
from builder.pages.contents import Results
from builder.pages.parts.blocks import Entry, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import device_entry
from builder.pages.parts.firmware_marks import firmware_words
from builder.pages.parts.mix_rows import share_cell
from builder.pages.parts.played_roles import worst_runs
from builder.under_load.seat_roles import Part
from builder.under_load.workloads import WorkloadResult


def shares_table(results: Results, here: str, result: WorkloadResult, tail: str) -> Table:
    """Every device in its order, of several runs the one with the lowest share. tail: as `tail_of` gives it."""
    columns: list[Column[Subject]] = [
        Column("Device", lambda s: device_entry(results, here, s.device, note=firmware_words(results, s))),
        *(_role_column(results, result, part) for part in result.parts),
    ]
    which = f" (arrangement {tail.removeprefix('-')})" if tail else ""
    return table_of(
        result.subjects,
        columns,
        key=f"shares{tail}",
        caption=f"Share of the planned requests in time, and within what time 90 % were answered{which}",
    )


def _role_column(results: Results, result: WorkloadResult, part: Part) -> Column[Subject]:
    worst = worst_runs(results, result, part)

    def entry(subject: Subject) -> Entry:
        run = worst.get(subject)
        cell = share_cell(run)
        if cell.share is None and not cell.detail:
            return Entry(why_missing=cell.text)
        good = None if run is None else run.good_on_time_share
        note = cell.detail if good is None else f"{cell.detail}; {wording.percent(good)} good"
        return Entry(text=cell.text, note=note, sort_key="" if cell.share is None else repr(cell.share))

    return Column(wording.capital(part.name), entry, numeric=True)
