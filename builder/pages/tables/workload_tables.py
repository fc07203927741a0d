"""Tables of a workload's page: the order of devices, one role over devices, and every run."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from builder import addresses, wording
from builder.bench.bench import Subject
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Heading, Row, Table
from builder.pages.parts.disputing import disputed
from builder.pages.parts.entries import date_entry, text_entry
from builder.pages.parts.firmware_marks import firmware_words, older_mark
from builder.pages.parts.role_drawing import percentile_text
from builder.pages.parts.role_words import VERDICT_WORDS, role_figures, role_name, verdict_note
from builder.under_load.collapses import count
from builder.under_load.mixes import MixResult, mixes_of
from builder.under_load.roles import RoleResult
from builder.under_load.workloads import Standing, WorkloadResult
from catalog.digesting.latency import PERCENTS
from catalog.figure_names import joined_id
from catalog.records import Role, Workload


def order_table(
    catalogue: Catalogue, results: Results, here: str, result: WorkloadResult, members: Sequence[MixResult], tail: str
) -> Table:
    """The devices in order, and those without a whole run. members: every run of this set of clients."""
    doubts = disputed(catalogue)
    plan = catalogue.workloads[result.workload, result.version]
    rows = [
        Row(
            Entry(
                text=device_name(results.bench, s.who.device),
                href=addresses.link(here, addresses.device(s.who.device)),
                note=firmware_words(results, s.who.device, s.who.firmware, s.who.unit),
            ),
            (
                Entry(
                    text=f"{len(s.met)} of {s.roles}",
                    sort_key=str(len(s.met)),
                    marks=doubts.marks(here, s.who.device, figures=_roles(members, s.who)),
                ),
                _hardest(s, plan),
                Entry(
                    text="" if i == 0 else "separated" if s.apart else "not separated from the row above",
                    why_missing="first row",
                ),
                Entry(
                    text=str(s.runs),
                    note=f"and {s.incomplete} incomplete" if s.incomplete else "",
                    sort_key=str(s.runs),
                ),
                Entry(text=wording.capital(s.collapses.sentence), sort_key=str(s.collapses.collapsed)),
            ),
        )
        for i, s in enumerate(result.standings)
    ]
    rows += [
        Row(
            Entry(
                text=device_name(results.bench, one.who.device),
                href=addresses.link(here, addresses.device(one.who.device)),
                note=firmware_words(results, one.who.device, one.who.firmware, one.who.unit),
            ),
            (
                Entry(why_missing="not ranked"),
                Entry(text=one.sentence),
                Entry(why_missing="not ranked"),
                Entry(why_missing="no whole run"),
                Entry(text=wording.capital(one.collapses.sentence), sort_key=str(one.collapses.collapsed)),
            ),
        )
        for one in result.not_ranked
    ]
    return Table(
        key=f"standings{tail}",
        caption="By roles met, then by the on-time share of the hardest-pressed role; runs that did not finish come last",
        columns=(
            Heading("Device"),
            Heading("Roles met in these runs", numeric=True),
            Heading("Hardest-pressed role, on time"),
            Heading("Against the row above", sentence=True),
            Heading("Runs", numeric=True),
            Heading("Did not finish"),
        ),
        rows=tuple(rows),
    )


def _roles(members: Sequence[MixResult], who: Subject) -> list[str]:
    return [role.figure for mix in mixes_of(members, who) for role in mix.roles]


def _hardest(standing: Standing, plan: Workload) -> Entry:
    role = next((r for r in plan.roles if r.role_id == standing.hardest), None)
    if role is None:
        return Entry(why_missing="no role has a target")
    if standing.share == 1:
        return Entry(text="every role in time", sort_key="1")
    return Entry(
        text=f"{role_name(role)}, {wording.percent(standing.share)}",
        note=f"{standing.on_time} of {standing.planned}",
        sort_key=repr(standing.share),
    )


def role_table(
    catalogue: Catalogue, results: Results, here: str, role: Role, runs: Mapping[Subject, list[RoleResult]], tail: str
) -> Table:
    """Every run of one role, in the order of the devices."""
    doubts = disputed(catalogue)
    rows = [
        Row(
            Entry(text=device_name(results.bench, who.device), note=_when(results, r)),
            (
                Entry(
                    text=VERDICT_WORDS[r.verdict],
                    note=r.sentence if r.planned is None else verdict_note(r),
                    marks=doubts.marks(here, who.device, figures=[r.figure]),
                ),
                Entry(text=wording.percent(r.on_time_share), sort_key=repr(r.on_time_share))
                if r.on_time_share is not None
                else Entry(why_missing="no target" if r.planned else "not tested"),
                Entry(text=f"{r.failed} of {r.planned}", sort_key=str(r.failed))
                if r.planned
                else Entry(why_missing="no log"),
                *(_percentile(r, p) for p in PERCENTS),
                text_entry("; ".join(role_figures(r)), missing="none"),
            ),
        )
        for who, own in runs.items()
        for r in own
    ]
    return Table(
        key=f"table-{joined_id(role.role_id)}{tail}",
        caption=f"{wording.capital(role_name(role))}: within how many ms so many of the planned requests were answered. "
        "“failed”: so many never were; “thin”: fewer than five lie beyond it, so the next run may differ much.",
        columns=(
            Heading("Device and day"),
            Heading("Verdict"),
            Heading("On time", numeric=True),
            Heading("Never answered", numeric=True),
            *(Heading(f"{p} %", numeric=True) for p in PERCENTS),
            Heading("Besides", sentence=True),
        ),
        rows=tuple(rows),
    )


def _when(results: Results, result: RoleResult) -> str:
    """The day of a run, and its firmware where another is current."""
    station = result.station
    if station is None:
        return ""
    mark = older_mark(results, station.device, station.firmware)
    return wording.date(station.date) + (f", {station.firmware} ({mark})" if mark else "")


def _percentile(result: RoleResult, percent: int) -> Entry:
    found = next((p for p in result.percentiles if p.percent == percent), None)
    if found is None:
        return Entry(why_missing="not tested")
    key = "inf" if found.ms is None else repr(found.ms)
    return Entry(text=percentile_text(result, percent), sort_key=key)


def run_table(results: Results, here: str, members: Sequence[MixResult], tail: str) -> Table:
    """Every run of this set of clients, also of older firmware, newest first."""
    rows = [
        Row(
            Entry(
                text=device_name(results.bench, m.mix.device),
                href=addresses.link(here, addresses.device(m.mix.device)),
                note=firmware_words(results, m.mix.device, m.mix.firmware, m.mix.unit),
            ),
            (
                date_entry(m.mix.date),
                Entry(text=m.sentence),
                text_entry(
                    "; ".join(
                        f"{wording.listing(f.roles)}: {'nobody got anything' if f.index is None else wording.ratio(f.index)}"
                        for f in m.fairness
                    ),
                    missing="no two roles alike",
                ),
            ),
            key=joined_id("run", m.mix.mix),
        )
        for m in sorted(members, key=lambda m: (m.mix.date, m.mix.mix), reverse=True)
    ]
    columns = (
        Heading("Device"),
        Heading("Day"),
        Heading("What happened", sentence=True),
        Heading("Fairness of equal roles (1: even)"),
    )
    return Table(key=f"all-runs{tail}", caption="Runs, newest first", columns=columns, rows=tuple(rows))


def untested_table(results: Results, here: str, tested: Collection[str]) -> Table | None:
    """The devices that never did a workload, and how their other runs with several clients went; None for none."""
    rows = [
        Row(
            Entry(text=device_name(results.bench, device), href=addresses.link(here, addresses.device(device))),
            (Entry(text=wording.capital(count(results.mixes_of.get(device, ())).sentence)),),
        )
        for device in sorted(results.bench.devices, key=lambda d: (device_name(results.bench, d), d))
        if device not in tested
    ]
    columns = (Heading("Device"), Heading("Its other runs with several clients"))
    return (
        Table(key="not-tested-here", caption="Not tested in this workload", columns=columns, rows=tuple(rows))
        if rows
        else None
    )
