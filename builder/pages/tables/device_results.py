"""The measured half of a device's page: with which client, at which place, and what let it down."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from builder import addresses, wording
from builder.bench.bench import Subject
from builder.bench.cells import Cell, Group, cell_figure, usual
from builder.bench.naming import conditions, series_name
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Heading, Link, Row, Section, Table
from builder.pages.parts.disputing import Disputed, disputed
from builder.pages.parts.entries import date_entry, decibel_entry, number_entry, outcome_entry, rate_entry, text_entry
from builder.pages.parts.firmware_marks import older_mark
from builder.pages.tables.bench_days import odd_day_note
from builder.registers.link_ceilings import link_ceiling
from builder.windows.by_client import DIRECTIONS, client_rows
from builder.windows.reach import reach_remark, reach_text
from catalog.method import WINDOW_NAMES
from catalog.records import LongRun

REACH_AT_MBIT_S = 100.0


def by_client_table(results: Results, here: str, who: Subject) -> Table | None:
    """Window means down and up side by side, one row a client and link. None where no window is covered."""
    rows: list[Row] = []
    for found in client_rows(results.bench, who, reach_at=REACH_AT_MBIT_S):
        if all(mean.value is None for mean in found.means.values()):
            continue
        group = found.group
        entries = [
            rate_entry(
                mean.value,
                low=mean.low,
                high=mean.high,
                bound=mean.bound,
                limit="port" if mean.at_port else None,
                missing=mean.why_missing,
            )
            for window in WINDOW_NAMES
            for mean in (found.means[window, direction] for direction in DIRECTIONS)
        ]
        reach = Entry(why_missing="no measured attenuation")
        if found.reach is not None:
            unit = "dB" if found.reach.db is not None else ""
            reach = Entry(text=reach_text(found.reach), unit=unit, note=reach_remark(found.reach))
        rows.append(
            Row(
                Entry(
                    text=results.names[group].series,
                    note=results.names[group].either_way,
                    href=_client_href(results, here, group.series),
                ),
                (*entries, reach),
            )
        )
    if not rows:
        return None
    columns = [
        Heading(f"{window.capitalize()}, {direction}", numeric=True)
        for window in WINDOW_NAMES
        for direction in DIRECTIONS
    ]
    return Table(
        key="by-client",
        caption="Mbit/s over each window, with its 95 % interval. Down and up are two things and are never added. "
        "Groups that cover no window are under “Everything measured”.",
        columns=(
            Heading("Client and link"),
            *columns,
            Heading(f"Reach at {wording.trimmed(REACH_AT_MBIT_S, 1)} Mbit/s, down", numeric=True),
        ),
        rows=tuple(rows),
    )


def cell_sections(catalogue: Catalogue, results: Results, here: str, device_id: str) -> tuple[Section, ...]:
    """Every measured cell, a section a group; units and firmwares beside each other."""
    by_group: dict[Group, list[Cell]] = defaultdict(list)
    for cell in results.bench.cells_of.get(device_id, ()):
        by_group[cell.group].append(cell)
    doubts = disputed(catalogue)
    sections: list[Section] = []
    for group in sorted(by_group, key=lambda g: (usual(g), g.sort_key)):
        cells = by_group[group]
        places = len({cell.place for cell in cells})
        links: tuple[Link, ...] = ()
        if group in results.groups:
            links = (Link("Who leads in this group?", addresses.link(here, addresses.ranking(group))),)
        sections.append(
            Section(
                key=f"cells~{group.slug}",
                heading=f"{results.names[group].text}: {wording.count(places, 'place')}",
                sentences=_most(results, group, cells),
                tables=(_cell_table(results, here, group, cells, doubts),),
                links=links,
            )
        )
    return tuple(sections)


def _most(results: Results, group: Group, cells: list[Cell]) -> tuple[str, ...]:
    """What the radios of both ends could carry at most, for each client setup of the group."""
    bench = results.bench
    setups = dict.fromkeys((cell.device, cell.client) for cell in cells)
    found = (
        link_ceiling(bench.devices[device], bench.clients[client], band=group.band, width_mhz=group.width_mhz)
        for device, client in setups
    )
    return tuple(dict.fromkeys(one.sentence for one in found if one is not None))


def _cell_table(results: Results, here: str, group: Group, cells: list[Cell], doubts: Disputed) -> Table:
    houses = wording.listing([results.bench.houses[h].name for h in sorted({c.house for c in cells})])
    return Table(
        key=f"table~{group.slug}",
        caption=f"{series_name(results.bench, group.series)}, {conditions(group)}; in {houses}",
        columns=(
            Heading("Place"),
            Heading("Attenuation", numeric=True),
            Heading("Level", numeric=True),
            Heading("Mbit/s", numeric=True),
            Heading("Spread s", numeric=True),
            Heading("Runs"),
            Heading("Firmware, unit"),
            Heading("Day"),
        ),
        rows=tuple(_cell_row(results, here, cell, doubts) for cell in cells),
    )


def _cell_row(results: Results, here: str, cell: Cell, doubts: Disputed) -> Row:
    value = rate_entry(cell.mean, bound=cell.bound, limit=cell.limit, missing="no finished run")
    notes = [note for note in (value.note, results.gaps_of.get(cell.device, {}).get(cell_figure(cell), "")) if note]
    spread = number_entry(cell.sd, wording.rate, missing="single run" if cell.n == 1 else "none")
    return Row(
        Entry(text=cell.spot or ("typed" if cell.attenuation_db is not None else "level only")),
        (
            decibel_entry(cell.attenuation_db, unit="dB"),
            decibel_entry(cell.level_dbm, unit="dBm"),
            replace(
                value,
                note="; ".join(notes),
                marks=doubts.marks(here, cell.device, cells=[cell], whole=False),
            ),
            spread,
            outcome_entry(cell.outcomes),
            text_entry(f"{cell.firmware}, {cell.unit}", note=older_mark(results, cell.device, cell.firmware)),
            _day_entry(results, cell),
        ),
        key=cell_figure(cell),
    )


def _day_entry(results: Results, cell: Cell) -> Entry:
    note = odd_day_note(results.factors.get((cell.house, cell.session, cell.group)))
    return replace(date_entry(cell.date), note=note)


def mix_table(catalogue: Catalogue, results: Results, here: str, device_id: str) -> Table | None:
    """Every run with several clients, and how it ended. None where there was none."""
    rows = [
        Row(
            Entry(text=_workload(catalogue, m.workload, m.version)),
            (
                date_entry(m.date),
                text_entry(f"{m.firmware}, {m.unit}", note=older_mark(results, m.device, m.firmware)),
                Entry(text=str(m.clients), sort_key=str(m.clients)),
                Entry(text=m.outcome, note=f"by {m.ended_by}" if m.ended_by else ""),
                Entry(text=_survived(m.survived_s, m.planned_s, m.outcome), sort_key=repr(m.survived_s or m.planned_s)),
                text_entry(wording.listing(m.not_tested), missing="none"),
            ),
        )
        for m in results.mixes_of.get(device_id, ())
    ]
    if not rows:
        return None
    return Table(
        key="several-clients",
        caption="Runs with several clients at once",
        columns=(
            Heading("Workload"),
            Heading("Day"),
            Heading("Firmware, unit"),
            Heading("Clients", numeric=True),
            Heading("Outcome"),
            Heading("Lasted of planned", numeric=True),
            Heading("Roles without a log"),
        ),
        rows=tuple(rows),
    )


def longrun_table(results: Results, device_id: str) -> Table | None:
    """Every long run, and how it ended. None where there was none."""
    rows = [_longrun_row(results, run) for run in results.longruns_of.get(device_id, ())]
    if not rows:
        return None
    return Table(
        key="long-runs",
        caption="Runs of hours with one client",
        columns=(
            Heading("Client"),
            Heading("Link"),
            Heading("Spot"),
            Heading("Day"),
            Heading("Firmware, unit"),
            Heading("Outcome"),
        ),
        rows=tuple(rows),
    )


def _longrun_row(results: Results, run: LongRun) -> Row:
    link = wording.conditions(band_name=run.band, width_mhz=run.width_mhz, direction=run.direction)
    return Row(
        Entry(text=results.bench.clients[run.client].name),
        (
            Entry(text=link),
            text_entry(run.spot),
            date_entry(run.date),
            Entry(text=f"{run.firmware}, {run.unit}", note=older_mark(results, run.device, run.firmware)),
            Entry(text=run.outcome),
        ),
    )


def _survived(survived_s: float | None, planned_s: float, outcome: str) -> str:
    if outcome == "finished":
        return f"{wording.clock(planned_s)} of {wording.clock(planned_s)}"
    return f"{wording.clock(survived_s)} of {wording.clock(planned_s)}" if survived_s is not None else "not noted"


def _workload(catalogue: Catalogue, workload_id: str, version: int) -> str:
    found = catalogue.workloads.get((workload_id, version))
    return f"{found.title if found else workload_id}, version {version}"


def _client_href(results: Results, here: str, series: str) -> str:
    clients = results.bench.clients
    target = (
        series
        if series in clients
        else next((c.client_id for c in clients.values() if any(d.series == series for d in c.drivers)), None)
    )
    return addresses.link(here, addresses.client(target)) if target else ""
