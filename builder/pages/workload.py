"""The page of a workload: who suffers when all are busy? One version of it, over every device that did it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from builder import addresses, wording
from builder.bench.bench import Subject
from builder.bench.naming import device_name, series_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing, Entry, Fact, Heading, Link, Row, Section, Table
from builder.pages.parts.entries import text_entry
from builder.pages.parts.provenance import provenance
from builder.pages.parts.role_drawing import role_drawing, worst_run
from builder.pages.parts.role_words import KIND_WORDS, machines_words, recipe_table, role_name, unmet_words
from builder.pages.parts.sectioned import SectionedPage
from builder.pages.tables.workload_tables import order_table, role_table, run_table, untested_table
from builder.under_load.mixes import MixResult, mixes_of
from builder.under_load.roles import RoleResult
from builder.under_load.workloads import WorkloadResult, client_map
from catalog.figure_names import joined_id
from catalog.records import Role, Workload

MOST_LINES = 6
MOST_NAMED = 12
CANNOT_SAY = (
    "How it goes with other clients, other roles or more of them at once.",
    "How often a device gives up: a few runs are counts, never a rate.",
    "What single-client speed says of this, or this of single-client speed.",
)


@dataclass(frozen=True, slots=True)
class _Played:
    """One role as one set of clients played it, over every device that did the workload with them.

    runs    device -> its runs, in the order of the devices
    client  who played it, in words
    tail    what tells its fragments from those of another set of clients
    """

    role: Role
    runs: Mapping[Subject, list[RoleResult]]
    client: str
    address: str
    tail: str

    @property
    def key(self) -> str:
        """Its fragment."""
        return f"role-{joined_id(self.role.role_id)}{self.tail}"


def workload_page(
    catalogue: Catalogue, results: Results, site: SiteContext, workload_id: str, version: int
) -> SectionedPage:
    """The page of one version of a workload: the order of the devices, and the role that was pressed hardest.

    Every other role has a page of its own, because a chart is most of what a page weighs.
    """
    here = addresses.workload(workload_id, version)
    plan = catalogue.workloads[workload_id, version]
    outcomes = _results(results, workload_id, version)
    sections: list[Section] = []
    for place, result in enumerate(outcomes):
        sections += _result_sections(catalogue, results, site, here, plan, result, place, len(outcomes))
    runs = [m for m in results.mix_results if (m.mix.workload, m.mix.version) == (workload_id, version)]
    untested = untested_table(results, here, {s.device for r in outcomes for s in _order(r)})
    if untested is not None:
        sections.append(Section("untested", "Which devices did not do it?", tables=(untested,)))
    sections.append(_recipe_section(plan, outcomes))
    return SectionedPage(
        address=here,
        title=f"{plan.title}, version {version}",
        question=f"{plan.title}: who suffers when all are busy?",
        verdict=" ".join(_verdict(results, r) for r in outcomes) or "Nobody has done this workload yet.",
        intro=(
            f"Version {version} of the workload: {wording.count(len(plan.roles), 'role')}, {_minutes(plan)}. A role is "
            "met in a run where enough of its planned requests were answered in time; requests that failed or were never "
            "made count as late.",
            "A run is one run. Where its requests are enough to say that another one like it would most likely end on the "
            "same side of the mark, the verdict is called shown.",
        ),
        sections=tuple(sections),
        cannot_say=CANNOT_SAY,
        provenance=(*provenance(catalogue, results, site, here), *_batches(catalogue, here, runs)),
    )


def role_keys(catalogue: Catalogue, results: Results) -> list[tuple[str, int, int, str]]:
    """(workload, version, place of the set of clients, role) of every role with a page of its own."""
    return [
        (workload_id, version, place, played.role.role_id)
        for (workload_id, version), plan in sorted(catalogue.workloads.items())
        for place, result in enumerate(_results(results, workload_id, version))
        for played in _roles(results, plan, result, place)[0 if place else 1 :]
    ]


def role_page(
    catalogue: Catalogue, results: Results, site: SiteContext, workload_id: str, version: int, place: int, role_id: str
) -> SectionedPage:
    """The page of one role of a workload."""
    plan = catalogue.workloads[workload_id, version]
    result = _results(results, workload_id, version)[place]
    played = next(p for p in _roles(results, plan, result, place) if p.role.role_id == role_id)
    section = _role_section(catalogue, results, site, played.address, played, _places(results, plan, result, place))
    home = addresses.link(played.address, addresses.workload(workload_id, version))
    members = _members(results, result)
    return SectionedPage(
        address=played.address,
        title=f"{wording.capital(role_name(played.role))} in {plan.title}, version {version}",
        question=f"{plan.title}: how long does {role_name(played.role)} wait?",
        verdict=section.sentences[0],
        sections=(
            replace(
                section, sentences=(), links=(Link("The whole workload", home, "every role, every run, the recipe"),)
            ),
        ),
        cannot_say=CANNOT_SAY,
        provenance=(
            *provenance(catalogue, results, site, played.address),
            *_batches(catalogue, played.address, members),
        ),
    )


def workloads_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SectionedPage:
    """Every version of every workload, with who came last in it."""
    here = addresses.WORKLOADS
    rows = []
    roles: list[Link] = []
    for (workload_id, version), plan in sorted(catalogue.workloads.items()):
        found = [r for r in results.workload_results if (r.workload, r.version) == (workload_id, version)]
        devices = {s.who.device for r in found for s in r.standings} | {
            one.who.device for r in found for one in r.not_ranked
        }
        href = addresses.link(here, addresses.workload(workload_id, version))
        roles += _role_links(catalogue, results, here, workload_id, version)
        rows.append(
            Row(
                Entry(text=plan.title, href=href, note=f"version {version}"),
                (
                    Entry(text=wording.listing([KIND_WORDS[r.kind] for r in plan.roles])),
                    Entry(text=str(len(devices)), sort_key=str(len(devices))),
                    text_entry(" ".join(_verdict(results, r) for r in found), missing="nobody yet"),
                ),
            )
        )
    columns = (
        Heading("Workload"),
        Heading("Roles", sentence=True),
        Heading("Devices", numeric=True),
        Heading("Who suffers", sentence=True),
    )
    tables = (Table(key="workloads", caption="Workloads", columns=columns, rows=tuple(rows)),) if rows else ()
    return SectionedPage(
        address=here,
        title="Workloads",
        question="Who suffers when all are busy?",
        verdict=wording.capital(
            wording.count(len(rows), "kind of busy hour", "kinds of busy hour")
            + ", each with several clients at once and a target for every one of them."
        ),
        sections=(
            Section("all", "Which kind of busy hour is most like yours?", tables=tables),
            *([Section("roles", "How long does each role wait?", links=tuple(roles))] if roles else []),
        ),
        provenance=provenance(catalogue, results, site, here),
    )


def _role_links(catalogue: Catalogue, results: Results, here: str, workload_id: str, version: int) -> list[Link]:
    """The way to each role of one version, as its first set of clients played it."""
    plan = catalogue.workloads[workload_id, version]
    outcomes = _results(results, workload_id, version)
    every = _roles(results, plan, outcomes[0], 0) if outcomes else []
    home = addresses.workload(workload_id, version)
    return [
        Link(
            wording.capital(role_name(played.role)),
            addresses.link(here, played.address) if number else addresses.link(here, home, played.key),
            f"{KIND_WORDS[played.role.kind]}, in {plan.title}, version {version}",
        )
        for number, played in enumerate(every)
    ]


def _verdict(results: Results, result: WorkloadResult) -> str:
    """How many machines at once, on how many devices every role was met, and who did not cope with what."""
    machines = wording.listing([machines_words(seats) for seats in result.seats], "or")
    total = len(result.standings)
    coped = sum(not s.unmet and not s.collapses.collapsed for s in result.standings)
    text = f"With {machines}, every role was met in these runs on {_so_many(coped, total)}"
    if not total:
        text = f"With {machines}: no run counts yet"
    if result.not_ranked:
        text += f"; {wording.count(len(result.not_ranked), 'device')} without a whole run"
    late = [
        f"{device_name(results.bench, s.who.device)} ({'; '.join(unmet_words(r) for r in s.unmet)})"
        for s in result.standings
        if s.unmet
    ]
    fell = [
        f"{device_name(results.bench, who.device)} ({collapses.sentence})"
        for who, collapses in [
            *((s.who, s.collapses) for s in result.standings),
            *((one.who, one.collapses) for one in result.not_ranked),
        ]
        if collapses.collapsed
    ]
    found = [f"{text}."]
    found += [f"Not met: {wording.listing_of_many(late, MOST_NAMED)}."] if late else []
    found += [f"Gave up: {wording.listing_of_many(fell, MOST_NAMED)}."] if fell else []
    return " ".join(found)


def _so_many(coped: int, total: int) -> str:
    if coped == total:
        return "the only device" if total == 1 else f"all {total} devices"
    return f"{coped or 'none'} of {wording.count(total, 'device')}"


def _results(results: Results, workload_id: str, version: int) -> list[WorkloadResult]:
    return [r for r in results.workload_results if (r.workload, r.version) == (workload_id, version)]


def _members(results: Results, result: WorkloadResult) -> list[MixResult]:
    """The runs with one set of clients."""
    return [
        m
        for m in results.mix_results
        if (m.mix.workload, m.mix.version) == (result.workload, result.version) and client_map(m) == result.clients
    ]


def _order(result: WorkloadResult) -> list[Subject]:
    return [s.who for s in result.standings] + [one.who for one in result.not_ranked]


def _roles(results: Results, plan: Workload, result: WorkloadResult, place: int) -> list[_Played]:
    """Every role, the one that was pressed hardest first."""
    members, clients = _members(results, result), dict(result.clients)
    found = [
        _Played(
            role=role,
            runs={who: _runs_of(members, who, role.role_id) for who in _order(result)},
            client=_client(results, clients.get(role.role_id, "")),
            address=addresses.role(plan.workload_id, plan.version, role.role_id, place),
            tail=f"-{place + 1}" if place else "",
        )
        for role in plan.roles
    ]
    return sorted(found, key=lambda played: _least_share(played.runs))


def _places(results: Results, plan: Workload, result: WorkloadResult, place: int) -> dict[Subject, int]:
    """The same six devices on every chart, those last in the order, so that each keeps its hue."""
    every = _roles(results, plan, result, place)
    logged = [who for who in _order(result) if any(worst_run(played.runs[who]) for played in every)]
    return {who: number for number, who in enumerate(logged[-MOST_LINES:], start=1)}


def _result_sections(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    plan: Workload,
    result: WorkloadResult,
    place: int,
    outcomes: int,
) -> list[Section]:
    """One set of clients: the order, the roles, every run; and of the first set the role pressed hardest, too."""
    tail = f"-{place + 1}" if place else ""
    every, members = _roles(results, plan, result, place), _members(results, result)
    named = {role.role_id: role_name(role) for role in plan.roles}
    names = [f"{_client(results, series)} as {named[role]}" for role, series in result.clients]
    sentences = (f"Clients: {wording.listing(names)}.", result.note)
    heading = "Who holds best?" if outcomes == 1 else f"Who holds best, with clients {place + 1} of {outcomes}?"
    order = order_table(catalogue, results, here, result, members, tail)
    sections = [Section(f"order{tail}", heading, sentences, tables=(order,))]
    hardest = every[:1] if place == 0 else []
    sections += [
        _role_section(catalogue, results, site, here, p, _places(results, plan, result, place)) for p in hardest
    ]
    hrefs = {p.role.role_id: f"#{p.key}" if p in hardest else addresses.link(here, p.address) for p in every}
    sections += [
        Section(f"who-suffers{tail}", "Which role suffers?", tables=(_roles_table(results, every, hrefs, tail),)),
        Section(f"runs{tail}", "Every run, and how it ended", tables=(run_table(results, here, members, tail),)),
    ]
    return sections


def _roles_table(results: Results, every: Sequence[_Played], hrefs: Mapping[str, str], tail: str) -> Table:
    return Table(
        key=f"by-role{tail}",
        caption="Roles, the one that was pressed hardest first; each leads to its chart and to every run",
        columns=(
            Heading("Role"),
            Heading("What it does", sentence=True),
            Heading("Played by"),
            Heading("Who suffers", sentence=True),
        ),
        rows=tuple(
            Row(
                Entry(text=wording.capital(role_name(played.role)), href=hrefs[played.role.role_id]),
                (
                    Entry(text=KIND_WORDS[played.role.kind]),
                    Entry(text=played.client),
                    Entry(text=_role_sentence(results, played)),
                ),
            )
            for played in every
        ),
    )


def _minutes(plan: Workload) -> str:
    return (
        wording.count(1, "minute") if plan.duration_s == 60 else f"{wording.trimmed(plan.duration_s / 60, 1)} minutes"
    )


def _least_share(runs: Mapping[Subject, list[RoleResult]]) -> float:
    """The lowest on-time share of a role: the roles that suffered most come first."""
    return min((r.on_time_share for own in runs.values() for r in own if r.on_time_share is not None), default=2.0)


def _client(results: Results, series: str) -> str:
    return series_name(results.bench, series) if series else "nobody"


def _runs_of(members: Sequence[MixResult], who: Subject, role_id: str) -> list[RoleResult]:
    return [r for m in mixes_of(members, who) for r in m.roles if r.role.role_id == role_id]


def _worst(played: _Played) -> dict[Subject, RoleResult]:
    return {who: found for who, own in played.runs.items() if (found := worst_run(own)) is not None}


def _role_sentence(results: Results, played: _Played) -> str:
    """Who suffered most in a role, or that nobody did."""
    worst = _worst(played)
    least = min(worst.values(), key=lambda r: r.on_time_share or 0.0, default=None)
    if least is None or least.station is None:
        return "No log of this role holds requests."
    if all(run.verdict == "met" for own in played.runs.values() for run in own if run.planned):
        return f"Met in every run by {wording.count(len(worst), 'device')}."
    return f"It suffered most on {device_name(results.bench, least.station.device)}. {least.sentence}"


def _role_section(
    catalogue: Catalogue, results: Results, site: SiteContext, here: str, played: _Played, places: Mapping[Subject, int]
) -> Section:
    role, worst = played.role, _worst(played)
    sentence = _role_sentence(results, played)
    drawing: Drawing | None = None
    if worst:
        drawing = role_drawing(
            catalogue,
            results,
            site,
            here,
            role,
            {w.device: (places[w], worst[w]) for w in places if w in worst},
            key=joined_id("waiting", *here.split("/")[1:2], role.role_id) + played.tail,
            title=f"{wording.capital(role_name(role))} ({KIND_WORDS[role.kind]}): how many still wait?",
            client=played.client,
            of_devices=len(played.runs),
            spoken=sentence,
        )
    return Section(
        played.key,
        f"{wording.capital(role_name(role))}: {KIND_WORDS[role.kind]}, with {played.client}",
        (sentence,),
        drawing,
        (role_table(catalogue, results, here, role, played.runs, played.tail),),
    )


def _recipe_section(plan: Workload, outcomes: Sequence[WorkloadResult]) -> Section:
    return Section(
        "recipe",
        "What exactly is asked for?",
        (
            f"Targets are those of version {plan.version}; other targets are another version, and its runs stay apart. "
            f"Planned for {_minutes(plan)}, all roles at once.",
        ),
        tables=(recipe_table(plan),),
    )


def _batches(catalogue: Catalogue, here: str, runs: Sequence[MixResult]) -> tuple[Fact, ...]:
    found = {r.station.batch_id for m in runs for r in m.roles if r.station is not None}
    titles = [b.title for batch_id, b in catalogue.batches.items() if batch_id in found]
    return (
        (Fact("Batches", wording.listing_of_many(titles, MOST_NAMED), addresses.link(here, addresses.DATA, "batches")),)
        if titles
        else ()
    )
