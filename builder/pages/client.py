"""The page of a client setup: which client is it, what is its ceiling, what was tested with it?"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.bridging import BridgeResult, BridgeTest, series_of_setups
from builder.bench.naming import device_name, series_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Fact, Link, Page, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import rate_entry, text_entry
from builder.pages.parts.provenance import provenance
from builder.pages.parts.withdrawing import withdrawal_notes
from builder.pages.tables.ceiling_table import ceiling_table, link_words
from builder.pages.tables.radio_tables import client_radio_table
from builder.registers.proposing import suspicion_sentence
from catalog.records import Ceiling, Client


@dataclass(frozen=True, kw_only=True)
class ClientPage(Page):
    """One client setup."""

    template: ClassVar[str] = "client"

    withdrawn: tuple[str, ...]
    facts: tuple[Fact, ...]
    radios: Table | None
    drivers: Table | None
    ceilings: Table | None
    suspected: tuple[str, ...]
    bridges: tuple[Section, ...]
    rankings: tuple[Link, ...]
    devices: tuple[Link, ...]


def client_page(catalogue: Catalogue, results: Results, site: SiteContext, client_id: str) -> ClientPage:
    """The page of a registered client setup, used or not."""
    bench = results.bench
    here = addresses.client(client_id)
    client = bench.clients[client_id]
    cells = [c for c in bench.cells if c.client == client_id]
    series = list(dict.fromkeys([client.series, *(d.series for d in client.drivers)]))
    tested = list(dict.fromkeys(c.device for c in cells))
    return ClientPage(
        address=here,
        title=client.name,
        question="Which machine is it, and what does it hold back?",
        verdict=_verdict(catalogue, client),
        cannot_say=(
            "What another machine with the same adapter would show: driver, bus and power settings are part of "
            "the setup.",
            "What its level readings mean next to those of another adapter: the two scales are not the same.",
        ),
        provenance=provenance(catalogue, results, site, here, cells),
        withdrawn=withdrawal_notes(catalogue, ("client",), client_id, client.name),
        facts=_facts(results, client),
        radios=client_radio_table(results, client),
        drivers=_driver_table(results, client),
        ceilings=ceiling_table(catalogue, results, here, _ceilings(catalogue, client)).or_none,
        suspected=tuple(suspicion_sentence(bench, p) for p in results.proposals if p.client == client_id),
        bridges=_bridge_sections(results, client),
        rankings=tuple(
            Link(results.names[g].text, addresses.link(here, addresses.ranking(g)))
            for g in sorted(results.groups, key=lambda g: g.sort_key)
            if g.series in series
        ),
        devices=tuple(Link(device_name(bench, d), addresses.link(here, addresses.device(d))) for d in tested),
    )


def _verdict(catalogue: Catalogue, client: Client) -> str:
    bands: dict[int, list[str]] = defaultdict(list)
    for radio in client.radios:
        bands[radio.streams].append(radio.band)
    radios = wording.listing(
        [f"{wording.streams(n)} at {wording.band(wording.listing(of_n))}" for n, of_n in bands.items()]
    )
    kind = f"{wording.capital(client.adapter)}" if client.adapter else client.name
    text = f"{kind}, {wording.generation(client.amendment)}, with {radios}"
    if not _ceilings(catalogue, client):
        return f"{text}; no ceiling of it is on record, so nothing is marked as limited by it."
    return f"{text}; results close to its ceiling are printed “at least”."


def _facts(results: Results, client: Client) -> tuple[Fact, ...]:
    facts = [
        ("Machine", client.machine),
        ("Adapter", client.adapter),
        ("Wi-Fi standard", wording.generation(client.amendment)),
        ("Bus", client.bus),
        ("Its level readings are", client.level_of),
        ("Series", _shared_series(results, client)),
    ]
    return tuple(Fact(term, text) for term, text in facts if text)


def _shared_series(results: Results, client: Client) -> str:
    """With which other setups its results are compared, and whether a bridge test says that they may; "" with none."""
    with_driver = {client.client_id for client in results.bench.clients.values() if client.drivers}
    series = {setup: name for setup, name in _series(results).items() if setup[1] or setup[0] not in with_driver}
    of_it = {name for (setup, _), name in series.items() if setup == client.client_id}
    joined = {setup for (setup, _), name in series.items() if name in of_it and setup != client.client_id}
    if not joined:
        return ""
    tested = {frozenset((t.old_client, t.new_client)) for t in results.bridges if t.verdict == "same-series"}
    proven = any(client.client_id in pair and pair & joined for pair in tested)
    why = "proven equal by a bridge test" if proven else "as declared, with no bridge test of the two"
    names = [results.bench.clients[setup].name for setup in sorted(joined)]
    return f"{series_name(results.bench, client.series)}, one with {wording.listing(names)}: {why}"


def _series(results: Results) -> dict[tuple[str, str | None], str]:
    """The series in force of every client setup and driver: bridge tests decide, not what was declared."""
    return series_of_setups(results.bridges, [*results.bench.clients.values()])


def _driver_table(results: Results, client: Client) -> Table | None:
    series = _series(results)
    return table_of(
        client.drivers,
        (
            Column("Driver", lambda driver: Entry(text=driver.version)),
            Column(
                "Series",
                lambda driver: Entry(text=series_name(results.bench, series[client.client_id, driver.version])),
            ),
        ),
        key="drivers",
        caption="Drivers, and the series their results belong to. A later driver begins a series of its own "
        "until a bridge test joins it.",
    ).or_none


def _ceilings(catalogue: Catalogue, client: Client) -> list[Ceiling]:
    return [c for c in catalogue.ceilings if c.client == client.client_id]


def _link_entry(result: BridgeResult) -> Entry:
    return Entry(text=link_words(result.band, result.width_mhz, result.direction))


def _bridge_sections(results: Results, client: Client) -> tuple[Section, ...]:
    """Bridge tests this setup took part in, as the old or as the new one."""
    tests = [t for t in results.bridges if client.client_id in (t.old_client, t.new_client)]
    return tuple(
        Section(
            f"bridge~{index}",
            f"Is {_setup(results, test.new_client, test.new_driver)} equal to "
            f"{_setup(results, test.old_client, test.old_driver)}?",
            (test.sentence,),
            tables=(_bridge_table(results, test, index),),
        )
        for index, test in enumerate(tests, start=1)
    )


def _setup(results: Results, client: str, driver: str | None) -> str:
    name = results.bench.clients[client].name
    return f"{name} with driver {driver}" if driver else name


def _bridge_table(results: Results, test: BridgeTest, index: int) -> Table:
    return table_of(
        test.results,
        (
            Column("Link", _link_entry),
            Column("Spots", lambda result: text_entry(", ".join(result.spots), missing="none left")),
            Column("Old, Mbit/s", lambda r: rate_entry(r.old_mean, missing=_held_back(r)), numeric=True),
            Column("New minus old, Mbit/s", _difference_entry, numeric=True),
            Column("In per cent of old", _share_entry, numeric=True),
        ),
        key=f"bridge-table~{index}",
        caption=f"New against old on {device_name(results.bench, test.device)}, in one session",
    )


def _held_back(result: BridgeResult) -> str:
    return f"held back by the lab or the client at {wording.listing(result.held_back)}"


def _difference_entry(result: BridgeResult) -> Entry:
    if result.old_mean is None or result.difference is None:
        return Entry(why_missing=_held_back(result))
    decimals = wording.rate_decimals(result.old_mean)
    interval = ""
    if result.low is not None and result.high is not None:
        interval = wording.in_95(wording.between(result.low, result.high, decimals, signed=True))
    return Entry(
        text=wording.number(result.difference, decimals, signed=True),
        interval=interval,
        sort_key=repr(result.difference),
    )


def _share_entry(result: BridgeResult) -> Entry:
    if result.share_low is None or result.share_high is None:
        return Entry(why_missing=_held_back(result) if result.old_mean is None else "fewer than 3 repeats a side")
    return Entry(
        text=f"{wording.percent(result.share_low, signed=True)} to {wording.percent(result.share_high, signed=True)}"
    )
