"""The page of a house: its spots, their attenuation since when, and the days on which it was measured."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.cells import natural
from builder.bench.naming import device_name
from builder.bench.scatter import DaySpread, Placement
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Fact, Page, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import count_entry, date_entry, decibel_entry, number_entry, text_entry
from builder.pages.parts.provenance import provenance
from builder.pages.tables.bench_days import day_section
from builder.registers.spots import in_force, like_loss_sentence, named_only
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
        question=f"What does {wording.decibels(LOSS_DB)} dB mean here?",
        verdict=like_loss_sentence(epochs, LOSS_DB),
        cannot_say=(
            "How many metres or walls lose as much in another house: only a loss in dB can be compared from house to house.",
            "What a spot was before its first reading.",
        ),
        provenance=provenance(catalogue, results, site, here, cells, days=(epoch.valid_from for epoch in epochs)),
        facts=_facts(results, house, named_only(cells)),
        spots=_spot_table(in_force(epochs)),
        epochs=_epoch_table(epochs),
        days=day_section(catalogue, results, house_id),
    )


def _facts(results: Results, house: House, named: Sequence[str]) -> tuple[Fact, ...]:
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
                f"{wording.rate(house.lab_limit_mbit_s)} Mbit/s; results close to it are printed “at least”",
            )
        )
    if named:
        alone = (
            f"{wording.listing(named)}. Results there are compared at that spot only; a reading would say which loss "
            "a spot stands for, and compare them with other places of that loss"
        )
        facts.append(Fact("Named, not read", alone))
    return tuple(facts)


def _source(known: DaySpread | Placement) -> str:
    return {
        "measured": f"measured over {known.sessions} sessions of the reference device",
        "declared": "declared by the bench",
        "assumed": "assumed by practice: too few sessions and spots of a reference device",
    }[known.source]


def _spot_table(epochs: Sequence[Epoch]) -> Table | None:
    """The spots with the epochs in force, one for each band read there; None without spots."""
    if not epochs:
        return None
    by_spot: dict[str, dict[str, Epoch]] = defaultdict(dict)
    for epoch in epochs:
        by_spot[epoch.spot][epoch.band] = epoch
    bands = [band for band in BANDS if any(band in at_spot for at_spot in by_spot.values())]
    # Distance and obstacles are printed once, from the spot's first band.
    spots = [[by_spot[spot][band] for band in bands if band in by_spot[spot]] for spot in sorted(by_spot, key=natural)]
    columns: list[Column[list[Epoch]]] = [
        Column("Spot", lambda spot: Entry(text=spot[0].spot)),
        # What stands between is how a reader knows a place like theirs again.
        Column("Between", lambda spot: text_entry(spot[0].obstacles), sentence=True, decides=True),
        *(_loss_column(band) for band in bands),
        Column("Distance", lambda spot: number_entry(spot[0].distance_m, _metres, unit="m"), numeric=True),
        Column("Since", lambda spot: date_entry(max(epoch.valid_from for epoch in spot))),
    ]
    return table_of(spots, columns, key="spots", caption="Attenuation of each marked spot, as it is now")


def _loss_column(band: str) -> Column[list[Epoch]]:
    def loss(spot: list[Epoch]) -> Entry:
        epoch = next((e for e in spot if e.band == band), None)
        return decibel_entry(epoch.attenuation_db if epoch else None, unit="dB", missing="not read")

    return Column(wording.band(band), loss, numeric=True)


def _metres(distance_m: float) -> str:
    return wording.trimmed(distance_m, 1)


def _epoch_table(epochs: Sequence[Epoch]) -> Table | None:
    columns: list[Column[Epoch]] = [
        Column("Spot", lambda e: Entry(text=e.spot)),
        Column("Attenuation", lambda e: decibel_entry(e.attenuation_db, unit="dB"), numeric=True),
        Column("Band", lambda e: Entry(text=wording.band(e.band))),
        Column("From", lambda e: date_entry(e.valid_from)),
        Column("Until", lambda e: date_entry(e.valid_until, missing="today")),
        Column("Readings", lambda e: count_entry(e.readings), numeric=True),
        Column(
            "Their spread s",
            lambda e: decibel_entry(e.readings_sd_db, unit="dB", missing="one reading"),
            numeric=True,
        ),
        Column("Read with", lambda e: Entry(text=e.kit), sentence=True),
    ]
    table = table_of(
        sorted(epochs, key=lambda e: (natural(e.spot), e.band, e.valid_from)),
        columns,
        key="epochs",
        caption="Every epoch. Results keep the attenuation of their day; a moved spot is compared with nothing "
        "before it.",
    )
    return table if epochs else None
