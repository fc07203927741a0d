"""Pages that list: devices, pairs, rankings, clients, houses, reviews. Each answers "which are there?"."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.bench import cells_of_subject
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Heading, Page, Row, Table
from builder.pages.parts.entries import date_entry, text_entry
from builder.pages.parts.provenance import provenance
from builder.pages.parts.tested_in_any_way import first_day
from builder.pages.recipe import recipe_keys
from builder.pages.tables.device_facets import Filter, device_filters, facets_text
from builder.registers.power import need
from builder.registers.spots import in_force
from builder.under_load.collapses import count_all
from builder.windows.standing import interval_text, name, port_text, rate_text
from catalog.records import Device


@dataclass(frozen=True, kw_only=True)
class ListingPage(Page):
    """One table of links."""

    template: ClassVar[str] = "listing"
    grows: ClassVar[bool] = True

    intro: tuple[str, ...]
    table: Table | None
    filters: tuple[Filter, ...] = ()
    things: str = ""  # what the rows are, for the filters


def devices_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every device, by the day of its first test, the newest first."""
    here = addresses.DEVICES
    bench = results.bench
    order = sorted(bench.devices, key=lambda d: (first_day(results, d) or "", d), reverse=True)
    return ListingPage(
        address=here,
        title="Devices",
        question="Which devices were tested?",
        verdict=f"{wording.capital(wording.count(len(order), 'device'))}, the newest to the bench first; each with "
        "what it gives in the middle of a house.",
        intro=(
            "The middle window is that of the device's own largest group, so values of different groups are "
            "not a ranking: compare in Rankings or Pairs.",
        ),
        provenance=provenance(catalogue, results, site, here),
        table=Table(
            key="devices",
            caption="All devices",
            columns=(
                Heading("Device"),
                Heading("First tested"),
                Heading("Firmware"),
                Heading("Middle window, Mbit/s", numeric=True),
                Heading("Measured with", sentence=True),
                Heading("Did not finish"),
                Heading("Needs (measured)"),
            ),
            rows=tuple(_device_row(catalogue, results, here, device_id) for device_id in order),
        ),
        filters=device_filters(catalogue, results, order),
        things="devices",
    )


def _device_row(catalogue: Catalogue, results: Results, here: str, device_id: str) -> Row:
    bench = results.bench
    device = bench.devices[device_id]
    group = results.largest.get(device_id)
    entry = None if group is None else results.standing[device_id].entry
    value = Entry(why_missing="window not covered" if group else "not tested")
    if entry is not None:
        value = Entry(
            text=rate_text(entry),
            interval=interval_text(entry),
            sort_key=repr(entry.value),
            note="" if entry.port is None else wording.held_by_port(entry.port),
        )
    tally = count_all(bench, device_id, *results.under_load(device_id))
    none = "withdrawn" if any(w.id == device_id for w in catalogue.withdrawals) else "not yet"
    return Row(
        Entry(
            text=device_name(bench, device_id),
            href=addresses.link(here, addresses.device(device_id)),
            note=device.kind or "",
        ),
        (
            date_entry(first_day(results, device_id), missing=none),
            text_entry(results.current_firmware(device_id), missing="none tested"),
            value,
            text_entry(results.names[group].text if group else None, missing="nothing yet"),
            Entry(text=f"{tally.collapsed} of {wording.count(tally.runs, 'run')}", sort_key=str(tally.collapsed))
            if tally.runs
            else Entry(why_missing="no runs"),
            _need_entry(catalogue, device),
        ),
        facets=facets_text(catalogue, results, device_id),
    )


def _need_entry(catalogue: Catalogue, device: Device) -> Entry:
    """The class a switch must give to its cable, and what the maker promised."""
    wants = need(device, catalogue.power.get(device.device_id, ()))
    if wants is None:
        return Entry(text="no power over cable")
    if not wants.known:
        return Entry(why_missing="not measured, no class promised")
    return Entry(text=wants.words, note=wants.beside, sort_key=str(99 if wants.needed is None else wants.needed))


def pairs_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every prepared pair."""
    here = addresses.PAIRS
    bench = results.bench
    return ListingPage(
        address=here,
        title="Pairs",
        question="Which two are compared already?",
        verdict=f"{wording.capital(wording.count(len(results.pairs), 'pair'))}: each device with its nearest "
        "neighbours, its predecessor, and what reviews compare.",
        intro=("Any other two, or up to four, can be put side by side under Compare; that needs scripts.",),
        provenance=provenance(catalogue, results, site, here),
        table=Table(
            key="pairs",
            caption="Prepared pairs",
            columns=(Heading("Pair"), Heading("Both tested in", numeric=True)),
            rows=tuple(
                Row(
                    Entry(
                        text=f"{device_name(bench, a)} or {device_name(bench, b)}",
                        href=addresses.link(here, addresses.pair(a, b)),
                    ),
                    (_common_groups(results, a, b),),
                )
                for a, b in results.pairs
            ),
        )
        if results.pairs
        else None,
    )


def _common_groups(results: Results, a: str, b: str) -> Entry:
    """As many as the page of the pair compares: those of the unit and firmware each device stands for."""
    bench = results.bench
    one, other = (
        {cell.group for cell in cells_of_subject(bench, bench.subjects[device]) if cell.mean is not None}
        for device in (a, b)
    )
    common = len(one & other)
    return Entry(text=wording.count(common, "group"), sort_key=str(common))


def rankings_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every ranking, the group with most devices first."""
    here = addresses.RANKINGS
    rows: list[Row] = []
    for group in results.groups:
        middle = results.ranking(group, "middle")
        devices = {c.device for c in results.cells[group]}
        first = Entry(why_missing="no device covers it")
        if middle.ranked:
            level = [entry for entry in middle.ranked if entry.best == 1]
            first = Entry(
                text=name(level[0].who) if len(level) == 1 else f"{len(level)} devices, not told apart",
                note=f"{rate_text(middle.ranked[0])} Mbit/s{port_text(middle.ranked[0])}",
            )
        rows.append(
            Row(
                Entry(text=results.names[group].text, href=addresses.link(here, addresses.ranking(group))),
                (Entry(text=str(len(devices)), sort_key=str(len(devices))), first),
            )
        )
    return ListingPage(
        address=here,
        title="Rankings",
        question="Who leads at my loss?",
        verdict="Pick the client that is most like yours: only results of one client series, band, width and "
        "direction are ranked together.",
        intro=(
            "Every ranking has three windows: near (same room), middle (a wall or two), far (several walls). The "
            "houses' pages say what stands between.",
        ),
        provenance=provenance(catalogue, results, site, here),
        table=Table(
            key="rankings",
            caption="Rankings",
            columns=(Heading("Group"), Heading("Devices", numeric=True), Heading("Leads in the middle window")),
            rows=tuple(rows),
        )
        if rows
        else None,
    )


def clients_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every client setup."""
    here = addresses.CLIENTS
    return ListingPage(
        address=here,
        title="Clients",
        question="Which clients were the devices tested with?",
        verdict="A device is only as fast as the client in your hand: find the setup that is most like yours.",
        intro=(),
        provenance=provenance(catalogue, results, site, here),
        table=Table(
            key="clients",
            caption="Client setups",
            columns=(
                Heading("Client"),
                Heading("Adapter"),
                Heading("Amendment"),
                Heading("Radios"),
                Heading("Tested with", numeric=True),
            ),
            rows=tuple(
                Row(
                    Entry(text=c.name, href=addresses.link(here, addresses.client(c.client_id)), note=c.machine or ""),
                    (
                        text_entry(c.adapter),
                        Entry(text=c.amendment),
                        Entry(
                            text=", ".join(
                                f"{r.streams} × {r.max_width_mhz} MHz at {wording.band(r.band)}" for r in c.radios
                            )
                        ),
                        _devices_with(results, c.client_id),
                    ),
                )
                for c in results.bench.clients.values()
            ),
        ),
    )


def _devices_with(results: Results, client_id: str) -> Entry:
    found = len({c.device for c in results.bench.cells if c.client == client_id})
    return Entry(text=wording.count(found, "device"), sort_key=str(found))


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
        provenance=provenance(catalogue, results, site, here),
        table=Table(
            key="houses",
            caption="Houses",
            columns=(Heading("House"), Heading("Spots", numeric=True), Heading("Attenuation at 5 GHz", numeric=True)),
            rows=tuple(
                Row(
                    Entry(text=h.name, href=addresses.link(here, addresses.house(h.house_id))),
                    _spot_entries(catalogue, h.house_id),
                )
                for h in houses
            ),
        )
        if houses
        else None,
    )


def _spot_entries(catalogue: Catalogue, house_id: str) -> tuple[Entry, ...]:
    now = in_force([e for e in catalogue.epochs if e.house == house_id])
    spots = len({e.spot for e in now})
    losses = [e.attenuation_db for e in now if e.band == "5"]
    span = (
        Entry(text=wording.db_range(min(losses), max(losses)), unit="dB") if losses else Entry(why_missing="not read")
    )
    return Entry(text=str(spots), sort_key=str(spots)), span


def reviews_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every review, newest first."""
    here = addresses.REVIEWS
    return ListingPage(
        address=here,
        title="Reviews",
        question="What did we write about them?",
        verdict=wording.capital(wording.count(len(catalogue.articles), "review")) + ", newest first.",
        intro=(),
        provenance=provenance(catalogue, results, site, here),
        table=Table(
            key="reviews",
            caption="Reviews",
            columns=(Heading("Review"), Heading("Published"), Heading("About")),
            rows=tuple(
                Row(
                    Entry(text=a.title, href=addresses.link(here, addresses.review(a.article_id))),
                    (
                        date_entry(a.published_utc),
                        text_entry(
                            wording.listing(
                                [device_name(results.bench, d) for d in a.devices if d in results.bench.devices]
                            )
                        ),
                    ),
                )
                for a in reversed(catalogue.articles)
            ),
        )
        if catalogue.articles
        else None,
    )


def recipes_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every test that can be repeated: a device with a client setup."""
    here = addresses.RECIPES
    bench = results.bench
    keys = sorted(recipe_keys(results), key=lambda key: (device_name(bench, key[0]), key))
    return ListingPage(
        address=here,
        title="Repeat a test",
        question="Can I repeat a test at home?",
        verdict=f"{wording.capital(wording.count(len(keys), 'recipe'))}: every condition, the steps, and the value to "
        "expect with its band.",
        intro=("Choose the device you have, with the client that is most like yours.",),
        provenance=provenance(catalogue, results, site, here),
        table=Table(
            key="recipes",
            caption="Recipes, by device",
            columns=(Heading("Device"), Heading("With"), Heading("Adapter")),
            rows=tuple(
                Row(
                    Entry(text=device_name(bench, device), href=addresses.link(here, addresses.recipe(device, client))),
                    (Entry(text=bench.clients[client].name), text_entry(bench.clients[client].adapter)),
                )
                for device, client in keys
            ),
        )
        if keys
        else None,
    )
