"""What a device costs over years: dated prices, licences, and claims of value that need both dated (method, 10)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass
from datetime import date

from builder import wording
from builder.pairs import refusals
from builder.pairs.refusals import Refusal
from builder.windows.claims import Claim
from catalog.records import Price


@dataclass(frozen=True, slots=True)
class Cost:
    """What one price comes to over some years, in its own currency; a currency is never changed into another."""

    price: Price
    years: float
    amount: float

    @property
    def sentence(self) -> str:
        licence = self.price.licence_per_year
        over = f"over {wording.trimmed(self.years, 2)} years" if licence else "once, without a licence"
        seen = wording.date(self.price.date)
        return f"{wording.money(self.amount, self.price.currency)} {over}, by the price of {seen}."


@dataclass(frozen=True, slots=True)
class Terms:
    """Terms of a price, in words: only prices on equal ones are set beside each other."""

    currency: str
    region: str
    tax: str
    condition: str

    @property
    def words(self) -> str:
        """ "new, DE, EUR, tax included": in this order wherever terms are said."""
        return ", ".join((self.condition, self.region, self.currency, self.tax))


def terms_of(price: Price) -> Terms:
    """The terms of one price; what is not stated is said to be so."""
    tax = {True: "tax included", False: "without tax", None: "tax not stated"}[price.tax_included]
    return Terms(price.currency, price.region or "region not stated", tax, price.condition or "condition not stated")


def latest_prices(every: Mapping[str, Sequence[Price]]) -> dict[Terms, dict[str, Price]]:
    """Terms -> device -> its latest dated price on these terms; those with the most devices first.

    every  device -> its prices
    """
    grouped: dict[Terms, dict[str, list[Price]]] = defaultdict(lambda: defaultdict(list))
    for device, prices in every.items():
        for price in prices:
            grouped[terms_of(price)][device].append(price)
    latest: dict[Terms, dict[str, Price]] = {}
    for terms, devices in grouped.items():
        newest = {device: latest_price(prices) for device, prices in sorted(devices.items())}
        if known := {device: price for device, price in newest.items() if price is not None}:
            latest[terms] = known
    return {terms: latest[terms] for terms in sorted(latest, key=lambda t: (-len(latest[t]), astuple(t)))}


def latest_price(prices: Sequence[Price]) -> Price | None:
    """The newest observation with a whole date; None without one."""
    dated = [p for p in prices if len(p.date) >= len("2025-05-12")]
    return max(dated, key=lambda p: (p.date, p.price_id), default=None)


def cost_over(price: Price, years: float) -> Cost:
    """The price and the licences of so many years.

    Raises  ValueError for years below 0.
    """
    if years < 0:
        raise ValueError(f"years must be at least 0, got {years}")
    return Cost(price, years, price.amount + (price.licence_per_year or 0.0) * years)


def even_after_years(a: Price, b: Price) -> float | None:
    """After how many years two prices with their licences come to the same; None if they never do."""
    per_year = (a.licence_per_year or 0.0) - (b.licence_per_year or 0.0)
    if per_year == 0:
        return None
    years = (b.amount - a.amount) / per_year
    return years if years >= 0 else None


def cheaper_claim(a: Sequence[Price], b: Sequence[Price], *, years: float, name_a: str, name_b: str) -> Claim | Refusal:
    """Which of two devices costs less over some years; refused without a dated price of each, or for unlike ones."""
    newest = {name_a: latest_price(a), name_b: latest_price(b)}
    missing = [name for name, price in newest.items() if price is None]
    price_a, price_b = newest[name_a], newest[name_b]
    if price_a is None or price_b is None:
        return Refusal("undated-price", refusals.undated_price(wording.listing(missing)))
    unlike = [
        what
        for what, differs in (
            ("currency", price_a.currency != price_b.currency),
            ("tax", price_a.tax_included != price_b.tax_included),
            ("region", price_a.region != price_b.region),
            ("condition", price_a.condition != price_b.condition),
        )
        if differs
    ]
    if unlike:
        return Refusal("unequal-conditions", refusals.unlike_prices(name_a, name_b, wording.listing(unlike)))
    cost_a, cost_b = cost_over(price_a, years), cost_over(price_b, years)
    if cost_a.amount == cost_b.amount:
        return Claim(f"{name_a} and {name_b} cost the same: {cost_a.sentence}", ())
    less, more = (name_a, cost_a), (name_b, cost_b)
    if cost_a.amount > cost_b.amount:
        less, more = more, less
    even = even_after_years(price_a, price_b)
    turn = f" They break even after {wording.about_years(even)}." if even else ""
    return Claim(f"{less[0]} costs less: {less[1].sentence} {more[0]}: {more[1].sentence}{turn}", ())


OLD_AFTER_DAYS = 180
ROUND_SUMS = (50, 100, 150, 200, 300, 500, 1000, 2000, 5000, 10_000)


def age_days(seen: str, today: date) -> int:
    """Days since the day on which a price was seen. [1]"""
    return (today - date.fromisoformat(seen[:10])).days


def is_old(seen: str, today: date) -> bool:
    """Whether a price seen on a day was seen so long ago that a reader had better look again."""
    return age_days(seen, today) > OLD_AFTER_DAYS


def seen_words(price: Price) -> str:
    """When a price was seen, beside it: "price from Nov 2025"."""
    return f"price from {wording.month(price.date)}"
