"""What does it cost over years? Dated prices with their licences, apart by currency, region, tax and condition."""

from __future__ import annotations

from collections import defaultdict

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.material import Material
from builder.pages.parts.blocks import Column, Entry, Row, Section, Table
from builder.pages.parts.entries import date_entry
from builder.pages.parts.provenance import provenance
from builder.pages.parts.sectioned import SectionedPage
from builder.registers.prices import (
    OLD_AFTER_DAYS,
    age_days,
    age_remark,
    cheaper_claim,
    cost_over,
    even_after_years,
    latest_price,
)
from builder.windows.claims import Claim
from builder.windows.neighbours import Pair
from catalog.figure_names import joined_id
from catalog.records import Price

YEARS = (1.0, 3.0, 5.0)
JUDGED_YEARS = 3.0
MOST_EVEN_YEARS = 10.0
MOST_SENTENCES = 6  # more of them stand in a table

Terms = tuple[str, str, str, str]  # currency, region, tax, condition


def prices_page(material: Material) -> SectionedPage:
    """The latest price of every device on equal terms, and what it comes to with its licences."""
    here = addresses.PRICES
    latest = _latest(material)
    old = sum(age_days(p, material.today) > OLD_AFTER_DAYS for own in latest.values() for p in own.values())
    total = sum(len(own) for own in latest.values())
    return SectionedPage(
        address=here,
        title="Prices and licences",
        question="What does it cost over the years, licences included?",
        verdict=f"{wording.capital(wording.count(total, 'price'))}, each as seen on one day; "
        f"{old or 'none'} of them older than {OLD_AFTER_DAYS} days."
        if total
        else "Nobody has noted a price yet.",
        sections=tuple(_section(material, here, terms, own) for terms, own in sorted(latest.items())),
        cannot_say=(
            "What it costs today, or where you are: every price has its day and its region.",
            "What it costs in another currency: none is changed into another.",
            "Whether it is worth its money: that is for you to say.",
        ),
        provenance=provenance(material, here),
    )


def _latest(material: Material) -> dict[Terms, dict[str, Price]]:
    """Terms -> device -> the latest dated price on these terms."""
    grouped: dict[Terms, dict[str, list[Price]]] = defaultdict(lambda: defaultdict(list))
    for device, found in material.prices.items():
        for price in found:
            grouped[_terms(price)][device].append(price)
    latest: dict[Terms, dict[str, Price]] = defaultdict(dict)
    for terms, devices in grouped.items():
        for device, own in sorted(devices.items()):
            newest = latest_price(own)
            if newest is not None:
                latest[terms][device] = newest
    return dict(latest)


def _terms(price: Price) -> Terms:
    tax = {True: "tax included", False: "without tax", None: "tax not stated"}[price.tax_included]
    return (
        price.currency,
        price.region or "region not stated",
        tax,
        price.condition or "condition not stated",
    )


def _section(material: Material, here: str, terms: Terms, own: dict[str, Price]) -> Section:
    currency, region, tax, condition = terms
    turns = _turns(material, own)
    few = len(turns) <= MOST_SENTENCES
    return Section(
        joined_id("terms", *terms),
        f"{wording.capital(condition)}, {region}, {currency}, {tax}",
        tuple(dict.fromkeys(turns.values())) if few else (),
        tables=(_table(material, here, terms, own), *(() if few else [_turn_table(material, here, terms, turns)])),
    )


def _table(material: Material, here: str, terms: Terms, own: dict[str, Price]) -> Table:
    return Table(
        key=joined_id("prices", *terms),
        caption=f"{wording.capital(terms[3])}, {', '.join(terms[:3])}: the latest price, and what it comes to",
        columns=(
            Column("Device"),
            Column("Seen"),
            Column("Price", numeric=True),
            Column("Licence a year", numeric=True),
            *(Column(f"Over {wording.count(int(years), 'year')}", numeric=True) for years in YEARS),
        ),
        rows=tuple(
            _row(material, here, device, price)
            for device, price in sorted(
                own.items(), key=lambda item: (cost_over(item[1], JUDGED_YEARS).amount, item[0])
            )
        ),
    )


def _row(material: Material, here: str, device: str, price: Price) -> Row:
    day = date_entry(price.date)
    licence = Entry(why_missing="none named")
    if price.licence_per_year is not None:
        text = wording.money(price.licence_per_year, price.currency) if price.licence_per_year else "none needed"
        licence = Entry(text=text, sort_key=repr(price.licence_per_year))
    costs = [cost_over(price, years).amount for years in YEARS]
    return Row(
        Entry(text=device_name(material.bench, device), href=addresses.link(here, addresses.device(device), "cost")),
        (
            Entry(text=day.text, sort_key=day.sort_key, note=age_remark(price, material.today)),
            Entry(text=wording.money(price.amount, price.currency), sort_key=repr(price.amount)),
            licence,
            *(Entry(text=wording.money(amount, price.currency), sort_key=repr(amount)) for amount in costs),
        ),
    )


def _turns(material: Material, own: dict[str, Price]) -> dict[Pair, str]:
    """For prepared pairs on these terms whose order turns within ten years: when it does."""
    found: dict[Pair, str] = {}
    for a, b in material.pairs:
        if a not in own or b not in own:
            continue
        even = even_after_years(own[a], own[b])
        if even is None or not 0 < even <= MOST_EVEN_YEARS:
            continue
        names = device_name(material.bench, a), device_name(material.bench, b)
        claim = cheaper_claim([own[a]], [own[b]], years=JUDGED_YEARS, name_a=names[0], name_b=names[1])
        if isinstance(claim, Claim):
            found[a, b] = claim.sentence
    return found


def _turn_table(material: Material, here: str, terms: Terms, turns: dict[Pair, str]) -> Table:
    return Table(
        key=joined_id("turns", *terms),
        caption="Pairs of which one costs less at first and the other in the end",
        columns=(Column("Pair"), Column("When it turns", sentence=True)),
        rows=tuple(
            Row(
                Entry(
                    text=f"{device_name(material.bench, a)} or {device_name(material.bench, b)}",
                    href=addresses.link(here, addresses.pair(a, b)),
                ),
                (Entry(text=sentence),),
            )
            for (a, b), sentence in turns.items()
        ),
    )
