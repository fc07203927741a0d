"""What broke off: which devices, when, doing what, on which firmware."""

from __future__ import annotations

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.bench.settings import in_words
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Link, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import date_entry, device_entry, text_entry
from builder.pages.parts.newest import days_of
from builder.pages.parts.provenance import provenance
from builder.pages.parts.sectioned import SectionedPage
from builder.under_load.broken_runs import BrokenRun, State, broken_runs, firmware_state, same_with
from builder.under_load.collapses import OUTCOME_WORDS

MOST_NAMED = 6


def collapses_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SectionedPage:
    """Every run that broke off; those that a client or a person ended stand apart."""
    here = addresses.COLLAPSES
    broken = broken_runs(catalogue.ended_early, results.mixes, results.longrun_results)
    collapsed = [b for b in broken if b.outcome == "did not finish"]
    others = [b for b in broken if b.outcome != "did not finish"]
    sections = [
        Section(
            "collapses",
            "Every run that broke off",
            ("Newest first. A run that broke off is neither zero nor missing: it is listed, and its values are not.",)
            if collapsed
            else ("No run of any device broke off so far.",),
            tables=(_table(catalogue, results, here, collapsed),) if collapsed else (),
            links=(Link("Which got better by firmware?", addresses.link(here, addresses.FIRMWARE)),),
        )
    ]
    if others:
        sections.append(
            Section(
                "not-theirs",
                "Runs that ended early through no fault of the device",
                ("A client fault and a run that a person ended count neither for nor against a device.",),
                tables=(_others_table(catalogue, results, here, others),),
            )
        )
    return SectionedPage(
        address=here,
        title="What broke off",
        question="Which devices crashed or gave up, when, doing what, and on which firmware?",
        verdict=_verdict(results, collapsed),
        sections=tuple(sections),
        cannot_say=(
            "How often it would happen to you: below 20 runs these are counts, and no rate is given.",
            "Why: the logs show that it stopped, not what stopped it.",
            "That a device which is not listed never breaks off: it did not in these runs.",
        ),
        provenance=provenance(catalogue, results, site, here, days=days_of(broken)),
    )


def _verdict(results: Results, collapsed: list[BrokenRun]) -> str:
    devices = sorted({b.device for b in collapsed}, key=lambda d: device_name(results.bench, d))
    if not devices:
        return "No run of any device has broken off so far."
    runs = sum(b.times for b in collapsed)
    now = sum(b.times for b in collapsed if _state(results, b)[1] == "current")
    names = wording.listing_of_many([device_name(results.bench, d) for d in devices], MOST_NAMED)
    return (
        f"{wording.capital(wording.count(runs, 'run'))} broke off, on {names}; "
        f"{'none' if not now else 'all' if now == runs else now} of them with the firmware that is current now."
    )


def _table(catalogue: Catalogue, results: Results, here: str, runs: list[BrokenRun]) -> Table:
    columns: list[Column[BrokenRun]] = [
        *_shared_columns(catalogue, results, here),
        Column("Firmware", lambda b: Entry(text=b.firmware, note=f"unit {b.unit}")),
        Column("And now?", lambda b: Entry(text=_now(results, b)), sentence=True),
        Column("Lasted of planned", _lasted, numeric=True),
        Column("Ended by", lambda b: text_entry(b.ended_by, missing="not noted")),
    ]
    return table_of(runs, columns, key="list", caption="Runs that broke off")


def _others_table(catalogue: Catalogue, results: Results, here: str, runs: list[BrokenRun]) -> Table:
    columns: list[Column[BrokenRun]] = [
        *_shared_columns(catalogue, results, here),
        Column("Ended as", lambda b: Entry(text=OUTCOME_WORDS[b.outcome])),
    ]
    return table_of(runs, columns, key="others", caption="Runs that ended for another reason")


def _shared_columns(catalogue: Catalogue, results: Results, here: str) -> list[Column[BrokenRun]]:
    return [
        Column("Device", lambda b: device_entry(results, here, b.device)),
        Column("Doing what", lambda b: _doing(catalogue, results, here, b), sentence=True, decides=True),
        Column("Day", lambda b: date_entry(b.date)),
    ]


def _doing(catalogue: Catalogue, results: Results, here: str, broken: BrokenRun) -> Entry:
    if broken.workload is not None:
        plan = catalogue.workloads[broken.workload]
        return Entry(
            text=f"{plan.title}, version {plan.version}",
            note="several clients at once",
            href=addresses.link(here, addresses.workload(broken.workload[0])),
        )
    assert broken.link is not None
    band, width_mhz, direction = broken.link
    link = wording.conditions(band_name=band, width_mhz=width_mhz, direction=direction)
    where = f" at {broken.place}" if broken.place else ""
    if broken.settings:
        where += f" with {in_words(results.bench.settings[broken.settings])}"
    often = f", {wording.count(broken.times, 'run')}" if broken.times > 1 else ""
    hours = " in a long run" if broken.kind == "hours" else ""
    return Entry(text=f"{results.bench.clients[broken.client].name} alone{hours}{where}", note=link + often)


def _state(results: Results, broken: BrokenRun) -> tuple[str | None, State]:
    """The current firmware of the device, and how the run's firmware relates to it."""
    current = results.current_firmware(broken.device)
    return current, firmware_state(results.bench, broken.device, broken.firmware, current=current)


def _now(results: Results, broken: BrokenRun) -> str:
    current, state = _state(results, broken)
    if current is None or state == "current":
        return "This is the current firmware."
    if state == "newer":
        return f"Not public or not yet current; {current} is."
    since = same_with(results.bench, broken, current, *results.under_load(broken.device))
    return f"Older: {current} is current. The same with {current}: {since.sentence}."


def _lasted(broken: BrokenRun) -> Entry:
    if broken.survived_s is None:
        planned = "" if broken.planned_s is None else f", of {wording.clock(broken.planned_s)} min"
        return Entry(why_missing=f"not noted{planned}")
    if broken.kind == "hours":
        return Entry(text=wording.hours(broken.survived_s), sort_key=repr(broken.survived_s))
    planned = "" if broken.planned_s is None else f" of {wording.clock(broken.planned_s)}"
    return Entry(text=f"{wording.clock(broken.survived_s)}{planned}", unit="min", sort_key=repr(broken.survived_s))
