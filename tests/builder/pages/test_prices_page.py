"""Prices with their day, and what they come to with licences."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from builder.pages.contents import compose
from builder.pages.prices import prices_page
from tests.builder.pages.conftest import by_heading, with_changed


@pytest.fixture
def two(small):
    """E22 of the job analysis: 199 and 39 a year against 279 once."""
    (seen,) = small.catalogue.prices["tessarik-a-b"]
    first = replace(seen, amount=199.0, licence_per_year=39.0)
    second = replace(seen, device="quillmast-sill", amount=279.0, licence_per_year=0.0)
    return with_changed(
        small,
        prices={"tessarik-a-b": [first], "quillmast-sill": [second]},
        pairs=[("quillmast-sill", "tessarik-a-b")],
        as_of=datetime(2025, 6, 1, tzinfo=UTC),
    )


def rows(page):
    return {row["Device"].text: row for row in by_heading(page.sections[0].tables[0])}


def test_three_years_and_when_they_are_even(two):
    # By hand: 199 + 39 * 3 = 316; (279 - 199) / 39 = 2.05 years.
    page = compose(prices_page, two)
    assert rows(page)["Tessarik A<b"]["Over 3 years"].text == "316 EUR"
    assert rows(page)["Quillmast Sill"]["Over 3 years"].text == "279 EUR"
    (sentence,) = page.sections[0].sentences
    assert "They are even after 2.05 years." in sentence


def test_the_day_stands_by_the_price_and_an_old_one_says_so(two):
    seen = rows(compose(prices_page, two))["Tessarik A<b"]["Seen"]
    assert (seen.text, seen.note) == ("1 May 2025", "")
    later = with_changed(two, as_of=datetime(2026, 6, 1, tzinfo=UTC))
    assert rows(compose(prices_page, later))["Tessarik A<b"]["Seen"].note == "396 days old: look again"
    assert "2 of them older than 180 days" in compose(prices_page, later).verdict


def test_no_currency_is_changed_and_unlike_terms_stay_apart(two):
    (price,) = two.catalogue.prices["quillmast-sill"]
    for unlike in (
        replace(price, currency="USD"),
        replace(price, condition="refurbished"),
        replace(price, tax_included=False),
        replace(price, region="US"),
    ):
        page = compose(prices_page, with_changed(two, prices={**two.catalogue.prices, "quillmast-sill": [unlike]}))
        assert len(page.sections) == 2
        assert all(part.sentences == () for part in page.sections)


def test_the_latest_price_counts(demo):
    # Source: data/demo: Rondel 6 cost 279, 249 and then 219 EUR, the licence 39 and then 49 a year.
    for part in compose(prices_page, demo).sections:
        for row in by_heading(part.tables[0]):
            if row["Device"].text == "Polmerre Rondel 6":
                assert (row["Price"].text, row["Licence a year"].text) == ("219 EUR", "49 EUR")
                totals = [row[f"Over {years}"].text for years in ("1 year", "3 years", "5 years")]
                assert totals == ["268 EUR", "366 EUR", "464 EUR"]
