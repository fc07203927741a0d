"""What does it cost over years? Dated prices with their licences, apart by currency, region, tax and condition."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import date_entry, device_entry, pair_entry
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


def prices_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SectionedPage:
    """The latest price of every device on equal terms, and what it comes to with its licences."""
    here = addresses.PRICES
    latest = _latest(catalogue)
    old = sum(age_days(p, site.today) > OLD_AFTER_DAYS for prices in latest.values() for p in prices.values())
    total = sum(map(len, latest.values()))
    return SectionedPage(
        address=here,
        title="Prices and licences",
        question="What does it cost over the years, licences included?",
        verdict=f"{wording.capital(wording.count(total, 'price'))}, each as seen on one day; "
        f"{old or 'none'} of them older than {OLD_AFTER_DAYS} days."
        if total
        else "Nobody has noted a price yet.",
        sections=tuple(_section(results, site, here, terms, prices) for terms, prices in sorted(latest.items())),
        cannot_say=(
            "What it costs today, or where you are: every price has its day and its region.",
            "What it costs in another currency: none is changed into another.",
            "Whether it is worth its money: that is for you to say.",
        ),
        provenance=provenance(catalogue, results, site, here),
    )


def _latest(catalogue: Catalogue) -> dict[Terms, dict[str, Price]]:
    """Terms -> device -> the latest dated price on these terms."""
    grouped: dict[Terms, dict[str, list[Price]]] = defaultdict(lambda: defaultdict(list))
    for device, prices in catalogue.prices.items():
        for price in prices:
            grouped[_terms(price)][device].append(price)
    latest: dict[Terms, dict[str, Price]] = defaultdict(dict)
    for terms, devices in grouped.items():
        for device, prices in sorted(devices.items()):
            newest = latest_price(prices)
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


def _section(results: Results, site: SiteContext, here: str, terms: Terms, prices: dict[str, Price]) -> Section:
    currency, region, tax, condition = terms
    turns = _turns(results, prices)
    few = len(turns) <= MOST_SENTENCES
    return Section(
        joined_id("terms", *terms),
        f"{wording.capital(condition)}, {region}, {currency}, {tax}",
        tuple(dict.fromkeys(turns.values())) if few else (),
        tables=(
            _table(results, site, here, terms, prices),
            *(() if few else [_turn_table(results, here, terms, turns)]),
        ),
    )


def _table(results: Results, site: SiteContext, here: str, terms: Terms, prices: dict[str, Price]) -> Table:
    columns: list[Column[Price]] = [
        Column("Device", lambda p: device_entry(results, here, p.device, "cost")),
        Column("Seen", lambda p: date_entry(p.date, note=age_remark(p, site.today))),
        Column("Price", lambda p: _money_entry(p.amount, p), numeric=True),
        Column("Licence a year", _licence_entry, numeric=True),
        *(_total_column(years) for years in YEARS),
    ]
    return table_of(
        sorted(prices.values(), key=lambda p: (cost_over(p, JUDGED_YEARS).amount, p.device)),
        columns,
        key=joined_id("prices", *terms),
        caption=f"{wording.capital(terms[3])}, {', '.join(terms[:3])}: the latest price, and what it comes to",
    )


def _total_column(years: float) -> Column[Price]:
    return Column(
        f"Over {wording.count(int(years), 'year')}",
        lambda p: _money_entry(cost_over(p, years).amount, p),
        numeric=True,
    )


def _licence_entry(price: Price) -> Entry:
    if price.licence_per_year is None:
        return Entry(why_missing="none named")
    entry = _money_entry(price.licence_per_year, price)
    return entry if price.licence_per_year else replace(entry, text="none needed")


def _money_entry(amount: float, price: Price) -> Entry:
    return Entry(text=wording.money(amount, price.currency), sort_key=repr(amount))


def _turns(results: Results, prices: dict[str, Price]) -> dict[Pair, str]:
    """When the cheaper of a prepared pair changes, for pairs on these terms where it does within ten years."""
    turns: dict[Pair, str] = {}
    for a, b in results.pairs:
        if a not in prices or b not in prices:
            continue
        even = even_after_years(prices[a], prices[b])
        if even is None or not 0 < even <= MOST_EVEN_YEARS:
            continue
        names = device_name(results.bench, a), device_name(results.bench, b)
        claim = cheaper_claim([prices[a]], [prices[b]], years=JUDGED_YEARS, name_a=names[0], name_b=names[1])
        if isinstance(claim, Claim):
            turns[a, b] = claim.sentence
    return turns


def _turn_table(results: Results, here: str, terms: Terms, turns: dict[Pair, str]) -> Table:
    columns: list[Column[Pair]] = [
        Column("Pair", lambda pair: pair_entry(results, here, *pair)),
        Column("When it turns", lambda pair: Entry(text=turns[pair]), sentence=True),
    ]
    return table_of(
        turns,
        columns,
        key=joined_id("turns", *terms),
        caption="Pairs of which one costs less at first and the other in the end",
    )
