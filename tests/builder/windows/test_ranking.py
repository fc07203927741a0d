"""Fixed windows, rank intervals and the not-ranked list."""

from contextlib import closing
from datetime import timedelta

import pytest

from builder.bench.bench import load_bench
from builder.metrics.intervals import holm_separated
from builder.windows.ranking import rank, ranking_groups, ranking_json
from builder.windows.standing import top_sentence
from catalog.method import WINDOW_NAMES
from catalog.visibility import public_copy
from tests.builder.conftest import published

MIDDLE = [60, 66, 70, 75]


def ranking(lab, window="middle"):
    bench = lab.bench()
    return rank(bench, ranking_groups(bench)[0], window)


def intervals(found):
    return {r.subject.device: (r.best, r.worst) for r in found.ranked}


def test_rank_intervals_of_two_ties(lab):
    # Source: job.md b9: 800, 780, 700, 690 with a half-width of 45.34 give 1-2, 1-2, 3-4, 3-4. A declared
    # spread that makes the pair half-width 45.34 over this window; 80 apart is p < 0.001, so Holm keeps it.
    weights = lab_weights()
    lab.declared["house_spread_mbit_s"] = 45.34 / 1.959964 / (2 * sum(w * w for w in weights)) ** 0.5
    for device, value in (("A", 800), ("B", 780), ("C", 700), ("D", 690)):
        lab.add(device, [(x, value) for x in MIDDLE])
    found = ranking(lab)
    assert [r.subject.device for r in found.ranked] == ["A", "B", "C", "D"]
    assert intervals(found) == {"A": (1, 2), "B": (1, 2), "C": (3, 4), "D": (3, 4)}
    assert [r.apart_from_above for r in found.ranked] == [True, False, True, False]
    assert [r.apart_from_first for r in found.ranked] == [False, False, True, True]


def test_what_one_device_says_of_another_holds_the_other_way_round(lab):
    # By hand: half-width 45.34, so u = 23.13. A and B are 54 apart, p = 0.02: among the comparisons of A it is the
    # largest p and passes by itself, among those of B it is the smallest and counts four times, 0.08.
    weights = lab_weights()
    lab.declared["house_spread_mbit_s"] = 45.34 / 1.959964 / (2 * sum(w * w for w in weights)) ** 0.5
    for device, value in (("A", 800), ("B", 746), ("C", 730), ("D", 729), ("E", 728)):
        lab.add(device, [(x, value) for x in MIDDLE])
    found = ranking(lab)
    assert intervals(found) == {"A": (1, 2), "B": (1, 5), "C": (2, 5), "D": (2, 5), "E": (2, 5)}
    assert [r.apart_from_first for r in found.ranked] == [False, False, True, True, True]
    assert "B may lead as well" in top_sentence(found)


@pytest.mark.parametrize("later", [timedelta(0), timedelta(days=3650)], ids=["as built", "with all that is hidden now"])
def test_nobody_leads_alone_beside_another_who_may(demo_file, demo_instant, later):
    with closing(public_copy(demo_file, as_of=demo_instant + later)) as copy:
        bench = load_bench(copy)
    rankings = [rank(bench, group, window) for group in ranking_groups(bench) for window in WINDOW_NAMES]
    wide = 0
    for found in (one for one in rankings if len(one.ranked) > 1):
        first, *others = found.ranked
        assert (first.worst == 1) == all(other.apart_from_first for other in others)
        assert not any(other.apart_from_first for other in others if other.best == 1)
        assert ("may lead as well" in top_sentence(found)) == any(other.best == 1 for other in others)
        # Each pair that is told apart puts one above and one below.
        assert sum(entry.best - 1 for entry in found.ranked) == sum(
            len(found.ranked) - entry.worst for entry in found.ranked
        )
        wide += first.worst > 1
    assert 5 < wide < len(rankings)


def lab_weights():
    from builder.bench.joined_line import joined_line

    return joined_line(MIDDLE, [0] * 4, [1] * 4, [False] * 4).mean_weights(60, 75)


@pytest.mark.parametrize("row", published("rank_ci"), ids=lambda row: row["estimates"])
def test_published_rank_intervals(lab, row):
    # Source: tests/published/rank_ci.csv (Mogstad et al. 2024): estimates of independent things with a standard error of
    # 1 each. Theirs hold for all at once, ours for each by itself, so ours lie inside; here both agree, for every
    # difference is far from either limit. By hand: the window mean of single runs with a declared spread h has
    # u = h · sqrt(sum of squared weights), so that h = 1 / sqrt(...) makes u = 1.
    lab.declared["house_spread_mbit_s"] = 1 / sum(w * w for w in lab_weights()) ** 0.5
    estimates = [float(text) for text in row["estimates"].split()]
    names = [f"D{number}" for number in range(len(estimates))]
    for name, estimate in zip(names, estimates, strict=True):
        lab.add(name, [(x, 1000 + estimate) for x in MIDDLE])
    expected = zip(map(int, row["expected_L"].split()), map(int, row["expected_U"].split()), strict=True)
    assert intervals(ranking(lab)) == dict(zip(names, expected, strict=True))


def test_story_4_ranks_of_capped_devices(lab):
    # Source: job.md story 4 with the same value at every knot across the middle window.
    lab.ceiling("wrenlet-u2", 930.0)
    weights = lab_weights()
    lab.declared["house_spread_mbit_s"] = 45.34 / 1.959964 / (2 * sum(w * w for w in weights)) ** 0.5
    for device, value in (("Dome 20", 925), ("Shale 2", 918), ("Porch", 700), ("Alcove", 902)):
        lab.add(device, [(x, value) for x in MIDDLE])
    found = ranking(lab)
    assert intervals(found) == {"Dome 20": (1, 3), "Shale 2": (1, 3), "Alcove": (1, 3), "Porch": (4, 4)}
    assert [r.bound for r in found.ranked] == [True, True, False, False]


def test_holm_is_applied_over_each_devices_own_comparisons(lab):
    # One pair close to its half-width is separated alone, and no longer among nine comparisons.
    lab.declared["house_spread_mbit_s"] = 20.0
    lab.add("A", [(x, 735) for x in MIDDLE])
    lab.add("B", [(x, 700) for x in MIDDLE])
    alone = ranking(lab)
    assert intervals(alone) == {"A": (1, 1), "B": (2, 2)}
    for number in range(8):
        lab.add(f"C{number}", [(x, 720) for x in MIDDLE])
    crowd = ranking(lab)
    assert intervals(crowd)["A"] == (1, 10)
    p = [0.004, 0.03] + [0.3] * 7  # and the step-down itself, by hand: 9 * 0.004 < 0.05, 8 * 0.03 > 0.05
    assert holm_separated(p)[:2].tolist() == [True, False]


def test_a_device_that_does_not_cover_the_window_says_what_it_covers(lab):
    lab.add("A", [(x, 700) for x in MIDDLE])
    lab.add("B", [(62, 700), (70, 600), (75, 500)])
    lab.add("C", [(45, 900), (50, 880)])
    lab.add("D", [(58, 700), (61, 600), (74, 500), (77, 400)])
    lab.add("E", [(50, 700), (55, 600), (76, 400), (80, 300)])
    found = ranking(lab)
    said = {n.subject.device: n.sentence for n in found.not_ranked}
    assert said == {
        "B": "Not ranked: covers 62–75 of 60–75 dB.",
        "C": "Not ranked: tested at 45–50 dB, outside 60–75 dB.",
        "D": "Not ranked: covers 60–61 and 74–75 of 60–75 dB.",
        "E": "Not ranked: no line across 60–75 dB, a gap of more than 12 dB between its spots.",
    }
    assert ranking_json(found)["not_ranked"][0]["covers"] == [[62, 75]]


def test_old_firmware_is_history(lab):
    from dataclasses import replace

    lab.add("A", [(x, 700) for x in MIDDLE], firmware="1.9")
    lab.add("A", [(50, 700)], firmware="1.10", client="other", series="other")
    lab.add("B", [(x, 600) for x in MIDDLE])
    bench = lab.bench()
    device = bench.devices["A"]
    assert [f.version for f in device.firmware] == ["1.10", "1.9"]
    dated = replace(device, firmware=tuple(replace(f, released=f"2025-0{len(f.version)}-01") for f in device.firmware))
    bench = replace(bench, devices={**bench.devices, "A": dated})
    group = next(g for g in ranking_groups(bench) if g.series == "wrenlet-u2")
    found = rank(bench, group, "middle")
    assert [r.subject.device for r in found.ranked] == ["B"]
    assert found.not_ranked[0].sentence == (
        "Not ranked: firmware 1.10 is current and was not tested in this group; 1.9 was."
    )


def test_adding_a_device_changes_no_value(lab):
    lab.add("A", [(x, [700, 710, 690]) for x in MIDDLE])
    lab.add("B", [(x, [600, 640, 590]) for x in MIDDLE], session="s2")
    before = {r.subject.device: (r.value, r.low, r.high) for r in ranking(lab).ranked}
    lab.add("C", [(x, [650, 655, 660]) for x in MIDDLE], session="s3")
    after = {r.subject.device: (r.value, r.low, r.high) for r in ranking(lab).ranked}
    assert {k: after[k] for k in before} == before


def test_declared_windows_are_used(lab):
    lab.declared["windows"] = {"5": {"middle": (60.0, 66.0)}}
    lab.add("A", [(60, 700), (66, 500)])
    found = ranking(lab)
    assert found.range == (60, 66)
    assert found.ranked[0].value == pytest.approx(600)
