"""The measured half of a device's page: results by client and by place, and its runs under load."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from builder import addresses, wording
from builder.bench.bench import Subject
from builder.bench.cells import Cell, Group, cell_figure, usual
from builder.bench.naming import conditions, series_name
from builder.bench.settings import called, stated
from builder.bench.summed_up import AS_NOTED, why_no_interval
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Link, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.disputing import Disputed, disputed
from builder.pages.parts.entries import (
    date_entry,
    decibel_entry,
    link_entry,
    number_entry,
    outcome_entry,
    rate_entry,
    text_entry,
)
from builder.pages.parts.firmware_marks import firmware_entry
from builder.pages.parts.played_roles import section_of
from builder.pages.parts.role_words import machines_counted
from builder.pages.tables.bench_days import odd_day_note, place_entry
from builder.pages.tables.longrun_sections import longrun_link
from builder.pages.tables.several_links import link_columns, loss_entry
from builder.registers.link_ceilings import link_ceiling
from builder.under_load.collapses import OUTCOME_WORDS, Mix
from builder.under_load.mixes import MixResult
from builder.windows.by_client import DIRECTIONS, ClientRow, client_rows
from builder.windows.reach import reach_remark, reach_text
from builder.windows.standing import WINDOW_SHORT
from catalog.figure_names import joined_id, parts_of_subject
from catalog.records import LongRun

REACH_AT_MBIT_S = 100.0
DECIDES = ("middle", "down")  # the mean that stands second: where most people sit


def by_client_table(results: Results, here: str, subject: Subject) -> Table | None:
    """Window means of both directions side by side, a row for each client and link. None where no window is covered."""
    rows = [
        row
        for row in client_rows(results.bench, subject, reach_at=REACH_AT_MBIT_S)
        if any(mean.value is not None for mean in row.means.values())
    ]
    columns: list[Column[ClientRow]] = [
        Column("Client and link", lambda row: _client_entry(results, here, row.group)),
        *(
            _mean_column(results, subject.device, window, direction)
            for direction in DIRECTIONS
            for window in ("middle", "near", "far")
        ),
        Column(f"Reach at {wording.trimmed(REACH_AT_MBIT_S, 1)} Mbit/s, download", _reach_entry, numeric=True),
    ]
    table = table_of(
        rows,
        columns,
        key="by-client",
        caption="Mbit/s over each window, with its 95 % interval. Download and upload are two things and are never added. "
        "Groups that cover no window are under “Everything measured”.",
    )
    return table if rows else None


def _client_entry(results: Results, here: str, group: Group) -> Entry:
    name = results.names[group]
    return Entry(text=name.series, note=name.either_way, href=_client_href(results, here, group.series))


def _mean_column(results: Results, device: str, window: str, direction: str) -> Column[ClientRow]:
    def entry(row: ClientRow) -> Entry:
        mean = row.means[window, direction]
        return rate_entry(
            mean.value,
            low=mean.low,
            high=mean.high,
            bound=mean.bound,
            limit="port" if mean.at_port else None,
            port=results.bench.limits.ports.get(device),
            missing=mean.why_missing,
        )

    return Column(
        f"{WINDOW_SHORT[window]}, {wording.way(direction)}",
        entry,
        numeric=True,
        decides=(window, direction) == DECIDES,
    )


def _reach_entry(row: ClientRow) -> Entry:
    if row.reach is None:
        return Entry(why_missing="no measured attenuation")
    unit = "dB" if row.reach.db is not None else ""
    return Entry(text=reach_text(row.reach), unit=unit, note=reach_remark(row.reach))


def cell_sections(catalogue: Catalogue, results: Results, here: str, identifier: str) -> tuple[Section, ...]:
    """Every measured cell, one section per group; units and firmwares stand beside each other.

    identifier  of a device, or of it under settings ("device+settings")
    """
    by_group: dict[Group, list[Cell]] = defaultdict(list)
    for cell in results.bench.cells_of.get(identifier, ()):
        by_group[cell.group].append(cell)
    _, settings = parts_of_subject(identifier)
    under = f"{joined_id(settings)}~" if settings else ""
    one = results.bench.settings[settings] if settings else None
    words = f"{called(one)}: " if one else ""
    said = (f"{wording.capital(stated(one))}.",) if one else ()
    disputes = disputed(catalogue)
    sections: list[Section] = []
    for group in sorted(by_group, key=lambda g: (usual(g), g.sort_key)):
        cells = by_group[group]
        places = len({cell.place for cell in cells})
        links: tuple[Link, ...] = ()
        if results.ranked.get(group) and not settings:
            links = (Link("Ranking of this group", addresses.link(here, addresses.ranking(group))),)
        sections.append(
            Section(
                key=f"cells~{under}{group.slug}",
                heading=f"{words}{results.names[group].text}: {wording.count(places, 'place')}",
                sentences=(*said, *_ceiling_sentences(results, group, cells)),
                tables=(_cell_table(results, here, group, cells, disputes, key=f"table~{under}{group.slug}"),),
                links=links,
            )
        )
    return tuple(sections)


def _ceiling_sentences(results: Results, group: Group, cells: list[Cell]) -> tuple[str, ...]:
    """What the radios of both ends could carry at most, for each client setup of the group."""
    bench = results.bench
    setups = dict.fromkeys((cell.device, cell.client) for cell in cells)
    ceilings = (
        link_ceiling(bench.devices[device], bench.clients[client], band=group.band, width_mhz=group.width_mhz)
        for device, client in setups
    )
    return tuple(dict.fromkeys(ceiling.sentence for ceiling in ceilings if ceiling is not None))


def _cell_table(results: Results, here: str, group: Group, cells: list[Cell], disputes: Disputed, *, key: str) -> Table:
    houses = wording.listing([results.bench.houses[h].name for h in sorted({c.house for c in cells})])
    columns: list[Column[Cell]] = [
        Column("Place", place_entry),
        Column("Mbit/s", lambda c: _value_entry(results, here, c, disputes), numeric=True, decides=True),
        Column("Attenuation", lambda c: loss_entry(results.bench, c), numeric=True),
        Column("Level", lambda c: decibel_entry(c.level_dbm, unit="dBm"), numeric=True),
        *link_columns(results.bench, group),
        Column(
            "Spread s",
            lambda c: number_entry(c.sd, wording.rate, missing=_no_spread(c)),
            numeric=True,
        ),
        Column("Runs", _runs_entry),
        Column("Firmware, unit", lambda c: firmware_entry(results, c)),
        Column("Day", lambda c: _day_entry(results, c)),
    ]
    return table_of(
        cells,
        columns,
        key=key,
        caption=f"{series_name(results.bench, group.series)}, {conditions(group)}; in {houses}",
        row_key=cell_figure,
    )


def _no_spread(cell: Cell) -> str:
    return why_no_interval([cell]) if cell.n else "none"


def _runs_entry(cell: Cell) -> Entry:
    entry = outcome_entry(cell.outcomes)
    return replace(entry, text=cell.summary, note=AS_NOTED) if cell.summary else entry


def _value_entry(results: Results, here: str, cell: Cell, disputes: Disputed) -> Entry:
    value = rate_entry(
        cell.mean,
        bound=cell.bound,
        limit=cell.limit,
        port=results.bench.limits.ports.get(cell.device),
        missing="no finished run",
    )
    notes = (value.note, results.gaps_of.get(cell.device, {}).get(cell_figure(cell), ""))
    marks = disputes.marks(here, cell.device, cells=[cell], whole=False)
    return replace(value, note="; ".join(note for note in notes if note), marks=marks)


def _day_entry(results: Results, cell: Cell) -> Entry:
    note = odd_day_note(results.factors.get((cell.house, cell.session, cell.group)))
    return replace(date_entry(cell.date), note=note)


def mix_table(catalogue: Catalogue, results: Results, here: str, device_id: str) -> Table | None:
    """Every run with several clients in a sentence, with the way to its table. None where there was none."""
    mixes = sorted(results.mix_results_of.get(device_id, ()), key=_how_well)
    columns: list[Column[MixResult]] = [
        Column("Workload", lambda m: _workload_entry(catalogue, results, here, m.mix)),
        Column("What happened", lambda m: Entry(text=m.sentence), sentence=True, decides=True),
        Column("Day", lambda m: date_entry(m.mix.date)),
        Column("Firmware, unit", lambda m: firmware_entry(results, m.mix)),
        Column("At once", lambda m: Entry(text=machines_counted(m.seats), sort_key=str(m.mix.clients))),
        Column("Lasted of planned", lambda m: _lasted(m.mix), numeric=True),
        Column(
            "Outcome",
            lambda m: Entry(
                text=OUTCOME_WORDS[m.mix.outcome],
                note=f"by {m.mix.ended_by}"
                if m.mix.ended_by and m.mix.ended_by != OUTCOME_WORDS[m.mix.outcome]
                else "",
            ),
        ),
    ]
    table = table_of(mixes, columns, key="several-clients", caption="Runs with several clients at once")
    return table if mixes else None


def _how_well(result: MixResult) -> tuple[bool, bool]:
    """Runs that broke off come first, then those with a role not met: what goes to a leaf are the others."""
    return result.mix.outcome == "finished", all(role.verdict != "not-met" for role in result.roles)


def longrun_table(results: Results, identifier: str, *, key: str = "long-runs") -> Table | None:
    """Every long run of a device, or of it under settings, and how it ended. None where there was none."""
    runs = sorted(results.longruns_of.get(identifier, ()), key=lambda run: run.outcome == "finished")
    columns: list[Column[LongRun]] = [
        Column("Client", lambda r: Entry(text=results.bench.clients[r.client].name)),
        Column("Link", lambda r: Entry(text=longrun_link(r))),
        Column("Spot", lambda r: text_entry(r.spot)),
        Column("Day", lambda r: date_entry(r.date)),
        Column("Firmware, unit", lambda r: firmware_entry(results, r)),
        Column("Outcome", lambda r: Entry(text=OUTCOME_WORDS[r.outcome])),
    ]
    if any(run.kind == "requests" for run in runs):
        columns.insert(1, Column("Logged", lambda r: Entry(text=r.kind)))
    table = table_of(runs, columns, key=key, caption="Long runs with one client")
    return table if runs else None


def _lasted(mix: Mix) -> Entry:
    text = "not noted"
    if mix.outcome == "finished":
        text = f"{wording.clock(mix.planned_s)} of {wording.clock(mix.planned_s)}"
    elif mix.survived_s is not None:
        text = f"{wording.clock(mix.survived_s)} of {wording.clock(mix.planned_s)}"
    return Entry(text=text, sort_key=repr(mix.survived_s or mix.planned_s))


def _workload_entry(catalogue: Catalogue, results: Results, here: str, mix: Mix) -> Entry:
    """The workload, linked to the table of the arrangement that a run was made in."""
    plan = catalogue.workloads[mix.workload, mix.version]
    section = section_of(results.mix_places[mix.mix])
    return link_entry(here, f"{plan.title}, version {mix.version}", addresses.workload(mix.workload), section)


def _client_href(results: Results, here: str, series: str) -> str:
    clients = results.bench.clients
    target = (
        series
        if series in clients
        else next((c.client_id for c in clients.values() if any(d.series == series for d in c.drivers)), None)
    )
    return addresses.link(here, addresses.client(target)) if target else ""
