"""The page of two devices: swap mine for that, and is it better where I sit?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.bench import Bench, Subject, cells_of_subject
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.insides import inside_section
from builder.pages.parts.blocks import Drawing, Entry, Fact, Heading, Link, Page, Row, Section, Side, Table
from builder.pages.parts.chart_notes import chart_notes
from builder.pages.parts.device_card import origin_sentence
from builder.pages.parts.disputing import disputed
from builder.pages.parts.drawing import AxisMatch, Line, range_drawing
from builder.pages.parts.entries import rate_entry
from builder.pages.parts.firmware_marks import older_mark
from builder.pages.parts.provenance import provenance
from builder.pages.parts.tested_in_any_way import test_days
from builder.pages.tables.bench_days import odd_day_note
from builder.pairs.pairing import Pairing, tracks
from builder.pairs.verdicts import PairFigure
from builder.registers.eirp import loudness_sentence

READINGS = {
    "attenuation": (
        "Counts everything: transmit power, antennas and receiver. It is the answer to hanging one where the "
        "other hung."
    ),
    "level": (
        "Takes transmit power and antennas out: who does more with a signal of equal strength. Read at the client, so "
        "downlink only, and only within one client setup."
    ),
}


@dataclass(frozen=True, slots=True)
class Contender:
    """One of the two: its name, the way to its page, and what was tested of it."""

    link: Link
    facts: tuple[Fact, ...]


@dataclass(frozen=True, kw_only=True)
class PairPage(Page):
    """Two devices. Where the leading group is refused, no table holds a number."""

    template: ClassVar[str] = "pair"

    group: str
    contenders: tuple[Contender, Contender]
    drawing: Drawing | None
    sides: tuple[Side, ...]
    remarks: tuple[str, ...]
    groups: Table
    spots: Table | None
    inside: Section | None

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        return (self.drawing,) if self.drawing else ()


def pair_page(catalogue: Catalogue, results: Results, site: SiteContext, a: str, b: str) -> PairPage:
    """The page of two devices with results, in the order of their ids."""
    bench = results.bench
    here = addresses.pair(a, b)
    found = results.pairing(a, b)
    leading = found.leading
    names = device_name(bench, a), device_name(bench, b)
    group = results.names[leading.group].text if leading.group else ""
    cells = [c for who in (found.a, found.b) for c in cells_of_subject(bench, who, leading.group)]
    return PairPage(
        address=here,
        title=f"{names[0]} or {names[1]}",
        cautions=True,
        question=f"{names[0]} or {names[1]}: which is better where I sit?",
        verdict=found.sentence,
        cannot_say=_cannot_say(found),
        provenance=provenance(catalogue, results, site, here, cells, assumed=leading.assumed),
        group=group,
        contenders=(
            _contender(catalogue, results, site, here, found.a),
            _contender(catalogue, results, site, here, found.b),
        ),
        drawing=_drawing(catalogue, results, site, here, found),
        sides=_sides(bench, found),
        remarks=(*_remarks(found), *_odd_days(results, found)),
        groups=_group_table(catalogue, results, here, found),
        spots=_spot_table(catalogue, results, here, found),
        inside=inside_section(catalogue, results, here, a, b),
    )


def _contender(catalogue: Catalogue, results: Results, site: SiteContext, here: str, who: Subject) -> Contender:
    device = results.bench.devices[who.device]
    dates = sorted(c.date for c in cells_of_subject(results.bench, who))
    origin = " ".join(origin_sentence(site, u) for u in device.units if u.unit_id == who.unit)
    facts = [
        Fact("Firmware", _firmware(results, who)),
        Fact("Tested", _tested(results, who.device, dates)),
        Fact("Origin", origin),
    ]
    if who.note:
        facts.append(Fact("Note", who.note))
    if found := disputed(catalogue).open.get(who.device, ()):
        claims = wording.listing([one.dispute.claim for one in found])
        facts.append(Fact("Dispute open", claims, addresses.link(here, addresses.device(who.device), found[0].key)))
    return Contender(
        Link(device_name(results.bench, who.device), addresses.link(here, addresses.device(who.device))), tuple(facts)
    )


def _firmware(results: Results, who: Subject) -> str:
    if not who.firmware:
        return "none with results"
    mark = older_mark(results, who.device, who.firmware)
    return f"{who.firmware} ({mark})" if mark else who.firmware


def _tested(results: Results, device: str, dates: Sequence[str]) -> str:
    if dates:
        return wording.date_range(dates[0], dates[-1])
    return "with several clients at once or for hours only" if test_days(results, device) else "not yet"


def _drawing(catalogue: Catalogue, results: Results, site: SiteContext, here: str, found: Pairing) -> Drawing | None:
    """The lines of the leading group; where it is refused, at equal level if that is not; else none."""
    leading = found.leading
    if leading.verdict != "refused":
        return _lines_drawing(catalogue, results, site, here, found, leading, "attenuation")
    level = next((f for f in found.level if f.verdict != "refused"), None)
    return None if level is None else _lines_drawing(catalogue, results, site, here, found, level, "level")


def _lines_drawing(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    found: Pairing,
    figure: PairFigure,
    match: AxisMatch,
) -> Drawing | None:
    lines = [
        Line(name, f"{who.firmware}, n = {sum(c.n for c in line.cells)}", line)
        for name, who, line in zip(
            found.names, (found.a, found.b), tracks(results.bench, figure, match=match), strict=True
        )
        if line is not None
    ]
    if len(lines) < 2 or figure.group is None:
        return None
    place = "in the same place" if match == "attenuation" else "at the same signal"
    return range_drawing(
        catalogue,
        results,
        here,
        key=figure.figure,
        title=f"Which gives more {place}, {found.names[0]} or {found.names[1]}?",
        match=match,
        lines=lines,
        notes=chart_notes(results, site, figure.group, lines),
        spoken=figure.sentence,
        shared_range=figure.range,
    )


def _sides(bench: Bench, found: Pairing) -> tuple[Side, ...]:
    sides = [Side("In the same place", found.leading.sentence, READINGS["attenuation"])]
    sides += [
        Side(
            "At the same signal" if i == 0 else "At the same signal, other setup",
            f.sentence,
            READINGS["level"] if i == 0 else "",
            loudness_sentence(bench, f),
        )
        for i, f in enumerate(found.level)
    ]
    return tuple(sides)


def _remarks(found: Pairing) -> tuple[str, ...]:
    """Where the lead changes, and by how much the two must differ to be told apart."""
    leading = found.leading
    if leading.verdict == "refused":
        return ()
    remarks: list[str] = []
    if leading.crossings:
        where = wording.listing([wording.decibels(x) for x in leading.crossings])
        noise = ", inside noise" if leading.verdict == "not-separated" else ""
        remarks.append(f"The drawn lines cross at {where} dB{noise}.")
    if leading.half_width is not None:
        remarks.append(
            "The smallest difference these tests could have shown is "
            f"{wording.number(leading.half_width, leading.decimals)} Mbit/s."
        )
    if leading.range is not None:
        remarks.append(f"All of it holds for the shared range, {wording.db_range(*leading.range)} dB.")
    remarks.append(
        "Each group is judged by itself: verdicts on this page are not adjusted for the number of comparisons "
        "(no Holm)."
    )
    return tuple(remarks)


def _odd_days(results: Results, found: Pairing) -> tuple[str, ...]:
    """Which of the two was measured on a day that the reference device says was odd; compared it is as measured."""
    texts: list[str] = []
    if found.leading.verdict == "refused":
        return ()
    for name, who in zip(found.names, (found.a, found.b), strict=True):
        cells = cells_of_subject(results.bench, who, found.leading.group)
        days = {(c.date, c.house, c.session): c.group for c in cells if c.mean is not None}
        for (day, house, session), group in sorted(days.items(), key=lambda one: one[0]):
            if note := odd_day_note(results.factors.get((house, session, group))):
                texts.append(f"{name} was measured on {wording.date(day)}, {note}. It is compared as it was measured.")
    return tuple(texts)


def _group_table(catalogue: Catalogue, results: Results, here: str, found: Pairing) -> Table:
    name_a, name_b = found.names
    ordered = sorted(found.by_attenuation, key=lambda f: f is not found.leading)
    return Table(
        key="groups",
        caption="Every group both were tested in, in the same place. Rates in Mbit/s over the shared range.",
        columns=(
            Heading("Group"),
            Heading(name_a, numeric=True),
            Heading(name_b, numeric=True),
            Heading("Shared range", numeric=True),
            Heading("What these tests say", sentence=True),
        ),
        rows=tuple(_group_row(results, f, _marks(catalogue, results, here, f)) for f in ordered),
    )


def _marks(catalogue: Catalogue, results: Results, here: str, figure: PairFigure) -> tuple[Link, ...]:
    """The marks of open disputes about a comparison, or about a cell or a device it rests on."""
    return disputed(catalogue).marks_of_subjects(
        results, here, (figure.a, figure.b), figure.group, figure.range, figures=(figure.figure,), spot=figure.spot
    )


def _group_row(results: Results, figure: PairFigure, marks: tuple[Link, ...]) -> Row:
    means = _means(figure)
    shared = (
        Entry(text=wording.db_range(*figure.range), unit="dB") if figure.range else Entry(why_missing="not compared")
    )
    return Row(
        Entry(text=results.names[figure.group].text if figure.group else "No group in common"),
        (*means, shared, Entry(text=figure.sentence, marks=marks)),
    )


def _means(figure: PairFigure) -> tuple[Entry, Entry]:
    """What each of the two gives, and what held it back."""
    a, b = (
        rate_entry(mean, bound=bound, limit=None if port is None else "port", missing="not compared")
        for mean, bound, port in (
            (figure.mean_a, figure.bound_a, figure.port_a),
            (figure.mean_b, figure.bound_b, figure.port_b),
        )
    )
    return a, b


def _spot_table(catalogue: Catalogue, results: Results, here: str, found: Pairing) -> Table | None:
    spots = [f for f in found.by_spot if f.spot]
    if not spots:
        return None
    name_a, name_b = found.names
    return Table(
        key="spots",
        caption="At the same spot in the same epoch; each spot by itself, never pooled. Rates in Mbit/s.",
        columns=(
            Heading("Spot"),
            Heading("Group"),
            Heading(name_a, numeric=True),
            Heading(name_b, numeric=True),
            Heading("What these tests say", sentence=True),
        ),
        rows=tuple(
            Row(
                Entry(text=f.spot or ""),
                (
                    Entry(text=results.names[f.group].text if f.group else ""),
                    *_means(f),
                    Entry(text=f.sentence, marks=_marks(catalogue, results, here, f)),
                ),
            )
            for f in spots
        ),
    )


def _cannot_say(found: Pairing) -> tuple[str, ...]:
    name_a, name_b = found.names
    texts: list[str] = []
    if found.leading.range is not None:
        texts.append(
            f"Which is better outside {wording.db_range(*found.leading.range)} dB: no line is drawn beyond what "
            "was measured."
        )
    texts += [
        f"How another {name_a} or another {name_b} performs: one unit of each is compared here.",
        "What happens with another client, or after a firmware that is not named here.",
    ]
    return tuple(texts)


def pair_links(results: Results, here: str, pairs: Sequence[tuple[str, str]]) -> tuple[Link, ...]:
    """Links to pair pages by the names of both."""
    return tuple(
        Link(
            f"{device_name(results.bench, a)} or {device_name(results.bench, b)}",
            addresses.link(here, addresses.pair(a, b)),
        )
        for a, b in pairs
    )
