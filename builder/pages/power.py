"""Will my switch power it? Which devices fit which class of IEEE 802.3, by the watts that were measured."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Link, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import device_entry, number_entry, text_entry
from builder.pages.parts.provenance import provenance
from builder.pages.parts.sectioned import SectionedPage
from builder.pages.tables.device_register import class_entry
from builder.registers.power import SIDE_WORDS, Reading, contradictions, need, promised_class
from catalog.records import Device
from catalog.standards import POE_CLASSES, POE_SOURCE

MOST_NAMED = 6


@dataclass(frozen=True, slots=True)
class _Fed:
    """A device that takes power over its cable, and the reading that needs the most.

    needed  the smallest class that allows every reading; None if no class does
    """

    device: Device
    reading: Reading
    needed: int | None


def power_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SectionedPage:
    """A section per class, and apart from them what contradicts its promise and what nobody measured."""
    here = addresses.POWER
    takes = [d for d in results.bench.devices.values() if any(p.power == "in" for p in d.ports)]
    fed = [one for device in takes if (one := _fed(catalogue, device)) is not None]
    measured = {f.device.device_id for f in fed}
    by_class: dict[int | None, list[_Fed]] = defaultdict(list)
    for one in fed:
        by_class[one.needed].append(one)
    contradicting = [f for f in fed if contradictions(f.device, catalogue.power[f.device.device_id])]
    sections = [_contradiction_section(catalogue, results, here, contradicting)] if contradicting else []
    sections += [_class_section(results, here, number, by_class) for number in sorted(POE_CLASSES) if number]
    if by_class.get(None):
        sections.append(
            Section("no-class", "More than any class allows", tables=(_table(results, here, "none", by_class[None]),))
        )
    unmeasured = [d for d in takes if d.device_id not in measured]
    if unmeasured:
        sections.append(_unmeasured_section(results, here, unmeasured))
    return SectionedPage(
        address=here,
        title="Power over the cable",
        cautions=True,
        question="Will my switch power it?",
        verdict=_verdict(results, fed, contradicting),
        intro=(
            "Find the class of your switch's port. What fits a class fits every larger one, if the switch has that much "
            "left for all of its ports together. The highest reading of a device decides, on the side it was read on: "
            f"the cable between takes the difference ({POE_SOURCE.document}, clauses {POE_SOURCE.clause}).",
        ),
        sections=tuple(sections),
        cannot_say=(
            "What it draws in a state that was not measured: starting up, or feeding another device, may take more.",
            "Whether your cable and your switch give what their class says.",
        ),
        provenance=provenance(catalogue, results, site, here),
    )


def _fed(catalogue: Catalogue, device: Device) -> _Fed | None:
    requirement = need(device, catalogue.power.get(device.device_id, ()))
    if requirement is None or requirement.hardest is None:
        return None
    return _Fed(device, requirement.hardest, requirement.hardest.needed)


def _verdict(results: Results, fed: list[_Fed], contradicting: list[_Fed]) -> str:
    if not fed:
        return "Nobody has measured what a device draws over its cable yet."
    text = f"{wording.capital(wording.count(len(fed), 'device'))} measured"
    if contradicting:
        drew = [device_name(results.bench, f.device.device_id) for f in contradicting]
        names = wording.listing_of_many(drew, MOST_NAMED)
        return f"{text}; {names} drew more than the maker's class allows."
    return f"{text}; none drew more than its maker's class allows."


def _contradiction_section(catalogue: Catalogue, results: Results, here: str, drew_more: list[_Fed]) -> Section:
    heading = "Which draw more than they promise?"
    disputes = [
        (f.device, text) for f in drew_more for text in contradictions(f.device, catalogue.power[f.device.device_id])
    ]
    if len(disputes) > MOST_NAMED:
        table = table_of(
            disputes,
            (
                Column("Device", lambda dispute: _device_entry(results, here, dispute[0])),
                Column("What contradicts", lambda dispute: Entry(text=dispute[1]), sentence=True),
            ),
            key="contradicting",
            caption="More than promised",
        )
        return Section("contradictions", heading, tables=(table,))
    sentences = tuple(f"{device_name(results.bench, device.device_id)}. {text}" for device, text in disputes)
    return Section("contradictions", heading, sentences, links=tuple(_link(results, here, f.device) for f in drew_more))


def _class_section(results: Results, here: str, number: int, by_class: dict[int | None, list[_Fed]]) -> Section:
    limits = POE_CLASSES[number]
    smaller = [
        f
        for needed, members in by_class.items()
        for f in members
        if needed is not None and POE_CLASSES[needed].device_w < limits.device_w
    ]
    exact = by_class.get(number, [])
    sentences = [
        f"{limits.amendment}: {wording.watts(limits.supply_w)} at the supply, {wording.watts(limits.device_w)} at the "
        "device."
    ]
    if smaller:
        names = sorted(device_name(results.bench, f.device.device_id) for f in smaller)
        sentences.append(f"What needs less fits as well: {wording.listing_of_many(names, MOST_NAMED)}.")
    if not exact:
        sentences.append("No device needs exactly this class.")
    return Section(
        f"class-{number}",
        f"Class {number}",
        tuple(sentences),
        tables=(_table(results, here, str(number), exact),) if exact else (),
    )


def _table(results: Results, here: str, key: str, fed: list[_Fed]) -> Table:
    return table_of(
        sorted(fed, key=lambda f: (f.device.maker, f.device.model)),
        (
            Column("Device", lambda f: _device_entry(results, here, f.device)),
            Column("Highest reading", lambda f: number_entry(f.reading.power.watts, wording.watts), numeric=True),
            Column("Doing what", lambda f: Entry(text=f.reading.power.state)),
            Column("Read", lambda f: Entry(text=SIDE_WORDS[f.reading.power.side])),
            Column("Promised", _promised_entry),
            Column("Feeds another device", lambda f: text_entry(_outputs(f.device), missing="no")),
        ),
        key=f"fits-{key}",
        caption=f"Devices for which class {key} is the smallest that fits" if key != "none" else "Devices for no class",
    )


def _promised_entry(fed: _Fed) -> Entry:
    promised = promised_class(fed.device)
    return Entry(
        text="" if promised is None else f"class {promised}",
        note="contradicted" if fed.reading.contradiction else "",
        why_missing="no class stated",
    )


def _outputs(device: Device) -> str:
    """The ports that feed another device; "" for none."""
    return wording.listing([p.name for p in device.ports if p.power == "out"])


def _unmeasured_section(results: Results, here: str, devices: list[Device]) -> Section:
    table = table_of(
        devices,
        (
            Column("Device", lambda device: _device_entry(results, here, device)),
            Column("Promised", lambda device: class_entry(promised_class(device), missing="no class stated")),
        ),
        key="not-measured",
        caption="Promised only",
    )
    return Section(
        "unmeasured",
        "Not measured",
        ("They take power over the cable; what they draw was not measured, so a promise is all there is.",),
        tables=(table,),
    )


def _device_entry(results: Results, here: str, device: Device) -> Entry:
    return device_entry(results, here, device.device_id, "feed")


def _link(results: Results, here: str, device: Device) -> Link:
    entry = _device_entry(results, here, device)
    return Link(entry.text, entry.href, "every reading")
