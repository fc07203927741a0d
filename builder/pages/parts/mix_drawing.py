"""From judged runs with several clients to charts: one run, one role over devices, a workload over devices."""

from __future__ import annotations

from collections.abc import Mapping

from builder import addresses, wording
from builder.bench.bench import Subject
from builder.bench.naming import device_name
from builder.charts.share_chart import ShareRow, share_figure
from builder.charts.waiting_chart import MOST_ROWS, waiting_figure
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing
from builder.pages.parts.coping import coping_counts
from builder.pages.parts.drawing import two_sentences
from builder.pages.parts.firmware_marks import firmware_words
from builder.pages.parts.mix_rows import (
    broke_off_words,
    hardest_first,
    in_time_words,
    seat_words,
    share_cell,
    waiting_row,
)
from builder.pages.parts.played_roles import versions_of, worst_runs
from builder.pages.parts.role_words import KIND_WORDS, machines_words
from builder.under_load.mixes import MixResult
from builder.under_load.role_names import count_words, role_name
from builder.under_load.roles import RoleResult
from builder.under_load.seat_roles import Part
from builder.under_load.workloads import WorkloadResult
from catalog.method import METHOD_NUMBER

READING = (
    "A bar goes from 50 to 90 % of the planned requests, its line on to 99 %; what came later than asked is in full ink. "
    "Hatched: failed, or never made. Where few requests lie beyond 90 % the bar is pale and has no end; beyond 99 %, no line."
)


def mix_drawing(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    mix: MixResult,
    *,
    key: str,
    title: str = "",
    spoken: str = "",
) -> Drawing | None:
    """The chart of one run: each machine and role, what suffered most first; None where no log has requests.

    title, spoken  "" for those that fit it
    """
    if not any(role.planned for role in mix.roles):
        return None
    order = sorted(mix.roles, key=hardest_first)
    rows = [
        waiting_row(catalogue, role, wording.capital(role_name(role.role)), seat_words(results, role.station))
        for role in order[:MOST_ROWS]
    ]
    plan = catalogue.workloads[mix.mix.workload, mix.mix.version]
    device = device_name(results.bench, mix.mix.device)
    notes = [
        f"{f'{plan.title} on {device}, version' if title else 'Version'} {plan.version}: {machines_words(mix.seats)}, {wording.minutes(plan.duration_s)}, "
        f"{wording.date(mix.mix.date)}, firmware {firmware_words(results, mix.mix)}.",
        READING,
    ]
    if len(order) > MOST_ROWS:
        notes.append(f"Drawn: {MOST_ROWS} of {len(order)} roles, those that suffered most.")
    figure = waiting_figure(
        key=key,
        title=title or f"{plan.title} on {device}: who waited?",
        heading="Role and machine",
        rows=rows,
        notes=[*notes, _source(site)],
        spoken=two_sentences(spoken or mix_words(results, mix)),
    )
    return Drawing(figure, addresses.link(here, addresses.specification(key)))


def mix_words(results: Results, mix: MixResult) -> str:
    """One run in at most two sentences: who waited too long, and how it ended."""
    on = f"{machines_words(mix.seats)} on {device_name(results.bench, mix.mix.device)}"
    if mix.mix.outcome == "did not finish":
        ended = broke_off_words(mix.mix.survived_s, mix.mix.planned_s)
        late = [in_time_words(r) for r in sorted(mix.roles, key=hardest_first) if r.planned][:1]
        return f"{on}: it {ended}." + (f" {wording.capital(late[0])}." if late else "")
    unmet = [f"{role_name(r.role)}: {count_words(r)}" for r in mix.roles if r.verdict == "not-met"]
    missing = [role_name(r.role) for r in mix.roles if r.verdict == "not-tested" and not r.without_target]
    text = f"{on}: " + (f"not met in this run: {'; '.join(unmet)}." if unmet else "every role was met in this run.")
    if missing:
        text = text.replace("every role", "every role that was tested")
        text += f" {wording.capital(wording.listing(missing))}: not tested."
    return text


def role_drawing(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    result: WorkloadResult,
    part: Part,
    *,
    key: str,
    title: str = "",
    spoken: str = "",
    own_table: bool = False,
) -> Drawing | None:
    """The chart of one role over the devices of one arrangement, of several runs the one with the lowest share.

    Those that suffered most come first. None where no log has requests.

    title, spoken  "" for those that fit it
    own_table      the page has a table of all devices
    """
    role = part.role
    worst = worst_runs(results, result, part)
    drawn = {subject: run for subject, run in worst.items() if run.planned}
    if not drawn:
        return None
    order = sorted(drawn, key=lambda s: hardest_first(drawn[s]))[:MOST_ROWS]
    rows = [
        waiting_row(catalogue, drawn[s], device_name(results.bench, s.device), f"firmware {firmware_words(results, s)}")
        for s in order
    ]
    first = drawn[order[0]]
    where = f" in {versions_of(catalogue, result.workload)[0].title}" if title else ""
    dates = sorted(r.station.date for r in drawn.values() if r.station is not None)
    notes = [
        f"{seat_words(results, first.station, place=False)}, role {role_name(role)}{where}; "
        f"{wording.date_range(dates[0], dates[-1])}.",
        f"Of several runs of a device the one with the lowest share in time. {READING}",
    ]
    if len(order) < len(result.subjects):
        notes.append(
            f"Drawn: {len(order)} of {len(result.subjects)} devices, those that suffered most; the table has all."
        )
    name = wording.capital(part.name)
    figure = waiting_figure(
        key=key,
        title=title or f"{name} ({KIND_WORDS[role.kind]}): how long does it wait on each device?",
        heading="Device",
        rows=rows,
        notes=[*notes, _source(site)],
        spoken=two_sentences(
            spoken or f"It waits longest on {device_name(results.bench, order[0].device)}: {in_time_words(first)}."
        ),
    )
    return Drawing(figure, addresses.link(here, addresses.specification(key)), own_table=own_table)


def workload_drawing(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    result: WorkloadResult,
    *,
    key: str,
    title: str = "",
    spoken: str = "",
    own_table: bool = False,
) -> Drawing | None:
    """The picture of one arrangement: devices in their order by roles. None where no log has requests.

    title, spoken  "" for those that fit it
    own_table      the page has a table of all devices
    """
    plan = versions_of(catalogue, result.workload)[0]
    worst = {part.key: worst_runs(results, result, part) for part in result.parts}
    subjects = result.subjects
    order = [s for s in subjects if any(s in of_role for of_role in worst.values())][:MOST_ROWS]
    if not order:
        return None
    rows = [
        ShareRow(
            device_name(results.bench, s.device),
            firmware_words(results, s),
            tuple(share_cell(worst[part.key].get(s)) for part in result.parts),
        )
        for s in order
    ]
    notes = [
        f"{machines_words(result.seats[0])}, {wording.minutes(result.arrangement.planned_s)}; shares in time.",
        "Shares of the planned requests; below them within what time 90 % were answered. Of several runs of a device the one with the lowest share. "
        "The fuller a cell, the more came late; bold: less in time than asked for.",
    ]
    if len(order) < len(subjects):
        notes.append(f"Drawn: the first {len(order)} of {len(subjects)} devices; the table has all.")
    figure = share_figure(
        key=key,
        title=title or f"{plan.title}: who got it in time?",
        heading="Device",
        columns=[wording.capital(part.name) for part in result.parts],
        rows=rows,
        notes=[*notes, _source(site)],
        spoken=two_sentences(spoken or _workload_words(results, result, worst)),
    )
    return Drawing(figure, addresses.link(here, addresses.specification(key)), own_table=own_table)


def _workload_words(results: Results, result: WorkloadResult, worst: Mapping[str, Mapping[Subject, RoleResult]]) -> str:
    """How many devices coped, and where the lowest share was."""
    text = coping_counts(result)
    runs = [(run, s) for of_role in worst.values() for s, run in of_role.items() if run.on_time_share is not None]
    if not runs:
        return text
    least, subject = min(runs, key=lambda pair: hardest_first(pair[0]))
    if least.on_time == least.planned:
        return f"{text} No request was late."
    return f"{text} The lowest share: {in_time_words(least)}, on {device_name(results.bench, subject.device)}."


def _source(site: SiteContext) -> str:
    return f"{site.title}, Method {METHOD_NUMBER}."
