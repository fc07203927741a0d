"""Pages of workloads: which device copes when several clients are busy at once, and which client suffers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from builder import addresses, wording
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Fact, Link, Section
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.coping import coping_alone, coping_overall, coping_sentences, coping_verdict
from builder.pages.parts.entries import count_entry, text_entry
from builder.pages.parts.mix_drawing import role_drawing, workload_drawing
from builder.pages.parts.newest import days_of
from builder.pages.parts.played_roles import (
    PlayedRole,
    played_roles,
    results_of,
    runs_with,
    section_of,
    tail_of,
    unlike_words,
    versions_of,
)
from builder.pages.parts.provenance import provenance
from builder.pages.parts.role_words import KIND_WORDS
from builder.pages.parts.sectioned import SectionedPage
from builder.pages.tables.suffered_roles import suffered_table
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
from builder.under_load.workloads import WorkloadResult, shared_arrangements
from catalog.figure_names import joined_id
from catalog.records import Workload

MOST_NAMED = 12
MOST_PICTURES = 3  # of arrangements on one page: a picture weighs 20 kB of 250
NOT_COMPARED = "One device each: another machine, another place or another link changes everybody's share of the air."
CANNOT_SAY = (
    "How it goes with other clients, other roles or more of them at once.",
    "How often a device breaks off: a few runs are counts, never a rate.",
    "What single-client speed says of this, or this of single-client speed.",
)


def workload_page(catalogue: Catalogue, results: Results, site: SiteContext, workload_id: str) -> SectionedPage:
    """The page of a workload: for each arrangement the order of the devices, and the hardest-pressed role of the first.

    Every other role has a page of its own, because a chart makes up most of the weight of a page.
    """
    here = addresses.workload(workload_id)
    versions, outcomes = versions_of(catalogue, workload_id), results_of(results, workload_id)
    title = versions[0].title
    sections: list[Section] = []
    shared = shared_arrangements(outcomes)
    for place in range(len(shared)):
        sections += _result_sections(catalogue, results, site, here, shared, place)
    alone = [result for result in outcomes if result not in shared]
    if alone:
        others = other_table(results, here, outcomes, alone)
        sections.append(
            Section(
                "others",
                "Who did it with machines elsewhere?",
                (coping_alone(results, alone), NOT_COMPARED),
                tables=(others,),
            )
        )
    runs = [m for m in results.mix_results if m.mix.workload == workload_id]
    untested = untested_table(results, here, {s.device for r in outcomes for s in r.subjects})
    if untested is not None:
        sections.append(Section("untested", "Which devices did not do it?", tables=(untested,)))
    sections.append(_recipe_section(versions))
    return SectionedPage(
        address=here,
        title=title,
        question="Which devices cope with several people at once?",
        verdict=coping_verdict(results, outcomes) if outcomes else "Nobody has done this workload yet.",
        intro=(
            f"{_versions_words(versions)}. A role is met in a run where enough of its planned requests were answered in "
            "time; requests that failed or were never made count as late.",
            "A verdict is shown where its requests are enough: another run like it would most likely end on the same side "
            "of the mark.",
        ),
        sections=tuple(sections),
        cannot_say=CANNOT_SAY,
        provenance=(*provenance(catalogue, results, site, here, days=_days(runs)), *_batches(catalogue, here, runs)),
    )


def role_page(
    catalogue: Catalogue, results: Results, site: SiteContext, workload_id: str, role_id: str, number: int, place: int
) -> SectionedPage:
    """The page of one role of a workload. number: which of several machines with that role; place: of the arrangement."""
    title = versions_of(catalogue, workload_id)[0].title
    result = shared_arrangements(results_of(results, workload_id))[place]
    every = played_roles(results, result, place)
    played = next(p for p in every if (p.role.role_id, p.part.number) == (role_id, number))
    here, name = played.address, played.part.name
    section = _role_section(catalogue, results, site, here, result, played)
    home = addresses.link(here, addresses.workload(workload_id), section_of(place))
    return SectionedPage(
        address=here,
        title=f"{wording.capital(name)} in {title}",
        question="How long does it wait on each device?",
        verdict=section.sentences[0],
        sections=(
            replace(
                section,
                sentences=(),
                tables=(*section.tables, seats_table(here, result, "")),
                links=(Link("The whole workload", home, "every role, every run, the recipe"),),
            ),
        ),
        cannot_say=CANNOT_SAY,
        provenance=(
            *provenance(catalogue, results, site, here, days=_days(runs_with(results, result))),
            *_batches(catalogue, here, runs_with(results, result)),
        ),
    )


def workloads_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SectionedPage:
    """Every workload, with the devices that coped and those that did not."""
    here = addresses.WORKLOADS
    plans = [
        versions_of(catalogue, workload_id)[0]
        for workload_id in sorted({workload for workload, _ in catalogue.workloads})
    ]
    columns: list[Column[Workload]] = [
        Column(
            "Workload",
            lambda plan: Entry(text=plan.title, href=addresses.link(here, addresses.workload(plan.workload_id))),
        ),
        Column(
            "Who copes",
            lambda p: text_entry(_who_copes(results, p.workload_id), missing="nobody yet"),
            sentence=True,
            decides=True,
        ),
        Column(
            "Roles",
            lambda p: Entry(text=wording.listing([*dict.fromkeys(KIND_WORDS[r.kind] for r in p.roles)])),
            sentence=True,
        ),
        Column(
            "Devices",
            lambda p: count_entry(len({s.device for r in results_of(results, p.workload_id) for s in r.subjects})),
            numeric=True,
        ),
    ]
    table = table_of(plans, columns, key="workloads", caption="Workloads")
    suffered = suffered_table(catalogue, results, here)
    roles = tuple(link for plan in plans for link in _role_links(results, here, plan))
    verdict, *details = coping_overall(
        results,
        {plan.workload_id: results_of(results, plan.workload_id) for plan in plans},
        {plan.workload_id: plan.title for plan in plans},
    )
    return SectionedPage(
        address=here,
        title="Workloads",
        question="Which devices cope with several people at once?",
        verdict=verdict,
        intro=(
            *details,
            *(
                [
                    f"{wording.capital(wording.count(len(plans), 'kind of busy hour', 'kinds of busy hour'))}, each with "
                    "several clients at once and a target for every one of them."
                ]
                if plans
                else []
            ),
        ),
        sections=(
            Section("all", "Which kind of busy hour is most like yours?", tables=(table,) if plans else ()),
            *(
                [Section("suffered", "Which machine suffered, in what, on which device?", tables=(suffered,))]
                if suffered
                else []
            ),
            *([Section("roles", "How long does each role wait?", links=roles)] if roles else []),
        ),
        provenance=provenance(catalogue, results, site, here, days=_days(results.mix_results)),
    )


def _role_links(results: Results, here: str, plan: Workload) -> list[Link]:
    """A link to each role of a workload, as played in its first arrangement."""
    outcomes = results_of(results, plan.workload_id)
    every = played_roles(results, outcomes[0], 0) if outcomes else []
    home = addresses.workload(plan.workload_id)
    return [
        Link(
            wording.capital(played.part.name),
            addresses.link(here, played.address) if number else addresses.link(here, home, played.key),
            f"{KIND_WORDS[played.role.kind]}, in {plan.title}",
        )
        for number, played in enumerate(every)
    ]


def _who_copes(results: Results, workload_id: str) -> str:
    outcomes = results_of(results, workload_id)
    return coping_verdict(results, outcomes) if outcomes else ""


def _result_sections(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    outcomes: Sequence[WorkloadResult],
    place: int,
) -> list[Section]:
    """One arrangement: the order, the roles, every run; for the first also its hardest-pressed role."""
    result, tail = outcomes[place], tail_of(place)
    every, runs = played_roles(results, result, place), runs_with(results, result)
    which = f", in arrangement {place + 1} of {len(outcomes)}" if len(outcomes) > 1 else ""
    unlike = unlike_words(outcomes[0], result) if place else ""
    sentences = tuple(filter(None, (*coping_sentences(results, result), unlike, result.note)))
    order = order_table(catalogue, results, here, result, runs, tail)
    hardest = every[:1] if place == 0 else []
    hrefs = {p.part.key: f"#{p.key}" if p in hardest else addresses.link(here, p.address) for p in every}
    return [
        Section(
            f"order{tail}",
            f"Which copes best{which}?",
            sentences,
            workload_drawing(
                catalogue, results, site, here, result, key=joined_id("shares", result.workload) + tail, own_table=True
            )
            if place < MOST_PICTURES
            else None,
            (order, shares_table(results, here, result, tail), seats_table(here, result, tail)),
        ),
        *(_role_section(catalogue, results, site, here, result, played) for played in hardest),
        Section(
            f"who-suffers{tail}", f"Which role suffers{which}?", tables=(roles_table(results, every, hrefs, tail),)
        ),
        Section(
            f"runs{tail}",
            f"Every run, and how it ended{which}",
            tables=(run_table(catalogue, results, here, runs, tail),),
        ),
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
        played.part,
        key=f"{joined_id('waiting', result.workload)}~{played.part.key}{played.tail}",
        spoken=sentence,
        own_table=True,
    )
    return Section(
        played.key,
        f"{wording.capital(played.part.name)}: {KIND_WORDS[role.kind]}"
        + ("" if played.client in played.part.name else f", with {played.client}"),
        (sentence,),
        drawing,
        (role_table(catalogue, results, here, played),),
    )


def _versions_words(versions: Sequence[Workload]) -> str:
    """ "4 roles, 10 minutes"; of several versions each with its own, newest first."""
    if len(versions) == 1:
        return f"{wording.count(len(versions[0].roles), 'role')}, {wording.minutes(versions[0].duration_s)}"
    each = [
        f"version {v.version} with {wording.count(len(v.roles), 'role')}, {wording.minutes(v.duration_s)}"
        for v in versions
    ]
    return (
        f"{len(versions)} versions: {'; '.join(each)}. Runs of several versions stand in one table where machines, roles, "
        "places and marks are alike and their times differ by at most a tenth"
    )


def _recipe_section(versions: Sequence[Workload]) -> Section:
    return Section(
        "recipe",
        "What exactly is asked for?",
        tuple(
            f"Version {plan.version} is planned for {wording.minutes(plan.duration_s)}, all roles at once."
            for plan in versions
        ),
        tables=tuple(recipe_table(plan, f"~{plan.version}" if number else "") for number, plan in enumerate(versions)),
    )


def _days(runs: Iterable[MixResult]) -> Iterator[str]:
    return days_of(run.mix for run in runs)


def _batches(catalogue: Catalogue, here: str, runs: Sequence[MixResult]) -> tuple[Fact, ...]:
    ids = {r.station.batch_id for m in runs for r in m.roles if r.station is not None}
    titles = [catalogue.batches[batch_id].title for batch_id in sorted(ids)]
    if not titles:
        return ()
    return (
        Fact("Batches", wording.listing_of_many(titles, MOST_NAMED), addresses.link(here, addresses.DATA, "batches")),
    )
