"""Features over devices: promised, present, on, works, and does it need a licence?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from functools import partial

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import device_entry
from builder.pages.parts.newest import days_in
from builder.pages.parts.provenance import provenance
from builder.pages.parts.sectioned import SectionedPage
from builder.registers.features import STEPS, FeatureStanding, feature_standings
from catalog.figure_names import joined_id

MOST_NAMED = 6
_ORDER = ("works", "fails", *reversed(STEPS[:-1]), "not tested")  # what was put to the test comes first


def features_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SectionedPage:
    """Every feature that there is evidence of, with how far it has come on each device."""
    here = addresses.FEATURES
    by_feature = feature_standings(f for evidence in catalogue.features.values() for f in evidence)
    return SectionedPage(
        address=here,
        title="Features",
        question="Promised, present, on: what works, and does it need a licence?",
        verdict=_verdict(by_feature),
        intro=(
            "A promise is the maker's word. “Present” means that it can be found, “on” that it is switched on or can "
            "be, “seen on air” that it shows in what the device sends, and “works” that a test showed it. “Not tested” "
            "does not mean “no”.",
        )
        if by_feature
        else (),
        sections=tuple(_section(results, here, name, standings) for name, standings in by_feature.items()),
        cannot_say=(
            "That a feature is missing where nobody looked: only “fails” says that it did not work.",
            "Whether it still works with a newer firmware or another licence than the one that is named.",
        ),
        provenance=provenance(catalogue, results, site, here, days=days_in(catalogue.features)),
    )


def _verdict(by_feature: Mapping[str, Sequence[FeatureStanding]]) -> str:
    """Of how many features there is evidence, how often a test showed one to work, and how often with a licence."""
    if not by_feature:
        return "No evidence of any feature yet."
    working = [s for standings in by_feature.values() for s in standings if s.now == "works"]
    paid = sum(bool(s.licences) for s in working)
    known = f"There is evidence of {wording.count(len(by_feature), 'feature')}."
    if not working:
        return f"{known} No test has shown yet that one works."
    need = "needs" if paid == 1 else "need"
    only = f"{paid} of these {need} a licence" if paid else "none of these is known to need a licence"
    cases = wording.count(len(working), "case")
    return f"{known} In {cases} a test showed that one works on a device; {only}."


def _section(results: Results, here: str, name: str, standings: list[FeatureStanding]) -> Section:
    return Section(
        joined_id("feature", name),
        wording.capital(name),
        (_sentence(results, standings),),
        tables=(_table(results, here, name, standings),),
    )


def _sentence(results: Results, standings: list[FeatureStanding]) -> str:
    """Where it works, where only with a licence, where it fails, and where nobody tested it."""
    bench = results.bench

    def names(devices: list[str]) -> str:
        return wording.listing_of_many([device_name(bench, d) for d in devices], MOST_NAMED)

    works = [s.device for s in standings if s.now == "works" and not s.licences]
    fails = [s.device for s in standings if s.now == "fails"]
    paid: dict[str, list[str]] = defaultdict(list)
    for s in standings:
        if s.now == "works" and s.licences:
            paid[wording.listing(s.licences, "or")].append(s.device)
    parts = [f"works on {names(works)}"] if works else []
    parts += [f"works only with {licence} on {names(devices)}" for licence, devices in paid.items()]
    parts += [f"fails on {names(fails)}"] if fails else []
    tested = {s.device for s in standings if s.now in ("works", "fails")}
    untested = len(bench.devices) - len(tested)
    if untested:
        others = wording.count(untested, "other device" if tested else "device")
        parts.append(
            f"whether it works was not tested on {others}"
            if tested
            else f"whether it works was not tested on any of {others}"
        )
    return f"{wording.capital('; '.join(parts))}."


def _table(results: Results, here: str, name: str, standings: list[FeatureStanding]) -> Table:
    return table_of(
        sorted(standings, key=lambda s: _ORDER.index(s.now)),
        (
            Column("Device", lambda s: device_entry(results, here, s.device, "what-works")),
            Column("Now", lambda s: Entry(text=s.now), decides=True),
            Column("Licence", _licence_entry),
            *(Column(wording.capital(step), partial(_step_entry, step=step)) for step in STEPS[:-1]),
            Column("Works", _works_entry),
            Column("Firmware", lambda s: Entry(text=s.latest.firmware)),
        ),
        key=joined_id("table", name),
        caption=f"{wording.capital(name)}, by step; the day is that of the latest evidence",
    )


def _licence_entry(standing: FeatureStanding) -> Entry:
    works = standing.now == "works"
    if standing.licences:
        return Entry(text=f"{'only with ' if works else ''}{wording.listing(standing.licences, 'or')}")
    return Entry(text="none needed") if standing.free and works else Entry(why_missing="none named")


def _step_entry(standing: FeatureStanding, *, step: str) -> Entry:
    evidence = standing.steps.get(step)
    if evidence is None:  # what works is there and on, though nobody noted it
        passed = standing.now in STEPS and STEPS.index(step) < STEPS.index(standing.now)
        return Entry(why_missing="not noted" if passed else "not tested")
    return Entry(text=f"yes, {wording.short_date(evidence.date)}", sort_key=evidence.date)


def _works_entry(standing: FeatureStanding) -> Entry:
    """The latest of works and fails, with how it was seen; both where it changed."""
    tests = sorted((standing.steps[w] for w in ("works", "fails") if w in standing.steps), key=lambda f: f.date)
    if not tests:
        return Entry(why_missing="not tested")
    last = tests[-1]
    before = f"; {tests[0].step}, {wording.short_date(tests[0].date)}" if len(tests) > 1 else ""
    how = "; ".join(t for t in (last.how, last.evidence) if t)
    return Entry(text=f"{last.step}, {wording.short_date(last.date)}{before}", note=how, sort_key=last.date)
