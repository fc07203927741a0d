"""Indirect links and bridge tests: job.md story 10."""

import math
from dataclasses import replace

import numpy as np
import pytest

from builder.bench.bench import subject_named
from builder.bench.bounds import Limits
from builder.bench.bridging import bridge_tests, judge
from builder.windows.indirect import agree_z, joint_ratio, link_json, links
from catalog.records import BridgeValue, House, Radio
from tests.builder.conftest import published


def over(a, b, *bridges, spread=0.05):
    """A link of values [Mbit/s] with independent errors of 5 % each: a and b, then each bridge with both clients."""
    values = [a, b, *(value for both in bridges for value in both)]

    def spread_of(coefficients):
        return spread * float(np.sqrt((coefficients**2).sum())), math.inf

    return joint_ratio([f"bridge {i}" for i in range(len(bridges))], [math.log(v) for v in values], spread_of)


def test_story_10_one_bridge():
    # D2/D1 = 1.2 * 1.25; a is Porch on Q, b is Sill on P.
    found = over(900, 400, (750, 500))
    assert found.ratio == pytest.approx(1.50)
    assert (found.low, found.high) == (pytest.approx(1.233, abs=5e-4), pytest.approx(1.825, abs=5e-4))


def test_story_10_second_bridge_agrees():
    found = over(900, 400, (750, 500), (690, 480))
    assert found.each[1] == pytest.approx(1.5652, abs=5e-5)
    assert found.z == pytest.approx(0.43, abs=5e-3)
    assert found.ratio == pytest.approx(1.532, abs=5e-4)
    assert (found.low, found.high) == (pytest.approx(1.293, abs=5e-4), pytest.approx(1.816, abs=5e-4))


def test_story_10_second_bridge_disagrees():
    found = over(900, 400, (750, 500), (576, 480))
    assert found.each[1] == pytest.approx(1.875)
    assert found.z == pytest.approx(2.23, abs=5e-3)
    assert (found.verdict, found.code, found.ratio) == ("refused", "bridges-disagree", None)


@pytest.mark.parametrize(("z", "verdict"), [(1.9, "indirect"), (2.0, "refused"), (-2.0, "refused")])
def test_two_bridges_may_differ_by_1_96_standard_errors_and_no_more(z, verdict):
    # By hand: four values of 5 % each make the difference of two bridge parts uncertain by 0.1 on the log scale.
    found = over(900, 400, (750, 500), (500 * 1.5 * math.exp(0.1 * z), 500))
    assert found.z == pytest.approx(abs(z))
    assert found.verdict == verdict


def test_more_pairs_of_bridges_may_differ_more():
    # The same distance of 2.23 standard errors is one of three pairs here, and chance parts three more easily.
    assert [round(agree_z(pairs), 2) for pairs in (1, 3, 6)] == [1.96, 2.39, 2.64]  # normal quantiles, any table
    assert over(900, 400, (750, 500), (576, 480), (660, 480)).verdict == "indirect"


@pytest.mark.parametrize("row", published("indirect_comparison"), ids=lambda row: row["source"])
def test_published_indirect_comparisons(row):
    # Source: tests/published/indirect_comparison.csv (Bucher 1997): A and B each against one C that has no noise here.
    given = {name: float(row[name]) for name in ("d_AC", "se_AC", "d_BC", "se_BC")}
    variances = np.array([given["se_AC"] ** 2, given["se_BC"] ** 2, 0.0, 0.0])

    def spread_of(coefficients):
        return float(np.sqrt((coefficients**2 * variances).sum())), math.inf

    found = joint_ratio(["C"], [given["d_AC"], given["d_BC"], 0.0, 0.0], spread_of)
    expected = {name: float(value) for name, value in row.items() if name.startswith(("expected", "ci95"))}
    assert math.log(found.ratio) == pytest.approx(expected["expected_d_AB"], abs=1e-6)
    assert math.log(found.low) == pytest.approx(expected["ci95_low"], abs=1e-6)
    assert math.log(found.high) == pytest.approx(expected["ci95_high"], abs=1e-6)


LINK = {row["what"]: float(row["expected"]) for row in published("method2_link")}
KNOTS = (60, 70)
# Who, with which client: values at both knots; three runs each, 10 apart.
PUBLISHED_VALUES = {
    ("D1", "P"): (600, 400),
    ("D2", "Q"): (720, 520),
    ("R", "P"): (660, 460),
    ("R", "Q"): (744, 544),
    ("T", "P"): (560, 360),
    ("T", "Q"): (700, 500),
}


def published_link(lab, conditions):
    """The link of the published case: conditions give (house, session, kit) of each device and client."""
    lab.runs.clear()
    lab.declared = {"windows": {"5": {"middle": (60.0, 70.0)}}}
    for (device, client), (house, session, kit) in conditions.items():
        for spot, value in zip(KNOTS, PUBLISHED_VALUES[device, client], strict=True):
            lab.add(
                device,
                [(spot, [value - 10, value, value + 10])],
                client=client,
                series=client,
                house=house,
                session=session,
                kit=kit,
                spot=f"S{spot}",
                spot_since="2025-01-01",
                attenuation_typed=False,
                readings=1,
                at_utc=f"2025-05-12T{spot - 50}:00:00Z",
            )
    bench, (a, b) = lab.subjects("D2", "D1")
    (found,) = [one for one in links(bench, a, b) if one.window == "middle"]
    return found.joint


# Source of the three: tests/published/method2_link.csv, computed for the method apart from this code.
ONE_SESSION = dict.fromkeys([("D1", "P"), ("D2", "Q"), ("R", "P"), ("R", "Q")], ("g", "1", "m"))
TWO_HOUSES = {who: ("g", "g2", "m") if who[1] == "P" else ("h", "h1", "k") for who in ONE_SESSION}
TWO_BRIDGES = {
    ("D1", "P"): ("g", "2", "m"),
    ("D2", "Q"): ("h", "1", "k"),
    ("R", "P"): ("g", "3", "m"),
    ("R", "Q"): ("h", "4", "k"),
    ("T", "P"): ("g", "5", "m"),
    ("T", "Q"): ("h", "6", "k"),
}


@pytest.mark.parametrize(("name", "conditions"), [("one session", ONE_SESSION), ("two houses", TWO_HOUSES)])
def test_what_the_parts_of_a_link_share_counts_once(lab, name, conditions):
    found = published_link(lab, conditions)
    assert found.ratio == pytest.approx(LINK["ratio D2/D1"], abs=1e-9)
    assert found.u == pytest.approx(LINK[f"u of ln, {name}"], abs=1e-12)


def test_two_bridges_are_weighted_as_published(lab):
    found = published_link(lab, TWO_BRIDGES)
    assert found.ratio == pytest.approx(LINK["ratio, two bridges"], abs=1e-9)
    assert found.u == pytest.approx(LINK["u of ln, two bridges"], abs=1e-12)
    assert found.z == pytest.approx(LINK["z between bridges"], abs=1e-9)
    # The joint logarithm is the weighted mean of the two bridges' own, so its place between them is R's weight.
    of_r, of_t = (math.log(ratio) for ratio in found.each)
    assert (math.log(found.ratio) - of_t) / (of_r - of_t) == pytest.approx(LINK["weight of bridge R"], abs=1e-9)


LINKED = {("Sill", "P"): 400.0, ("R", "P"): 500.0, ("R", "Q"): 750.0, ("Porch", "Q"): 900.0}


def _two_series(lab, values):
    for (device, series), mbit_s in values.items():
        lab.add(device, [(x, mbit_s) for x in (60, 68, 75)], client=series, series=series, session=f"{device}{series}")


def test_links_over_a_catalogue(lab):
    lab.declared["house_spread_percent"] = 5.0
    _two_series(lab, LINKED)
    bench, (porch, sill) = lab.subjects("Porch", "Sill")
    found = links(bench, porch, sill)
    assert [one.window for one in found] == ["middle"]
    assert found[0].joint.ratio == pytest.approx(1.5)
    assert "Indirect, one bridge (R)" in found[0].sentence
    # A bridge held back by its client links nothing.
    lab.ceiling("P", 505.0)
    bench, (porch, sill) = lab.subjects("Porch", "Sill")
    refused = links(bench, porch, sill)[0]
    assert refused.joint.code == "link-through-bound"
    assert refused.sentence == "No link: R was limited by the client or the lab."
    assert "ratio" not in link_json(refused)


def test_a_link_holds_at_any_rate_above_zero(lab):
    # By hand: the ratio of story 10 a thousand times slower; a device that gives nothing has no logarithm.
    lab.declared["house_spread_percent"] = 5.0
    _two_series(lab, {key: value / 1000 for key, value in LINKED.items()})
    bench, (porch, sill) = lab.subjects("Porch", "Sill")
    (slow,) = links(bench, porch, sill)
    assert slow.joint.ratio == pytest.approx(1.5)
    lab.runs.clear()
    _two_series(lab, LINKED | {("Sill", "P"): 0.0})
    bench, (porch, sill) = lab.subjects("Porch", "Sill")
    assert links(bench, porch, sill) == []


def test_single_runs_without_a_spread_link_nothing(lab):
    _two_series(lab, LINKED)
    bench, (porch, sill) = lab.subjects("Porch", "Sill")
    assert links(bench, porch, sill) == []


@pytest.mark.parametrize(
    ("devices", "clients", "linked"),
    [
        # A link works with as many streams as the end that has fewer.
        ({"Sill": 2, "R": 4, "Porch": 2}, {"P": 2, "Q": 2}, True),
        ({"Sill": 4, "R": 3, "Porch": 2}, {"P": 2, "Q": 2}, True),
        ({"Sill": 2, "R": 2, "Porch": 2}, {"P": 4, "Q": 3}, True),
        ({"Sill": 2, "R": 4, "Porch": 4}, {"P": 4, "Q": 4}, False),
        ({"Sill": 4, "R": 4, "Porch": 4}, {"P": 2, "Q": 4}, False),
    ],
)
def test_only_equally_many_streams_are_linked(lab, devices, clients, linked):
    lab.declared["house_spread_percent"] = 5.0
    _two_series(lab, LINKED)
    bench = lab.bench()

    def with_streams(records, streams):
        return {name: replace(record, radios=(Radio("5", streams[name], 80),)) for name, record in records.items()}

    bench = replace(bench, devices=with_streams(bench.devices, devices), clients=with_streams(bench.clients, clients))
    porch, sill = (subject_named(bench, name) for name in ("Porch", "Sill"))
    assert bool(links(bench, porch, sill)) == linked


NO_LIMITS = Limits(ceilings={}, ports={}, labs={})
HOUSES = [
    House(
        batch_id="b",
        source_file="batch.toml",
        source_row=1,
        house_id="house-a",
        name="House",
        reference_device="R",
        lab_limit_mbit_s=None,
    )
]


def bridge_values(old, new, device="R", new_day="2025-05-12"):
    return [
        BridgeValue(
            batch_id="b",
            source_file="bridges.csv",
            source_row=2,
            old_client="u2",
            old_driver=None,
            new_client="u2b",
            new_driver=None,
            device=device,
            band="5",
            width_mhz=80,
            direction="down",
            spot="S1",
            at_utc=f"{new_day if side == 'new' else '2025-05-12'}T08:00:00Z",
            at_typed="",
            side=side,
            repeat=i,
            throughput_mbit_s=float(v),
        )
        for side, values in (("old", old), ("new", new))
        for i, v in enumerate(values, start=1)
    ]


@pytest.mark.parametrize(
    ("new", "difference", "shares", "verdict"),
    [
        # Source: job.md story 10.
        ([598, 612, 604], -0.333, (-0.0244, 0.0233), "same-series"),
        ([560, 575, 566], -38.0, (-0.0883, -0.0373), "new-series"),
    ],
)
def test_story_10_bridge_tests(new, difference, shares, verdict):
    (test,) = bridge_tests(bridge_values([600, 610, 605], new), HOUSES, NO_LIMITS)
    (result,) = test.results
    assert result.difference == pytest.approx(difference, abs=5e-4)
    assert (result.share_low, result.share_high) == pytest.approx(shares, abs=5e-5)
    assert (result.verdict, test.verdict) == (verdict, verdict)


def test_anything_else_is_not_shown_equal():
    assert judge(-40, 20, 600) == "not-shown-equal"  # holds 0 and reaches beyond 5 %
    assert judge(-20, -10, 600) == "same-series"  # excludes 0, but small
    assert judge(-30, 30, 600) == "same-series"  # 5 % itself is inside
    assert judge(-10, 33, 600) == judge(-33, 10, 600) == "not-shown-equal"  # 5.5 %, but 0 is inside
    assert judge(10, 33, 600) == judge(-33, -10, 600) == "new-series"  # 5.5 %, and 0 is not
    assert judge(0, 33, 600) == judge(-33, 0, 600) == "not-shown-equal"  # 0 at the end is inside
    (test,) = bridge_tests(bridge_values([600, 610], [598, 612, 604]), HOUSES, NO_LIMITS)
    assert test.verdict == "not-shown-equal"  # fewer than 3 repeats


def test_a_bridge_test_without_a_common_spot_shows_nothing():
    (test,) = bridge_tests(bridge_values([600, 610, 605], []), HOUSES, NO_LIMITS)
    assert (test.results, test.verdict) == ((), "not-shown-equal")
    assert test.sentence == "No spot was measured with both setups."


def at_spots(old, new, spots):
    return [replace(v, spot=spot) for spot in spots for v in bridge_values(old, new)]


def test_a_spot_at_a_ceiling_says_nothing_of_a_replaced_setup():
    # Source: method.md 8. 940 is what the lab carries; the new setup would give more than the old one's 938.
    lab_limit = Limits(ceilings={}, ports={}, labs={"house-a": 940.0})
    capped = at_spots([938, 939, 938], [939, 938, 939], ["S1", "S2"])
    (test,) = bridge_tests(capped, HOUSES, lab_limit)
    assert test.verdict == "not-shown-equal"
    assert test.sentence.endswith("5 GHz download held back by the lab or the client at S1 and S2.")
    (trusting,) = bridge_tests(capped, HOUSES, NO_LIMITS)
    assert trusting.verdict == "same-series"
    (one_left,) = bridge_tests([*capped, *at_spots([600, 610, 605], [598, 612, 604], ["S3"])], HOUSES, lab_limit)
    assert (one_left.verdict, one_left.results[0].spots) == ("not-shown-equal", ("S3",))
    free = at_spots([600, 610, 605], [598, 612, 604], ["S3", "S4"])
    (judged,) = bridge_tests([*capped, *free], HOUSES, lab_limit)
    assert (judged.verdict, judged.results[0].spots) == ("same-series", ("S3", "S4"))
    assert "without S1 and S2, held back" in judged.sentence
    by_client = Limits(ceilings={("u2b", "5", 80, "down"): 940.0}, ports={}, labs={})
    assert bridge_tests(capped, HOUSES, by_client)[0].verdict == "not-shown-equal"


def series_of_u2b(lab, values, *, declared="u2b"):
    """The series in which a device tested with the new setup stands, after some bridge tests."""
    from builder.bench.bench import bench_of

    lab.runs.clear()
    lab.houses = {"house-a": "R", "house-b": "S"}
    lab.add("A", [(60, [600, 610, 605])], client="u2", series="u2")
    lab.add("B", [(60, [500, 510, 505])], client="u2b", series=declared)
    for device in ("R", "S"):
        lab.add(device, [(60, 600)], client="u2", series="u2")
    before = lab.bench()
    bench = bench_of(
        devices=list(before.devices.values()),
        clients=list(before.clients.values()),
        houses=list(before.houses.values()),
        ceilings=[],
        runs=lab.runs,
        constants=before.constants,
        bridges=values,
    )
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
    (test,) = bridge_tests(bridge_values(OLD, EQUAL, new_day="2025-09-30"), HOUSES, NO_LIMITS)
    assert "not measured on one day" in test.sentence
    assert series_of_u2b(lab, bridge_values(OLD, EQUAL, device="A")) == "u2b"
