"""Firmware that helped: which device got better, by how much, and where it got worse."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder import addresses, wording
from builder.bench.bench import firmware_by_date
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import date_entry, device_entry, text_entry
from builder.pages.parts.newest import days_tested
from builder.pages.parts.provenance import provenance
from builder.pages.parts.sectioned import SectionedPage
from builder.pairs.firmware_gains import FirmwareStep, Gain, firmware_gains
from builder.pairs.histories import step_key
from builder.under_load.collapses import count
from catalog.records import Feature, Firmware

MOST_NAMED = 4


@dataclass(frozen=True, slots=True)
class _Row:
    """One group of a step."""

    one: FirmwareStep
    gain: Gain


def firmware_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SectionedPage:
    """Every device that was tested with two firmwares, what helped most first, and those with one."""
    here = addresses.FIRMWARE
    steps = firmware_gains(results.bench, company=results.company)
    alone = _with_one(results, {one.device for one in steps})
    sections = [_answers(catalogue, results, here, steps), _worse(results, here, steps)] if steps else []
    if alone:
        sections.append(_alone_section(results, here, alone))
    return SectionedPage(
        address=here,
        title="Firmware that helped",
        question="Which got better by firmware?",
        verdict=_verdict(results, steps),
        sections=tuple(sections),
        cannot_say=(
            "What a firmware does that was not tested here, or with another client.",
            "Whether it was the firmware alone: what else changed between the two days is in the likely range, as far "
            "as the tests know it.",
            "Whether it is safer: no test here looks at that.",
        ),
        provenance=provenance(catalogue, results, site, here, days=days_tested(results, results.bench.devices)),
    )


def _verdict(results: Results, steps: Sequence[FirmwareStep]) -> str:
    if not steps:
        return "No device was tested with two firmwares yet."
    better = [one for one in steps if one.leading and one.leading.outcome == "more"]
    tested = len({one.device for one in steps})
    if not better:
        return f"{wording.capital(wording.count(tested, 'device'))} tested with two firmwares; none was shown to get better."
    first = better[0]
    if tested == 1 and first.leading:
        helped = (
            f"{device_name(results.bench, first.device)} got better with {first.step.newer}: {_amount(first.leading)}."
        )
        elsewhere = _elsewhere(first.gains[1:])
        return " ".join(text for text in (helped, elsewhere, "No other device was tested with two firmwares.") if text)
    texts = [
        f"{device_name(results.bench, one.device)} with {one.step.newer} ({_amount(one.leading)})"
        for one in better
        if one.leading
    ]
    named = wording.listing_of_many(texts, MOST_NAMED)
    return f"{len({one.device for one in better})} of {tested} devices tested with two firmwares got better: {named}."


def _amount(gain: Gain) -> str:
    return ", ".join(text for text in (gain.amount, gain.likely) if text)


def _answers(catalogue: Catalogue, results: Results, here: str, steps: Sequence[FirmwareStep]) -> Section:
    rows = [_Row(one, gain) for one in steps for gain in one.gains]
    judged = max((row.gain.among for row in rows), default=0)
    sentences = (
        "Each version against the one tested before it, on one unit, in the same place, with one client, band and width.",
    )
    tables = [_step_table(catalogue, results, here, steps)]
    if rows:
        tables.append(_group_table(results, here, rows, judged))
    return Section("steps", "By how much?", sentences, tables=tuple(tables))


def _step_table(catalogue: Catalogue, results: Results, here: str, steps: Sequence[FirmwareStep]) -> Table:
    return table_of(
        steps,
        (
            Column("Device", lambda one: device_entry(results, here, one.device, step_key(one.step))),
            Column("What came out", lambda one: _leading_entry(results, one), sentence=True, decides=True),
            Column("Firmware", lambda one: _version_entry(one, released=_firmware(results, one).released)),
            Column("Both tested", lambda one: _tested_entry(results, one), sentence=True),
            Column("Promised with it", lambda one: _promised_entry(catalogue, one), sentence=True),
        ),
        key="by-device",
        caption="Devices tested with two firmwares: the largest group that both were tested in",
    )


def _leading_entry(results: Results, one: FirmwareStep) -> Entry:
    gain = one.leading
    if gain is None:
        return Entry(why_missing="No unit was tested with both, so they are not compared.")
    group = gain.figure.group
    where = "" if group is None else f"With {results.names[group].text}."
    return Entry(text=gain.sentence, note=" ".join(text for text in (where, _elsewhere(one.gains[1:])) if text))


def _elsewhere(others: Sequence[Gain]) -> str:
    """How it came out beside the leading group: "Other groups: more in 1, cannot tell in 2."; "" without others."""
    told = Counter(gain.outcome if gain.outcome in ("more", "less") else "cannot tell" for gain in others)
    if set(told) == {"cannot tell"}:
        return f"In {wording.count(len(others), 'other group')} these tests cannot tell."
    parts = [f"{outcome} in {told[outcome]}" for outcome in ("more", "less", "cannot tell") if told[outcome]]
    return f"Other groups: {', '.join(parts)}." if parts else ""


def _version_entry(one: FirmwareStep, *, released: str | None = None) -> Entry:
    note = f"after {one.step.older}"
    return Entry(text=one.step.newer, note=f"{note}, released {wording.date(released)}" if released else note)


def _firmware(results: Results, one: FirmwareStep) -> Firmware:
    return next(f for f in results.bench.devices[one.device].firmware if f.version == one.step.newer)


def _tested_entry(results: Results, one: FirmwareStep) -> Entry:
    days = [
        sorted(
            cell.date
            for cell in results.bench.cells_of[one.device]
            if cell.firmware == version and cell.mean is not None
        )
        for version in (one.step.older, one.step.newer)
    ]
    text = "; ".join(
        f"{version} {wording.date_range(of_version[0], of_version[-1])}"
        for version, of_version in zip((one.step.older, one.step.newer), days, strict=True)
    )
    return Entry(text=text, sort_key=days[1][-1])


def _promised_entry(catalogue: Catalogue, one: FirmwareStep) -> Entry:
    """What the maker promised with the newer version and not before, and what came of it."""
    features = catalogue.features.get(one.device, ())
    before = {f.feature for f in features if f.step == "promised" and f.firmware == one.step.older}
    promised = [
        f for f in features if f.step == "promised" and f.firmware == one.step.newer and f.feature not in before
    ]
    texts = [f"{f.feature}: {_came_of_it(features, f)}" for f in promised]
    return text_entry("; ".join(texts), missing="nothing noted here")


def _came_of_it(features: Sequence[Feature], promised: Feature) -> str:
    steps = {f.step for f in features if f.feature == promised.feature and f.firmware == promised.firmware}
    return next((step for step in ("works", "fails") if step in steps), "not tested")


def _group_table(results: Results, here: str, rows: Sequence[_Row], judged: int) -> Table:
    together = (
        f" The {judged} comparisons of this table are judged together; a device's own page judges each by itself."
    )
    return table_of(
        rows,
        (
            Column("Device", lambda row: device_entry(results, here, row.one.device, step_key(row.one.step))),
            Column("Gives", _amount_entry, numeric=True, decides=True),
            Column("Firmware", lambda row: _version_entry(row.one)),
            Column("Measured with", lambda row: _group_entry(results, row.gain)),
            Column("What these tests say", lambda row: Entry(text=row.gain.sentence), sentence=True),
        ),
        key="by-group",
        caption=f"In every group that both were tested in, Mbit/s.{together if judged > 1 else ''}",
    )


def _amount_entry(row: _Row) -> Entry:
    gain = row.gain
    if gain.outcome == "not compared":
        return Entry(why_missing="not compared")
    if gain.outcome == "untold":
        return Entry(why_missing="cannot be told apart")
    amount, sort_key = gain.amount.replace(" Mbit/s", ""), repr(gain.figure.difference)
    if gain.outcome == "chance":  # no gain yet, so it does not stand out as one
        return Entry(why_missing=", ".join(filter(None, (amount, gain.likely, "may be chance"))), sort_key=sort_key)
    return Entry(text=amount, interval=gain.likely, sort_key=sort_key)


def _group_entry(results: Results, gain: Gain) -> Entry:
    group = gain.figure.group
    return text_entry(None if group is None else results.names[group].text, missing="no group in common")


@dataclass(frozen=True, slots=True)
class _Worse:
    """Where a newer version did worse: in a group, at a spot, or by breaking off."""

    one: FirmwareStep
    where: Entry
    sentence: str


def _worse(results: Results, here: str, steps: Sequence[FirmwareStep]) -> Section:
    heading = "Where did it get worse?"
    rows = [row for one in steps for row in (*_less(results, one), *_broke_off(results, one))]
    if not rows:
        return Section(
            "worse",
            heading,
            ("Nowhere that these tests could show; no run with several clients at once broke off.",),
        )
    table = table_of(
        rows,
        (
            Column("Device", lambda row: device_entry(results, here, row.one.device, step_key(row.one.step))),
            Column("What these tests say", lambda row: Entry(text=row.sentence), sentence=True),
            Column("Where", lambda row: row.where),
        ),
        key="worse-places",
        caption="Where the newer version gives less or broke off; the spots of one device are judged together",
    )
    return Section("worse", heading, tables=(table,))


def _less(results: Results, one: FirmwareStep) -> Iterator[_Worse]:
    for gain in (*one.gains, *one.worse):
        if gain.outcome == "less":
            place = f"at {gain.figure.spot}" if gain.figure.spot else "over the whole shared range"
            yield _Worse(one, Entry(text=place, note=_group_entry(results, gain).text), gain.sentence)


def _broke_off(results: Results, one: FirmwareStep) -> Iterator[_Worse]:
    """Runs with several clients at once that broke off with the newer version, beside those with the older one."""
    newer, older = (
        count(m for m in results.mixes_of.get(one.device, ()) if m.firmware == version)
        for version in (one.step.newer, one.step.older)
    )
    if newer.collapsed:
        before = (
            f"{one.step.older} in {older.collapsed} of {older.runs}"
            if older.runs
            else f"{one.step.older} was not tested so"
        )
        runs = wording.count(newer.runs, "run")
        sentence = f"{one.step.newer} broke off in {newer.collapsed} of {runs}; {before}."
        yield _Worse(one, Entry(text="with several clients at once"), sentence)


def _with_one(results: Results, compared: set[str]) -> list[str]:
    """Devices with results of one version only, as far as results can be compared."""
    bench = results.bench
    return [d for d in bench.devices if d not in compared and results.current_firmware(d) is not None]


def _alone_section(results: Results, here: str, devices: Sequence[str]) -> Section:
    def released(device: str) -> str | None:
        version = results.current_firmware(device)
        return next((f.released for f in results.bench.devices[device].firmware if f.version == version), None)

    def newer(device: str) -> Entry:
        order = [f.version for f in firmware_by_date(results.bench.devices[device]) if f.public]
        version = results.current_firmware(device)
        later = order[order.index(version) + 1 :] if version in order else []
        return text_entry(wording.listing(later), missing="none known here")

    table = table_of(
        devices,
        (
            Column("Device", lambda d: device_entry(results, here, d, "firmware")),
            Column("Firmware", lambda d: text_entry(results.current_firmware(d))),
            Column("Released", lambda d: date_entry(released(d))),
            Column("Newer, not tested", newer),
        ),
        key="one-firmware",
        caption="Tested with one firmware only",
    )
    return Section(
        "one-only",
        "Which were tested with one only?",
        ("Nothing can be said of whether an update helped.",),
        tables=(table,),
    )
