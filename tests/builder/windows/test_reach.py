"""Reach at a rate, with bounds, gaps and recoveries."""

import pytest

from builder.bench.joined_line import joined_line
from builder.windows.reach import Reach, reach, reach_json, reach_remark, reach_text, reaches
from tests.builder.conftest import published

# Source of the figures: job.md C05 and story 1, worked by hand.
CURVE = [(50, 900), (60, 700), (70, 400), (80, 100)]


def line(points, bounds=()):
    x, y = zip(*points, strict=True)
    return joined_line(x, y, [1] * len(x), [value in bounds for value in x])


@pytest.mark.parametrize(
    ("rate", "relation", "db", "text"),
    [
        (250, "=", 75.0, "about 75"),
        (50, ">=", 80.0, "at least 80"),
        (950, "<", 50.0, "below 50"),
        (100, ">=", 80.0, "at least 80"),
    ],
)
def test_c05_values(rate, relation, db, text):
    found = reach(line(CURVE), rate)
    assert (found.relation, found.db) == (relation, db)
    assert reach_text(found) == text


def test_a_fall_inside_a_gap_lies_between_its_ends():
    found = reach(line([(50, 900), (63, 100)]), 500)
    assert (found.relation, found.db) == ("between", (50, 63))


def test_bounds():
    # A bound below the rate decides nothing; a crossing on a piece that starts at a bound is at least there.
    assert reach(line([(50, 900), (60, 700)], bounds=[50, 60]), 800).relation == "undecided"
    found = reach(line([(50, 900), (60, 700)], bounds=[50]), 800)
    assert (found.relation, found.db) == (">=", 55.0)


def test_first_fall_counts_and_recovery_is_marked():
    found = reach(line([(50, 500), (60, 300), (70, 450)]), 400)
    assert (found.relation, found.db, found.recovers) == ("=", 55.0, True)
    assert (reach_text(found), reach_remark(found)) == ("about 55", "single runs, no interval; comes back further out")
    assert reach_remark(reach(line(CURVE), 250)) == "single runs, no interval"
    assert reach_remark(reach(line(CURVE), 50)) == ""


REACH = {row["what"]: row["expected"] for row in published("method2_reach")}


def published_line(lab):
    lab.declared = {}
    for loss, value in ((50.0, 700.0), (60.0, 500.0), (70.0, 300.0)):
        place = {"spot": f"S{loss:g}", "spot_since": "2025-01-01", "attenuation_typed": False, "kit": "kit"}
        lab.add("A", [(loss, [value - 10, value, value + 10])], **place)
    return lab.subjects("A")


@pytest.mark.parametrize("rate", [450, 340])
def test_the_interval_of_a_reach_is_as_published(lab, rate):
    # Source: tests/published/method2_reach.csv, computed for the method apart from this code.
    bench, (who,) = published_line(lab)
    (found,) = reaches(bench, who, [rate])
    low, high = REACH[f"lower end at {rate}"], REACH[f"upper end at {rate}"]
    assert found.reach.db == pytest.approx(float(REACH[f"reach at {rate}"]), abs=1e-6)
    assert found.reach.interval[0] == pytest.approx(float(low), abs=1e-4)
    assert found.reach.interval[1] == (None if high == "open" else pytest.approx(float(high), abs=1e-4))


def test_a_capped_value_close_by_takes_no_interval_from_a_reach_further_out(lab):
    # At 40 dB the client's ceiling is met, so the band begins at 50; the published interval lies beyond, and the knot at
    # 40 too far from it to tell how the line falls there.
    lab.ceiling("wrenlet-u2", 930.0)
    lab.add("A", [(40, [920, 925, 930])], spot="S40", spot_since="2025-01-01", attenuation_typed=False, kit="kit")
    bench, (who,) = published_line(lab)
    (found,) = reaches(bench, who, [450])
    ends = [float(REACH[f"{end} end at 450"]) for end in ("lower", "upper")]
    assert found.reach.interval == pytest.approx(ends, abs=1e-4)


def test_a_reach_is_printed_as_its_interval_in_whole_decibels(lab):
    bench, (who,) = published_line(lab)
    texts = [reach_text(one.reach) for one in reaches(bench, who, [450, 340, 200, 1000, 690])]
    # 58.9 to 65.5, 65.0 to open; never below 200 even by its band; below 1000 with its band; 690 is met by its upper end.
    assert texts == ["58–66", "at least 64", "at least 70", "below 50", "at most 54"]


def test_an_end_on_a_whole_decibel_is_printed_as_that_decibel():
    # But for rounding: 58 less a billionth of a billionth is 58, and so is what lies as little above 66.
    for low, high in ((58.0, 66.0), (58 - 1e-12, 66 + 1e-12)):
        assert reach_text(Reach("=", 62.0, interval=(low, high))) == "58–66"
        assert reach_text(Reach("=", 62.0, interval=(low, None))) == "at least 58"
        assert reach_text(Reach("=", 62.0, interval=(None, high))) == "at most 66"
    assert reach_text(Reach("=", 62.0, interval=(57.9, 66.1))) == "57–67"


def test_json_has_the_interval_with_null_for_an_open_end_only(lab):
    bench, (who,) = published_line(lab)
    closed, open_end = (reach_json(one) for one in reaches(bench, who, [450, 340]))
    assert len(closed["interval"]) == 2
    assert open_end["interval"][1] is None
    lab.runs.clear()
    lab.declared = {}
    lab.add("A", CURVE)
    bench, (who,) = lab.subjects("A")
    assert "interval" not in reach_json(reaches(bench, who, [250])[0])


def test_story_1_reach_100(lab):
    lab.add("Dome 20", CURVE)
    lab.add("Shale 2", [(55, 720), (65, 560), (75, 200)])
    bench, (dome, shale) = lab.subjects("Dome 20", "Shale 2")
    assert [reach_text(reaches(bench, who, [100])[0].reach) for who in (dome, shale)] == ["at least 80", "at least 75"]
