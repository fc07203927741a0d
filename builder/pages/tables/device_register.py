"""The registered half of a device's page: firmware, features, ports, heat, parts, prices, units and their history."""

from __future__ import annotations

from datetime import date

from builder import wording
from builder.bench.bench import firmware_by_date
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Heading, Row, Section, Table
from builder.pages.parts.correction_words import changed_words, condition_words
from builder.pages.parts.device_card import origin_words, retest_words
from builder.pages.parts.entries import date_entry, number_entry, text_entry
from builder.pages.tables.radio_tables import port_payload
from builder.pairs.histories import Step, firmware_steps
from builder.registers.heat import caution_sentence, rise_of
from builder.registers.power import SIDE_WORDS, readings
from builder.registers.prices import age_remark
from builder.under_load.collapses import count
from catalog.records import Correction, Device, Heat, Price


def firmware_table(results: Results, device: Device) -> Table:
    """Versions, newest first, with what each is to us."""
    current = results.current_firmware(device.device_id)
    tested = {c.firmware for c in results.bench.cells_of.get(device.device_id, ())}
    tested |= {test.firmware for tests in results.under_load(device.device_id) for test in tests}
    rows: list[Row] = []
    for firmware in reversed(firmware_by_date(device)):
        state = (
            "not public"
            if not firmware.public
            else "current: the latest public one with results"
            if firmware.version == current
            else "history"
            if firmware.version in tested
            else "not tested"
        )
        own = [m for m in results.mixes_of.get(device.device_id, ()) if m.firmware == firmware.version]
        rows.append(
            Row(
                Entry(text=firmware.version),
                (date_entry(firmware.released), Entry(text=state), Entry(text=wording.capital(count(own).sentence))),
            )
        )
    return Table(
        key="firmware",
        caption="Firmware, newest first",
        columns=(
            Heading("Version"),
            Heading("Released"),
            Heading("Here", sentence=True),
            Heading("With several clients"),
        ),
        rows=tuple(rows),
    )


def firmware_sections(results: Results, device: Device) -> tuple[Section, ...]:
    """Did it help? Each tested firmware against the tested one before it."""
    return tuple(
        _step_section(results, device, step)
        for step in firmware_steps(results.bench, device.device_id, company=results.company)
    )


def _step_section(results: Results, device: Device, step: Step) -> Section:
    heading = f"Did {step.newer} help, against {step.older}?"
    key = f"firmware~{step.older}~{step.newer}"
    if step.pairing is None:
        return Section(key, heading, (f"No unit of {device.model} was tested with both, so they are not compared.",))
    leading = step.pairing.leading
    spots = [f for f in step.pairing.by_spot if f.spot and f.group == leading.group]
    group = f" Measured with {results.names[leading.group].text}." if leading.group else ""
    table = Table(
        key=f"spots~{step.older}~{step.newer}",
        caption=f"{step.newer} against {step.older}, spot by spot; each spot is judged by itself",
        columns=(Heading("Spot"), Heading("What these tests say", sentence=True)),
        rows=tuple(Row(Entry(text=f.spot or ""), (Entry(text=f.sentence),)) for f in spots),
    )
    return Section(key, heading, (step.pairing.sentence + group,), tables=(table,) if spots else ())


def feature_table(catalogue: Catalogue, device_id: str) -> Table | None:
    """Every piece of evidence, by feature and date: what was promised is not what works."""
    found = sorted(catalogue.features.get(device_id, ()), key=lambda f: (f.feature, f.date, f.step, f.firmware))
    if not found:
        return None
    return Table(
        key="features",
        caption="Features by step. A promise is the maker's word; “works” names how it was shown; “not tested” "
        "is no “no”.",
        columns=(
            Heading("Feature"),
            Heading("Step"),
            Heading("Licence"),
            Heading("Firmware"),
            Heading("Date"),
            Heading("How it was seen", sentence=True),
        ),
        rows=tuple(
            Row(
                Entry(text=f.feature),
                (
                    Entry(text=f.step),
                    text_entry(f.licence, missing="none named"),
                    Entry(text=f.firmware),
                    date_entry(f.date),
                    text_entry("; ".join(t for t in (f.how, f.evidence) if t)),
                ),
            )
            for f in found
        ),
    )


def port_table(device: Device) -> Table | None:
    """Wired ports with the power they take or give."""
    if not device.ports:
        return None
    words = {"in": "takes power", "out": "gives power", "none": "no power"}
    return Table(
        key="ports",
        caption="Wired ports, as the maker states them, and what TCP gets through one at most: with the timestamps "
        "option, and without. No result that goes through it can be above that.",
        columns=(
            Heading("Port"),
            Heading("Speed", numeric=True),
            Heading("TCP payload, Mbit/s", numeric=True),
            Heading("Power"),
            Heading("Promised class"),
        ),
        rows=tuple(
            Row(
                Entry(text=p.name),
                (
                    Entry(text=wording.port_speed(p.speed_mbit_s), sort_key=repr(p.speed_mbit_s)),
                    Entry(text=port_payload(p.speed_mbit_s), sort_key=repr(p.speed_mbit_s)),
                    Entry(text=words[p.power]),
                    text_entry(
                        None if p.power_class is None else f"class {p.power_class}",
                        missing="none" if p.power == "none" else "not stated",
                    ),
                ),
            )
            for p in device.ports
        ),
    )


def power_table(catalogue: Catalogue, device: Device) -> Table | None:
    """Measured power, with the smallest class that allows it."""
    found = readings(device, catalogue.power.get(device.device_id, ()))
    if not found:
        return None
    return Table(
        key="power",
        caption="Power, as measured",
        columns=(
            Heading("State"),
            Heading("Power", numeric=True),
            Heading("Read"),
            Heading("Source", sentence=True),
            Heading("Needs"),
            Heading("Unit"),
        ),
        rows=tuple(
            Row(
                Entry(text=r.power.state),
                (
                    number_entry(r.power.watts, wording.watts),
                    Entry(
                        text=SIDE_WORDS[r.power.side],
                        note="" if r.power.cable_m is None else f"{wording.trimmed(r.power.cable_m, 1)} m of cable",
                    ),
                    text_entry(None if r.power.source_class is None else f"class {r.power.source_class}"),
                    Entry(
                        text="more than any class allows" if r.needed is None else f"class {r.needed}",
                        note="more than promised" if r.contradiction else "",
                    ),
                    Entry(text=r.power.unit),
                ),
            )
            for r in found
        ),
    )


def heat_table(catalogue: Catalogue, device_id: str) -> Table | None:
    """Surface temperatures and their rise above the room."""
    found = catalogue.heat.get(device_id, ())
    if not found:
        return None
    return Table(
        key="heat",
        caption="Surface temperature. Rises less than 3 K apart are not separated: a reading is good to about 2 K.",
        columns=(
            Heading("Face"),
            Heading("Material"),
            Heading("Surface", numeric=True),
            Heading("Room", numeric=True),
            Heading("Rise", numeric=True),
            Heading("Load"),
            Heading("After", numeric=True),
            Heading("Mounted"),
        ),
        rows=tuple(_heat_row(h) for h in found),
    )


def _heat_row(found: Heat) -> Row:
    rise = rise_of(found)
    return Row(
        Entry(text=found.face),
        (
            Entry(text=found.material),
            Entry(text=wording.celsius(found.reading_c), sort_key=repr(found.reading_c)),
            number_entry(found.ambient_c, wording.celsius),
            number_entry(rise, wording.kelvin, missing="no room temperature"),
            Entry(text=found.load),
            Entry(text=f"{wording.trimmed(found.minutes, 0)} min", sort_key=repr(found.minutes)),
            text_entry(found.mount),
        ),
    )


def hot_sentences(catalogue: Catalogue, device_id: str) -> tuple[str, ...]:
    """A caution for every surface above its touch limit."""
    cautions = (caution_sentence(found) for found in catalogue.heat.get(device_id, ()))
    return tuple(dict.fromkeys(text for text in cautions if text))


def part_table(catalogue: Catalogue, device_id: str) -> Table | None:
    """Parts found inside. The same part is not the same performance."""
    found = catalogue.parts.get(device_id, ())
    if not found:
        return None
    return Table(
        key="parts",
        caption="Parts found inside. The same part does not make the same performance.",
        columns=(
            Heading("Block"),
            Heading("Marking"),
            Heading("Count", numeric=True),
            Heading("How known"),
            Heading("Revision"),
        ),
        rows=tuple(
            Row(
                Entry(text=p.block),
                (
                    Entry(text=p.marking),
                    number_entry(p.count, lambda count: wording.number(count, 0), missing="not counted"),
                    Entry(text="read off the part" if p.read == "read" else "inferred"),
                    text_entry(p.revision),
                ),
            )
            for p in found
        ),
    )


def price_table(catalogue: Catalogue, site: SiteContext, device_id: str) -> Table | None:
    """Dated observations, newest first."""
    found = sorted(catalogue.prices.get(device_id, ()), key=lambda p: (p.date, p.price_id), reverse=True)
    if not found:
        return None
    return Table(
        key="prices",
        caption="Prices, as seen on a day",
        columns=(
            Heading("Day"),
            Heading("Price", numeric=True),
            Heading("Tax"),
            Heading("Region"),
            Heading("Condition"),
            Heading("Licence a year", numeric=True),
        ),
        rows=tuple(_price_row(p, site.today) for p in found),
    )


def _price_row(price: Price, today: date) -> Row:
    tax = {True: "included", False: "not included", None: "not stated"}[price.tax_included]
    return Row(
        Entry(text=wording.date(price.date), sort_key=price.date, note=age_remark(price, today)),
        (
            Entry(text=wording.money(price.amount, price.currency), sort_key=repr(price.amount)),
            Entry(text=tax),
            text_entry(price.region),
            text_entry(price.condition),
            number_entry(
                price.licence_per_year,
                lambda amount: wording.money(amount, price.currency),
                missing="none named",
            ),
        ),
    )


def unit_table(site: SiteContext, device: Device) -> Table:
    """Units, where they came from, and whether a retest is still possible."""
    return Table(
        key="units",
        caption="Units: where they came from",
        columns=(Heading("Unit"), Heading("Origin"), Heading("Received"), Heading("Returned")),
        rows=tuple(
            Row(
                Entry(text=u.unit_id),
                (
                    Entry(text=origin_words(u)),
                    date_entry(u.received),
                    Entry(text=wording.capital(retest_words(site, u.returned)), sort_key=u.returned)
                    if u.returned
                    else Entry(why_missing="still here"),
                ),
            )
            for u in device.units
        ),
    )


def correction_sections(catalogue: Catalogue, results: Results, device_id: str) -> tuple[Section, ...]:
    """Every value that was replaced: what it was, what it is, and why."""
    return tuple(
        Section(
            f"correction~{index}",
            wording.capital(changed_words(catalogue, c)),
            (_correction_sentence(results, c),),
        )
        for index, c in enumerate((c for c in catalogue.corrections if c.device == device_id), start=1)
    )


def _correction_sentence(results: Results, found: Correction) -> str:
    condition = condition_words(results, found)
    return (
        f"Because {found.reason.rstrip('.')}. Noticed by {found.noticed_by}, {wording.date(found.date)}. "
        f"It concerns {found.table}: {condition or found.row_key}."
    )
