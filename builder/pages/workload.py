"""Pages of workloads: which device copes when several clients are busy at once, and which client suffers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Fact, Link, Section
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import count_entry, text_entry
from builder.pages.parts.mix_drawing import role_drawing, workload_drawing
from builder.pages.parts.played_roles import (
    PlayedRole,
    placed_in,
    played_roles,
    results_of,
    runs_with,
    shared_arrangements,
    subjects_of,
    tail_of,
    unlike_words,
)
from builder.pages.parts.provenance import provenance
from builder.pages.parts.role_words import KIND_WORDS, machines_words, role_name, unmet_words
from builder.pages.parts.sectioned import SectionedPage
from builder.pages.tables.workload_shares import shares_table
from builder.pages.tables.workload_tables import (
    order_table,
    other_table,
    recipe_table,
    role_table,
    roles_table,
    run_table,
    seats_table,
    untested_table,
)
from builder.under_load.mixes import MixResult
from builder.under_load.workloads import WorkloadResult
from catalog.figure_names import joined_id
from catalog.records import Workload

MOST_NAMED = 12
MOST_PICTURES = 3  # of arrangements on one page: a picture weighs 20 kB of 250
NOT_COMPARED = "One device each: another machine, another place or another link changes everybody's share of the air."
CANNOT_SAY = (
    "How it goes with other clients, other roles or more of them at once.",
    "How often a device gives up: a few runs are counts, never a rate.",
    "What single-client speed says of this, or this of single-client speed.",
)


def workload_page(
    catalogue: Catalogue, results: Results, site: SiteContext, workload_id: str, version: int
) -> SectionedPage:
    """The page of one version of a workload: the order of the devices, and the hardest-pressed role.

    Every other role has a page of its own, because a chart makes up most of the weight of a page.
    """
    here = addresses.workload(workload_id, version)
    plan = catalogue.workloads[workload_id, version]
    outcomes = results_of(results, plan)
    sections: list[Section] = []
    shared = shared_arrangements(outcomes)
    for place in range(len(shared)):
        sections += _result_sections(catalogue, results, site, here, plan, shared, place)
    if len(outcomes) > len(shared):
        others = other_table(results, here, plan, outcomes, outcomes[len(shared) :])
        sections.append(Section("others", "Who did it with machines elsewhere?", (NOT_COMPARED,), tables=(others,)))
    runs = [m for m in results.mix_results if (m.mix.workload, m.mix.version) == (workload_id, version)]
    untested = untested_table(results, here, {s.device for r in outcomes for s in subjects_of(r)})
    if untested is not None:
        sections.append(Section("untested", "Which devices did not do it?", tables=(untested,)))
    sections.append(_recipe_section(plan))
    return SectionedPage(
        address=here,
        title=f"{plan.title}, version {plan.version}",
        question=f"{plan.title}: who suffers when all are busy?",
        verdict=_verdict(results, outcomes) or "Nobody has done this workload yet.",
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
    """(workload, version, place of the arrangement, role) of every role with a separate page."""
    return [
        (workload_id, version, place, played.role.role_id)
        for (workload_id, version), plan in sorted(catalogue.workloads.items())
        for place, result in enumerate(shared_arrangements(results_of(results, plan)))
        for played in played_roles(results, plan, result, place)[0 if place else 1 :]
    ]


def role_page(
    catalogue: Catalogue, results: Results, site: SiteContext, workload_id: str, version: int, place: int, role_id: str
) -> SectionedPage:
    """The page of one role of a workload."""
    plan = catalogue.workloads[workload_id, version]
    result = results_of(results, plan)[place]
    every = played_roles(results, plan, result, place)
    played = next(p for p in every if p.role.role_id == role_id)
    here, name = played.address, role_name(played.role)
    section = _role_section(catalogue, results, site, here, result, played)
    home = addresses.link(here, addresses.workload(workload_id, version))
    return SectionedPage(
        address=here,
        title=f"{wording.capital(name)} in {plan.title}, version {version}",
        question=f"{plan.title}: how long does {name} wait?",
        verdict=section.sentences[0],
        sections=(
            replace(
                section, sentences=(), links=(Link("The whole workload", home, "every role, every run, the recipe"),)
            ),
        ),
        cannot_say=CANNOT_SAY,
        provenance=(
            *provenance(catalogue, results, site, here),
            *_batches(catalogue, here, runs_with(results, result)),
        ),
    )


def workloads_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SectionedPage:
    """Every version of every workload, with the devices that did not cope."""
    here = addresses.WORKLOADS
    plans = [plan for _, plan in sorted(catalogue.workloads.items())]
    columns: list[Column[Workload]] = [
        Column(
            "Workload",
            lambda plan: Entry(
                text=plan.title,
                href=addresses.link(here, addresses.workload(plan.workload_id, plan.version)),
                note=f"version {plan.version}",
            ),
        ),
        Column("Roles", lambda p: Entry(text=wording.listing([KIND_WORDS[r.kind] for r in p.roles])), sentence=True),
        Column(
            "Devices",
            lambda p: count_entry(len({s.device for r in results_of(results, p) for s in subjects_of(r)})),
            numeric=True,
        ),
        Column(
            "Who suffers",
            lambda p: text_entry(_verdict(results, results_of(results, p)), missing="nobody yet"),
            sentence=True,
        ),
    ]
    table = table_of(plans, columns, key="workloads", caption="Workloads")
    roles = tuple(link for plan in plans for link in _role_links(results, here, plan))
    return SectionedPage(
        address=here,
        title="Workloads",
        question="Who suffers when all are busy?",
        verdict=wording.capital(
            wording.count(len(plans), "kind of busy hour", "kinds of busy hour")
            + ", each with several clients at once and a target for every one of them."
        ),
        sections=(
            Section("all", "Which kind of busy hour is most like yours?", tables=(table,) if plans else ()),
            *([Section("roles", "How long does each role wait?", links=roles)] if roles else []),
        ),
        provenance=provenance(catalogue, results, site, here),
    )


def _role_links(results: Results, here: str, plan: Workload) -> list[Link]:
    """A link to each role of one version, as played in its first arrangement."""
    outcomes = results_of(results, plan)
    every = played_roles(results, plan, outcomes[0], 0) if outcomes else []
    home = addresses.workload(plan.workload_id, plan.version)
    return [
        Link(
            wording.capital(role_name(played.role)),
            addresses.link(here, played.address) if number else addresses.link(here, home, played.key),
            f"{KIND_WORDS[played.role.kind]}, in {plan.title}, version {plan.version}",
        )
        for number, played in enumerate(every)
    ]


def _verdict(results: Results, outcomes: Sequence[WorkloadResult]) -> str:
    """How many machines at once, on how many devices every role was met, and which did not cope with what."""
    if not outcomes:
        return ""
    standings = [standing for result in outcomes for standing in result.standings]
    devices = {s.subject.device for s in standings}
    failing = {s.subject.device for s in standings if s.unmet or s.collapses.collapsed}
    machines = wording.listing([machines_words(seats) for seats in _seats(outcomes)], "or")
    text = f"With {machines}, every role was met in these runs on {_so_many(len(devices - failing), len(devices))}"
    if not devices:
        text = f"With {machines}: no run counts yet"
    without = {one.subject.device for result in outcomes for one in result.not_ranked} - devices
    if without:
        text += f"; {wording.count(len(without), 'device')} without a whole run"
    late = [
        f"{device_name(results.bench, s.subject.device)} ({'; '.join(unmet_words(r) for r in s.unmet)})"
        for s in standings
        if s.unmet
    ]
    collapsed = [
        f"{device_name(results.bench, placed.subject.device)} ({placed.collapses.sentence})"
        for result in outcomes
        for placed in placed_in(result)
        if placed.collapses.collapsed
    ]
    sentences = [f"{text}."]
    sentences += [f"Not met: {wording.listing_of_many(late, MOST_NAMED)}."] if late else []
    sentences += [f"Gave up: {wording.listing_of_many(collapsed, MOST_NAMED)}."] if collapsed else []
    return " ".join(sentences)


def _seats(outcomes: Sequence[WorkloadResult]) -> list[tuple[int, ...]]:
    return list(dict.fromkeys(seats for result in outcomes for seats in result.seats))


def _so_many(coped: int, total: int) -> str:
    if coped == total:
        return "the only device" if total == 1 else f"all {total} devices"
    return f"{coped or 'none'} of {wording.count(total, 'device')}"


def _result_sections(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    plan: Workload,
    outcomes: Sequence[WorkloadResult],
    place: int,
) -> list[Section]:
    """One arrangement: the order, the roles, every run; for the first also its hardest-pressed role."""
    result, tail = outcomes[place], tail_of(place)
    every, runs = played_roles(results, plan, result, place), runs_with(results, result)
    which = f", in arrangement {place + 1} of {len(outcomes)}" if len(outcomes) > 1 else ""
    sentences = tuple(filter(None, (unlike_words(outcomes[0], result) if place else "", result.note)))
    order = order_table(catalogue, results, here, result, runs, tail)
    hardest = every[:1] if place == 0 else []
    hrefs = {p.role.role_id: f"#{p.key}" if p in hardest else addresses.link(here, p.address) for p in every}
    return [
        Section(
            f"order{tail}",
            f"Who holds best{which}?",
            sentences,
            workload_drawing(
                catalogue,
                results,
                site,
                here,
                result,
                key=joined_id("shares", plan.workload_id, str(plan.version)) + tail,
                own_table=True,
            )
            if place < MOST_PICTURES
            else None,
            (
                order,
                shares_table(results, here, plan, result, tail),
                seats_table(results, here, plan, result, tail),
            ),
        ),
        *(_role_section(catalogue, results, site, here, result, played) for played in hardest),
        Section(
            f"who-suffers{tail}", f"Which role suffers{which}?", tables=(roles_table(results, every, hrefs, tail),)
        ),
        Section(f"runs{tail}", f"Every run, and how it ended{which}", tables=(run_table(results, here, runs, tail),)),
    ]


def _role_section(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    result: WorkloadResult,
    played: PlayedRole,
) -> Section:
    """The chart of one role and every run of it."""
    role, sentence = played.role, played.sentence(results)
    drawing = role_drawing(
        catalogue,
        results,
        site,
        here,
        result,
        role.role_id,
        key=joined_id("waiting", *here.split("/")[1:2], role.role_id) + played.tail,
        spoken=sentence,
        own_table=True,
    )
    return Section(
        played.key,
        f"{wording.capital(role_name(role))}: {KIND_WORDS[role.kind]}, with {played.client}",
        (sentence,),
        drawing,
        (role_table(catalogue, results, here, role, played.runs, played.tail),),
    )


def _recipe_section(plan: Workload) -> Section:
    return Section(
        "recipe",
        "What exactly is asked for?",
        (
            f"Targets are those of version {plan.version}; other targets are another version, and its runs stay apart. "
            f"Planned for {_minutes(plan)}, all roles at once.",
        ),
        tables=(recipe_table(plan),),
    )


def _minutes(plan: Workload) -> str:
    if plan.duration_s == 60:
        return wording.count(1, "minute")
    return f"{wording.trimmed(plan.duration_s / 60, 1)} minutes"


def _batches(catalogue: Catalogue, here: str, runs: Sequence[MixResult]) -> tuple[Fact, ...]:
    ids = {r.station.batch_id for m in runs for r in m.roles if r.station is not None}
    titles = [b.title for batch_id, b in catalogue.batches.items() if batch_id in ids]
    if not titles:
        return ()
    return (
        Fact("Batches", wording.listing_of_many(titles, MOST_NAMED), addresses.link(here, addresses.DATA, "batches")),
    )
