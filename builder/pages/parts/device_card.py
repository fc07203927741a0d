"""A device in few words: what its page says first, where its units came from, and the card a shortlist has of it."""

from __future__ import annotations

from urllib.parse import urljoin

from builder import addresses, wording
from builder.bench.bench import firmware_by_date
from builder.bench.cells import Group
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Fact
from builder.pages.parts.disputing import disputed
from builder.pages.parts.tested_in_any_way import client_names, test_days
from builder.pages.parts.withdrawing import device_withdrawn
from builder.registers.power import need_fact
from builder.registers.prices import latest_price
from builder.under_load.collapses import collapse_sentence
from builder.windows.standing import WINDOW_HEADINGS
from catalog.records import Device, Unit


def device_card(catalogue: Catalogue, results: Results, site: SiteContext, device_id: str) -> tuple[Fact, ...]:
    """The facts of one device, in the order a buyer asks for them."""
    short = addresses.short(addresses.device(device_id))
    return (
        Fact(WINDOW_HEADINGS["middle"], device_verdict(catalogue, results, device_id, results.largest.get(device_id))),
        *device_facts(catalogue, results, site, results.bench.devices[device_id]),
        Fact("Link", urljoin(site.address or "", short), addresses.device(device_id)),
    )


def _price(catalogue: Catalogue, device_id: str) -> str:
    """The latest price, its terms and its licence."""
    price = latest_price(catalogue.prices.get(device_id, ()))
    if price is None:
        return "none noted"
    tax = {True: "tax included", False: "without tax", None: ""}[price.tax_included]
    terms = ", ".join(t for t in (price.condition, price.region, tax) if t)
    text = (
        f"{wording.money(price.amount, price.currency)} on {wording.date(price.date)}{f' ({terms})' if terms else ''}"
    )
    if price.licence_per_year is None:
        return f"{text}; no licence named"
    if not price.licence_per_year:
        return f"{text}; no licence needed"
    return f"{text}; licence {wording.money(price.licence_per_year, price.currency)} a year"


def device_line(catalogue: Catalogue, results: Results, device: Device) -> str:
    """What a device is and when it was tested: "Ceiling access point, Wi-Fi 6; tested April 2024 with firmware 6.1.0"."""
    what = ", ".join(part for part in (device.kind or "device", wording.wi_fi(device.amendment)) if part)
    days = test_days(results, device.device_id)
    firmware = results.current_firmware(device.device_id)
    if not days:
        return f"{wording.capital(what)}; {_untested(catalogue, device.device_id, 'not tested yet')}"
    with_firmware = f", last with firmware {firmware}" if firmware else ""
    return f"{wording.capital(what)}; tested {wording.months(days[0], days[-1])}{with_firmware}"


def device_verdict(catalogue: Catalogue, results: Results, device_id: str, group: Group | None) -> str:
    """What the device gives in the middle of a house, in its largest group; or why there is no such figure."""
    if group is None:
        if device_withdrawn(catalogue, device_id):
            return "Its results were withdrawn: they are not shown any more, the reason is."
        if any(results.under_load(device_id)) and not results.bench.cells_of.get(device_id):
            return "Tested only with several clients at once or in long runs: what it gives one client at a loss is not known."
        return "Nothing with a measured attenuation yet, so it cannot be compared."
    return f"{results.standing[device_id, 'middle'].sentence} Tested with {results.names[group].text}."


def device_facts(catalogue: Catalogue, results: Results, site: SiteContext, device: Device) -> tuple[Fact, ...]:
    """What a reader must know first: is it current, who paid, what failed?"""
    bench = results.bench
    dates = test_days(results, device.device_id)
    clients = client_names(results, device.device_id)
    disputes = disputed(catalogue).open.get(device.device_id, ())
    broke_off = _untested(
        catalogue,
        device.device_id,
        collapse_sentence(bench, device.device_id, *results.under_load(device.device_id)),
    )
    facts = [
        Fact("Firmware", _firmware(catalogue, results, device)),
        Fact(
            "Tested",
            wording.date_range(dates[0], dates[-1]) if dates else _untested(catalogue, device.device_id, "not yet"),
        ),
        Fact("With", wording.listing(clients) or _untested(catalogue, device.device_id, "no client yet")),
        Fact("Who paid", " ".join(origin_sentence(site, unit) for unit in device.units)),
        Fact("Broke off", broke_off),
        Fact(
            "Disputes",
            wording.listing([f"open: {one.dispute.claim}" for one in disputes]) or "none open",
            f"#{disputes[0].key}" if disputes else "",
        ),
        Fact("Needs", need_fact(device, catalogue.power.get(device.device_id, ()))),
        Fact("Price", _price(catalogue, device.device_id)),
    ]
    if device.revision:
        facts.append(Fact("Revision", device.revision))
    if device.aliases:
        facts.append(Fact("Also sold as", wording.listing(device.aliases)))
    return tuple(facts)


def _firmware(catalogue: Catalogue, results: Results, device: Device) -> str:
    order = firmware_by_date(device)
    current = results.current_firmware(device.device_id)
    if current is None:
        untested = _untested(catalogue, device.device_id, "not tested yet")
        return f"{order[-1].version}, {untested}" if order else "none known"
    firmware = next(f for f in order if f.version == current)
    text = current + (f", released {wording.date(firmware.released)}" if firmware.released else "")
    newer = [f.version for f in order[order.index(firmware) + 1 :] if f.public]
    if not firmware.public:
        return f"{text}; not public"
    return f"{text}; newer and not tested here: {wording.listing(newer)}" if newer else f"{text}, the latest known here"


def _untested(catalogue: Catalogue, device_id: str, why: str) -> str:
    """Why nothing of a device is shown: *why*, or that it was withdrawn."""
    return "results withdrawn" if device_withdrawn(catalogue, device_id) else why


_ARTICLES = {"reader": "a "}  # the bench, the maker and the distributor are known; a reader is one of many


def origin_words(unit: Unit) -> str:
    """ "bought by the bench", "loaned by Tessarik"."""
    if not unit.given_by:
        return f"{unit.origin}, by whom is not stated"
    return f"{unit.origin} by {_ARTICLES.get(unit.given_by, 'the ') if unit.given_by.islower() else ''}{unit.given_by}"


def retest_words(site: SiteContext, returned: str) -> str:
    """Whether a unit that goes back on the day *returned* can still be tested again."""
    return (
        f"no retest possible since {wording.date(returned)}"
        if site.past[returned]
        else (f"goes back on {wording.date(returned)}; until then it can be tested again")
    )


def origin_sentence(site: SiteContext, unit: Unit) -> str:
    """The disclosure of one unit."""
    text = f"Unit {unit.unit_id}: {origin_words(unit)}"
    text += f", {wording.date(unit.received)}" if unit.received else ""
    if unit.returned:
        text += f"; {retest_words(site, unit.returned)}"
    return f"{text}."
