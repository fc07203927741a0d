"""Prices with their day, and what they come to with licences."""

import posixpath
from dataclasses import replace
from datetime import UTC, datetime
from urllib.parse import parse_qs

import pytest

from builder import wording
from builder.pages.contents import compose
from builder.pages.listing import devices_page
from builder.pages.parts.leaves import with_leaves
from builder.pages.prices import YEARS, prices_page
from tests.builder.pages.conftest import by_heading, contents, with_changed


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
        old={seen.date: False},
    )


def three_years(contents):
    return compose(prices_page, contents, 3)


def rows(page):
    return {row["Device"].text: row for row in by_heading(page.sections[0].tables[0])}


def test_three_years_and_when_they_break_even(two):
    # By hand: 199 + 39 * 3 = 316; (279 - 199) / 39 = 2.05 years.
    page = three_years(two)
    assert rows(page)["Tessarik A<b"]["Over 3 years"].text == "316 EUR"
    assert rows(page)["Quillmast Sill"]["Over 3 years"].text == "279 EUR"
    (turn,) = by_heading(page.sections[-1].tables[0])
    assert turn["Break-even"].text == "about 2 years"
    assert turn["Which costs less"].text == (
        "At first Tessarik A<b (price from May 2025), in the end Quillmast Sill (price from May 2025)."
    )


def test_the_cheapest_over_the_chosen_years_stands_first(two):
    # By hand: 199 + 39 = 238 over one year, 316 over three, 394 over five; 279 over any.
    orders = {years: list(rows(compose(prices_page, two, years))) for years in YEARS}
    assert orders == {
        1: ["Tessarik A<b", "Quillmast Sill"],
        3: ["Quillmast Sill", "Tessarik A<b"],
        5: ["Quillmast Sill", "Tessarik A<b"],
    }
    totals = {years: rows(compose(prices_page, two, years))["Tessarik A<b"] for years in YEARS}
    assert [totals[1]["Over 1 year"].text, totals[5]["Over 5 years"].text] == ["238 EUR", "394 EUR"]
    assert compose(prices_page, two, 1).verdict.startswith("Cheapest over 1 year: Tessarik A<b, 238 EUR")


def test_every_number_of_years_leads_to_the_others(two):
    pages = {years: compose(prices_page, two, years) for years in YEARS}
    assert pages[3].address == "prices/index.html"
    for page in pages.values():
        assert [link.text for link in page.years] == ["Over 1 year", "Over 3 years", "Over 5 years"]
        assert [posixpath.join("prices", link.href) for link in page.years] == [p.address for p in pages.values()]


def test_the_day_it_was_seen_stands_by_the_price(two):
    row = rows(three_years(two))["Tessarik A<b"]
    assert row["Seen"].text == "1 May 2025"
    assert row["Over 3 years"].note == "price from May 2025"
    assert "none of them older than 180 days" in three_years(two).intro[0]
    later = with_changed(two, old={"2025-05-01": True})
    assert "2 of them older than 180 days: look again before you buy" in three_years(later).intro[0]


def test_a_price_is_old_from_the_181st_day_on(small_file):
    # By hand: 180 days after 1 May 2025 is 28 October.
    for day, old in ((28, False), (29, True)):
        assert contents(small_file, datetime(2025, 10, day, 23, 59, tzinfo=UTC)).site.old == {"2025-05-01": old}


def test_no_currency_is_changed_and_unlike_terms_stay_apart(two):
    (price,) = two.catalogue.prices["quillmast-sill"]
    for unlike in (
        replace(price, currency="USD"),
        replace(price, condition="refurbished"),
        replace(price, tax_included=False),
        replace(price, region="US"),
    ):
        page = three_years(with_changed(two, prices={**two.catalogue.prices, "quillmast-sill": [unlike]}))
        assert [part.key.split("~")[0] for part in page.sections] == ["terms", "terms"]
        assert page.filtered == tuple(part.tables[0].key for part in page.sections)
        assert ("USD" in page.limit.label) == (unlike.currency == "USD")


def test_the_latest_price_counts(demo):
    # Source: data/demo: Rondel 6 cost 279, 249 and then 219 EUR, the licence 39 and then 49 a year.
    for years, total in ((1, "268 EUR"), (3, "366 EUR"), (5, "464 EUR")):
        row = rows(compose(prices_page, demo, years))["Polmerre Rondel 6"]
        assert (row["Price"].text, row["Licence a year"].text) == ("219 EUR", "49 EUR")
        assert row[f"Over {years} year{'s' if years > 1 else ''}"].text == total


def test_the_far_window_of_the_largest_group_stands_beside_the_sum(demo):
    # Source: the ranking page of the same group, which has its own tests.
    page = three_years(demo)
    wanted = ("wrenlet-u2", "5", 80, "down")
    (group,) = [g for g in demo.results.groups if (g.series, g.band, g.width_mhz, g.direction) == wanted]
    far = demo.results.ranking(group, "far")
    shown = rows(page)
    for place, entry in enumerate(far.ranked):
        cell = shown[f"{entry.subject.maker} {entry.subject.model}"]["Far off, Mbit/s"]
        assert cell.text == f"{entry.value:.0f}"
        for end in (entry.low, entry.high):
            assert f"{end:.0f}" in cell.interval
        told = "the most here" if place == 0 else "not told apart" if entry.best == 1 else "less than the most"
        assert told in cell.note
    assert shown["Fjeldrun Ingle"]["Far off, Mbit/s"].why_missing == "covers 75–83.5 of 75–90 dB"
    assert "75–90 dB" in page.intro[1]


def test_what_a_sum_is_asked_of_is_the_unrounded_total(demo):
    for part in three_years(demo).sections[:-1]:
        for row, entries in zip(part.tables[0].rows, by_heading(part.tables[0]), strict=True):
            (total,) = parse_qs(row.facets)["total"]
            assert wording.money(float(total), "EUR") == entries["Over 3 years"].text


def test_devices_are_filtered_by_what_they_come_to_in_one_currency(demo):
    # By hand, from the prices of data/demo: the dearest is 529 EUR, so 1000 is the last sum that is offered.
    page = compose(devices_page, demo)
    (limit,) = [one for one in page.filters if one.name == "price"]
    offered = [text for _, text in limit.options]
    assert (offered[0], offered[-1]) == ("at most 100 EUR", "at most 1000 EUR")
    totals = {row.head.text: parse_qs(row.facets).get("price") for row in page.table.rows}
    assert totals["Polmerre Rondel 6"] == ["366.0"]
    (price,) = demo.catalogue.prices["fjeldrun-ingle"]
    mixed = with_changed(demo, prices={**demo.catalogue.prices, "fjeldrun-ingle": [replace(price, currency="USD")]})
    assert "price" not in {one.name for one in compose(devices_page, mixed).filters}


def test_rows_that_do_not_fit_lie_apart_for_every_number_of_years(demo):
    leaves = [leaf for years in YEARS for leaf in with_leaves(compose(prices_page, demo, years), room=10, fewest=1)[1]]
    assert len(leaves) >= 2 * len(YEARS)
    assert len({leaf.address for leaf in leaves}) == len(leaves)
