"""The table of who suffered: every role that was not met, on which machine, in which workload, on which device."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder import addresses, wording
from builder.bench.bench import Subject
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import device_entry, link_entry
from builder.pages.parts.firmware_marks import firmware_words
from builder.pages.parts.mix_rows import broke_off_words, link_words, place_words
from builder.pages.parts.played_roles import section_of, versions_of, worst_runs
from builder.under_load.role_names import count_words, role_name
from builder.under_load.roles import RoleResult
from builder.under_load.workloads import WorkloadResult
from catalog.records import Station


@dataclass(frozen=True, slots=True)
class _Suffered:
    """A role that was not met on a device, in its run with the lowest share of requests in time."""

    result: WorkloadResult
    subject: Subject
    run: RoleResult
    station: Station


def suffered_table(catalogue: Catalogue, results: Results, here: str) -> Table | None:
    """Every role that was not met in the worst run of a device, the lowest share first; None where all were met."""
    rows = sorted(_suffered(results), key=lambda row: row.run.on_time_share or 0.0)
    columns: list[Column[_Suffered]] = [
        Column("Machine", lambda row: _machine(results, here, row.station)),
        Column("In time", _count),
        Column(
            "Device",
            lambda row: device_entry(results, here, row.subject.device, note=firmware_words(results, row.subject)),
        ),
        Column("Workload", lambda row: _workload(catalogue, results, here, row)),
        Column("Role", lambda row: Entry(text=wording.capital(role_name(row.run.role)))),
    ]
    table = table_of(
        rows, columns, key="roles-not-met", caption="Roles that were not met, the one with the fewest in time first"
    )
    return table if rows else None


def _suffered(results: Results) -> Sequence[_Suffered]:
    return [
        _Suffered(result, subject, run, run.station)
        for result in results.workload_results
        for part in result.parts
        for subject, run in worst_runs(results, result, part).items()
        if run.missed and run.station is not None
    ]


def _machine(results: Results, here: str, station: Station) -> Entry:
    name = results.bench.clients[station.client].name
    where = ", ".join(filter(None, (place_words(station), link_words(station))))
    return link_entry(here, name, addresses.client(station.client), note=where)


def _workload(catalogue: Catalogue, results: Results, here: str, row: _Suffered) -> Entry:
    workload = row.result.workload
    section = section_of(results.mix_places[row.run.mix])
    return link_entry(here, versions_of(catalogue, workload)[0].title, addresses.workload(workload), section)


def _count(row: _Suffered) -> Entry:
    run = row.run
    ended = broke_off_words(run.survived_s, row.station.planned_s) if run.verdict == "did-not-finish" else ""
    return Entry(text=count_words(run), note=ended, sort_key=repr(run.on_time_share))
