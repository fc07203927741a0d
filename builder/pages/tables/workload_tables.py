"""Tables of a workload's page: the order of devices, one role over devices, every run, and what each role asks for."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence

from builder import addresses, wording
from builder.bench.bench import Subject
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.disputing import disputed
from builder.pages.parts.entries import (
    apart_entry,
    count_entry,
    date_entry,
    device_entry,
    link_entry,
    number_entry,
    text_entry,
)
from builder.pages.parts.firmware_marks import firmware_words, older_mark
from builder.pages.parts.played_roles import PlayedRole, levels_at, unlike_words
from builder.pages.parts.role_words import (
    KIND_WORDS,
    VERDICT_WORDS,
    good_note,
    good_text,
    percentile_text,
    recipe_text,
    role_figures,
    target_text,
    verdict_note,
)
from builder.under_load.arrangements import ANCHOR_DB, Seat
from builder.under_load.collapses import count
from builder.under_load.mixes import MixResult, mixes_of
from builder.under_load.role_names import role_name
from builder.under_load.roles import RoleResult
from builder.under_load.workloads import Placed, Standing, WorkloadResult
from catalog.digesting.latency import PERCENTS
from catalog.figure_names import joined_id
from catalog.records import Role, Workload


def _caption(text: str, tail: str) -> str:
    """The caption of a table, which names its arrangement if that is not the first. tail: as `tail_of` gives it."""
    return f"{text} (arrangement {tail.removeprefix('-')})" if tail else text


def order_table(
    catalogue: Catalogue, results: Results, here: str, result: WorkloadResult, members: Sequence[MixResult], tail: str
) -> Table:
    """The devices in order, and those without a whole run. members: every run in this arrangement."""
    disputes = disputed(catalogue)
    columns: list[Column[Placed]] = [
        Column(
            "Device",
            lambda p: device_entry(results, here, p.subject.device, note=firmware_words(results, p.subject)),
        ),
        _ranked_column(
            "Roles met in these runs",
            lambda s: Entry(
                text=f"{len(s.met)} of {s.roles}",
                sort_key=str(len(s.met)),
                marks=disputes.marks(here, s.subject.device, figures=_figures(members, s.subject)),
            ),
            numeric=True,
        ),
        Column(
            "Hardest-pressed role, on time",
            lambda p: _hardest(p, result) if isinstance(p, Standing) else Entry(text=p.sentence),
        ),
        _ranked_column(
            "Against the row above", lambda s: apart_entry(s.apart, first=s is result.standings[0]), sentence=True
        ),
        _ranked_column(
            "Runs",
            lambda s: count_entry(s.runs, note=f"and {s.incomplete} incomplete" if s.incomplete else ""),
            missing="no whole run",
            numeric=True,
        ),
        Column(
            "Broke off",
            lambda p: Entry(text=wording.capital(p.collapses.sentence), sort_key=str(p.collapses.collapsed)),
        ),
    ]
    return table_of(
        result.placed,
        columns,
        key=f"standings{tail}",
        caption=_caption(
            "By roles met, then by the on-time share of the hardest-pressed role; runs that broke off come last. Rows "
            "are told apart where that holds for the whole table",
            tail,
        ),
    )


def _ranked_column(
    heading: str,
    cell: Callable[[Standing], Entry],
    *,
    missing: str = "not ranked",
    numeric: bool = False,
    sentence: bool = False,
) -> Column[Placed]:
    """A column of what only ranked devices have; *missing* stands in it for the others."""
    return Column(
        heading, lambda p: cell(p) if isinstance(p, Standing) else Entry(why_missing=missing), numeric, sentence
    )


def _figures(members: Sequence[MixResult], subject: Subject) -> list[str]:
    return [role.figure for mix in mixes_of(members, subject) for role in mix.roles]


def _hardest(standing: Standing, result: WorkloadResult) -> Entry:
    if not standing.hardest:
        return Entry(why_missing="no role has a target")
    if standing.share == 1:
        return Entry(text="every role in time", sort_key="1")
    return Entry(
        text=f"{result.part(standing.hardest).name}, {wording.percent(standing.share)}",
        note=f"{standing.on_time} of {standing.planned}",
        sort_key=repr(standing.share),
    )


def seats_table(here: str, result: WorkloadResult, tail: str) -> Table:
    """The machines of the first run in an arrangement, which all others are alike to, and the levels of all runs."""
    columns: list[Column[Seat]] = [
        Column("Machine", lambda s: link_entry(here, s.name, addresses.client(s.client))),
        Column("Spot", lambda s: text_entry(s.place.spot[1] if s.place.spot else None)),
        Column(
            "Loss, dB", lambda s: number_entry(s.place.loss_db, wording.decibels, missing="not known"), numeric=True
        ),
        Column("Level, dBm", lambda s: text_entry(_level_words(result, s), missing="not read"), numeric=True),
        Column("Band", lambda s: Entry(text=wording.band(s.band), note=s.settings_words)),
        Column("Width", lambda s: text_entry(wording.width(s.width_mhz) if s.width_mhz else None)),
        Column("Roles", lambda s: Entry(text=_role_words(result, s)), sentence=True),
    ]
    return table_of(
        result.arrangement.seats,
        columns,
        key=f"machines{tail}",
        caption=_caption(
            f"The machines, where they stood within {wording.trimmed(ANCHOR_DB, 1)} dB, and what they played", tail
        ),
    )


def _level_words(result: WorkloadResult, seat: Seat) -> str:
    levels = levels_at(result, seat)
    return wording.dbm_range(levels[0], levels[-1]) if levels else ""


def _role_words(result: WorkloadResult, seat: Seat) -> str:
    return wording.listing([role_name(part.role) for part in result.parts if part.seat == seat])


def other_table(
    results: Results,
    here: str,
    outcomes: Sequence[WorkloadResult],
    others: Sequence[WorkloadResult],
) -> Table:
    """Devices that ran a workload in an arrangement no other device shares; *others* are those of *outcomes*."""
    columns: list[Column[tuple[WorkloadResult, Placed]]] = [
        Column(
            "Device",
            lambda o: device_entry(results, here, o[1].subject.device, note=firmware_words(results, o[1].subject)),
        ),
        Column(
            "Hardest-pressed role, on time",
            lambda o: _hardest(o[1], o[0]) if isinstance(o[1], Standing) else Entry(text=o[1].sentence),
        ),
        Column("Broke off", lambda o: Entry(text=o[1].collapses.sentence)),
        Column(
            "Machines",
            lambda o: Entry(text="; ".join(machine_words(o[0], s) for s in o[0].arrangement.seats)),
            sentence=True,
        ),
        Column("Why it stands alone", lambda o: Entry(text=unlike_words(outcomes[0], o[0])), sentence=True),
    ]
    return table_of(
        [(result, placed) for result in others for placed in result.placed],
        columns,
        key="other-arrangements",
        caption="Other arrangements, one device each",
    )


def machine_words(result: WorkloadResult, seat: Seat) -> str:
    """ "Wrenlet U2 at 79.1 dB, S4, −61 dBm, 5 GHz, 80 MHz: film and call"."""
    levels = _level_words(result, seat)
    details = [
        *([seat.place.spot[1]] if seat.place.spot and seat.place.loss_db is not None else []),
        *([f"{levels} dBm"] if levels else []),
        wording.band(seat.band),
        *([wording.width(seat.width_mhz)] if seat.width_mhz else []),
        *([seat.settings_words] if seat.settings else []),
    ]
    return f"{seat.name} {seat.place.words}, {', '.join(details)}: {_role_words(result, seat)}"


def roles_table(results: Results, every: Sequence[PlayedRole], hrefs: Mapping[str, str], tail: str) -> Table:
    """The roles, the hardest-pressed first. hrefs: key of a part -> where its chart and its runs are."""
    columns: list[Column[PlayedRole]] = [
        Column("Role", lambda p: Entry(text=wording.capital(p.part.name), href=hrefs[p.part.key])),
        Column("What it does", lambda p: Entry(text=KIND_WORDS[p.role.kind]), sentence=True),
        Column("Played by", lambda p: Entry(text=p.client)),
        Column("Who suffers", lambda p: Entry(text=p.sentence(results)), sentence=True),
    ]
    return table_of(
        every,
        columns,
        key=f"by-role{tail}",
        caption=_caption(
            "Roles, the one that was pressed hardest first; each leads to its chart and to every run", tail
        ),
    )


def role_table(catalogue: Catalogue, results: Results, here: str, played: PlayedRole) -> Table:
    """Every run of one role, in the order of the devices."""
    disputes = disputed(catalogue)
    good: Column[tuple[str, RoleResult]] = Column("Good", lambda r: _good(r[1]), numeric=True)
    columns: list[Column[tuple[str, RoleResult]]] = [
        Column("Device and day", lambda r: Entry(text=device_name(results.bench, r[0]), note=_when(results, r[1]))),
        Column(
            "Verdict",
            lambda r: Entry(
                text=VERDICT_WORDS[r[1].verdict],
                note=r[1].sentence if r[1].planned is None else verdict_note(r[1]),
                marks=disputes.marks(here, r[0], figures=[r[1].figure]),
            ),
        ),
        Column("On time", lambda r: _on_time(r[1]), numeric=True),
        *([good] if played.role.good_ms is not None else []),
        Column("Never answered", lambda r: _unanswered(r[1]), numeric=True),
        *(_percentile_column(percent) for percent in PERCENTS),
        Column("Besides", lambda r: text_entry("; ".join(role_figures(r[1])), missing="none"), sentence=True),
    ]
    return table_of(
        [(subject.device, run) for subject, of_device in played.runs.items() for run in of_device],
        columns,
        key=f"table-{played.part.key}{played.tail}",
        caption=f"{wording.capital(played.part.name)}: within how many ms so many of the planned requests were answered. "
        "“failed”: so many never were; “thin”: fewer than five lie beyond it, so the next run may differ much.",
    )


def _when(results: Results, result: RoleResult) -> str:
    """The day of a run, and its firmware where another is current."""
    station = result.station
    if station is None:
        return ""
    mark = older_mark(results, station.device, station.firmware)
    return wording.date(station.date) + (f", {station.firmware} ({mark})" if mark else "")


def _on_time(result: RoleResult) -> Entry:
    share = result.on_time_share
    if result.noted is not None:
        noted = result.noted.on_time_share
        return Entry(why_missing="not noted") if noted is None else _as_noted(wording.percent(noted), noted)
    if share is None:
        return Entry(why_missing="no target" if result.planned else "not tested")
    return Entry(text=wording.percent(share), sort_key=repr(share))


def _good(result: RoleResult) -> Entry:
    share = result.good_on_time_share
    if share is None:
        return Entry(why_missing="no such mark" if result.planned else "not tested")
    return Entry(text=wording.percent(share), note=good_note(result), sort_key=repr(share))


def _as_noted(text: str, value: float) -> Entry:
    """A figure that its row states itself."""
    return Entry(text=text, note="as noted then", sort_key=repr(value))


def _unanswered(result: RoleResult) -> Entry:
    if not result.planned:
        return Entry(why_missing="no log")
    return Entry(text=f"{result.failed} of {result.planned}", sort_key=str(result.failed))


def _percentile_column(percent: int) -> Column[tuple[str, RoleResult]]:
    return Column(f"{percent} %", lambda r: _percentile(r[1], percent), numeric=True)


def _percentile(result: RoleResult, percent: int) -> Entry:
    percentile = next((p for p in result.percentiles if p.percent == percent), None)
    if result.noted is not None:
        ms = result.noted.percentiles.get(percent)
        return Entry(why_missing="not noted") if ms is None else _as_noted(wording.milliseconds(ms), ms)
    if percentile is None:
        return Entry(why_missing="not tested")
    key = "inf" if percentile.ms is None else repr(percentile.ms)
    return Entry(text=percentile_text(result, percent), sort_key=key)


def run_table(catalogue: Catalogue, results: Results, here: str, members: Sequence[MixResult], tail: str) -> Table:
    """Every run in this arrangement, also of older firmware, newest first."""
    several = len({m.mix.version for m in members}) > 1
    columns: list[Column[MixResult]] = [
        Column(
            "Device",
            lambda m: device_entry(results, here, m.mix.device, note=firmware_words(results, m.mix)),
        ),
        Column("Day", lambda m: date_entry(m.mix.date, note=f"version {m.mix.version}" if several else "")),
        Column("What happened", lambda m: Entry(text=m.sentence), sentence=True),
        Column(
            "Fairness of equal roles (1: even)",
            lambda m: _fairness(m, catalogue.workloads[m.mix.workload, m.mix.version]),
        ),
    ]
    return table_of(
        sorted(members, key=lambda m: (m.mix.date, m.mix.mix), reverse=True),
        columns,
        key=f"all-runs{tail}",
        caption=_caption("Runs, newest first", tail),
        row_key=lambda m: joined_id("run", m.mix.mix),
    )


def _fairness(result: MixResult, plan: Workload) -> Entry:
    names = {role.role_id: role_name(role) for role in plan.roles}
    texts = (
        f"{wording.listing([names[role] for role in f.roles])}: {'nobody got anything' if f.index is None else wording.ratio(f.index)}"
        for f in result.fairness
    )
    return text_entry("; ".join(texts), missing="no two roles alike")


def untested_table(results: Results, here: str, tested: Collection[str]) -> Table | None:
    """The devices that never did a workload, and how their other runs with several clients went; None where all did."""
    untested = [device for device in results.bench.devices if device not in tested]
    columns: list[Column[str]] = [
        Column("Device", lambda d: device_entry(results, here, d)),
        Column(
            "Its other runs with several clients",
            lambda d: Entry(text=wording.capital(count(results.mixes_of.get(d, ())).sentence)),
        ),
    ]
    table = table_of(
        sorted(untested, key=lambda d: (device_name(results.bench, d), d)),
        columns,
        key="not-tested-here",
        caption="Not tested in this workload",
    )
    return table if untested else None


def recipe_table(plan: Workload, tail: str) -> Table:
    """What each role does, and what is asked of it."""
    columns: list[Column[Role]] = [
        Column("Role", lambda role: Entry(text=wording.capital(role_name(role)), note=KIND_WORDS[role.kind])),
        Column("What it does", lambda role: text_entry(recipe_text(role)), sentence=True),
        Column("Target", lambda role: text_entry(target_text(role), missing="no target"), sentence=True),
        Column("Good", lambda role: text_entry(good_text(role), missing="no such mark"), sentence=True),
    ]
    return table_of(plan.roles, columns, key=f"roles{tail}", caption=f"Roles of {plan.title}, version {plan.version}")
