"""What does it cost over years? Dated prices with their licences, apart by currency, region, tax and condition."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import astuple, dataclass, replace
from functools import partial
from typing import Any, ClassVar
from urllib.parse import urlencode

from builder import addresses, wording
from builder.bench.cells import usual
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Link, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import date_entry, device_entry, pair_entry
from builder.pages.parts.newest import days_of
from builder.pages.parts.provenance import provenance
from builder.pages.parts.sectioned import SectionedPage
from builder.pages.tables.device_facets import Filter
from builder.registers.affordable import Answer, answer_for, answers, default_sum, offers
from builder.registers.prices import (
    OLD_AFTER_DAYS,
    Terms,
    cost_over,
    even_after_years,
    latest_prices,
    seen_words,
    terms_of,
)
from builder.windows.ranking import Ranking
from builder.windows.standing import interval_text, ranked_entry, rate_text
from catalog.figure_names import joined_id
from catalog.records import Price

YEARS = (1, addresses.PRICE_YEARS, 5)
MOST_EVEN_YEARS = 10.0


@dataclass(frozen=True, kw_only=True)
class PricesPage(SectionedPage):
    """What everything costs over some years, the cheapest first, with what it gives far off.

    years     links to the same over other years
    limit     for scripts: up to a sum
    filtered  tables it is about, by key
    data_href, data_key  where a script finds the sentence for every sum, and under which key
    """

    template: ClassVar[str] = "prices"

    years: tuple[Link, ...]
    limit: Filter
    filtered: tuple[str, ...]
    data_href: str
    data_key: str


def answers_key(years: int) -> str:
    """The key under which scripts find the answers."""
    return f"affordable/{years}"


def prices_page(catalogue: Catalogue, results: Results, site: SiteContext, years: int) -> PricesPage:
    """The latest price of every device on equal terms, what it comes to over *years*, and its far window."""
    here = addresses.prices(years)
    latest = latest_prices(catalogue.prices)
    far = _far(results)
    sections = tuple(_section(results, here, terms, prices, years, far) for terms, prices in latest.items())
    turns = _break_even(results, here, latest, years)
    currencies = sorted({terms.currency for terms in latest})
    over = wording.count(years, "year")
    return PricesPage(
        address=here,
        title="Prices and licences" if here == addresses.PRICES else f"Prices and licences over {over}",
        question=f"What can I have for my money over {over}, and what do I get far off?",
        verdict=answer_for(answers_for_sums(catalogue, results, years), default_sum(offers(latest, years))),
        intro=_intro(site, latest, far, results),
        years=tuple(
            Link(f"Over {wording.count(n, 'year')}", addresses.link(here, addresses.prices(n)), "shown" * (n == years))
            for n in YEARS
        ),
        limit=Filter("total", f"At most, {' or '.join(currencies)} over {over}", "most", ()),
        filtered=tuple(section.tables[0].key for section in sections),
        data_href=addresses.link(here, addresses.script_data(answers_key(years))),
        data_key=answers_key(years),
        sections=(*sections, *((turns,) if turns else ())),
        cannot_say=(
            "What it costs today, or where you are: every price has its day and its region.",
            "What it costs in another currency: none is changed into another.",
            "Whether it is worth its money: that is for you to say.",
        ),
        provenance=provenance(catalogue, results, site, here, days=_days(results, latest, far)),
    )


def _days(results: Results, latest: dict[Terms, dict[str, Price]], far: Ranking | None) -> list[str]:
    """The days of the prices, and of the tests behind the values beside them."""
    prices = (price for of_terms in latest.values() for price in of_terms.values())
    return [*days_of(prices), *days_of(results.cells[far.group] if far is not None else ())]


def _far(results: Results) -> Ranking | None:
    """The far window of the largest group, of several the most usual."""
    groups = sorted(results.groups, key=lambda g: (-results.company[g], usual(g), g.sort_key))
    return results.ranking(groups[0], "far") if groups else None


def answers_for_sums(catalogue: Catalogue, results: Results, years: int) -> list[Answer]:
    """What can be had for each sum over *years*, and what is lost far off."""
    bench = results.bench
    models = Counter(device.model for device in bench.devices.values())

    def short(device_id: str) -> str:
        model = bench.devices[device_id].model
        return model if models[model] == 1 else device_name(bench, device_id)

    available = offers(latest_prices(catalogue.prices), years)
    return answers(available, _far(results), years, name=partial(device_name, bench), short=short)


def answers_data(catalogue: Catalogue, results: Results, years: int) -> dict[str, Any]:
    """The same for the script: from which sum on each sentence holds, the default sum, and the sentences."""
    every = answers_for_sums(catalogue, results, years)
    return {
        "from": [answer.least for answer in every],
        "sentences": [answer.sentence for answer in every],
        "usual": default_sum(offers(latest_prices(catalogue.prices), years)),
    }


def _intro(
    site: SiteContext, latest: dict[Terms, dict[str, Price]], far: Ranking | None, results: Results
) -> tuple[str, ...]:
    every = [price for prices in latest.values() for price in prices.values()]
    if not every:
        return ()
    old = sum(site.old[price.date] for price in every)
    texts = [
        f"{wording.capital(wording.count(len(every), 'price'))}, each as seen on its day; {old or 'none'} of them "
        f"older than {OLD_AFTER_DAYS} days{': look again before you buy' if old else ''}."
    ]
    if far is not None:
        texts.append(
            f"Far off is the mean over {wording.db_range(*far.range)} dB with {results.names[far.group].text}."
        )
    return tuple(texts)


def _section(
    results: Results, here: str, terms: Terms, prices: dict[str, Price], years: int, far: Ranking | None
) -> Section:
    return Section(
        joined_id("terms", *astuple(terms)),
        wording.capital(terms.words),
        tables=(_table(results, here, terms, prices, years, far),),
    )


def _table(
    results: Results, here: str, terms: Terms, prices: dict[str, Price], years: int, far: Ranking | None
) -> Table:
    columns: list[Column[Price]] = [
        Column("Device", lambda p: device_entry(results, here, p.device, "cost")),
        Column(f"Over {wording.count(years, 'year')}", lambda p: _total_entry(p, years), numeric=True, decides=True),
        Column("Far off, Mbit/s", lambda p: _far_entry(far, p.device), numeric=True),
        Column("Price", lambda p: _money_entry(p.amount, p), numeric=True),
        Column("Licence a year", _licence_entry, numeric=True),
        Column("Seen", lambda p: date_entry(p.date)),
    ]
    return table_of(
        sorted(prices.values(), key=lambda p: (cost_over(p, years).amount, p.device)),
        columns,
        key=joined_id("prices", str(years), *astuple(terms)),  # rows that do not fit lie beside all three pages
        caption=f"{wording.capital(terms.words)}: the cheapest over {wording.count(years, 'year')} first",
        facets=lambda p: urlencode({"total": repr(cost_over(p, years).amount)}),
    )


def _total_entry(price: Price, years: int) -> Entry:
    return replace(_money_entry(cost_over(price, years).amount, price), note=seen_words(price))


def _far_entry(far: Ranking | None, device: str) -> Entry:
    """What a device gives in the far window, and whether it is slower than the best there."""
    if far is None:
        return Entry(why_missing="not tested")
    entry = ranked_entry(far, device)
    if entry is None:
        left_out = next((n for n in far.not_ranked if n.subject.device == device), None)
        why = "not tested" if left_out is None else left_out.sentence.removeprefix("Not ranked: ").rstrip(".")
        return Entry(why_missing=why)
    notes = ["slower than the best" if entry.apart_from_first else "may equal the best"] if len(far.ranked) > 1 else []
    if entry is far.ranked[0]:
        notes = ["the best here"]
    if entry.port is not None:
        notes.append(wording.held_by_port(entry.port))
    return Entry(
        text=rate_text(entry), interval=interval_text(entry), note="; ".join(notes), sort_key=repr(entry.value)
    )


def _licence_entry(price: Price) -> Entry:
    if price.licence_per_year is None:
        return Entry(why_missing="none named")
    entry = _money_entry(price.licence_per_year, price)
    return entry if price.licence_per_year else replace(entry, text="none needed")


def _money_entry(amount: float, price: Price) -> Entry:
    return Entry(text=wording.money(amount, price.currency), sort_key=repr(amount))


def _break_even(results: Results, here: str, latest: dict[Terms, dict[str, Price]], years: int) -> Section | None:
    """When the cheaper of two changes; None where it does for no prepared pair within ten years."""
    turns = [turn for terms in sorted(latest, key=astuple) for turn in _turns(results, latest[terms])]
    if not turns:
        return None
    table = table_of(
        turns,
        (
            Column("Pair", lambda turn: pair_entry(results, here, turn.first.device, turn.then.device)),
            Column(
                "Which costs less", lambda turn: Entry(text=_turn_words(results, turn)), sentence=True, decides=True
            ),
            Column(
                "Break-even",
                lambda turn: Entry(text=wording.about_years(turn.years), sort_key=repr(turn.years)),
                numeric=True,
            ),
            Column("Terms", lambda turn: Entry(text=terms_of(turn.first).words)),
        ),
        key=f"turns-{years}",
        caption="Pairs of which one costs less at first and the other in the end",
    )
    return Section("break-even", "When do they break even?", tables=(table,))


@dataclass(frozen=True, slots=True)
class _Turn:
    """The price that is lower at first, the one that is lower in the end, and after how many years."""

    first: Price
    then: Price
    years: float


def _turns(results: Results, prices: dict[str, Price]) -> Iterator[_Turn]:
    for a, b in results.pairs:
        if a not in prices or b not in prices:
            continue
        even = even_after_years(prices[a], prices[b])
        if even is not None and 0 < even <= MOST_EVEN_YEARS:
            first, then = sorted((prices[a], prices[b]), key=lambda price: price.amount)
            yield _Turn(first, then, even)


def _turn_words(results: Results, turn: _Turn) -> str:
    first, then = (f"{device_name(results.bench, p.device)} ({seen_words(p)})" for p in (turn.first, turn.then))
    return f"At first {first}, in the end {then}."
