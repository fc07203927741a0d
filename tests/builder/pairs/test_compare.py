"""Pairs at like loss, level and spot: the worked figures of job.md, and the refusals."""

import math

import pytest
from scipy import stats

from builder.bench.tracks import GroupFilter
from builder.pairs.compare import compare
from builder.pairs.verdicts import to_json
from tests.builder.conftest import published

DOME = [(50, 900), (60, 700), (70, 400), (80, 100)]
SHALE = [(55, 720), (65, 560), (75, 200)]


def one(lab, a, b, match="attenuation", **only):
    bench, (who_a, who_b) = lab.subjects(a, b)
    figures = compare(bench, who_a, who_b, match=match, only=GroupFilter(**only))
    assert len(figures) == 1
    return figures[0]


def test_story_1_means_interval_and_lead_changes(lab):
    # Source: job.md story 1, worked by hand; declared house spread 20 Mbit/s, so the normal quantile.
    lab.declared["house_spread_mbit_s"] = 20.0
    lab.add("Dome 20", DOME)
    lab.add("Shale 2", SHALE, session="s2")
    figure = one(lab, "Dome 20", "Shale 2")
    assert figure.range == (55, 75)
    assert figure.mean_a == pytest.approx(543.75, abs=1e-6)
    assert figure.mean_b == pytest.approx(510.0, abs=1e-6)
    assert figure.difference == pytest.approx(33.75, abs=1e-6)
    assert figure.ratio == pytest.approx(1.0662, abs=5e-5)
    assert figure.standard_uncertainty == pytest.approx(math.hypot(12.5, 20 * math.sqrt(0.375)), abs=1e-6)
    assert figure.interval == pytest.approx((-0.55, 68.05), abs=0.005)
    assert figure.crossings == pytest.approx((64.286, 66.667), abs=5e-4)
    assert figure.verdict == "not-separated"
    assert "a difference of 34 or more would have shown" in figure.sentence
    assert to_json(figure)["effective_df"] is None  # declared spread: infinitely many


def test_story_2_the_match_decides_the_order(lab):
    # Source: job.md story 2, worked by hand.
    lab.declared["house_spread_mbit_s"] = 20.0
    for device, points in (
        ("Low", [(60, -37, 700), (70, -47, 500), (80, -57, 300)]),
        ("Alcove", [(60, -43, 640), (70, -53, 440), (80, -63, 240)]),
    ):
        for loss, level, value in points:
            lab.add(device, [(loss, value)], level_dbm=float(level), session=device)
    same_place = one(lab, "Low", "Alcove")
    assert (same_place.mean_a, same_place.mean_b) == pytest.approx((500, 440))
    assert same_place.ratio == pytest.approx(1.1364, abs=5e-5)
    same_level = one(lab, "Low", "Alcove", match="level")
    assert same_level.range == (-57, -43)
    assert (same_level.mean_a, same_level.mean_b) == pytest.approx((440, 500))
    assert same_level.sentence.startswith("At the same signal Alcove gives 60 Mbit/s more than Low")


def test_level_match_is_refused_uplink_and_across_setups(lab):
    for device in ("Low", "Alcove"):
        lab.add(device, [(60, [600, 610]), (70, [500, 510])], direction="up", level_dbm=-50.0)
    assert one(lab, "Low", "Alcove", match="level", direction="up").code == "level-uplink"
    lab.runs.clear()
    lab.add("Low", [(60, 600), (70, 500)], level_dbm=-50.0)
    lab.add("Alcove", [(60, 600), (70, 500)], level_dbm=-50.0, client="other", series="other")
    assert one(lab, "Low", "Alcove", match="level").code == "level-across-setups"
    lab.runs.clear()  # two setups of one series: matched at like loss, not at like level
    lab.add("Low", [(60, [600, 610, 620]), (70, [500, 510, 500])], level_dbm=-50.0)
    lab.add("Alcove", [(60, [600, 610, 620]), (70, [500, 510, 500])], level_dbm=-50.0, client="twin")
    assert one(lab, "Low", "Alcove", match="level").code == "level-across-setups"
    assert one(lab, "Low", "Alcove").verdict == "not-separated"


def test_story_3_no_shared_range_and_single_point_word_for_word(lab):
    # Source: job.md story 3; C01 asks for these texts word for word.
    sill = [(45, 1100), (50, 1000), (55, 860), (60, 700)]
    porch = [(65, 540), (70, 420), (75, 300), (80, 120)]
    lab.add("Sill", sill)
    lab.add("Porch", porch)
    figure = one(lab, "Sill", "Porch")
    assert figure.code == "no-shared-range"
    assert figure.sentence == (
        "No shared range: Sill was tested at 45–60 dB, Porch at 65–80 dB (5 dB apart). No comparison."
    )
    entry = to_json(figure)
    assert entry["tested_a"] == [45, 60]
    assert not {"difference", "mean_a", "ratio", "interval", "range", "figure"} & entry.keys()
    lab.add("Sill", [(65, 560)])
    figure = one(lab, "Sill", "Porch")
    assert figure.code == "range-too-short"
    assert figure.sentence == "The shared range is a single point (65 dB); at least 6 dB needed."


def test_gap_and_too_few_spots_are_refused(lab):
    lab.add("A", [(50, 900), (52, 880), (70, 400), (72, 380)])
    lab.add("B", [(50, 900), (60, 700), (70, 400), (72, 300)])
    assert one(lab, "A", "B").code == "gap"
    lab.runs.clear()
    lab.add("A", [(50, 900), (62, 400)])
    lab.add("B", [(52, 900), (57, 700), (61, 500)])
    figure = one(lab, "A", "B")
    assert figure.code == "too-few-spots"
    assert "A has 0 measured spots" in figure.sentence


def test_ranges_that_meet_only_across_a_gap_are_told_by_what_both_were_tested_at(lab):
    # By hand: A has 15 dB between its two places, so it shares no stretch with B's 50 to 54 dB; both were tested there.
    lab.add("A", [(40, 900), (55, 600)])
    lab.add("B", [(50, 700), (54, 650)])
    figure = one(lab, "A", "B")
    assert figure.code == "range-too-short"
    assert "50–54 dB" in figure.sentence
    assert one(lab, "B", "A").sentence == figure.sentence


def test_story_4_bounds_at_one_spot(lab):
    # Source: job.md story 4; n = 3 and s = 20 give the half-width 45.34 with t(4).
    lab.ceiling("wrenlet-u2", 930.0)
    for device, mean in (("Dome 20", 925.0), ("Shale 2", 918.0), ("Porch", 700.0), ("Alcove", 902.0)):
        spread = 0.0 if mean > 902.1 else 20.0
        lab.add(device, [(50, [mean - spread, mean, mean + spread])], spot="S1", spot_since="2025-01-01")
    # The capped devices' own spread shows in their runs; here it is declared through equal cells of n = 3, s = 20.
    porch_alone = one(lab, "Porch", "Porch", match="spot")
    assert porch_alone.half_width == pytest.approx(stats.t.ppf(0.975, 4) * 20 * math.sqrt(2 / 3))
    assert porch_alone.half_width == pytest.approx(45.34, abs=0.005)
    undecided = one(lab, "Dome 20", "Shale 2", match="spot")
    assert (undecided.verdict, undecided.code) == ("undecided", "two-bounds")
    assert "difference" not in to_json(undecided)
    ahead = one(lab, "Porch", "Dome 20", match="spot")
    assert (ahead.verdict, ahead.leader) == ("at-least", "b")
    # The least lead: 225 less t(2) * 20 / sqrt(3), for the capped repeats do not scatter.
    assert ahead.difference == pytest.approx(225 - stats.t.ppf(0.975, 2) * 20 / math.sqrt(3))
    assert "Dome 20 gives at least 175 Mbit/s more than Porch (≥ 25.0 %)" in ahead.sentence
    assert "interval" not in to_json(ahead)


def test_the_least_lead_of_a_bound_is_as_published(lab):
    # Source: tests/published/method2_bound.csv, computed for the method apart from this code.
    lab.ceiling("wrenlet-u2", 935.0)
    lab.declared |= {"session_spread": 0.03, "placement_sigma_db": 1.0}
    expected = {row["what"]: row["expected"] for row in published("method2_bound")}

    def at_spot(values):
        lab.runs.clear()
        place = {
            "spot": "S1",
            "spot_since": "2025-01-01",
            "attenuation_typed": False,
            "readings": 5,
            "readings_sd_db": 1.0,
        }
        for name, own, slope, day in (("A", [925, 930, 935], -4.0, "s1"), ("B", values, -20.0, "s2")):
            lab.add(name, [(60, own)], session=day, **place)
            lab.add(name, [(66, sum(own) / 3 + 6 * slope)], session=day)
        return one(lab, "A", "B", match="spot")

    figure = at_spot([690, 700, 710])
    assert figure.difference == pytest.approx(float(expected["least lead"]), abs=1e-6)
    assert at_spot([880, 890, 900]).verdict == expected["b 880 890 900 instead"]


def test_story_4_only_902_1_is_a_bound(lab):
    lab.ceiling("wrenlet-u2", 930.0)
    lab.add("A", [(50, 902.0), (60, 902.1)])
    cells = lab.bench().cells
    assert [c.bound for c in cells] == [False, True]


def test_story_4_reps_925_925_880(lab):
    lab.ceiling("wrenlet-u2", 930.0)
    lab.add("A", [(50, [925, 925, 880])])
    cell = lab.bench().cells[0]
    assert cell.mean == pytest.approx(910)
    assert cell.bound
    assert (cell.median, cell.median_bound) == (925, True)


def test_story_4_curve_with_a_bound(lab):
    lab.ceiling("wrenlet-u2", 930.0)
    lab.declared["house_spread_mbit_s"] = 20.0
    lab.add("Dome", [(50, 925), (60, 800), (70, 500)])
    lab.add("Porch", [(50, 700), (60, 600), (70, 350)])
    figure = one(lab, "Dome", "Porch")
    assert figure.mean_a == pytest.approx(756.25)
    assert figure.mean_b == pytest.approx(562.5)
    assert (figure.verdict, figure.difference) == ("at-least", pytest.approx(159.80, abs=5e-3))


def test_port_limit_is_exact_with_a_faster_client_only(lab):
    # 1 Gbit/s carries 949.3 or 941.5 Mbit/s of TCP payload (1460/1538 and 1448/1538 of the rate).
    lab.ports["A"] = 1000.0
    lab.add("A", [(50, 941)])
    assert lab.bench().cells[0].limit == "port-or-client"
    lab.ceiling("wrenlet-u2", 1900.0)
    cell = lab.bench().cells[0]
    assert (cell.limit, cell.bound) == ("port", False)
    lab.ceilings.clear()
    lab.ceiling("wrenlet-u2", 960.0)
    cell = lab.bench().cells[0]
    assert (cell.limit, cell.bound) == ("client", True)


def test_story_8_moved_spot_same_session_and_real_sessions(lab):
    # Source: job.md story 8.
    for firmware, far, since in (("1.4", 68.0, "2025-01-01"), ("1.6", 72.0, "2025-06-01")):
        third = {"1.4": 520, "1.6": 400}[firmware]
        for spot, loss, value, start in (("S1", 52.0, 900, ""), ("S2", 62.0, 700, ""), ("S3", far, third, since)):
            lab.add(
                "Shale 2",
                [(loss, value)],
                firmware=firmware,
                spot=spot,
                spot_since=start or "2025-01-01",
                attenuation_typed=False,
                session=firmware,
            )
    bench, (a, b) = lab.subjects("Shale 2@1.4", "Shale 2@1.6")
    moved = [f for f in compare(bench, a, b, match="spot") if f.spot == "S3"]
    assert [f.code for f in moved] == ["spot-moved"]
    assert moved[0].sentence.startswith("S3 changed from 68 to 72 dB between the tests.")
    figure = compare(bench, a, b, match="attenuation")[0]
    assert figure.verdict == "no-verdict"  # single runs, no spread declared
    assert (figure.mean_a, figure.mean_b) == pytest.approx((728.75, 728.75))


@pytest.mark.parametrize(
    ("sessions", "spread", "interval", "verdict"),
    [(("s1", "s1"), 0.0, (7.33, 52.67), "separated"), (("s1", "s2"), 0.03, (-31.67, 91.67), "not-separated")],
)
def test_story_8_repeats_at_one_spot(lab, sessions, spread, interval, verdict):
    # Source: job.md story 8: SE 8.165; with 3 % between sessions SE 31.421, df 877.
    lab.declared["session_spread"] = spread
    place = {"spot": "S2", "spot_since": "2025-01-01"}
    lab.add("Shale 2", [(62.0, [720, 730, 740])], firmware="1.6", session=sessions[1], **place)
    lab.add("Shale 2", [(62.0, [690, 700, 710])], firmware="1.4", session=sessions[0], **place)
    figure = one(lab, "Shale 2@1.6", "Shale 2@1.4", match="spot")
    assert figure.difference == pytest.approx(30.0)
    assert figure.interval == pytest.approx(interval, abs=0.005)
    assert figure.verdict == verdict
    if spread:
        assert figure.standard_uncertainty == pytest.approx(31.421, abs=5e-4)
        assert figure.effective_df == pytest.approx(877, abs=0.5)


def test_single_run_takes_the_pooled_spread_from_four_degrees_of_freedom_on(lab):
    lab.add("A", [(50, [900, 910, 890]), (60, 700), (70, [500, 510, 490])], session="s1")
    lab.add("B", [(50, 880), (60, 690), (70, 480)], session="s2")
    figure = one(lab, "A", "B")
    assert figure.verdict in ("separated", "not-separated")
    lab.runs.clear()
    lab.add("A", [(50, [900, 910, 890]), (60, 700), (70, 500)], session="s1")
    lab.add("B", [(50, 880), (60, 690), (70, 480)], session="s2")
    figure = one(lab, "A", "B")
    assert (figure.verdict, figure.code) == ("no-verdict", "single-run")
    assert figure.difference is not None
    assert "interval" not in to_json(figure)


def test_same_session_welch(lab):
    # scipy's Welch interval of two samples is our spot match with everything else declared 0.
    a, b = [690.0, 702.0, 711.0, 698.0], [720.0, 735.0, 741.0]
    place = {"spot": "S2", "spot_since": "2025-01-01"}
    lab.add("A", [(62.0, a)], **place)
    lab.add("B", [(62.0, b)], **place)
    figure = one(lab, "A", "B", match="spot")
    expected = stats.ttest_ind(a, b, equal_var=False).confidence_interval(0.95)
    assert figure.interval == pytest.approx((expected.low, expected.high), rel=1e-9)
    assert figure.p == pytest.approx(stats.ttest_ind(a, b, equal_var=False).pvalue, rel=1e-9)


def test_spot_error_cancels_between_devices_at_the_same_spots(lab):
    lab.declared |= {"attenuation_sigma_db": 1.0, "calibration_sigma_db": 1.0, "house_spread_mbit_s": 0.0}
    for device, session, shift in (("A", "s1", 0), ("B", "s2", -50)):
        for spot, loss, value in (("S1", 55.0, 800), ("S2", 65.0, 600), ("S3", 75.0, 400)):
            lab.add(
                device,
                [(loss, value + shift)],
                session=session,
                spot=spot,
                spot_since="2025-01-01",
                attenuation_typed=False,
                kit="kit",
            )
    figure = one(lab, "A", "B")
    assert figure.standard_uncertainty == pytest.approx(0.0, abs=1e-9)  # equal slopes, same spots, same kit
    lab.runs[:] = [r if r.device == "A" else _elsewhere(r) for r in lab.runs]
    apart = one(lab, "A", "B")
    weights = [0.25, 0.5, 0.25]
    spots = 2 * sum((w * 20) ** 2 for w in weights)
    kits = 2 * 20**2
    assert apart.standard_uncertainty == pytest.approx(math.sqrt(spots + kits))


def _elsewhere(run):
    from dataclasses import replace

    return replace(run, house="house-b", kit="kit of house-b")


def test_swapping_a_and_b_mirrors_everything(lab):
    lab.add("A", [(50, [900, 930, 910]), (60, [700, 720, 690]), (70, [420, 400, 390])], session="s1")
    lab.add("B", [(52, [880, 870, 900]), (63, [600, 610, 640]), (72, [300, 310, 330])], session="s2")
    there, back = one(lab, "A", "B"), one(lab, "B", "A")
    assert there.difference == pytest.approx(-back.difference)
    assert there.interval == pytest.approx(tuple(-x for x in reversed(back.interval)))
    assert there.crossings == back.crossings
    assert there.verdict == back.verdict


def test_nothing_in_common_names_what_each_was_tested_with(lab):
    lab.add("A", [(50, 900)])
    lab.add("B", [(50, 900)], width_mhz=160)
    figure = one(lab, "A", "B")
    assert figure.code == "nothing-in-common"
    assert "wrenlet-u2, 5 GHz, 160 MHz, down" in figure.sentence


def test_nothing_in_common_names_four_links_and_counts_the_others(lab):
    for width in (20, 40, 80, 160):
        lab.add("A", [(50, 900)], width_mhz=width)
    lab.add("B", [(50, 900)], direction="up")
    four = "; ".join(f"wrenlet-u2, 5 GHz, {width} MHz, down" for width in (20, 40, 80, 160))
    assert four in one(lab, "A", "B").sentence
    assert "more" not in one(lab, "A", "B").sentence
    lab.add("A", [(50, 900)], band="6")
    lab.add("A", [(50, 900)], band="6", width_mhz=160)
    assert f"{four} and 2 more" in one(lab, "A", "B").sentence


def test_groups_and_spots_stand_in_the_order_people_count_in(lab):
    links = [("5", "up"), ("2.4", "down"), ("5", "down")]
    for device in ("A", "B"):
        for band, direction in links:
            lab.add(device, [(50, [900, 910]), (60, [700, 710])], band=band, direction=direction)
        for spot in ("S10", "S9", "S1"):
            lab.add(device, [(55, [800, 810])], spot=spot, spot_since="2025-01-01")
    bench, (a, b) = lab.subjects("A", "B")
    groups = [(f.group.band, f.group.direction) for f in compare(bench, a, b, match="attenuation")]
    assert groups == [("2.4", "down"), ("5", "down"), ("5", "up")]
    assert [f.spot for f in compare(bench, a, b, match="spot") if f.spot] == ["S1", "S9", "S10"]


def test_a_capped_value_that_equals_an_exact_one_leads_by_nothing(lab):
    # Nothing scatters and all is declared known: the least lead would be 0, which is no lead.
    lab.labs["house-a"] = 950.0
    lab.add("A", [(x, [925, 925]) for x in (50, 60)])
    lab.add("B", [(x, [925, 925]) for x in (50, 60)], house="house-b")
    figure = one(lab, "A", "B")
    assert (figure.bound_a, figure.bound_b) == (True, False)
    assert (figure.verdict, figure.code, figure.difference) == ("undecided", "bound-within-noise", None)


@pytest.mark.parametrize(("of_a", "of_b", "ahead"), [(5.4, 5.0, "a"), (5.0, 5.4, "b")])
def test_a_lead_of_less_than_1_mbit_s_is_led_by_the_faster(lab, of_a, of_b, ahead):
    # By hand: nothing scatters; 0.4 more than 5.0 are 8.0 %.
    for device, value in (("A", of_a), ("B", of_b)):
        lab.add(device, [(x, [value, value]) for x in (50, 60)])
    figure = one(lab, "A", "B")
    assert (figure.verdict, figure.ahead) == ("separated", ahead)
    slower = "B" if ahead == "a" else "A"
    assert f"{ahead.upper()} gives 0.4 Mbit/s more than {slower} (8.0 %), likely 0.4–0.4." in figure.sentence


def test_several_links_are_compared_at_spots_only(lab):
    place = {"band": "5+6", "spot": "S1", "spot_since": "2025-01-01"}
    for device in ("A", "B"):
        lab.add(device, [(None, [900, 910, 920])], **place)
    assert one(lab, "A", "B").code == "unequal-conditions"
    assert one(lab, "A", "B", match="spot").verdict == "not-separated"


def test_a_channel_outside_its_band_says_nothing_of_power(lab):
    # Held at entry now; catalogues from before may hold one.
    lab.add("A", [(50, [900, 910, 905]), (60, [700, 710, 705])], channel=6)
    lab.add("B", [(50, [900, 910, 905]), (60, [700, 710, 705])], channel=100)
    assert "channel" not in one(lab, "A", "B").sentence.lower()


def test_power_classes_are_named_when_channels_lie_in_different_ones(lab):
    lab.add("A", [(50, [900, 910, 905]), (60, [700, 710, 705])], channel=36)
    lab.add("B", [(50, [900, 910, 905]), (60, [700, 710, 705])], channel=100)
    assert one(lab, "A", "B").sentence.endswith("They were on channels 36 and 100, whose limits of power differ.")
