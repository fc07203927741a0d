"""Which got better by firmware? Rows and words against the comparisons they stand for."""

from dataclasses import replace

from builder.pages.contents import compose
from builder.pages.device import device_page
from builder.pages.firmware import firmware_page
from builder.pairs.firmware_gains import firmware_gains
from builder.pairs.histories import firmware_steps
from tests.builder.pages.conftest import by_heading, with_changed


def tables(page):
    return {table.key: table for part in page.sections for table in part.tables}


def test_the_release_that_helped_stands_first_with_its_likely_range(demo):
    # Source: data/demo: 6.1.0 is the one release that was tested beside the one before it, on one unit of Rondel 6.
    page = compose(firmware_page, demo)
    (step,) = firmware_steps(demo.results.bench, "polmerre-rondel-6", company=demo.results.company)
    figure = step.pairing.leading
    amount, low, high = (f"{value:.0f}" for value in (figure.difference, *figure.interval))
    assert page.verdict == (
        f"Polmerre Rondel 6 got better with 6.1.0: {amount} Mbit/s more, likely {low}–{high}. In 2 other groups these tests "
        "cannot tell. No other device was tested with two firmwares."
    )
    (row,) = by_heading(tables(page)["by-device"])
    assert row["What came out"].text == f"6.1.0 gives {amount} Mbit/s more than 6.0.4, likely {low}–{high}."
    with_what = demo.results.names[figure.group].text
    assert row["What came out"].note == f"With {with_what}. In 2 other groups these tests cannot tell."
    assert (row["Firmware"].text, row["Firmware"].note) == ("6.1.0", "after 6.0.4, released 19 March 2024")
    (nowhere,) = next(part for part in page.sections if part.key == "worse").sentences
    assert nowhere.startswith("Nowhere that these tests could show")
    assert row["Promised with it"].why_missing == "nothing noted here"


def test_the_other_way_round_it_got_worse_and_says_where(demo):
    # The days of release swapped: what helped is then the older version, and the newer one takes it away again.
    device = demo.results.bench.devices["polmerre-rondel-6"]
    days = {"6.0.4": "2024-03-19", "6.1.0": "2023-10-12"}
    swapped = replace(device, firmware=tuple(replace(f, released=days[f.version]) for f in device.firmware))
    bench = replace(demo.results.bench, devices={**demo.results.bench.devices, device.device_id: swapped})
    page = compose(firmware_page, with_changed(demo, bench=bench))
    assert page.verdict == "1 device tested with two firmwares; none was shown to get better."
    rows = by_heading(tables(page)["worse-places"])
    assert rows[0]["Where"].text == "over the whole shared range"
    assert rows[0]["What these tests say"].text.startswith("6.0.4 gives 56 Mbit/s less than 6.1.0, likely ")
    assert "at B2" in {row["Where"].text for row in rows}
    assert all("less than 6.1.0" in row["What these tests say"].text for row in rows)


def test_a_newer_version_that_broke_off_is_said(demo):
    # data/demo has 3 runs of 6.1.0 and 4 of 6.0.4 with several clients, all of which finished.
    mixes = demo.results.mixes_of["polmerre-rondel-6"]
    last = next(m for m in mixes if m.firmware == "6.1.0")
    broken = [replace(m, outcome="did not finish") if m is last else m for m in mixes]
    changed = with_changed(demo, mixes_of={**demo.results.mixes_of, "polmerre-rondel-6": broken})
    (row,) = by_heading(tables(compose(firmware_page, changed))["worse-places"])
    assert row["Where"].text == "with several clients at once"
    assert row["What these tests say"].text == "6.1.0 broke off in 1 of 3 runs; 6.0.4 in 0 of 4."


def test_a_row_leads_to_the_step_on_the_page_of_its_device(demo):
    (row,) = by_heading(tables(compose(firmware_page, demo))["by-device"])
    path, _, fragment = row["Device"].href.partition("#")
    assert path == "../devices/polmerre-rondel-6/index.html"
    assert fragment in {part.key for part in compose(device_page, demo, "polmerre-rondel-6").firmware_steps}


def test_every_group_has_a_row_and_a_port_is_no_gain(demo):
    rows = by_heading(tables(compose(firmware_page, demo))["by-group"])
    (one,) = firmware_gains(demo.results.bench, company=demo.results.company)
    assert len(rows) == len(one.gains) == 3
    (held,) = [row for row in rows if "held back by its 2.5 Gbit/s port" in row["What these tests say"].text]
    assert held["Gives"].why_missing == "cannot be told apart"
    (chance,) = [row for row in rows if "may be chance" in row["What these tests say"].text]
    assert (chance["Gives"].text, chance["Gives"].why_missing) == ("", "43 more, likely 1–85, may be chance")
    for words in ("Holm", "half-width", "p-value", "significan"):
        assert not any(words in entry.text + entry.note for row in rows for entry in row.values())


def test_every_other_tested_device_is_listed_as_tested_with_one(demo):
    alone = {row.head.text for row in tables(compose(firmware_page, demo))["one-firmware"].rows}
    bench = demo.results.bench
    tested = {d for d in bench.devices if demo.results.current_firmware(d)} - {"polmerre-rondel-6"}
    assert alone == {f"{bench.devices[d].maker} {bench.devices[d].model}" for d in tested}
    assert "Tessarik Trio" not in alone


def test_a_promise_of_the_release_says_what_came_of_it(demo):
    # A made-up promise: nothing in data/demo was promised for a release that came later.
    features = demo.catalogue.features["polmerre-rondel-6"]
    before = next(f for f in features if f.step == "promised")
    promised = replace(before, feature="airtime shares", firmware="6.1.0")
    repeated = replace(before, firmware="6.1.0")
    works = replace(promised, step="works", how="calls beside a fetch")
    for more, words in (([promised], "airtime shares: not tested"), ([promised, works], "airtime shares: works")):
        changed = with_changed(
            demo, features={**demo.catalogue.features, "polmerre-rondel-6": [*features, repeated, *more]}
        )
        (row,) = by_heading(tables(compose(firmware_page, changed))["by-device"])
        assert row["Promised with it"].text == words


def test_what_the_client_held_back_is_not_called_better(small):
    # Source: tests/builder/small_catalog.py: both firmwares of Vane reached the client's ceiling.
    page = compose(firmware_page, small)
    assert page.verdict == "1 device tested with two firmwares; none was shown to get better."
    (row,) = by_heading(tables(page)["by-group"])
    assert row["Gives"].why_missing == "not compared"
    assert row["What these tests say"].text.startswith("Undecided: ")
    assert "judged together" not in tables(page)["by-group"].caption
