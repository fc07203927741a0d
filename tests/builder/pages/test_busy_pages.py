"""Pages of mixes from logs to sentences: two versions of a workload, machines elsewhere or replaced, older firmware."""

import re
from datetime import UTC, datetime, timedelta

import pytest

from builder import addresses
from builder.pages.contents import compose
from builder.pages.device import device_page
from builder.pages.pair import pair_page
from builder.pages.parts.played_roles import role_keys
from builder.pages.search import everything_named
from builder.pages.workload import role_page, workload_page
from catalog.entering import enter_batch
from tests.builder.busy_batch import evening
from tests.builder.pages.conftest import by_heading, contents
from tests.builder.publishing.publishing_bench import Bench

NOW = datetime(2025, 9, 20, tzinfo=UTC)


@pytest.fixture(scope="module")
def busy(tmp_path_factory):
    folder = tmp_path_factory.mktemp("busy")
    enter_batch(evening(folder), into=folder / "catalog.db", now=NOW)
    return contents(folder / "catalog.db", NOW)


def section(page, key):
    return next(part for part in page.sections if part.key == key)


def test_versions_that_are_alike_share_one_section_and_one_page(busy):
    page = compose(workload_page, busy, "evening")
    assert (page.address, page.title) == ("workloads/evening/index.html", "An evening at home")
    assert page.intro[0].startswith(
        "2 versions: version 2 with 2 roles, 10.3 minutes; version 1 with 2 roles, 10 minutes. Runs of several versions"
    )
    order, _, machines = section(page, "order").tables
    assert [row.head.text for row in order.rows] == ["Alder One", "Birch Two"]
    assert {row["Day"].note for row in by_heading(section(page, "runs").tables[0])} == {"version 1", "version 2"}
    # Every seat with client, spot, loss, level, band, width and roles; the role as the newest version calls it.
    laptop, tablet = sorted(by_heading(machines), key=lambda row: row["Machine"].text)
    assert {heading: entry.text or entry.why_missing for heading, entry in laptop.items()} == {
        "Machine": "Fir Laptop",
        "Spot": "not stated",
        "Loss, dB": "48",
        "Level, dBm": "−52 to −50",
        "Band": "5 GHz",
        "Width": "80 MHz",
        "Roles": "movie",
    }
    assert tablet["Roles"].text == "call"
    assert len(section(page, "recipe").tables) == 2


def test_the_first_sentence_names_who_did_not_cope_and_the_next_what_is_not_shown(busy):
    # Typed above: 200 of 300 films; 286 of 300 calls is 95.3 %, just above the mark of 95 %.
    sentences = section(compose(workload_page, busy, "evening"), "order").sentences
    assert (
        sentences[0]
        == "With 2 machines at once, 1 of the 2 devices in this arrangement coped: Alder One. Did not cope: Birch Two (movie: "
        "200 of 300 in time)."
    )
    assert sentences[1] == (
        "On 1 device in this arrangement some roles were met, but by too few requests to be sure of it: the table says which."
    )


def test_a_moved_or_replaced_machine_stands_in_the_one_table_of_others_with_its_reason(busy):
    others = section(compose(workload_page, busy, "evening"), "others")
    assert others.sentences[0] == (
        "By themselves, none of the 2 devices with machines elsewhere coped. Did not cope: Cedar Three (call: 200 of 300 in "
        "time) and Doum Four (film: 100 of 300 in time)."
    )
    rows = {row["Device"].text: row for row in by_heading(others.tables[0])}
    assert rows["Cedar Three"]["Why it stands alone"].text == (
        "Done with Fir Slate in the place of Fir Tablet, so not ranked with the first arrangement. The pages of two devices "
        "compare the other machines."
    )
    assert rows["Doum Four"]["Why it stands alone"].text == (
        "Not compared with the first arrangement: Fir Laptop stood at 58 dB here and at 48 dB in the first arrangement."
    )
    assert sorted(rows["Doum Four"]["Machines"].text.split("; ")) == [
        "Fir Laptop at 58 dB, −60 dBm, 5 GHz, 80 MHz: film",
        "Fir Tablet at 60 dB, −60 dBm, 5 GHz, 80 MHz: call",
    ]


def test_devices_that_never_did_it_are_listed(busy):
    untested = section(compose(workload_page, busy, "evening"), "untested").tables[0]
    assert [row.head.text for row in untested.rows] == ["Elm Five"]


def test_an_older_firmware_is_marked_wherever_its_row_stands(busy):
    # Birch did the evening with 1.0; its single runs are of 2.0.
    page = compose(workload_page, busy, "evening")
    pages = [page, *(compose(role_page, busy, *key) for key in compose(role_keys, busy))]
    seen = 0
    for part in (part for one in pages for part in one.sections):
        for table in part.tables:
            for row in table.rows:
                if row.head.text == "Birch Two":
                    assert "older: 2.0 is current" in row.head.note, (part.key, table.key)
                    seen += 1
    assert seen >= 4
    pair = compose(pair_page, busy, "alder-one", "birch-two")
    (runs,) = by_heading(pair.busy.tables[0])
    assert (runs["Runs of Alder One"].note, runs["Runs of Birch Two"].note) == ("", "with 1.0 (older: 2.0 is current)")


def test_the_pair_shows_what_both_did_alike_and_says_where_they_did_not(busy):
    alike = compose(pair_page, busy, "alder-one", "birch-two").busy
    assert alike.sentences[0] == "More came in time on Alder One in “An evening at home”."
    call, film = sorted(by_heading(alike.tables[1]), key=lambda row: row["Role"].text)
    assert (film["Role"].text, film["Alder One, in time"].text, film["Birch Two, in time"].text) == (
        "Film",
        "100.0 %",
        "66.7 %",
    )
    assert film["What these runs say"].text.startswith("Film came in time more often on One: 100.0 against 66.7 %")
    assert call["What these runs say"].text.startswith("These runs cannot tell One and Two apart: 100.0 against 95.3 %")
    assert film["Machine and place on each"].text == (
        "Fir Laptop at 48 dB, −50 dBm, 5 GHz, 80 MHz; Fir Laptop at 49 dB, −52 dBm, 5 GHz, 80 MHz"
    )
    assert alike.links[0].href == "../../workloads/evening/index.html#order"
    replaced = compose(pair_page, busy, "alder-one", "cedar-three").busy
    assert replaced.sentences[0] == "No difference is shown in the one workload that both did."
    assert by_heading(replaced.tables[0])[0]["How alike"].text == "Compared with Fir Slate in the place of Fir Tablet."
    said = {row["Role"].text: row["What these runs say"].text for row in by_heading(replaced.tables[1])}
    assert said["Call"].startswith(
        "Not compared: with Fir Slate in the place of Fir Tablet; 100.0 against 66.7 % came in"
    )
    assert said["Film"].startswith("These runs cannot tell One and Three apart: both 100 % in time; so few ")
    moved = compose(pair_page, busy, "alder-one", "doum-four").busy
    assert moved.sentences == ("The one workload that both did was not comparable.",)
    ((runs,),) = (by_heading(table) for table in moved.tables)
    assert {heading: entry.text for heading, entry in runs.items()} == {
        "Workload": "An evening at home",
        "Runs of Alder One": "1",
        "Runs of Doum Four": "1",
        "How alike": "Not compared: Fir Laptop stood at 48 dB on One and at 58 dB on Four.",
    }


def test_the_device_page_says_each_mix_in_a_sentence_and_leads_to_its_section(busy):
    for name, sentence, fragment in (
        ("birch-two", "1 of 2 roles met, not movie (200 of 300 in time).", "order"),
        ("doum-four", "1 of 2 roles met, not film (100 of 300 in time).", "others"),
    ):
        (row,) = by_heading(compose(device_page, busy, name).mixes)
        assert row["What happened"].text == sentence
        assert row["Workload"].href == f"../../workloads/evening/index.html#{fragment}"
        assert row["At once"].text == "2 machines"
        assert section(compose(workload_page, busy, "evening"), fragment)


def test_a_workload_can_be_searched_for(busy):
    (named,) = [n for n in everything_named(busy.catalogue, busy.results) if n.kind == "workload"]
    assert named.address == "workloads/evening/index.html"
    assert [name for name, _ in named.names] == ["An evening at home", "evening"]


def test_addresses_of_versions_and_roles_of_earlier_builds_lead_on(small_file, chart_cache, tmp_path):
    bench = Bench(small_file, tmp_path / "bench", chart_cache)
    bench.enter(evening(tmp_path))
    bench.publish(NOW)
    site = bench.site
    earlier = (
        "workloads/evening~1/role~film.html",
        "workloads/evening~1/role~film-2.html",
        "workloads/evening~2/role~movie.html",
        "workloads/evening~1/standings-2.html",
        "workloads/evening/role~movie~in-7.html",
        "figures/waiting~evening_7e_1~film.html",
    )
    unknown = (
        "workloads/evening~1/role~secret.html",
        "workloads/evening~9/role~film.html",
        "workloads/hidden~1/x.html",
    )
    for name in (*earlier, *unknown):
        (site / name).parent.mkdir(parents=True, exist_ok=True)
        (site / name).write_text("<!doctype html>")
    bench.publish(NOW + timedelta(days=1))
    home = (site / addresses.workload("evening")).resolve()
    for name in ("workloads/evening~1/index.html", "workloads/evening~2/index.html", *earlier):
        page = (site / name).read_text(encoding="utf-8")
        leads = re.search(r'http-equiv="refresh" content="0; url=([^"]+)"', page)
        assert ((site / name).parent / leads[1]).resolve() == home, name
    for name in unknown:
        assert not (site / name).exists(), name
    sitemap = (site / "sitemap.xml").read_text() if (site / "sitemap.xml").exists() else ""
    assert "evening~1" not in sitemap
    bench.publish(NOW + timedelta(days=2))
    assert all((site / name).exists() for name in earlier)


def test_sentences_hold_against_the_counts_of_the_logs(demo):
    """Every two devices of the demo, counted again from the single results: shares, verdicts and what words claim."""
    counts = {
        (m.mix.mix, r.station.client, r.role.role_id): r for m in demo.results.mix_results for r in m.roles if r.station
    }
    devices, seen = list(demo.results.mix_results_of), dict.fromkeys(("separated", "not-separated", "no-verdict"), 0)
    for a in devices:
        for b in devices:
            for comparison in demo.results.mix_comparisons(a, b) if a != b else []:
                names = [side.model for side in comparison.subjects]
                for role in comparison.roles:
                    shares = []
                    for mixes, client in zip(comparison.mixes, role.clients, strict=True):
                        runs = [counts.get((mix, client, role.role.role_id)) for mix in mixes]
                        judged = [r for r in runs if r is not None and (r.planned or 0) >= 20]
                        judged = judged or [r for r in runs if r is not None and r.planned]
                        shares.append(sum(r.on_time for r in judged) / sum(r.planned for r in judged))
                    assert role.shares == pytest.approx(tuple(shares))
                    seen[role.verdict] += 1
                    low, high = ("?", "?") if role.difference is None else (role.difference.low, role.difference.high)
                    better = max(zip(shares, names, strict=True))[1]
                    if role.verdict == "separated":
                        assert low > 0 or high < 0
                        assert (
                            f"more often on {better}: {100 * max(shares):.1f} against {100 * min(shares):.1f}"
                            in role.sentence
                        )
                    elif role.verdict == "not-separated":
                        assert low <= 0 <= high
                        assert role.sentence.startswith(f"These runs cannot tell {names[0]} and {names[1]} apart: ")
                    else:
                        assert role.sentence.startswith("Not compared: ")
    assert all(seen.values()), seen
