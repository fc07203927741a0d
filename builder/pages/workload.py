"""The page of a workload: who suffers when all are busy? One version of it, over every device that did it."""

from __future__ import annotations

from collections.abc import Sequence

from builder import addresses, wording
from builder.comparisons.bench import Subject
from builder.comparisons.cells import joined_id
from builder.comparisons.mixes import MixResult, mixes_of
from builder.comparisons.naming import device_name, series_name
from builder.comparisons.roles import RoleResult
from builder.comparisons.workloads import WorkloadResult, client_map
from builder.pages.blocks import Column, Drawing, Entry, Fact, Row, Section, Table
from builder.pages.entries import text_entry
from builder.pages.material import Material
from builder.pages.provenance import provenance
from builder.pages.role_drawing import role_drawing, worst_run
from builder.pages.role_words import KIND_WORDS, recipe_table
from builder.pages.sectioned import SectionedPage
from builder.pages.workload_tables import order_table, role_table, run_table
from catalog.records import Role, Workload

MOST_LINES = 6


def workload_page(material: Material, workload_id: str, version: int) -> SectionedPage:
    """The page of one version of a workload."""
    here = addresses.workload(workload_id, version)
    plan = material.workloads[workload_id, version]
    results = [r for r in material.workload_results if (r.workload, r.version) == (workload_id, version)]
    sections: list[Section] = []
    for number, result in enumerate(results, start=1):
        sections += _result_sections(material, here, plan, result, number if len(results) > 1 else 0)
    runs = [m for m in material.mix_results if (m.mix.workload, m.mix.version) == (workload_id, version)]
    sections.append(_recipe_section(material, plan, results))
    return SectionedPage(
        address=here,
        title=f"{plan.title}, version {version}",
        question=f"{plan.title}: who suffers when all are busy?",
        verdict=" ".join(_verdict(r) for r in results) or "Nobody has done this workload yet.",
        intro=(
            f"Version {version} of the workload: {wording.count(len(plan.roles), 'client')} at once for "
            f"{_minutes(plan)}, each with one role. A role is met where enough of its planned "
            "requests were answered in time; requests that failed or were never made count as late.",
        ),
        sections=tuple(sections),
        cannot_say=(
            "How it goes with other clients, other roles or more of them at once.",
            "How often a device gives up: a few runs are counts, never a rate.",
            "What single-client speed says of this, or this of single-client speed.",
        ),
        provenance=(*provenance(material, here), *_batches(material, here, runs)),
    )


def workloads_page(material: Material) -> SectionedPage:
    """Every version of every workload, with who came last in it."""
    here = addresses.WORKLOADS
    rows = []
    for (workload_id, version), plan in sorted(material.workloads.items()):
        found = [r for r in material.workload_results if (r.workload, r.version) == (workload_id, version)]
        devices = {s.who.device for r in found for s in r.standings} | {
            w.device for r in found for w, _ in r.not_ranked
        }
        href = addresses.link(here, addresses.workload(workload_id, version))
        rows.append(
            Row(
                Entry(text=plan.title, href=href, note=f"version {version}"),
                (
                    Entry(text=wording.listing([KIND_WORDS[r.kind] for r in plan.roles])),
                    Entry(text=str(len(devices)), sort_key=str(len(devices))),
                    text_entry(" ".join(_verdict(r) for r in found), missing="nobody yet"),
                ),
            )
        )
    columns = (
        Column("Workload"), Column("Roles", sentence=True), Column("Devices", numeric=True), Column("Who suffers", sentence=True),
    )  # fmt: skip
    tables = (Table(key="workloads", caption="Workloads", columns=columns, rows=tuple(rows)),) if rows else ()
    return SectionedPage(
        address=here,
        title="Workloads",
        question="Who suffers when all are busy?",
        verdict=wording.capital(
            wording.count(len(rows), "kind of busy hour", "kinds of busy hour")
            + ", each with several clients at once and a target for every one of them."
        ),
        sections=(Section("all", "Which kind of busy hour is most like yours?", tables=tables),),
        provenance=provenance(material, here),
    )


def _verdict(result: WorkloadResult) -> str:
    """How many met everything, who met least, and who gave up."""
    total = len(result.standings)
    if not total:
        return "No run of it counts yet."
    whole = [s for s in result.standings if len(s.met) == s.roles and not s.collapses.collapsed]
    text = (
        f"Every role was met on {'all' if len(whole) == total else len(whole)} of {wording.count(total, 'device')}"
        if len(whole) != total or total == 1
        else f"Every role was met on all {total} devices"
    )
    last = result.standings[-1]
    if last not in whole and last.hardest:
        text += (
            f"; hardest pressed was {last.hardest} on {last.who.maker} {last.who.model}, "
            f"{wording.percent(last.share)} on time"
        )
    fell = [s for s in result.standings if s.collapses.collapsed]
    if fell:
        names = [f"{s.who.maker} {s.who.model} ({s.collapses.sentence})" for s in fell]
        text += f"; gave up: {wording.listing(names)}"
    return f"{text}."


def _result_sections(
    material: Material, here: str, plan: Workload, result: WorkloadResult, number: int
) -> list[Section]:
    """One set of clients: the order, then role by role, then every run."""
    tail = f"-{number}" if number else ""
    members = [
        m for m in material.mix_results
        if (m.mix.workload, m.mix.version) == (result.workload, result.version) and client_map(m) == result.clients
    ]  # fmt: skip
    order = [s.who for s in result.standings] + [who for who, _ in result.not_ranked]
    played = dict(result.clients)
    names = [f"{_client(material, series)} as {role}" for role, series in result.clients]
    sentences = (f"Clients: {wording.listing(names)}.", result.note)
    sections = [
        Section(f"order{tail}", "Who holds best?", sentences, tables=(order_table(material, here, result, members, tail),))
    ]
    runs_of = {role: {who: _runs_of(members, who, role.role_id) for who in order} for role in plan.roles}
    # The same six on every chart of the page, so that each keeps its hue: those that are last in the order.
    logged = [who for who in order if any(worst_run(runs[who]) for runs in runs_of.values())]
    places = {who: place for place, who in enumerate(logged[-MOST_LINES:], start=1)}
    for role, runs in sorted(runs_of.items(), key=lambda item: _least_share(item[1])):
        sections.append(
            _role_section(material, here, role, runs, places, _client(material, played.get(role.role_id, "")), tail)
        )
    sections.append(
        Section(f"runs{tail}", "Every run, and how it ended", tables=(run_table(material, here, members, tail),))
    )
    return sections


def _minutes(plan: Workload) -> str:
    return (
        wording.count(1, "minute") if plan.duration_s == 60 else f"{wording.trimmed(plan.duration_s / 60, 1)} minutes"
    )


def _least_share(runs: dict[Subject, list[RoleResult]]) -> float:
    """The lowest on-time share of a role: the roles that suffered most come first."""
    return min((r.on_time_share for own in runs.values() for r in own if r.on_time_share is not None), default=2.0)


def _client(material: Material, series: str) -> str:
    return series_name(material.bench, series) if series else "nobody"


def _runs_of(members: Sequence[MixResult], who: Subject, role_id: str) -> list[RoleResult]:
    return [r for m in mixes_of(members, who) for r in m.roles if r.role.role_id == role_id]


def _role_section(
    material: Material,
    here: str,
    role: Role,
    runs: dict[Subject, list[RoleResult]],
    places: dict[Subject, int],
    client: str,
    tail: str,
) -> Section:
    worst = {who: found for who, own in runs.items() if (found := worst_run(own)) is not None}
    least = min(worst.values(), key=lambda r: r.on_time_share or 0.0, default=None)
    sentence = "No log of this role holds requests."
    drawing: Drawing | None = None
    if least is not None and least.station is not None:
        name = device_name(material.bench, least.station.device)
        late = sum(1 for r in worst.values() if r.verdict in ("not-met", "did-not-finish"))
        sentence = (
            f"Met in every run by {wording.count(len(worst), 'device')}."
            if not late and all(x.verdict == "met" for own in runs.values() for x in own if x.planned)
            else f"It suffered most on {name}. {least.sentence}"
        )
        drawing = role_drawing(
            material, here, role, {w.device: (places[w], worst[w]) for w in places if w in worst},
            key=joined_id("waiting", *here.split("/")[1:2], role.role_id) + tail,
            title=f"{wording.capital(role.role_id)} ({KIND_WORDS[role.kind]}): how many still wait?",
            client=client, of_devices=len(runs), spoken=sentence,
        )  # fmt: skip
    return Section(
        f"role-{joined_id(role.role_id)}{tail}",
        f"{wording.capital(role.role_id)}: {KIND_WORDS[role.kind]}, with {client}",
        (sentence,),
        drawing,
        (role_table(material, here, role, runs, tail),),
    )


def _recipe_section(material: Material, plan: Workload, results: Sequence[WorkloadResult]) -> Section:
    return Section(
        "recipe",
        "What exactly is asked for?",
        (
            f"Targets are those of version {plan.version}; other targets are another version, and its runs stay apart. "
            f"Planned for {_minutes(plan)}, all roles at once.",
        ),
        tables=(recipe_table(plan),),
    )


def _batches(material: Material, here: str, runs: Sequence[MixResult]) -> tuple[Fact, ...]:
    found = {r.station.batch_id for m in runs for r in m.roles if r.station is not None}
    titles = [b.title for batch_id, b in material.batches.items() if batch_id in found]
    return (Fact("Batches", "; ".join(titles), addresses.link(here, addresses.DATA, "batches")),) if titles else ()
