"""Prices with their day, and what they come to with licences."""

import posixpath
from dataclasses import replace
from datetime import UTC, datetime
from types import SimpleNamespace
from urllib.parse import parse_qs

import pytest

from builder import wording
from builder.pages.contents import compose
from builder.pages.listing import devices_page
from builder.pages.parts.leaves import with_leaves
from builder.pages.prices import YEARS, answers_for_sums, prices_page
from builder.registers.affordable import Offer, answer_for, answers, offers
from builder.registers.prices import latest_prices
from builder.windows.ranking import Behind
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
    # Over 1 year the round sum within which both are is 300.
    assert compose(prices_page, two, 1).verdict.startswith(
        "For 300 EUR over 1 year you can have Tessarik A<b or Quillmast Sill."
    )


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
        told = "the best here" if place == 0 else "slower than" if entry.apart_from_first else "may equal"
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


def test_the_page_opens_with_what_a_sum_buys_and_what_is_lost_far_off(demo):
    # By hand: Lantern 358 and Skerry 329 of Cupola's 461; 150 EUR is the smallest round sum with three to choose from.
    # The intervals of the differences are those of the ranking, which test_window_means holds against one pair at a time.
    lantern, skerry, rondel, tarn = (
        "52–154",
        "Skerry gives 132 Mbit/s less than it, which may be chance among 7 devices",
        "it gives 78 Mbit/s less than Tessarik Cupola, the best of all (likely 21–136)",
        "the tests cannot tell it from Tessarik Cupola, the best of all (a difference of 74 Mbit/s or more would have shown)",
    )
    assert three_years(demo).verdict == (
        "For 150 EUR over 3 years you can have Fjeldrun Ingle, Quillmast Lantern (refurbished) or Fjeldrun Skerry. Far off, "
        f"Lantern gives 103 Mbit/s less than Tessarik Cupola, the best of all (likely {lantern}); {skerry}; and no test "
        "of Ingle covers the whole range."
    )
    every = answers_for_sums(demo.catalogue, demo.results, 3)
    assert answer_for(every, 89.89) == (
        "Nothing here costs 89.89 EUR or less over 3 years; the cheapest is Fjeldrun Ingle, 89.90 EUR."
    )
    assert answer_for(every, 89.9).endswith(
        "you can have Fjeldrun Ingle. Far off, it was not tested over the whole range."
    )
    assert answer_for(every, 216) == (
        "For 216 EUR over 3 years you can have 6 of 11 devices, from Fjeldrun Ingle at 89.90 EUR on. Far off, the best of "
        f"them is Rondel 4: {rondel}."
    )
    assert answer_for(every, 300).endswith(f"the best of them is Tarn: {tarn}.")
    assert answer_for(every, 10_000).endswith(
        "Far off, Cupola gives most of all that were tested: 461 Mbit/s, likely 396–526."
    )


def test_the_years_decide_what_a_sum_buys(demo):
    # By hand, over one, three and five years: Rondel 6 at 219 and 49 a year 268, 366 and 464; Faceplate at 139 and 45 a year
    # 184, 274 and 364; nobody else crosses 300, neither Rondel 4 (99 and 39 a year, refurbished) nor Ridge (319).
    within = {years: answer_for(answers_for_sums(demo.catalogue, demo.results, years), 300) for years in YEARS}
    assert [text.split(" devices")[0].rsplit("have ", 1)[1] for text in within.values()] == [
        "9 of 11",
        "8 of 11",
        "7 of 11",
    ]
    assert [f"over {years} year" in text for years, text in within.items()] == [True] * 3


def test_a_sum_is_of_the_usual_currency_and_two_at_one_price_come_together(two):
    (first,), (second,) = (two.catalogue.prices[device] for device in ("tessarik-a-b", "quillmast-sill"))

    def answered(other):
        prices = {"tessarik-a-b": [first], "quillmast-sill": [other]}
        every = answers_for_sums(with_changed(two, prices=prices).catalogue, two.results, 3)
        assert [answer.least for answer in every] == [0.0, 316.0]
        return every

    every = answered(replace(second, amount=316.0, condition="refurbished"))
    both = "For 316.50 EUR over 3 years you can have Quillmast Sill (refurbished) or Tessarik A<b."
    assert answer_for(every, 316.5).startswith(both)
    every = answered(replace(second, amount=9.0, currency="USD", condition="refurbished"))
    assert answer_for(every, 316.5).startswith("For 316.50 EUR over 3 years you can have Tessarik A<b.")
    assert answer_for(every, 20).endswith("the cheapest is Tessarik A<b, 316 EUR.")
    none = with_changed(two, prices={})
    assert three_years(none).verdict == "Nobody has noted a price yet."
    with pytest.raises(ValueError, match="at least 0"):
        answer_for(every, -1)


def test_a_far_window_that_nobody_covers_is_said(two):
    every = offers(latest_prices(two.catalogue.prices), 3)
    naming = {"name": str, "short": str}
    assert answers(every, None, 3, **naming)[-1].sentence.endswith("How they do far off was not tested.")


def entry_behind(behind, *, apart, device="slow"):
    subject = SimpleNamespace(device=device, maker="Maker", model=device)
    return SimpleNamespace(
        subject=subject, value=200.0, bound=False, low=None, high=None, port=None, behind=behind, apart_from_first=apart
    )


@pytest.mark.parametrize(
    ("behind", "apart", "words"),
    [
        (Behind(50.0, None), True, "slow gives at least 50 Mbit/s less than quick, the best of all."),
        (
            Behind(50.0, None),
            False,
            "slow gives 50 Mbit/s less than quick, the best of all, which may be chance among 2 devices.",
        ),
        (None, False, "the tests give no verdict on slow beside quick, the best of all."),
    ],
)
def test_a_bound_and_no_verdict_are_said_as_what_they_are(two, behind, apart, words):
    (price,) = two.catalogue.prices["tessarik-a-b"]
    first = entry_behind(None, apart=False, device="quick")
    ranked = first, entry_behind(behind, apart=apart)
    far = SimpleNamespace(window="far", ranked=ranked, entries={one.subject.device: one for one in ranked})
    every = answers([Offer("slow", price.amount, "EUR", "")], far, 3, name=str, short=str)
    assert every[-1].sentence.endswith(f"Far off, {words}")
