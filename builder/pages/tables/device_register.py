"""The registered half of a device's page: firmware, features, ports, heat, parts, prices, units and their history."""

from __future__ import annotations

from builder import addresses, wording
from builder.bench.bench import firmware_by_date
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing, Entry, Link, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.correction_words import changed_words, condition_words
from builder.pages.parts.device_card import origin_words, retest_words
from builder.pages.parts.entries import date_entry, number_entry, text_entry
from builder.pages.parts.step_drawing import firmware_step_figure
from builder.pages.tables.radio_tables import port_payload
from builder.pairs.histories import Step, step_key
from builder.registers.heat import caution_sentence, rise_of
from builder.registers.power import SIDE_WORDS, Reading, readings
from builder.under_load.collapses import count
from catalog.records import Correction, Device, Firmware, Part, Price


def firmware_table(results: Results, device: Device, *, withdrawn: bool = False) -> Table:
    """Versions, newest first, with the state of each: current, history, not tested or not public.

    withdrawn  whether the device was, so that nobody is told that its firmware was not tested
    """
    untested = "results withdrawn" if withdrawn else "not tested"
    current = results.current_firmware(device.device_id)
    tested = {c.firmware for c in results.bench.cells_of.get(device.device_id, ())}
    tested |= {test.firmware for tests in results.under_load(device.device_id) for test in tests}

    def state(firmware: Firmware) -> str:
        if not firmware.public:
            return "not public"
        if firmware.version == current:
            return "current: the latest public one with results"
        return "history" if firmware.version in tested else untested

    def under_load(firmware: Firmware) -> str:
        mixes = [m for m in results.mixes_of.get(device.device_id, ()) if m.firmware == firmware.version]
        return wording.capital(count(mixes).sentence if mixes else untested)

    return table_of(
        reversed(firmware_by_date(device)),
        (
            Column("Version", lambda firmware: Entry(text=firmware.version)),
            Column("Released", lambda firmware: date_entry(firmware.released)),
            Column("Here", lambda firmware: Entry(text=state(firmware)), sentence=True),
            Column("With several clients", lambda firmware: Entry(text=under_load(firmware))),
        ),
        key="firmware",
        caption="Firmware, newest first",
        repeats=True,
    )


def firmware_sections(results: Results, device: Device) -> tuple[Section, ...]:
    """Did it help? Each tested firmware against the tested one before it."""
    return tuple(_step_section(results, device, step) for step in results.firmware_steps(device.device_id))


def _step_section(results: Results, device: Device, step: Step) -> Section:
    heading = f"{step.newer} against {step.older}"
    key = step_key(step)
    if step.pairing is None:
        return Section(key, heading, (f"No unit of {device.model} was tested with both, so they are not compared.",))
    leading = step.pairing.leading
    spots = [f for f in step.pairing.by_spot if f.spot and f.group == leading.group]
    group = f" Measured with {results.names[leading.group].text}." if leading.group else ""
    table = table_of(
        spots,
        (
            Column("Spot", lambda figure: Entry(text=figure.spot or "")),
            Column("What these tests say", lambda figure: Entry(text=figure.sentence), sentence=True),
        ),
        key=f"spots~{step.older}~{step.newer}",
        caption=f"{step.newer} against {step.older}, spot by spot; each spot is judged by itself",
    )
    every = addresses.link(addresses.device(device.device_id), addresses.FIRMWARE)
    links = (Link("Which other devices got better by firmware?", every),)
    figure = firmware_step_figure(results.bench, step)
    if figure is not None:  # its table holds the spots
        specification = addresses.link(addresses.device(device.device_id), addresses.specification(figure.key))
        return Section(
            key, heading, (step.pairing.sentence + group,), drawing=Drawing(figure, specification), links=links
        )
    return Section(key, heading, (step.pairing.sentence + group,), tables=(table,) if spots else (), links=links)


def feature_table(catalogue: Catalogue, device_id: str) -> Table | None:
    """Every piece of evidence, by feature and date: what was promised is not what works."""
    features = sorted(catalogue.features.get(device_id, ()), key=lambda f: (f.feature, f.date, f.step, f.firmware))
    return table_of(
        features,
        (
            Column("Feature", lambda f: Entry(text=f.feature)),
            Column("Step", lambda f: Entry(text=f.step)),
            Column("Licence", lambda f: text_entry(f.licence, missing="none named")),
            Column("Firmware", lambda f: Entry(text=f.firmware)),
            Column("Date", lambda f: date_entry(f.date)),
            Column(
                "How it was seen", lambda f: text_entry("; ".join(t for t in (f.how, f.evidence) if t)), sentence=True
            ),
        ),
        key="features",
        caption="Features by step. A promise is the maker's word; “works” names how it was shown; “not tested” "
        "is no “no”.",
    ).or_none


def port_table(device: Device) -> Table | None:
    """Wired ports with the power they take or give."""
    words = {"in": "takes power", "out": "gives power", "none": "no power"}
    return table_of(
        device.ports,
        (
            Column("Port", lambda p: Entry(text=p.name)),
            Column("Speed", lambda p: number_entry(p.speed_mbit_s, wording.port_speed), numeric=True),
            Column("TCP payload, Mbit/s", lambda p: number_entry(p.speed_mbit_s, port_payload), numeric=True),
            Column("Power", lambda p: Entry(text=words[p.power])),
            Column(
                "Promised class",
                lambda p: class_entry(p.power_class, missing="none" if p.power == "none" else "not stated"),
            ),
        ),
        key="ports",
        caption="Wired ports, as the maker states them, and what TCP gets through one at most: with the timestamps "
        "option, and without. No result that goes through it can be above that.",
    ).or_none


def class_entry(number: int | None, *, missing: str = "not stated") -> Entry:
    """A class of power over the cable."""
    return text_entry(None if number is None else f"class {number}", missing=missing)


def power_table(
    catalogue: Catalogue, device: Device, identifier: str | None = None, *, key: str = "power"
) -> Table | None:
    """Measured power, with the smallest class that allows it. identifier: of the device under settings, else its own."""
    return table_of(
        readings(device, catalogue.power.get(identifier or device.device_id, ())),
        (
            Column("State", lambda r: Entry(text=r.power.state)),
            Column("Power", lambda r: number_entry(r.power.watts, wording.watts), numeric=True),
            Column("Read", _read_entry),
            Column("Source", lambda r: class_entry(r.power.source_class), sentence=True),
            Column("Needs", _needed_entry),
            Column("Unit", lambda r: Entry(text=r.power.unit)),
        ),
        key=key,
        caption="Power, as measured",
    ).or_none


def _read_entry(reading: Reading) -> Entry:
    cable_m = reading.power.cable_m
    note = "" if cable_m is None else f"{wording.trimmed(cable_m, 1)} m of cable"
    return Entry(text=SIDE_WORDS[reading.power.side], note=note)


def _needed_entry(reading: Reading) -> Entry:
    text = "more than any class allows" if reading.needed is None else f"class {reading.needed}"
    return Entry(text=text, note="more than promised" if reading.contradiction else "")


def heat_table(catalogue: Catalogue, identifier: str, *, key: str = "heat") -> Table | None:
    """Surface temperatures of a device, or of it under settings, and their rise above the room."""
    return table_of(
        catalogue.heat.get(identifier, ()),
        (
            Column("Face", lambda h: Entry(text=h.face)),
            Column("Material", lambda h: Entry(text=h.material)),
            Column("Surface", lambda h: number_entry(h.reading_c, wording.celsius), numeric=True),
            Column("Room", lambda h: number_entry(h.ambient_c, wording.celsius), numeric=True),
            Column(
                "Rise", lambda h: number_entry(rise_of(h), wording.kelvin, missing="no room temperature"), numeric=True
            ),
            Column("Load", lambda h: Entry(text=h.load)),
            Column("After", lambda h: number_entry(h.minutes, _minutes), numeric=True),
            Column("Mounted", lambda h: text_entry(h.mount)),
        ),
        key=key,
        caption="Surface temperature. Rises less than 3 K apart are not told apart: a reading is good to about 2 K.",
    ).or_none


def _minutes(minutes: float) -> str:
    return f"{wording.trimmed(minutes, 0)} min"


def hot_sentences(catalogue: Catalogue, device_id: str) -> tuple[str, ...]:
    """A caution for every surface above its touch limit."""
    cautions = (caution_sentence(heat) for heat in catalogue.heat.get(device_id, ()))
    return tuple(dict.fromkeys(text for text in cautions if text))


def part_table(catalogue: Catalogue, device_id: str) -> Table | None:
    """Parts found inside. The same part is not the same performance."""
    return table_of(
        catalogue.parts.get(device_id, ()),
        (
            Column("Block", lambda p: Entry(text=p.block)),
            Column("Marking", lambda p: Entry(text=p.marking)),
            Column(
                "Count",
                lambda p: number_entry(p.count, lambda n: wording.number(n, 0), missing="not counted"),
                numeric=True,
            ),
            Column("How known", how_known_entry),
            Column("Revision", lambda p: text_entry(p.revision)),
        ),
        key="parts",
        caption="Parts found inside. The same part does not make the same performance.",
    ).or_none


def how_known_entry(part: Part) -> Entry:
    """Whether the marking was read or inferred."""
    return Entry(text="read off the part" if part.read == "read" else "inferred")


def price_table(catalogue: Catalogue, site: SiteContext, device_id: str) -> Table | None:
    """Dated observations, newest first."""
    prices = sorted(catalogue.prices.get(device_id, ()), key=lambda p: (p.date, p.price_id), reverse=True)
    tax = {True: "included", False: "not included", None: "not stated"}
    return table_of(
        prices,
        (
            Column("Day", lambda p: date_entry(p.date, note="look again" if site.old[p.date] else "")),
            Column("Price", lambda p: _money_entry(p, p.amount), numeric=True),
            Column("Tax", lambda p: Entry(text=tax[p.tax_included])),
            Column("Region", lambda p: text_entry(p.region)),
            Column("Condition", lambda p: text_entry(p.condition)),
            Column("Licence a year", lambda p: _money_entry(p, p.licence_per_year), numeric=True),
        ),
        key="prices",
        caption="Prices, as seen on a day",
    ).or_none


def _money_entry(price: Price, amount: float | None) -> Entry:
    return number_entry(amount, lambda value: wording.money(value, price.currency), missing="none named")


def unit_table(site: SiteContext, device: Device) -> Table:
    """Units, where they came from, and whether a retest is still possible."""
    return table_of(
        device.units,
        (
            Column("Unit", lambda unit: Entry(text=unit.unit_id)),
            Column("Origin", lambda unit: Entry(text=origin_words(unit))),
            Column("Received", lambda unit: date_entry(unit.received)),
            Column("Returned", lambda unit: _returned_entry(site, unit.returned)),
        ),
        key="units",
        caption="Units: where they came from",
    )


def _returned_entry(site: SiteContext, returned: str | None) -> Entry:
    if not returned:
        return Entry(why_missing="still here")
    return Entry(text=wording.capital(retest_words(site, returned)), sort_key=returned)


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


def _correction_sentence(results: Results, correction: Correction) -> str:
    condition = condition_words(results, correction)
    return (
        f"Because {correction.reason.rstrip('.')}. Noticed by {correction.noticed_by}, "
        f"{wording.date(correction.date)}. It concerns {correction.table}: {condition or correction.row_key}."
    )
