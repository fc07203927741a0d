"""The device page: what it is, whether it is current, who paid, what failed, before anything else."""

import pytest

from builder import wording
from builder.bench.sessions import SessionFactor
from builder.pages.contents import compose
from builder.pages.device import device_page
from builder.windows.standing import ranked_entry, rate_text
from tests.builder.pages.conftest import by_heading, with_changed


@pytest.fixture(scope="module")
def page(small):
    return compose(device_page, small, "tessarik-a-b")


def facts(page):
    return {fact.term: fact.text for fact in page.facts}


def test_first_facts_are_those_the_page_is_opened_for(page):
    # Source: site.md: the first 800 px hold firmware, date, client, origin, collapses, disputes.
    assert [fact.term for fact in page.facts][:6] == [
        "Firmware",
        "Tested",
        "With",
        "Who paid",
        "Broke off",
        "Disputes",
    ]
    said = facts(page)
    assert said["Firmware"] == "7.1, released 10 January 2025, the latest known here"
    assert said["Tested"] == "12 May 2025"
    assert said["With"] == "Wrenlet U2 and Skarn <C3>"
    assert said["Who paid"] == "Unit A: loaned by the maker, 1 April 2025; no retest possible since 1 August 2025."
    assert said["Disputes"] == "open: old <firmware>"


def test_collapses_are_counts_never_a_rate(page):
    # By hand: one of two multi-client runs collapsed; S5 lost one of its repeats of 3 with each client.
    assert facts(page)["Broke off"].startswith("1 of 2 runs with several clients at once, 2 of 18 runs with one")
    assert "%" not in facts(page)["Broke off"]


def test_collapsed_run_says_when_and_by_whom(page):
    collapsed = next(row for row in by_heading(page.mixes) if row["Outcome"].text == "broke off")
    assert collapsed["Lasted of planned"].text == "6:20 of 10:00"
    assert collapsed["Outcome"].note == "by power cycle"


def test_correction_keeps_the_old_value(page):
    # K03 of the job analysis: "was …, now …, because …".
    (correction,) = page.corrections
    assert correction.heading == "Amount was 199 EUR, now 189 EUR"
    assert correction.sentences[0].startswith("Because mistyped. Noticed by a reader, 2 June 2025.")


def test_open_dispute_of_a_returned_loan_says_that_no_retest_is_possible(page):
    (dispute,) = page.disputes
    assert dispute.heading == "Open: old <firmware>"
    assert "No retest possible since 1 August 2025." in dispute.sentences


def test_contradicted_power_class_is_said(page):
    # E20 of the job analysis: 19.5 W at the supply against class 3 (15.4 W there); it fits class 4 (30 W).
    (contradiction,) = page.contradictions
    assert contradiction.endswith(
        "19.5 W at the supply (full load) is more than class 3 allows there (15.4 W); class 4 is needed."
    )
    assert page.fit == "The maker promises class 3: up to 12.95 W at the device, 15.4 W at the supply."
    assert by_heading(page.power)[0]["Needs"].text == "class 4"


def test_heat_is_a_rise_and_a_caution(page):
    # By hand: 61.5 - 23.5 = 38.0 K. Limit for what is held: 48 °C on any contents, IEC 62368-1, from memory: 61.5 °C of
    # metal and 48.5 °C of plastic are above it.
    back, front = by_heading(page.heat)
    assert back["Rise"].text == "38.0 K"
    assert front["Rise"].why_missing == "no room temperature"
    assert [text.split(" read ")[0] for text in page.hot] == ["Hot: the back", "Hot: the front"]
    assert "above 48 °C, the limit for metal that is held" in page.hot[0]
    assert "from memory, check" in page.hot[0]


def test_power_fact_has_the_measured_class_first_and_the_contradiction(page):
    # As above: 19.5 W at the supply need class 4 (30 W); class 3 is promised.
    assert facts(page)["Needs"] == (
        "Class 4 (measured); class 3 is promised. Contradiction: 19.5 W at the supply (full load) is more than class "
        "3 allows there (15.4 W); class 4 is needed."
    )


def test_power_fact_of_a_promise_alone_says_that_nothing_was_measured(small):
    assert facts(compose(device_page, small, "quillmast-sill"))["Needs"] == "Promised: class 3; not measured."


def test_the_day_of_a_price_is_that_on_which_it_was_seen(page):
    # By hand: 1 May 2025 to 30 June 2026 are 425 days, more than 180.
    (price,) = by_heading(page.prices)
    assert (price["Day"].text, price["Day"].note) == ("1 May 2025", "look again")
    assert price["Price"].text == "189 EUR"
    assert price["Tax"].text == "included"


def test_down_and_up_stand_beside_each_other(small):
    table = compose(device_page, small, "quillmast-sill").by_client
    assert [column.text for column in table.columns][1:7] == [
        "A wall or two, download",
        "Near, download",
        "Far, download",
        "A wall or two, upload",
        "Near, upload",
        "Far, upload",
    ]
    (row,) = by_heading(table)
    # By hand: rates fall by 20 Mbit/s a dB all the way, so the mean from 50 to 60 dB is the value at 55 dB.
    assert row["Near, download"].text == "600"  # 1700 - 20 * 55
    assert row["Near, upload"].text == "560"  # 1660 - 20 * 55


def test_current_firmware_is_the_later_version_not_the_larger_text(small):
    page = compose(device_page, small, "quillmast-vane")
    assert facts(page)["Firmware"].startswith("2.10, released 10 February 2025")
    assert [row.head.text for row in page.firmware.rows] == ["2.10", "2.9"]
    assert by_heading(page.firmware)[1]["Here"].text == "history"
    (step,) = page.firmware_steps
    assert step.heading == "2.10 against 2.9"
    assert "Vane" in step.sentences[0]


def test_device_without_results_has_a_page_that_says_so(small):
    page = compose(device_page, small, "tessarik-new")
    assert page.verdict == "Nothing with a measured attenuation yet, so it cannot be compared."
    assert page.drawing is None
    assert page.by_client is None
    assert facts(page)["Tested"] == "not yet"
    assert facts(page)["Broke off"] == "no runs yet"


def test_withdrawn_device_keeps_its_page_and_shows_the_reason(demo):
    (withdrawal,) = (w for w in demo.catalogue.withdrawals if w.what == "device")
    page = compose(device_page, demo, withdrawal.id)
    day, reason = wording.date(withdrawal.from_date), withdrawal.reason.rstrip(".")
    device = demo.results.bench.devices[withdrawal.id]
    assert page.withdrawn == (f"{device.maker} {device.model} was withdrawn on {day}: {reason}.",)
    # It was tested, and what the tests gave is gone: neither "not tested yet" nor a count of units that were tested.
    said = " ".join([page.question, page.verdict, page.agreement, *page.cannot_say, *facts(page).values()])
    assert "not tested" not in said
    assert "was tested." not in said
    assert said.count("results withdrawn") >= 4
    assert page.drawing is None
    assert page.by_client is None


def test_whether_units_agree_is_said_beside_where_they_came_from(demo, small):
    # By hand: one unit of A<b was tested; "Untested & new" has one that was not.
    assert (
        compose(device_page, small, "tessarik-a-b").agreement
        == "One unit of A<b was tested; how units differ is not known."
    )
    assert compose(device_page, small, "tessarik-new").agreement == "No unit of Untested & new was tested yet."
    several = [
        d for d in demo.results.bench.devices if len({c.unit for c in demo.results.bench.cells_of.get(d, ())}) > 1
    ]
    assert several
    for device in several:
        assert "nits of " in compose(device_page, demo, device).agreement


def test_units_and_firmwares_are_drawn_apart(demo):
    # Source: data/demo/README.md: one device was tested as two units, its first unit with two firmwares.
    (device,) = (d for d in demo.results.bench.devices.values() if len(d.units) == 2)
    series = compose(device_page, demo, device.device_id).drawing.figure.table.columns[1:]
    assert len(series) == 3
    assert series[0].endswith(", unit A")
    assert series[1].endswith(", unit B")


def test_normalised_values_stand_beside_what_was_measured(demo):
    found = 0
    for device in demo.results.bench.devices:
        part = compose(device_page, demo, device).normalised
        if part is None:
            continue
        for row in by_heading(part.tables[0]):
            measured, factor, normal = row["As measured"], row["Session factor"], row["Normalised"]
            if normal.sort_key:
                assert float(normal.sort_key) == pytest.approx(float(measured.sort_key) / float(factor.sort_key))
                found += 1
            else:
                assert normal.why_missing in ("suspended", "set aside")
        # The reference device itself is what the factor is made of.
        assert device not in {h.reference_device for h in demo.results.bench.houses.values()} or any(
            c.house != h.house_id
            for h in demo.results.bench.houses.values()
            for c in demo.results.bench.cells_of[device]
            if h.reference_device == device
        )
    assert found > 20


def test_an_odd_day_is_named_beside_its_results(small):
    group = small.results.largest["tessarik-a-b"]
    odd = SessionFactor("house-a", "2025-05-12", group, 0.8333, 0.01, 7.0, 8)
    page = compose(device_page, with_changed(small, factors={("house-a", "2025-05-12", group): odd}), "tessarik-a-b")
    notes = {row["Day"].note for part in page.cells for table in part.tables for row in by_heading(table)}
    assert "an odd day: the reference gave 0.833 of its usual; suspended" in notes
    assert {row["Normalised"].why_missing for row in by_heading(page.normalised.tables[0])} == {"suspended"}


def test_largest_group_leads(demo):
    # Source: site.md, "one range chart of its largest group"; 5 GHz comes first among equals.
    for device_id, group in demo.results.largest.items():
        page = compose(device_page, demo, device_id)
        assert demo.results.names[group].text in page.basis
        assert page.drawing.figure.title.endswith("?")
    assert {group.band for group in demo.results.largest.values()} == {"5"}


def test_chart_says_n_client_date_method_and_how_to_read_it(page, small):
    # T14 of the job analysis. By hand: A<b with Wrenlet has 4 places of 3 runs, one of which did not finish.
    notes = page.drawing.figure.notes
    assert notes[0] == "2 streams, 5 GHz, 80 MHz, download (Wrenlet U2, a laptop). 11 runs, 12 May 2025."
    assert notes[1] == "7.1: n = 11."
    assert notes[2] == "Test & bench, Method 2."
    assert notes[3] == "Bands: 95 % interval of each value by itself."
    vane = compose(device_page, small, "quillmast-vane").drawing.figure.notes  # its best run is the client's ceiling
    assert "Arrow: at least this much" in vane[3]


def test_three_figures_are_those_of_the_rankings(demo):
    for device in demo.results.bench.devices:
        page = compose(device_page, demo, device)
        group = demo.results.largest.get(device)
        if group is None:
            assert page.windows == ()
            continue
        entries = [ranked_entry(demo.results.ranking(group, window), device) for window in ("near", "middle", "far")]
        if not any(entries):
            assert page.windows == ()
            continue
        assert [one.value for one in page.windows] == [rate_text(entry) if entry else "" for entry in entries]
        assert all(one.value or one.why_missing for one in page.windows)
        assert all(one.lines == () for one in page.windows if not one.value)
    cupola = compose(device_page, demo, "tessarik-cupola").windows
    assert cupola[1].lines == ("95 %: 746–859", "1st to 4th of 9")


def test_a_firmware_step_is_drawn_beside_its_words(demo):
    page = compose(device_page, demo, "polmerre-rondel-6")
    (step,) = page.firmware_steps
    assert step.drawing is not None
    assert step.drawing in page.drawings
    assert step.drawing.figure.table.rows[0][0] == "over all"


def test_runs_that_did_not_go_well_stand_before_those_that_may_go_to_a_leaf(page):
    outcomes = [row["Outcome"].text for row in by_heading(page.mixes)]
    assert outcomes[0] == "broke off"
    assert len(outcomes) == 2
