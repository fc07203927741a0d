"""The page of a device: what it is, whether it is current, who paid, what failed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from builder import addresses, wording
from builder.bench.bench import Subject, cells_of_subject, firmware_by_date, subject_named
from builder.bench.cells import Group, natural
from builder.bench.naming import device_name
from builder.bench.tracks import track
from builder.charts.label_text import LabelText
from builder.pages.as_published import dated_links
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing, Link, Page, Section, Table
from builder.pages.parts.chart_notes import chart_notes
from builder.pages.parts.device_card import device_facts, device_line, device_verdict
from builder.pages.parts.disputing import dispute_sections
from builder.pages.parts.drawing import Line, range_drawing
from builder.pages.parts.heads import product
from builder.pages.parts.mix_drawing import mix_drawing
from builder.pages.parts.newest import days_about
from builder.pages.parts.picturing import Picture, each_once, pictures
from builder.pages.parts.provenance import provenance
from builder.pages.parts.tested_in_any_way import test_days
from builder.pages.parts.three_windows import WindowValue, three_windows
from builder.pages.parts.withdrawing import device_withdrawn, withdrawal_notes
from builder.pages.recipe import recipe_links
from builder.pages.tables.bench_days import normalised_section
from builder.pages.tables.device_register import (
    correction_sections,
    feature_table,
    firmware_sections,
    firmware_table,
    heat_table,
    hot_sentences,
    part_table,
    port_table,
    power_table,
    price_table,
    unit_table,
)
from builder.pages.tables.device_results import by_client_table, cell_sections, longrun_table, mix_table
from builder.pages.tables.longrun_sections import longrun_sections
from builder.pages.tables.radio_tables import device_radio_table, loudness_table
from builder.pages.tables.settings_sections import brought_sections, settings_sections
from builder.registers.power import contradictions, fit_sentence
from builder.under_load.mixes import worst_of
from builder.windows.claims import model_claim
from builder.windows.knots import fade_sentence, knots
from catalog.figure_names import joined_id
from catalog.records import Device

MOST_LINES = 6


@dataclass(frozen=True, kw_only=True)
class DevicePage(Page):
    """Everything known about one device. A table without rows is None."""

    template: ClassVar[str] = "device"
    grows: ClassVar[bool] = True
    table_room: ClassVar[int] = 56_000

    windows: tuple[WindowValue, ...]
    withdrawn: tuple[str, ...]
    drawing: Drawing | None
    nearest: tuple[Link, ...]
    reviews: tuple[Link, ...]
    by_client: Table | None
    brought: tuple[Section, ...]
    settings: tuple[Section, ...]
    mixes: Table | None
    worst_mix: Drawing | None
    longruns: Table | None
    steadiness: tuple[Section, ...]
    firmware: Table
    firmware_steps: tuple[Section, ...]
    features: Table | None
    radios: Table | None
    loudness: Table | None
    ports: Table | None
    power: Table | None
    fit: str
    contradictions: tuple[str, ...]
    heat: Table | None
    hot: tuple[str, ...]
    parts: Table | None
    pictures: tuple[Picture, ...]
    prices: Table | None
    units: Table
    agreement: str
    corrections: tuple[Section, ...]
    disputes: tuple[Section, ...]
    dated: tuple[Link, ...]
    cells: tuple[Section, ...]
    normalised: Section | None
    recipes: tuple[Link, ...]

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        sections = (*self.firmware_steps, *self.steadiness)
        charts = (self.drawing, self.worst_mix, *(part.drawing for part in sections))
        return tuple(chart for chart in charts if chart)


def device_page(
    catalogue: Catalogue, results: Results, site: SiteContext, device_id: str, dates: tuple[str, ...] = ()
) -> DevicePage:
    """The page of a device, whether or not it has results."""
    bench = results.bench
    here = addresses.device(device_id)
    device = bench.devices[device_id]
    current = subject_named(bench, device_id)
    group = results.largest.get(device_id)
    cells = bench.every_cell(device_id)
    name = device_name(bench, device_id)
    drawing = None if group is None else _drawing(catalogue, results, site, here, device, group)
    return DevicePage(
        address=here,
        about=product(catalogue, results, site, device_id),
        title=name,
        cautions=True,
        question=device_line(catalogue, results, device),
        verdict=device_verdict(catalogue, results, device_id, group)
        if group is None
        else results.standing[device_id, "middle"].sentence,
        basis=results.names[group].text if group else "",
        cannot_say=_cannot_say(device, current, shown=bool(test_days(results, device_id))),
        provenance=provenance(
            catalogue,
            results,
            site,
            here,
            cells,
            assumed=_assumed(results, device_id, group),
            days=days_about(catalogue, results, device_id),
        ),
        facts=device_facts(catalogue, results, site, device),
        windows=three_windows(results, device_id),
        withdrawn=withdrawal_notes(catalogue, ("device", "unit", "firmware"), device_id, name),
        drawing=drawing,
        nearest=_nearest(results, here, device_id),
        reviews=tuple(
            Link(a.title, addresses.link(here, addresses.review(a.article_id)), wording.date(a.published_utc))
            for a in catalogue.articles
            if device_id in a.devices
        ),
        by_client=by_client_table(results, here, current),
        brought=brought_sections(results, device_id),
        settings=settings_sections(catalogue, results, here, device),
        mixes=mix_table(catalogue, results, here, device_id),
        worst_mix=_worst_mix(catalogue, results, site, here, device_id),
        longruns=longrun_table(results, device_id),
        steadiness=longrun_sections(catalogue, results, site, here, device_id),
        firmware=firmware_table(results, device, withdrawn=device_withdrawn(catalogue, device_id)),
        firmware_steps=firmware_sections(results, device),
        features=feature_table(catalogue, device_id),
        radios=device_radio_table(device),
        loudness=loudness_table(results, here, current),
        ports=port_table(device),
        power=power_table(catalogue, device),
        fit=fit_sentence(device, catalogue.power.get(device_id, ())),
        contradictions=contradictions(device, catalogue.power.get(device_id, ())),
        heat=heat_table(catalogue, device_id),
        hot=hot_sentences(catalogue, device_id),
        parts=part_table(catalogue, device_id),
        pictures=pictures(here, each_once(i for i in catalogue.images if i.device == device_id), site.sizes),
        prices=price_table(catalogue, site, device_id),
        units=unit_table(site, device),
        agreement="" if device_withdrawn(catalogue, device_id) else _agreement(results, device),
        corrections=correction_sections(catalogue, results, device_id),
        disputes=dispute_sections(catalogue, site, device),
        dated=dated_links(here, device_id, dates),
        cells=cell_sections(catalogue, results, here, device_id),
        normalised=normalised_section(results, device_id),
        recipes=recipe_links(results, here, device_id),
    )


def _agreement(results: Results, device: Device) -> str:
    """Whether its units agree, where they can be compared."""
    mixes, longruns = results.under_load(device.device_id)
    if results.bench.cells_of.get(device.device_id) or not (mixes or longruns):
        return model_claim(results.bench, device.device_id).sentence
    units = sorted({test.unit for tests in (mixes, longruns) for test in tests}, key=natural)
    return (
        f"{'Unit' if len(units) == 1 else 'Units'} {wording.listing(units)} of {device.model} "
        f"{'was' if len(units) == 1 else 'were'} tested only with several clients at once or in long runs; how units differ is "
        "not known."
    )


def _drawing(
    catalogue: Catalogue, results: Results, site: SiteContext, here: str, device: Device, group: Group
) -> Drawing | None:
    """All units and firmwares of the device in its largest group, the current one first."""
    bench = results.bench
    first = subject_named(bench, device.device_id)
    versions = [f.version for f in reversed(firmware_by_date(device))]
    others = [
        subject_named(bench, f"{device.device_id}@{version}", unit=unit.unit_id)
        for version in versions
        for unit in sorted(device.units, key=lambda u: natural(u.unit_id))
        if (unit.unit_id, version) != (first.unit, first.firmware)
    ]
    several = len(device.units) > 1
    lines: list[Line] = []
    for tested in (first, *others):
        measured = track(cells_of_subject(bench, tested, group), match="attenuation")
        if measured is not None:
            history = "history, " if tested.firmware != first.firmware else ""
            label = f"{tested.firmware}{', unit ' + tested.unit if several else ''}"
            lines.append(Line(label, f"{history}n = {sum(c.n for c in measured.cells)}", measured))
    if not lines:
        return None
    lines = _named(lines[:MOST_LINES], first, versions)
    return range_drawing(
        catalogue,
        results,
        here,
        key=f"range~{device.device_id}~{group.slug}",
        title=f"How does {device.model} fade as more is lost on the way?",
        match="attenuation",
        lines=lines,
        notes=chart_notes(results, site, group, lines),
        spoken=f"{device.model} with {results.names[group].text}. "
        + fade_sentence(knots(bench, [lines[0].track], match="attenuation")[0], match="attenuation"),
        shared_range=None,
    )


def _named(lines: Sequence[Line], current: Subject, versions: Sequence[str]) -> list[Line]:
    """The lines with their names: firmware, and which unit or whether it is of now.

    versions  of the device, the newest first
    """
    if len(lines) == 1:
        return [replace(lines[0], names=(LabelText("firmware", current.firmware),))]
    several = len({line.track.cells[0].unit for line in lines}) > 1
    named = []
    for line in lines:
        tested = line.track.cells[0]
        if several:
            rest = f", unit {tested.unit}"
        elif tested.firmware == current.firmware:
            rest = ", now"
        else:
            newer = versions.index(tested.firmware) < versions.index(current.firmware)
            rest = ", newer" if newer else ", before"
        named.append(replace(line, names=(LabelText(tested.firmware, rest, "first"),)))
    return named


def _worst_mix(catalogue: Catalogue, results: Results, site: SiteContext, here: str, device_id: str) -> Drawing | None:
    """The run with several clients that it did worst in."""
    worst = worst_of(results.mix_results_of.get(device_id, ()))
    if worst is None:
        return None
    return mix_drawing(catalogue, results, site, here, worst, key=joined_id("mix", worst.mix.mix))


def _nearest(results: Results, here: str, device_id: str) -> tuple[Link, ...]:
    bench = results.bench
    near = results.near[device_id]
    others = [a if b == device_id else b for a, b in results.pairs_of.get(device_id, ())]
    links = [
        Link(
            device_name(bench, other),
            addresses.link(here, addresses.pair(device_id, other)),
        )
        for other in sorted(others, key=lambda o: (o not in near, o))
    ]
    if bench.cells_of.get(device_id):
        links.append(
            Link("Compare with others", addresses.link_with_choices(here, addresses.CHOOSER, devices=device_id))
        )
    return tuple(links)


def _assumed(results: Results, device_id: str, group: Group | None) -> tuple[str, ...]:
    if group is None:
        return ()
    entry = results.standing[device_id, "middle"].entry
    return entry.assumed if entry else ()


def _cannot_say(device: Device, current: Subject, *, shown: bool) -> tuple[str, ...]:
    if not shown:
        return (f"How {device.model} performs: no result of it is shown.", *([current.note] if current.note else []))
    texts = [
        f"How another {device.model} performs: {wording.count(len(device.units), 'unit')} of it was tested."
        if len(device.units) == 1
        else f"How a further {device.model} performs: {len(device.units)} units were tested and are shown apart.",
        "What it does with a client that is not listed here, or with walls that are not these.",
        "What lies outside the tested range: no line goes beyond its last measured place, or across a gap.",
    ]
    if current.note:
        texts.append(current.note)
    return tuple(texts)
