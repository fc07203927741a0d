"""Pages that list: devices, pairs, clients, houses, reviews. Each answers "which are there?"."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.articles.findings import finding, latest_finding
from builder.bench.bench import cells_of_subject
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing, Entry, Link, Page, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import count_entry, date_entry, device_entry, link_entry, pair_entry, text_entry
from builder.pages.parts.looked_up import evidence_of, look_up
from builder.pages.parts.newest import days_tested
from builder.pages.parts.overview import overview
from builder.pages.parts.provenance import provenance
from builder.pages.parts.tested_in_any_way import first_day
from builder.pages.parts.withdrawing import device_withdrawn
from builder.pages.recipe import recipe_keys, recipe_place
from builder.pages.tables.device_facets import Filter, device_filters, facets_text
from builder.registers.power import need
from builder.registers.spots import in_force
from builder.under_load.collapses import count_all
from builder.windows.standing import WINDOW_HEADINGS, interval_text, rate_text
from catalog.records import Article, Client, Device, Epoch, House


@dataclass(frozen=True, kw_only=True)
class ListingPage(Page):
    """A table of links; of devices and rankings below the picture of all devices.

    picture     None on other lists, and where no two devices were tested alike
    all         where all devices of the picture are listed
    apart       rows that are not like those of the table, with a heading of their own
    """

    template: ClassVar[str] = "listing"
    grows: ClassVar[bool] = True

    intro: tuple[str, ...]
    table: Table | None
    filters: tuple[Filter, ...] = ()
    things: str = ""  # what the rows are, for the filters
    picture: Drawing | None = None
    all: Link | None = None
    apart: Section | None = None

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        return (self.picture,) if self.picture else ()


def devices_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every device, by the day of its first test, the newest first."""
    here = addresses.DEVICES
    bench = results.bench
    order = sorted(bench.devices, key=lambda d: (first_day(results, d) or "", d), reverse=True)
    shown = overview(catalogue, results, site, here)
    return ListingPage(
        address=here,
        title="Devices",
        question="Which devices were tested?",
        verdict=f"{wording.capital(wording.count(len(order), 'device'))}, the newest to the bench first; each with "
        "what it gives a wall or two away."
        if order
        else "No device is listed yet.",
        intro=(
            "Each value is that of the device's own largest group, so those of different groups are no ranking: compare "
            "in Rankings or Pairs.",
        ),
        provenance=provenance(catalogue, results, site, here, days=days_tested(results, order)),
        table=table_of(
            order,
            (
                Column("Device", lambda d: device_entry(results, here, d, note=bench.devices[d].kind or "")),
                Column("First tested", lambda d: date_entry(first_day(results, d), missing=_untested(catalogue, d))),
                Column("Firmware", lambda d: text_entry(results.current_firmware(d), missing="none tested")),
                Column(f"{WINDOW_HEADINGS['middle']}, Mbit/s", lambda d: _middle_entry(results, d), numeric=True),
                Column("Measured with", lambda d: _group_entry(results, d), sentence=True),
                Column("Broke off", lambda d: _collapses_entry(results, d)),
                Column("Needs (measured)", lambda d: _need_entry(catalogue, bench.devices[d])),
            ),
            key="devices",
            caption="All devices",
            facets=lambda d: facets_text(catalogue, results, d),
        ),
        filters=device_filters(catalogue, results, order),
        things="devices",
        picture=shown.drawing if shown else None,
        all=shown.all if shown else None,
    )


def _untested(catalogue: Catalogue, device_id: str) -> str:
    return "withdrawn" if device_withdrawn(catalogue, device_id) else "not yet"


def _middle_entry(results: Results, device_id: str) -> Entry:
    """What the device gives in the middle window of its largest group."""
    if device_id not in results.largest:
        return Entry(why_missing="not tested")
    entry = results.standing[device_id, "middle"].entry
    if entry is None:
        return Entry(why_missing="window not covered")
    return Entry(
        text=rate_text(entry),
        interval=wording.in_95(interval_text(entry)),
        sort_key=repr(entry.value),
        note="" if entry.port is None else wording.held_by_port(entry.port),
    )


def _group_entry(results: Results, device_id: str) -> Entry:
    group = results.largest.get(device_id)
    return text_entry(None if group is None else results.names[group].text, missing="nothing yet")


def _collapses_entry(results: Results, device_id: str) -> Entry:
    tally = count_all(results.bench, device_id, *results.under_load(device_id))
    if not tally.runs:
        return Entry(why_missing="no runs")
    return count_entry(tally.collapsed, f"{tally.collapsed} of {wording.count(tally.runs, 'run')}")


def _need_entry(catalogue: Catalogue, device: Device) -> Entry:
    """The class a switch must give to the device's cable, and what the maker promised."""
    requirement = need(device, catalogue.power.get(device.device_id, ()))
    if requirement is None:
        return Entry(text="no power over cable")
    if not requirement.known:
        return Entry(why_missing="not measured, no class promised")
    sort_key = str(99 if requirement.needed is None else requirement.needed)
    return Entry(text=requirement.words, note=requirement.beside, sort_key=sort_key)


def pairs_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every prepared pair."""
    here = addresses.PAIRS
    return ListingPage(
        address=here,
        title="Pairs",
        question="Which two devices are compared already?",
        verdict=f"{wording.capital(wording.count(len(results.pairs), 'pair'))}: each device with its nearest "
        "neighbours, its predecessor, and what reviews compare."
        if results.pairs
        else "No two devices were tested alike yet.",
        intro=("Any other two, or up to four, can be put side by side under Compare; that needs scripts.",),
        provenance=provenance(
            catalogue,
            results,
            site,
            here,
            days=days_tested(results, {device for pair in results.pairs for device in pair}),
        ),
        table=table_of(
            results.pairs,
            (
                Column("Pair", lambda pair: pair_entry(results, here, *pair)),
                Column("Both tested in", lambda pair: _common_entry(results, *pair), numeric=True),
            ),
            key="pairs",
            caption="Prepared pairs",
        ).or_none,
    )


def _common_entry(results: Results, a: str, b: str) -> Entry:
    """As many groups as the page of the pair compares: those of the unit and firmware each device stands for."""
    bench = results.bench
    of_a, of_b = (
        {cell.group for cell in cells_of_subject(bench, bench.subjects[device]) if cell.mean is not None}
        for device in (a, b)
    )
    common = len(of_a & of_b)
    return count_entry(common, wording.count(common, "group"))


def clients_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every client setup."""
    here = addresses.CLIENTS
    return ListingPage(
        address=here,
        title="Clients",
        question="Which machines were the devices tested with?",
        verdict="An access point is only as fast as the machine in your hand: find the one that is most like yours.",
        intro=(),
        provenance=provenance(catalogue, results, site, here),
        table=table_of(
            results.bench.clients.values(),
            (
                Column(
                    "Client",
                    lambda c: link_entry(here, c.name, addresses.client(c.client_id), note=c.machine or ""),
                ),
                Column("Adapter", lambda c: text_entry(c.adapter)),
                Column("Wi-Fi standard", lambda c: Entry(text=wording.generation(c.amendment))),
                Column("Streams × widest channel", _radios_entry),
                Column("Tested with", lambda c: _devices_entry(results, c), numeric=True),
            ),
            key="clients",
            caption="Client setups",
        ),
    )


def _radios_entry(client: Client) -> Entry:
    radios = (f"{r.streams} × {r.max_width_mhz} MHz at {wording.band(r.band)}" for r in client.radios)
    return Entry(text=", ".join(radios))


def _devices_entry(results: Results, client: Client) -> Entry:
    devices = len({c.device for c in results.bench.cells if c.client == client.client_id})
    return count_entry(devices, wording.count(devices, "device"))


def houses_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every house."""
    here = addresses.HOUSES
    houses = results.bench.houses.values()
    return ListingPage(
        address=here,
        title="Houses and spots",
        cautions=True,
        question="What does 70 dB mean in a house?",
        verdict="Attenuation is what the way between two places takes from a signal; each house's page says how "
        "much, at which spot, behind which walls.",
        intro=(),
        provenance=provenance(catalogue, results, site, here, days=(epoch.valid_from for epoch in catalogue.epochs)),
        table=table_of(
            houses,
            (
                Column("House", lambda h: link_entry(here, h.name, addresses.house(h.house_id))),
                Column("Spots", lambda h: count_entry(len({e.spot for e in _epochs(catalogue, h)})), numeric=True),
                Column("Attenuation at 5 GHz", lambda h: _losses_entry(_epochs(catalogue, h)), numeric=True),
            ),
            key="houses",
            caption="Houses",
            repeats=True,
        ).or_none,
    )


def _epochs(catalogue: Catalogue, house: House) -> list[Epoch]:
    return in_force([e for e in catalogue.epochs if e.house == house.house_id])


def _losses_entry(epochs: list[Epoch]) -> Entry:
    losses = [e.attenuation_db for e in epochs if e.band == "5"]
    if not losses:
        return Entry(why_missing="not read")
    return Entry(text=wording.db_range(min(losses), max(losses)), unit="dB")


def reviews_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every review, newest first, with what it found."""
    here = addresses.REVIEWS
    evidence = evidence_of(catalogue, results, site)
    articles = look_up(catalogue, results, site)
    number = (
        f"{wording.capital(wording.count(len(articles), 'review'))}, newest first." if articles else "No review yet."
    )
    return ListingPage(
        address=here,
        title="Reviews",
        question="What did the tests find?",
        verdict=latest_finding(evidence, articles) or number,
        intro=(number,) if articles else (),
        provenance=provenance(catalogue, results, site, here),
        table=table_of(
            reversed(articles),
            (
                Column("Review", lambda a: link_entry(here, a.article.title, addresses.review(a.article.article_id))),
                Column(
                    "What it found",
                    lambda a: text_entry(finding(evidence, [a]) or None, missing="no verdict of the tests"),
                    sentence=True,
                    decides=True,
                ),
                Column("Published", lambda a: date_entry(a.article.published_utc)),
                Column("About", lambda a: text_entry(wording.listing(_known_devices(results, a.article)))),
            ),
            key="reviews",
            caption="Reviews",
            repeats=True,
        ).or_none,
    )


def _known_devices(results: Results, article: Article) -> list[str]:
    return [device_name(results.bench, d) for d in article.devices if d in results.bench.devices]


def recipes_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every test that can be repeated: a device with a client setup."""
    here = addresses.RECIPES
    bench = results.bench
    keys = sorted(recipe_keys(results), key=lambda key: (device_name(bench, key[0]), key))
    return ListingPage(
        address=here,
        title="Repeat a test",
        cautions=True,
        question="Can I repeat a test at home?",
        verdict=f"{wording.capital(wording.count(len(keys), 'recipe'))}: every condition, the steps, and the value to "
        "expect with the range a repeat should lie in."
        if keys
        else "Nothing was tested that could be repeated yet.",
        intro=("Choose the device you have, and the client that is most like your machine.",),
        provenance=provenance(catalogue, results, site, here),
        table=table_of(
            keys,
            (
                Column(
                    "Device", lambda key: link_entry(here, device_name(bench, key[0]), *recipe_place(results, *key))
                ),
                Column("With", lambda key: Entry(text=bench.clients[key[1]].name)),
                Column("Adapter", lambda key: text_entry(bench.clients[key[1]].adapter)),
            ),
            key="recipes",
            caption="Recipes, by device",
        ).or_none,
    )
