"""Indirect links and bridge tests: job.md story 10."""

import math

import pytest

from builder.comparisons.bridging import bridge_tests, judge
from builder.comparisons.links import LogValue, bridge_part, indirect, link_json, links
from catalog.records import BridgeValue, House
from tests.builder.comparisons.conftest import published


def value(mbit_s, spread=0.05):
    return LogValue(math.log(mbit_s), spread**2)


def test_story_10_one_bridge():
    # D2/D1 = 1.2 * 1.25; a is Porch on Q, b is Sill on P.
    found = indirect(value(900), value(400), [bridge_part("R", value(750), value(500))])
    assert found.ratio == pytest.approx(1.50)
    assert (found.low, found.high) == (pytest.approx(1.233, abs=5e-4), pytest.approx(1.825, abs=5e-4))


def test_story_10_second_bridge_agrees():
    parts = [bridge_part("R", value(750), value(500)), bridge_part("S", value(690), value(480))]
    found = indirect(value(900), value(400), parts)
    assert found.each[1] == pytest.approx(1.5652, abs=5e-5)
    assert found.z == pytest.approx(0.43, abs=5e-3)
    assert found.ratio == pytest.approx(1.532, abs=5e-4)
    assert (found.low, found.high) == (pytest.approx(1.293, abs=5e-4), pytest.approx(1.816, abs=5e-4))


def test_story_10_second_bridge_disagrees():
    parts = [bridge_part("R", value(750), value(500)), bridge_part("S", value(576), value(480))]
    found = indirect(value(900), value(400), parts)
    assert found.each[1] == pytest.approx(1.875)
    assert found.z == pytest.approx(2.23, abs=5e-3)
    assert (found.verdict, found.code, found.ratio) == ("refused", "bridges-disagree", None)


def test_indirect_comparison_example():
    # Source: Bucher et al. 1997 form, values computed by hand: variances add, estimates subtract on the log scale.
    a, b = LogValue(math.log(2.0), 0.04), LogValue(0.0, 0.01)
    part = bridge_part("R", LogValue(math.log(1.25), 0.02), LogValue(0.0, 0.03))
    found = indirect(a, b, [part])
    assert found.ratio == pytest.approx(2.0 / 1.25)
    assert math.log(found.high / found.low) / 2 == pytest.approx(1.959964 * math.sqrt(0.10), rel=1e-6)


@pytest.mark.parametrize("row", published("indirect_comparison"), ids=lambda row: row["source"])
def test_published_indirect_comparisons(row):
    # Source: tests/published/indirect_comparison.csv (Bucher 1997): A and B each against one C that has no noise here.
    given = {name: float(row[name]) for name in ("d_AC", "se_AC", "d_BC", "se_BC")}
    a, b = LogValue(given["d_AC"], given["se_AC"] ** 2), LogValue(given["d_BC"], given["se_BC"] ** 2)
    found = indirect(a, b, [bridge_part("C", LogValue(0.0, 0.0), LogValue(0.0, 0.0))])
    expected = {name: float(value) for name, value in row.items() if name.startswith(("expected", "ci95"))}
    assert math.log(found.ratio) == pytest.approx(expected["expected_d_AB"], abs=1e-6)
    assert math.log(found.low) == pytest.approx(expected["ci95_low"], abs=1e-6)
    assert math.log(found.high) == pytest.approx(expected["ci95_high"], abs=1e-6)


def _two_series(lab, values):
    for (device, series), mbit_s in values.items():
        lab.add(device, [(x, mbit_s) for x in (60, 68, 75)], client=series, series=series, session=f"{device}{series}")


def test_links_over_a_catalogue(lab):
    lab.declared["house_spread_percent"] = 5.0
    values = {("Sill", "P"): 400.0, ("R", "P"): 500.0, ("R", "Q"): 750.0, ("Porch", "Q"): 900.0}
    _two_series(lab, values)
    bench, (porch, sill) = lab.subjects("Porch", "Sill")
    found = links(bench, porch, sill)
    assert [one.window for one in found] == ["middle"]
    assert found[0].found.ratio == pytest.approx(1.5)
    assert "Indirect, one bridge (R)" in found[0].sentence
    # A bridge held back by its client links nothing.
    lab.ceiling("P", 505.0)
    bench, (porch, sill) = lab.subjects("Porch", "Sill")
    refused = links(bench, porch, sill)[0]
    assert refused.found.code == "link-through-bound"
    assert refused.sentence == "No link: R was limited by the client or the lab."
    assert "ratio" not in link_json(refused)


HOUSES = [
    House(
        batch_id="b", source_file="batch.toml", source_row=1, house_id="house-a", name="House", reference_device="R",
        lab_limit_mbit_s=None,
    )
]  # fmt: skip


def bridge_values(old, new, device="R", new_day="2025-05-12"):
    return [
        BridgeValue(
            batch_id="b", source_file="bridges.csv", source_row=2, old_client="u2", old_driver=None, new_client="u2b",
            new_driver=None, device=device, band="5", width_mhz=80, direction="down", spot="S1",
            at_utc=f"{new_day if side == 'new' else '2025-05-12'}T08:00:00Z", at_typed="", side=side, repeat=i, throughput_mbit_s=float(v),
        )
        for side, values in (("old", old), ("new", new))
        for i, v in enumerate(values, start=1)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("new", "difference", "shares", "verdict"),
    [
        # Source: job.md story 10.
        ([598, 612, 604], -0.333, (-0.0244, 0.0233), "same-series"),
        ([560, 575, 566], -38.0, (-0.0883, -0.0373), "new-series"),
    ],
)
def test_story_10_bridge_tests(new, difference, shares, verdict):
    (test,) = bridge_tests(bridge_values([600, 610, 605], new), HOUSES)
    (result,) = test.results
    assert result.difference == pytest.approx(difference, abs=5e-4)
    assert (result.share_low, result.share_high) == pytest.approx(shares, abs=5e-5)
    assert (result.verdict, test.verdict) == (verdict, verdict)


def test_anything_else_is_not_shown_equal():
    assert judge(-40, 20, 600) == "not-shown-equal"  # holds 0 and reaches beyond 5 %
    assert judge(-20, -10, 600) == "same-series"  # excludes 0, but small
    (test,) = bridge_tests(bridge_values([600, 610], [598, 612, 604]), HOUSES)
    assert test.verdict == "not-shown-equal"  # fewer than 3 repeats


def series_of_u2b(lab, values, *, declared="u2b"):
    """The series in which a device tested with the new setup stands, after some bridge tests."""
    from builder.comparisons.bench import bench_of

    lab.runs.clear()
    lab.houses = {"house-a": "R", "house-b": "S"}
    lab.add("A", [(60, [600, 610, 605])], client="u2", series="u2")
    lab.add("B", [(60, [500, 510, 505])], client="u2b", series=declared)
    for device in ("R", "S"):
        lab.add(device, [(60, 600)], client="u2", series="u2")
    before = lab.bench()
    bench = bench_of(
        devices=list(before.devices.values()), clients=list(before.clients.values()),
        houses=list(before.houses.values()), ceilings=[], runs=lab.runs, constants=before.constants, bridges=values,
    )  # fmt: skip
    (series,) = {c.group.series for c in bench.cells_of["B"]}
    return series


OLD, EQUAL, UNEQUAL = [600, 610, 605], [598, 612, 604], [560, 575, 566]


def test_a_proven_setup_goes_on_in_the_old_series(lab):
    assert series_of_u2b(lab, []) == "u2b"
    assert series_of_u2b(lab, bridge_values(OLD, EQUAL)) == "u2"
    assert series_of_u2b(lab, bridge_values(OLD, UNEQUAL)) == "u2b"


def test_one_refuting_test_outweighs_a_proving_one(lab):
    both = [*bridge_values(OLD, EQUAL), *bridge_values(OLD, UNEQUAL, device="S")]
    assert series_of_u2b(lab, both) == "u2b"


def test_a_refuted_setup_leaves_the_series_its_batch_declared(lab):
    assert series_of_u2b(lab, [], declared="u2") == "u2"
    assert series_of_u2b(lab, bridge_values(OLD, UNEQUAL), declared="u2") == "u2b"


def test_a_bridge_test_counts_with_a_reference_device_and_on_one_day_only(lab):
    # Source: method.md 8: same session, house reference device.
    assert series_of_u2b(lab, bridge_values(OLD, EQUAL, new_day="2025-09-30")) == "u2b"
    (test,) = bridge_tests(bridge_values(OLD, EQUAL, new_day="2025-09-30"), HOUSES)
    assert "not measured on one day" in test.sentence
    assert series_of_u2b(lab, bridge_values(OLD, EQUAL, device="A")) == "u2b"
