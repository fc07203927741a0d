"""Rankings, clients, houses, method, reviews, start and lists: what each must hold."""

import re
from dataclasses import replace
from datetime import UTC, datetime
from urllib.parse import urljoin, urlsplit

import pytest

from builder.bench.naming import device_name
from builder.bench.sessions import session_factors
from builder.metrics import METRICS
from builder.pages import listing, ranking_list
from builder.pages.client import client_page
from builder.pages.contents import compose
from builder.pages.house import house_page
from builder.pages.insides import insides_page
from builder.pages.method import method_page
from builder.pages.not_found import not_found_page
from builder.pages.parts.looked_up import bound_articles
from builder.pages.ranking import ranking_page
from builder.pages.review import review_page
from builder.pages.start import start_page
from builder.pairs.refusals import CODES
from builder.traces.definitions import COMPARED
from builder.windows.assumed_days import assumed_days
from builder.windows.ranking import rank, ranking_groups
from catalog import method as rules
from catalog.connection import create_catalog
from tests.builder.conftest import Lab
from tests.builder.pages.conftest import by_heading, contents, with_changed


def test_ranking_has_three_windows_and_names_who_is_not_ranked(small):
    group = next(g for g in small.results.groups if g.series == "wrenlet-u2" and g.direction == "down")
    page = compose(ranking_page, small, group)
    assert [w.section.heading for w in page.windows] == [
        "Near: 50–60 dB",
        "A wall or two away: 60–75 dB",
        "Far off: 75–90 dB",
    ]
    near, middle, far = page.windows
    # By hand: A<b was tested from 55.5 dB on, nobody beyond 82 dB.
    assert [(row["Device"].text, row["Why not"].text) for row in by_heading(near.not_ranked)] == [
        ("Tessarik A<b", "Covers 55.5–60 of 50–60 dB.")
    ]
    assert far.section.tables == ()
    assert len(far.not_ranked.rows) == 3
    assert far.section.sentences == ("Far off (75–90 dB), no device covers the whole window, so nobody is ranked.",)
    assert len(middle.section.tables[0].rows) == 3


def test_ties_are_said_in_words(demo):
    for group in demo.results.groups:
        for window in compose(ranking_page, demo, group).windows:
            for table in window.section.tables:
                for number, row in enumerate(by_heading(table)):
                    words = row["Against the row above"]
                    if number == 0:
                        assert words.why_missing == "first row"
                    else:
                        assert words.text in ("told apart", "not told apart from the row above")
                assert "one device may stand, not where all of them stand at once" in table.caption


def test_client_page_shows_the_ceiling_with_its_evidence(small):
    page = compose(client_page, small, "wrenlet-u2")
    (row,) = by_heading(page.ceilings)
    # By hand: highest run with this client is A<b at 55.5 dB, third repeat: 1790 - 20·55.5 + 3 = 683; bound from 97 %.
    # Sill at 46 dB: 1700 - 920 + 3 = 783; Vane at 46 dB: 1755 - 920 + 3 = 838, which is the highest.
    assert row["Ceiling, Mbit/s"].text == "838"
    assert row["A bound from"].text == "813"
    assert row["Shown against"].text == "Quillmast Vane"
    assert re.fullmatch(r"2025-05-first, runs.csv row \d+, 20 June 2025", row["Evidence"].text)


def test_client_page_shows_what_each_link_can_carry(small):
    page = compose(client_page, small, "wrenlet-u2")
    # Source: exact rates of IEEE 802.11 (tests/published/phy_rates_full.csv): HE, 2 streams, MCS 11, 0.8 us.
    radios = {row["Link"].text: row for row in by_heading(page.radios)}
    assert {link: row["PHY rate, Mbit/s"].text for link, row in radios.items()} == {
        "5 GHz, 20 MHz": "287",
        "5 GHz, 40 MHz": "574",
        "5 GHz, 80 MHz": "1201",
        "5 GHz, 160 MHz": "2402",
    }
    wide = radios["5 GHz, 80 MHz"]
    assert wide["PHY rate, Mbit/s"].note == "802.11ax, 2 streams"
    # By hand: the ceiling of 838 is 838 / 1200.98 = 69.8 % of it; nothing shows one up.
    down = wide["Ceiling, download, Mbit/s"]
    assert (down.text, down.note) == ("838", "69.8 % of the PHY rate")
    assert wide["Ceiling, upload, Mbit/s"].why_missing == "none registered"
    # Source: 1448/1538 and 1460/1538 of 2500 Mbit/s (IEEE 802.3, RFC 7323).
    assert by_heading(page.ceilings)[0]["Shown against"].note == "its 2.5 Gbit/s port carries 2354–2373 Mbit/s"


def test_a_setup_is_called_equal_only_where_its_bridge_test_says_so(demo):
    # data/demo: the second adapter was declared to go on in the first one's series, and its bridge test did not show it.
    (test,) = (test for test in demo.results.bridges if test.new_client == "skarn-r2b")
    assert test.verdict == "not-shown-equal"
    for client in (test.old_client, test.new_client):
        page = compose(client_page, demo, client)
        assert "Series" not in {fact.term for fact in page.facts}
        assert by_heading(page.drivers)[0]["Series"].text == demo.results.bench.clients[client].name
    joined = with_changed(demo, bridges=[replace(test, verdict="same-series")])
    facts = {fact.term: fact.text for fact in compose(client_page, joined, "skarn-r2b").facts}
    assert facts["Series"] == "Skarn R2, one with Skarn R2: proven equal by a bridge test"


def test_client_page_says_what_is_only_suspected_as_such(demo, small):
    # Source: method section 4: proposed by the tool, accepted by a person; until then nothing is limited by it.
    assert demo.results.proposals
    for found in demo.results.proposals:
        page = compose(client_page, demo, found.client)
        (text,) = page.suspected
        assert text.startswith("Not shown yet: with ")
        assert "no run shows it, so no result is marked as limited by it" in text
        assert all(device_name(demo.results.bench, device) in text for device in found.plateaus)
        assert not any(device in text for device in found.plateaus)  # names for readers, ids for the command line
    assert compose(client_page, small, "wrenlet-u2").suspected == ()


def test_bridge_verdicts_stand_with_their_numbers(demo):
    assert demo.results.bridges
    for test in demo.results.bridges:
        page = compose(client_page, demo, test.new_client)
        (part,) = (p for p in page.bridges if p.sentences == (test.sentence,))
        assert len(part.tables[0].rows) == len(test.results)


def test_house_says_what_stands_between_and_since_when(small, demo):
    page = compose(house_page, small, "house-a")
    assert page.verdict == "About as much as at S4: 8 m away, behind two brick walls, 73 dB at 5 GHz."
    assert [row.head.text for row in page.spots.rows] == ["S1", "S2", "S3", "S4", "S5"]
    # Source: data/demo/README.md: a metal cupboard arrived beside one spot, which was read anew in three bands.
    ended = [
        row
        for house in demo.results.bench.houses
        for row in by_heading(compose(house_page, demo, house).epochs)
        if row["Until"].text
    ]
    assert len(ended) == 3
    assert len({(row["Spot"].text, row["Until"].text) for row in ended}) == 1


def test_house_says_what_kind_of_day_it_was(demo):
    odd, ordinary = [], []
    for house in demo.results.bench.houses:
        page = compose(house_page, demo, house)
        assert page.days.heading == "What kind of day was it?"
        for table in page.days.tables:
            if table.key == "odd-days":
                odd += table.rows
            else:
                ordinary += by_heading(table)
    factors = session_factors(demo.results.bench)
    assert {row.key for row in odd} == {f.figure for f in factors.values() if f.odd or f.state == "set aside"}
    assert {row["Session"].text for row in ordinary} == {session for _, session, _ in factors}
    # By hand: 0.95 of the long run is 0.950 on the page, with the state beside it.
    for row in ordinary:
        assert row["Session factor"].text[:2] in ("0.", "1.")
        assert row["State"].text


def test_house_whose_reference_was_not_tested_on_other_days_says_so(small):
    page = compose(house_page, small, "house-a")
    assert page.days.tables == ()
    assert page.days.sentences == (
        "No day of the reference device can be held against two other days here, so nothing is normalised.",
    )


def test_method_page_prints_the_constants_in_force(small):
    page = compose(method_page, small)
    limits = {row["Rule"].text: row["Limit"].text for row in by_heading(page.rules)}
    assert limits["Longest stretch that is joined"] == f"{rules.MAX_GAP_DB:g} dB"
    assert limits["Shortest shared range"] == f"{rules.MIN_RANGE_DB:g} dB"
    assert limits["Measured places of each device in it"] == str(rules.MIN_KNOTS)
    assert limits["Sessions and spots for a measured day-to-day spread"] == "5 and 3"
    # Source: method.md, sections 4, 6, 7, 8, 9 and 10.
    assert limits["A client ceiling is suspected"] == "2 devices within 3.0 % over 6 dB"
    assert limits["A share of collapses"] == "from 20 runs"
    assert limits["A percentile is thin"] == "fewer than 5 requests beyond it"
    assert limits["A period is claimed"] == "198 of 199 surrogates, both halves, 6 cycles"
    assert limits["Two bridges agree"] == "up to 1.96 standard errors apart"
    assert limits["A replaced client goes on in its series"] == "within ±5.0 %"
    assert limits["A bench day is suspended"] == "outside 0.90–1.10"
    assert limits["Two rises are separated"] == "from 3.0 K"
    windows = {row["Band"].text: spans(row) for row in by_heading(page.windows)}
    # Source: method.md, section 5.
    assert windows["5 GHz"] == ["50–60", "60–75", "75–90"]
    assert windows["2.4 GHz"] == ["43–53", "53–68", "68–83"]


def spans(row):
    return [row[window].text for window in ("Near", "Middle", "Far")]


def test_method_page_says_what_days_that_scatter_twice_as_much_would_do(small, demo):
    example = assumed_days(small.results.bench, small.results.rankings.values())
    assert compose(method_page, small).assumed_days == example.sentence
    assert "would be known to ±" in example.sentence
    # By hand: the day term alone, of one session and with every other term 0, would double; others dampen it.
    assert example.half_width < example.doubled < 2 * example.half_width
    lab = Lab()
    lab.declared["session_spread"] = None
    lab.add("A", [(58, [500.0, 500.0]), (68, [500.0, 500.0]), (78, [500.0, 500.0])])
    bench = lab.bench()
    alone = assumed_days(bench, [rank(bench, ranking_groups(bench)[0], "middle")])
    # By hand: 1.96 times 3 and 6 % of 500.
    assert (alone.half_width, alone.doubled) == pytest.approx((29.4, 58.8), abs=0.05)
    lab.declared["session_spread"] = 0.02
    bench = lab.bench()
    assert assumed_days(bench, [rank(bench, ranking_groups(bench)[0], "middle")]) is None


def test_declared_constants_are_called_declared(small):
    from dataclasses import replace

    from catalog.method import Constants

    constants = Constants(
        attenuation_sigma_db=0.5, session_spread=0.02, windows={"5": {"near": (48.0, 58.0)}}, version=2
    )
    page = compose(
        method_page,
        with_changed(
            small, bench=replace(small.results.bench, scatter=replace(small.results.bench.scatter, constants=constants))
        ),
    )
    rows = {row["Constant"].text: [row["In force"].text, row["From"].text] for row in by_heading(page.constants)}
    assert rows["What is not known of one spot’s own attenuation"] == ["0.5 dB", "declared by the bench"]
    assert rows["Standing at a spot again, where no reference device shows it"] == ["1 dB", "practice"]
    assert rows["Offset of a reference source and receiver"] == ["1 dB", "practice"]
    assert rows["Spread of a single run"] == ["none", "not declared"]
    windows = {row["Band"].text: row for row in by_heading(page.windows)}
    assert spans(windows["5 GHz"]) == ["48–58", "60–75", "75–90"]
    assert windows["5 GHz"]["From"].text == "declared by the bench"


def test_method_page_explains_every_refusal_and_every_figure(small):
    page = compose(method_page, small)
    assert [row.head.text for row in page.refusals.rows] == list(CODES)
    assert [row["Why nothing is said"].text for row in by_heading(page.refusals)] == list(CODES.values())
    assert [row.head.text for row in page.metrics.rows] == [*METRICS, *COMPARED]


def test_review_is_sanitised_and_discloses_who_paid(small):
    (bound,) = compose(bound_articles, small)
    page = compose(review_page, small, bound)
    (part,) = page.text
    text = part.html
    assert "<script" not in text
    assert "alert(1)" not in text
    assert "<strong>quick</strong>" in text
    assert "<h2>Quiet</h2>" in text
    assert re.search(
        r'<img src="\.\./\.\./images/[0-9a-f]{16}\.png" alt="Two &lt;ports&gt;" width="40" height="20">', text
    )
    origins = {fact.term: fact.text for fact in page.disclosure}
    assert origins["Tessarik A<b"].startswith("Unit A: loaned by the maker")
    assert page.pictures == ()  # the only picture stands in the text already


def test_start_asks_and_tells_what_changed(small):
    page = compose(start_page, small)
    assert page.question == "Which one gives more where you sit?"
    assert len(page.ways) == 3
    assert [(n.when, n.link.text, n.text.partition(":")[0]) for n in page.news][:3] == [
        ("Jun 2025", "Quillmast Vane with 2.10", "Retest"),
        ("Jun 2025", "Tessarik A<b, open", "Dispute"),
        (
            "Jun 2025",
            "Tessarik A<b",
            "Correction",
        ),
    ]
    assert [r.link.text for r in page.reviews] == ["A<b: quiet"]
    assert page.title == "Three access points, near and far"


def test_missing_page_works_at_any_depth_and_with_no_other_file(small, demo):
    assert [way.href for way in compose(not_found_page, small).ways][:2] == ["index.html", "devices/index.html"]
    *hrefs, host = [way.href for way in compose(not_found_page, demo).ways]
    # RFC 3986, 4.2: a reference that begins with one slash keeps scheme and host, whatever the path it stands at.
    for shown_at in ("https://example.org/bench/a/b/c.html", "http://preview.example:8000/bench/gone"):
        reached = [urljoin(shown_at, href) for href in hrefs]
        assert reached[:2] == [urljoin(shown_at, "/bench/index.html"), urljoin(shown_at, "/bench/devices/index.html")]
        assert {urlsplit(one).netloc for one in reached} == {urlsplit(shown_at).netloc}
    assert host == "/"  # where a preview lies at the root
    at_the_root = with_changed(demo, address="https://bench.example/")
    assert [way.href for way in compose(not_found_page, at_the_root).ways][-1] == "/reviews/index.html"


@pytest.mark.parametrize(
    "page",
    [
        listing.devices_page,
        listing.pairs_page,
        ranking_list.rankings_page,
        listing.clients_page,
        listing.houses_page,
        listing.reviews_page,
    ],
)
def test_lists_lead_to_every_page_of_their_kind(page, small, demo):
    for one in (small, demo):
        found = compose(page, one)
        assert all(row.head.href for row in found.table.rows)
        assert found.question.endswith("?")
    counts = {
        "devices": len(demo.results.bench.devices),
        "pairs": len(demo.results.pairs),
        "rankings": len(demo.results.groups),
        "clients": len(demo.results.bench.clients),
        "houses": len(demo.results.bench.houses),
        "reviews": len(demo.catalogue.articles),
    }
    found = compose(page, demo)
    apart = sum(len(table.rows) for table in found.apart.tables) if found.apart else 0
    assert len(found.table.rows) + apart == counts[found.address.split("/")[0]]


def test_lists_of_nothing_count_nothing(tmp_path):
    path = tmp_path / "empty.db"
    create_catalog(path).close()
    nothing = contents(path, datetime(2026, 1, 1, tzinfo=UTC))
    lists = (listing.devices_page, listing.pairs_page, listing.reviews_page, listing.recipes_page)
    pages = [compose(page, nothing) for page in (*lists, insides_page)]
    for page in pages:
        assert re.match(r"No |Nothing ", page.verdict), page.verdict
