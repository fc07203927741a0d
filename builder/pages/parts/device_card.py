"""What a shortlist says of each device on it: what its page says first, what feeds it, what it cost, and where to look."""

from __future__ import annotations

from urllib.parse import urljoin

from builder import addresses, wording
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.device import device_facts, device_verdict
from builder.pages.parts.blocks import Fact
from builder.registers.prices import latest_price
from catalog.figure_names import joined_id


def card_key(device_id: str) -> str:
    """What a device's card is handed over to scripts under."""
    return f"cards/{addresses.part(joined_id(device_id))}"


def device_card(catalogue: Catalogue, results: Results, site: SiteContext, device_id: str) -> tuple[Fact, ...]:
    """The facts of one device, in the order a buyer asks for them."""
    short = addresses.short(addresses.device(device_id))
    return (
        Fact("In the middle of a house", device_verdict(catalogue, results, device_id, results.largest.get(device_id))),
        *device_facts(catalogue, results, site, results.bench.devices[device_id]),
        Fact("Price", _price(catalogue, device_id)),
        Fact("Its page", urljoin(site.address or "", short), addresses.device(device_id)),
    )


def _price(catalogue: Catalogue, device_id: str) -> str:
    """The price seen last, on which terms, and its licence."""
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
