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
from builder.pages.parts.blocks import Drawing, Entry, Fact, Link, Page, Section, Side, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.device_card import origin_sentence, origin_words
from builder.pages.parts.disputing import disputed
from builder.pages.parts.entries import rate_entry
from builder.pages.parts.firmware_marks import older_mark
from builder.pages.parts.newest import days_tested
from builder.pages.parts.pair_drawing import pair_drawing
from builder.pages.parts.provenance import provenance
from builder.pages.parts.tested_in_any_way import test_days
from builder.pages.tables.bench_days import odd_day_note
from builder.pages.tables.mix_sections import busy_section
from builder.pairs.pairing import Pairing
from builder.pairs.verdicts import PairFigure, summaries_text
from builder.registers.eirp import loudness_sentence
from builder.registers.power import need_fact

READINGS = {
    "attenuation": (
        "Counts everything: transmit power, antennas and receiver. It is the answer to hanging one where the "
        "other hung."
    ),
    "level": (
        "Takes transmit power and antennas out: who does more with a signal of equal strength. Read at the client, so "
        "download only, and only within one client setup."
    ),
}


@dataclass(frozen=True, slots=True)
class Contender:
    """One of the two: its name, the way to its page, and what was tested of it."""

    link: Link
    facts: tuple[Fact, ...]


@dataclass(frozen=True, kw_only=True)
class PairPage(Page):
    """Two devices. If the leading group is refused, no table holds a number."""

    template: ClassVar[str] = "pair"

    contenders: tuple[Contender, Contender]
    drawing: Drawing | None
    sides: tuple[Side, ...]
    remarks: tuple[str, ...]
    groups: Table
    spots: Table | None
    busy: Section | None
    inside: Section | None

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        return (self.drawing,) if self.drawing else ()


def pair_page(catalogue: Catalogue, results: Results, site: SiteContext, a: str, b: str) -> PairPage:
    """The page of two devices with results, in the order of their ids."""
    bench = results.bench
    here = addresses.pair(a, b)
    comparison = results.pairing(a, b)
    leading = comparison.leading
    names = device_name(bench, a), device_name(bench, b)
    cells = [c for side in (comparison.a, comparison.b) for c in cells_of_subject(bench, side, leading.group)]
    return PairPage(
        address=here,
        title=f"{names[0]} and {names[1]}",
        cautions=True,
        question="Which gives more where I sit?",
        verdict=comparison.sentence,
        basis=_basis(results, comparison),
        facts=_facts(catalogue, results, comparison),
        cannot_say=_cannot_say(comparison),
        provenance=provenance(
            catalogue, results, site, here, cells, assumed=leading.assumed, days=days_tested(results, (a, b))
        ),
        contenders=(
            _contender(catalogue, results, site, here, comparison.a),
            _contender(catalogue, results, site, here, comparison.b),
        ),
        drawing=pair_drawing(catalogue, results, site, here, comparison),
        sides=_sides(bench, comparison),
        remarks=(*_remarks(comparison), *_odd_days(results, comparison)),
        groups=_group_table(catalogue, results, here, comparison),
        spots=_spot_table(catalogue, results, here, comparison),
        busy=busy_section(catalogue, results, here, a, b),
        inside=inside_section(catalogue, results, here, a, b),
    )


def _basis(results: Results, comparison: Pairing) -> str:
    """What the verdict holds for: the group, the shared range, and how small a difference would have shown."""
    leading = comparison.leading
    if leading.group is None:
        return ""
    text = results.names[leading.group].text
    if leading.range is not None:
        text += f", on average over {wording.db_range(*leading.range)} dB"
    # Where the two cannot be told apart, the verdict says itself what would have shown.
    if leading.verdict in ("refused", "not-separated") or leading.half_width is None:
        return f"{text}."
    shown = wording.number(leading.half_width, leading.decimals)
    return f"{text}. A difference of {shown} Mbit/s or more would have shown."


def _facts(catalogue: Catalogue, results: Results, comparison: Pairing) -> tuple[Fact, ...]:
    """What stands beside the verdict: of each its firmware and who paid, and what both need."""
    facts: list[Fact] = []
    needs: list[str] = []
    for name, side in zip(comparison.names, (comparison.a, comparison.b), strict=True):
        device = results.bench.devices[side.device]
        origins = [wording.capital(origin_words(unit)) for unit in device.units if unit.unit_id == side.unit]
        facts.append(Fact(name, ". ".join([f"Firmware {_firmware(results, side)}", *origins])))
        need = need_fact(device, catalogue.power.get(side.device, ()))
        needs.append(f"{name}: {wording.lowered(need.removesuffix('.'))}")
    return (*facts, Fact("Needs", ". ".join(needs)))


def _contender(catalogue: Catalogue, results: Results, site: SiteContext, here: str, side: Subject) -> Contender:
    device = results.bench.devices[side.device]
    dates = sorted(c.date for c in cells_of_subject(results.bench, side))
    origin = " ".join(origin_sentence(site, u) for u in device.units if u.unit_id == side.unit)
    facts = [
        Fact("Firmware", _firmware(results, side)),
        Fact("Tested", _tested(results, side.device, dates)),
        Fact("Who paid", origin),
    ]
    if side.note:
        facts.append(Fact("Note", side.note))
    if disputes := disputed(catalogue).open.get(side.device, ()):
        claims = wording.listing([one.dispute.claim for one in disputes])
        facts.append(Fact("Dispute open", claims, addresses.link(here, addresses.device(side.device), disputes[0].key)))
    return Contender(
        Link(device_name(results.bench, side.device), addresses.link(here, addresses.device(side.device))), tuple(facts)
    )


def _firmware(results: Results, side: Subject) -> str:
    if not side.firmware:
        return "none with results"
    mark = older_mark(results, side.device, side.firmware)
    return f"{side.firmware} ({mark})" if mark else side.firmware


def _tested(results: Results, device: str, dates: Sequence[str]) -> str:
    if dates:
        return wording.date_range(dates[0], dates[-1])
    return "only with several clients at once or in long runs" if test_days(results, device) else "not yet"


def _sides(bench: Bench, comparison: Pairing) -> tuple[Side, ...]:
    sides = [Side("In the same place", comparison.leading.sentence, READINGS["attenuation"])]
    sides += [
        Side(
            "At the same signal" if i == 0 else "At the same signal, other setup",
            f.sentence,
            READINGS["level"] if i == 0 else "",
            loudness_sentence(bench, f),
        )
        for i, f in enumerate(comparison.level)
    ]
    return tuple(sides)


def _remarks(comparison: Pairing) -> tuple[str, ...]:
    """Where the lead changes, and how far the verdicts of the page go."""
    leading = comparison.leading
    if leading.verdict == "refused":
        return ()
    remarks: list[str] = []
    if leading.crossings:
        where = wording.listing([wording.decibels(x) for x in leading.crossings])
        noise = ", where the tests cannot tell them apart" if leading.verdict == "not-separated" else ""
        remarks.append(f"The drawn lines cross at {where} dB{noise}.")
    if rests := summaries_text(leading):
        remarks.append(f"It rests on summaries, as noted then. {rests}.")
    remarks.append("Each group is judged by itself, however many are compared on this page.")
    return tuple(remarks)


def _odd_days(results: Results, comparison: Pairing) -> tuple[str, ...]:
    """Which side was measured on a day that the reference device shows to be odd; it is compared as measured."""
    texts: list[str] = []
    if comparison.leading.verdict == "refused":
        return ()
    for name, side in zip(comparison.names, (comparison.a, comparison.b), strict=True):
        cells = cells_of_subject(results.bench, side, comparison.leading.group)
        days = {(c.date, c.house, c.session): c.group for c in cells if c.mean is not None}
        for (day, house, session), group in sorted(days.items(), key=lambda one: one[0]):
            if note := odd_day_note(results.factors.get((house, session, group))):
                texts.append(f"{name} was measured on {wording.date(day)}, {note}. It is compared as it was measured.")
    return tuple(texts)


def _group_table(catalogue: Catalogue, results: Results, here: str, comparison: Pairing) -> Table:
    return table_of(
        sorted(comparison.by_attenuation, key=lambda f: f is not comparison.leading),
        (
            Column("Machine and link", lambda f: _group_entry(results, f)),
            _sentence_column(catalogue, results, here),
            *_mean_columns(comparison),
            Column("Shared range", _range_entry, numeric=True),
        ),
        key="groups",
        caption="Every group both were tested in, in the same place. Rates in Mbit/s over the shared range.",
    )


def _spot_table(catalogue: Catalogue, results: Results, here: str, comparison: Pairing) -> Table | None:
    return table_of(
        [f for f in comparison.by_spot if f.spot],
        (
            Column("Spot", lambda f: Entry(text=f.spot or "")),
            _sentence_column(catalogue, results, here),
            Column("Group", lambda f: Entry(text=_group_name(results, f))),
            *_mean_columns(comparison),
        ),
        key="spots",
        caption="At the same spot in the same epoch; each spot by itself, never pooled. Rates in Mbit/s.",
    ).or_none


def _group_entry(results: Results, figure: PairFigure) -> Entry:
    if not figure.group:
        return Entry(text="No group in common")
    name = results.names[figure.group]
    return Entry(text=name.short, note=name.machine)


def _group_name(results: Results, figure: PairFigure) -> str:
    return results.names[figure.group].text if figure.group else ""


def _mean_columns(comparison: Pairing) -> tuple[Column[PairFigure], Column[PairFigure]]:
    """What each of the two gives, and what held it back."""
    name_a, name_b = comparison.names
    return (
        Column(name_a, lambda f: _mean_entry(f.mean_a, bound=f.bound_a, port=f.port_a), numeric=True),
        Column(name_b, lambda f: _mean_entry(f.mean_b, bound=f.bound_b, port=f.port_b), numeric=True),
    )


def _mean_entry(mean: float | None, *, bound: bool, port: float | None) -> Entry:
    return rate_entry(mean, bound=bound, limit=None if port is None else "port", port=port, missing="not compared")


def _range_entry(figure: PairFigure) -> Entry:
    if not figure.range:
        return Entry(why_missing="not compared")
    return Entry(text=wording.db_range(*figure.range), unit="dB")


def _sentence_column(catalogue: Catalogue, results: Results, here: str) -> Column[PairFigure]:
    return Column(
        "What these tests say",
        lambda f: Entry(text=f.sentence, marks=_marks(catalogue, results, here, f)),
        sentence=True,
        decides=True,
    )


def _marks(catalogue: Catalogue, results: Results, here: str, figure: PairFigure) -> tuple[Link, ...]:
    """The marks of open disputes about a comparison, or about a cell or a device it rests on."""
    return disputed(catalogue).marks_of_subjects(
        results, here, (figure.a, figure.b), figure.group, figure.range, figures=(figure.figure,), spot=figure.spot
    )


def _cannot_say(comparison: Pairing) -> tuple[str, ...]:
    name_a, name_b = comparison.names
    texts: list[str] = []
    if comparison.leading.range is not None:
        texts.append(
            f"Which is better outside {wording.db_range(*comparison.leading.range)} dB: no line is drawn beyond what "
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
            f"{device_name(results.bench, a)} and {device_name(results.bench, b)}",
            addresses.link(here, addresses.pair(a, b)),
        )
        for a, b in pairs
    )
