"""The list of collapses."""

from dataclasses import replace

from builder.pages.collapses import collapses_page
from builder.pages.contents import compose
from builder.under_load.broken_runs import broken_runs
from tests.builder.pages.conftest import by_heading, with_changed


def test_repeats_of_one_cell_stand_together(small):
    # tests/builder/small_catalog.py: one of three repeats of A<b at S5 did not finish with either
    # client.
    runs = list(small.catalogue.runs.values())
    collapsed = next(r for r in runs if r.outcome == "did not finish" and r.client == "wrenlet-u2")
    broken = broken_runs([*runs, replace(collapsed, repeat=4, seconds=12.0)], [], [])
    assert [(one.client, one.place, one.times, one.planned_s) for one in broken] == [
        ("wrenlet-u2", "S5", 2, 12.0),
        ("skarn-c3", "S5", 1, None),
    ]


def test_every_run_of_the_demo_that_did_not_finish_is_there(demo):
    broken = broken_runs(demo.catalogue.ended_early, demo.results.mixes, demo.results.longrun_results)
    listed = sum(one.times for one in broken if one.outcome == "did not finish")
    runs = [r for r in demo.catalogue.runs.values() if r.outcome == "did not finish"]
    assert listed == len(runs) + sum(m.outcome == "did not finish" for m in demo.results.mixes) + sum(
        run.outcome == "did not finish" for run in demo.results.longruns
    )
    assert listed > 0


def test_the_page_lists_kind_time_firmware_and_what_is_now(small):
    # tests/builder/small_catalog.py: one workload run ended at 380 of 600 s, one repeat at S5 did not finish
    # with either client.
    page = compose(collapses_page, small)
    assert page.verdict == "3 runs broke off, on Tessarik A<b; all of them with the firmware that is current now."
    rows = by_heading(page.sections[0].tables[0])
    several = next(row for row in rows if row["Doing what"].text.startswith("Five people"))
    assert several["Firmware"].text == "7.1"
    assert several["And now?"].text == "This is the current firmware."
    assert several["Lasted of planned"].text == "6:20 of 10:00"
    assert several["Ended by"].text == "power cycle"


def test_an_older_firmware_says_how_the_current_one_went(small):
    # One more firmware of A<b, tested at S5 in three runs that all finished.
    bench = small.results.bench
    device = bench.devices["tessarik-a-b"]
    newer = replace(device.firmware[0], version="7.2", released="2025-05-01")
    cells = [
        replace(c, firmware="7.2", outcomes={"finished": 3}, n=3)
        for c in bench.cells_of["tessarik-a-b"]
        if c.spot == "S5" and c.client == "wrenlet-u2"
    ]
    changed = replace(
        bench,
        devices={**bench.devices, device.device_id: replace(device, firmware=(*device.firmware, newer))},
        cells_of={**bench.cells_of, device.device_id: [*bench.cells_of[device.device_id], *cells]},
    )
    page = compose(collapses_page, with_changed(small, bench=changed))
    texts = [row["And now?"].text for row in by_heading(page.sections[0].tables[0])]
    assert "Older: 7.2 is current. The same with 7.2: all 3 runs finished." in texts
    assert "Older: 7.2 is current. The same with 7.2: not tested." in texts
    assert page.verdict.endswith("none of them with the firmware that is current now.")


def test_what_is_not_the_devices_doing_stands_apart(demo):
    page = compose(collapses_page, demo)
    outcomes = {row["Ended as"].text for row in by_heading(page.sections[1].tables[0])}
    assert outcomes == {"client fault", "ended by a person"}
