"""The page of a house: what does 70 dB mean here, and since when?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.cells import natural
from builder.bench.naming import device_name
from builder.bench.scatter import DaySpread, Placement
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Fact, Heading, Page, Row, Section, Table
from builder.pages.parts.entries import date_entry, decibel_entry, number_entry, text_entry
from builder.pages.parts.provenance import provenance
from builder.pages.tables.bench_days import day_section
from builder.registers.spots import in_force, like_loss_sentence
from catalog.records import Epoch, House

BANDS = ("2.4", "5", "6")
LOSS_DB = 70.0  # the loss the heading asks about


@dataclass(frozen=True, kw_only=True)
class HousePage(Page):
    """One house with its spots and their epochs."""

    template: ClassVar[str] = "house"

    facts: tuple[Fact, ...]
    spots: Table | None
    epochs: Table | None
    days: Section | None


def house_page(catalogue: Catalogue, results: Results, site: SiteContext, house_id: str) -> HousePage:
    """The page of a house, calibrated or not."""
    here = addresses.house(house_id)
    house = results.bench.houses[house_id]
    epochs = [e for e in catalogue.epochs if e.house == house_id]
    cells = [c for c in results.bench.cells if c.house == house_id]
    return HousePage(
        address=here,
        title=house.name,
        cautions=True,
        question=f"{house.name}: what does {wording.decibels(LOSS_DB)} dB mean here?",
        verdict=like_loss_sentence(epochs, LOSS_DB),
        cannot_say=(
            "What distance means in another house: metres do not travel, decibels do.",
            "What a spot was before its first reading.",
        ),
        provenance=provenance(catalogue, results, site, here, cells),
        facts=_facts(results, house),
        spots=_spot_table(in_force(epochs)),
        epochs=_epoch_table(epochs),
        days=day_section(catalogue, results, house_id),
    )


def _facts(results: Results, house: House) -> tuple[Fact, ...]:
    scatter = results.bench.scatter
    facts: list[Fact] = []
    if house.reference_device is not None and house.reference_device in results.bench.devices:
        facts.append(
            Fact(
                "Reference device",
                device_name(results.bench, house.reference_device),
                addresses.link(addresses.house(house.house_id), addresses.device(house.reference_device)),
            )
        )
    day, placement = scatter.day(house.house_id), scatter.placement(house.house_id)
    facts.append(Fact("Day-to-day spread", f"{wording.percent(day.fraction)}, {_source(day)}"))
    placed = f"{wording.decibels(placement.sigma_db)} dB at every visit, {_source(placement)}"
    facts.append(Fact("Standing at a spot again", placed))
    if house.lab_limit_mbit_s is not None:
        facts.append(
            Fact(
                "Its server and switch carry",
                f"{wording.rate(house.lab_limit_mbit_s)} Mbit/s; results close to it are lower bounds",
            )
        )
    return tuple(facts)


def _source(known: DaySpread | Placement) -> str:
    return {
        "measured": f"measured over {known.sessions} sessions of the reference device",
        "declared": "declared by the bench",
        "assumed": "assumed by practice: too few sessions and spots of a reference device",
    }[known.source]


def _spot_table(epochs: Sequence[Epoch]) -> Table | None:
    if not epochs:
        return None
    spots = sorted({e.spot for e in epochs}, key=natural)
    bands = [band for band in BANDS if any(e.band == band for e in epochs)]
    by_place = {(e.spot, e.band): e for e in epochs}
    rows: list[Row] = []
    for spot in spots:
        own = [by_place[spot, band] for band in bands if (spot, band) in by_place]
        losses = [
            decibel_entry(by_place[spot, band].attenuation_db, unit="dB")
            if (spot, band) in by_place
            else Entry(why_missing="not read")
            for band in bands
        ]
        distance = own[0].distance_m
        rows.append(
            Row(
                Entry(text=spot),
                (
                    *losses,
                    number_entry(distance, lambda metres: wording.trimmed(metres, 1), unit="m"),
                    text_entry(own[0].obstacles),
                    date_entry(max(e.valid_from for e in own)),
                ),
            )
        )
    return Table(
        key="spots",
        caption="Attenuation of each marked spot, as it is now",
        columns=(
            Heading("Spot"),
            *(Heading(wording.band(b), numeric=True) for b in bands),
            Heading("Distance", numeric=True),
            Heading("Between", sentence=True),
            Heading("Since"),
        ),
        rows=tuple(rows),
    )


def _epoch_table(epochs: Sequence[Epoch]) -> Table | None:
    if not epochs:
        return None
    ordered = sorted(epochs, key=lambda e: (natural(e.spot), e.band, e.valid_from))
    return Table(
        key="epochs",
        caption="Every epoch. Results keep the attenuation of their day; a moved spot is compared with nothing "
        "before it.",
        columns=(
            Heading("Spot"),
            Heading("Band"),
            Heading("From"),
            Heading("Until"),
            Heading("Attenuation", numeric=True),
            Heading("Readings", numeric=True),
            Heading("Their spread s", numeric=True),
            Heading("Read with", sentence=True),
        ),
        rows=tuple(
            Row(
                Entry(text=e.spot),
                (
                    Entry(text=wording.band(e.band)),
                    date_entry(e.valid_from),
                    date_entry(e.valid_until, missing="today"),
                    decibel_entry(e.attenuation_db, unit="dB"),
                    Entry(text=str(e.readings), sort_key=str(e.readings)),
                    number_entry(e.readings_sd_db, wording.decibels, unit="dB", missing="one reading"),
                    Entry(text=e.kit),
                ),
            )
            for e in ordered
        ),
    )
