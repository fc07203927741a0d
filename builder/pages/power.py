"""Will my switch power it? What each device needs from its cable, by the watts that were measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import device_entry, number_entry, text_entry
from builder.pages.parts.provenance import provenance
from builder.pages.parts.sectioned import SectionedPage
from builder.pages.tables.device_facets import Filter, power_facet, power_filter
from builder.registers.power import SIDE_WORDS, Need, need
from catalog.records import Device
from catalog.standards import POE_CLASSES, POE_SOURCE, PoeClass

MOST_NAMED = 6
_LAST = 99.0


@dataclass(frozen=True, slots=True)
class _Fed:
    """A device that takes power over its cable, and what it needs of it."""

    device: Device
    need: Need

    @property
    def needed_w(self) -> float:
        """What the class it needs gives at the device; more than any class where none allows it. [W]"""
        return _LAST if self.need.needed is None else POE_CLASSES[self.need.needed].device_w

    @property
    def order(self) -> tuple[bool, float, str, str]:
        """Measured devices first, those that need least first."""
        return self.need.hardest is None, self.needed_w, self.device.maker, self.device.model


@dataclass(frozen=True, kw_only=True)
class PowerPage(SectionedPage):
    """What each device needs, for scripts by the class of a switch; what contradicts its promise; and the classes."""

    template: ClassVar[str] = "power"

    filters: tuple[Filter, ...]


def power_page(catalogue: Catalogue, results: Results, site: SiteContext) -> PowerPage:
    """Every device that takes power over its cable, by the class that it needs by measurement."""
    here = addresses.POWER
    fed = sorted(
        (
            _Fed(device, wants)
            for device in results.bench.devices.values()
            if (wants := need(device, catalogue.power.get(device.device_id, ()))) is not None
        ),
        key=lambda one: one.order,
    )
    measured = [one for one in fed if one.need.hardest]
    contradicting = [one for one in fed if one.need.contradictions]
    return PowerPage(
        address=here,
        title="Power over the cable",
        cautions=True,
        question="Will my switch power it?",
        verdict=_verdict(results, measured, contradicting),
        intro=(
            "What needs a class runs on every larger one, if the switch has that much left for all of its ports together. "
            "The hardest reading of a device decides, on the side it was read on: the cable between takes the difference "
            f"({POE_SOURCE.document}, clauses {POE_SOURCE.clause}).",
        ),
        filters=power_filter(catalogue, [one.device for one in fed]),
        sections=(
            *((_needs_section(catalogue, results, here, fed),) if fed else ()),
            *((_contradiction_section(results, here, contradicting),) if contradicting else ()),
            _class_section(results, measured),
        ),
        cannot_say=(
            "What it draws in a state that was not measured: starting up, or feeding another device, may take more.",
            "Whether your cable and your switch give what their class says.",
        ),
        provenance=provenance(catalogue, results, site, here),
    )


def _verdict(results: Results, measured: Sequence[_Fed], contradicting: Sequence[_Fed]) -> str:
    if not measured:
        return "Nobody has measured what a device draws over its cable yet."
    return f"{_powered(measured)} {_promises(results, contradicting)}"


def _powered(measured: Sequence[_Fed]) -> str:
    """ "Class 3 powers 2 of 7 measured devices, class 4 all 7."."""
    classes = sorted({one.need.needed for one in measured if one.need.needed}, key=lambda n: POE_CLASSES[n].device_w)
    if not classes:
        return "No class powers any of the measured devices."
    if len(measured) == 1:
        return f"Class {classes[0]} powers the one measured device."
    counts = [len(_running_on(measured, POE_CLASSES[number])) for number in classes]
    shares = [f"all {count}" if count == len(measured) else f"{count} of {len(measured)}" for count in counts]
    others = "".join(f", class {number} {share}" for number, share in zip(classes[1:], shares[1:], strict=True))
    return f"Class {classes[0]} powers {shares[0]} measured devices{others}."


def _running_on(fed: Sequence[_Fed], one: PoeClass) -> list[_Fed]:
    return [member for member in fed if member.needed_w <= one.device_w]


def _promises(results: Results, contradicting: Sequence[_Fed]) -> str:
    if not contradicting:
        return "None drew more than its maker's class allows."
    names = wording.listing_of_many(
        [device_name(results.bench, one.device.device_id) for one in contradicting], MOST_NAMED
    )
    return f"{names} drew more than the maker's class allows."


def _needs_section(catalogue: Catalogue, results: Results, here: str, fed: Sequence[_Fed]) -> Section:
    table = table_of(
        fed,
        (
            Column("Device", lambda one: _device_entry(results, here, one)),
            Column("Needs (measured)", _need_entry, decides=True),
            Column("Hardest reading", _reading_entry, numeric=True),
            Column("Doing what", _state_entry),
            Column("Feeds another device", lambda one: text_entry(_outputs(one.device), missing="no")),
        ),
        key="needs",
        caption="Devices that take power over their cable, those that need least first",
        facets=lambda one: power_facet(catalogue, one.device),
    )
    return Section("each", "What does each need?", tables=(table,))


def _device_entry(results: Results, here: str, one: _Fed) -> Entry:
    return device_entry(results, here, one.device.device_id, "feed")


def _need_entry(one: _Fed) -> Entry:
    """The class that is needed by measurement, and beside it what was promised or what contradicts it."""
    if not one.need.known:
        return Entry(why_missing="not measured, no class promised")
    return Entry(text=one.need.words, note=one.need.beside, sort_key=repr(one.needed_w))


def _reading_entry(one: _Fed) -> Entry:
    return number_entry(one.need.hardest.power.watts if one.need.hardest else None, wording.watts)


def _state_entry(one: _Fed) -> Entry:
    if one.need.hardest is None:
        return Entry(why_missing="not measured")
    power = one.need.hardest.power
    return Entry(text=power.state, note=SIDE_WORDS[power.side])


def _outputs(device: Device) -> str:
    """The ports that feed another device; "" for none."""
    return wording.listing([p.name for p in device.ports if p.power == "out"])


def _contradiction_section(results: Results, here: str, contradicting: Sequence[_Fed]) -> Section:
    rows = [(one, text) for one in contradicting for text in one.need.contradictions]
    table: Table = table_of(
        rows,
        (
            Column("Device", lambda row: _device_entry(results, here, row[0])),
            Column("What contradicts", lambda row: Entry(text=row[1]), sentence=True),
        ),
        key="contradicting",
        caption="More than promised",
    )
    return Section("contradictions", "Which draw more than they promise?", tables=(table,))


def _class_section(results: Results, measured: Sequence[_Fed]) -> Section:
    """Every class with its limits, and what was measured to run on it."""

    def names(one: PoeClass) -> str:
        running = _running_on(measured, one)
        if len(running) == len(measured) > MOST_NAMED:
            return f"all {len(measured)} that were measured"
        return wording.listing_of_many(
            [device_name(results.bench, member.device.device_id) for member in running], MOST_NAMED
        )

    table = table_of(
        [POE_CLASSES[number] for number in sorted(POE_CLASSES) if number],
        (
            Column("Class", lambda one: Entry(text=f"class {one.number}")),
            Column("Powers", lambda one: text_entry(names(one), missing="none measured"), sentence=True),
            Column("At the supply", lambda one: number_entry(one.supply_w, wording.watts), numeric=True),
            Column("At the device", lambda one: number_entry(one.device_w, wording.watts), numeric=True),
            Column("Standard", lambda one: Entry(text=one.amendment)),
        ),
        key="classes",
        caption="Classes of power over the cable, and what was measured to run on each",
        row_key=lambda one: f"class-{one.number}",
    )
    return Section("by-class", "What does a class power?", tables=(table,))
