"""Reach at a rate, with bounds, gaps and recoveries."""

import pytest

from builder.comparisons.joined_line import joined_line
from builder.comparisons.reach import reach, reach_remark, reach_text, reaches

# Source of the figures: job.md C05 and story 1, worked by hand.
CURVE = [(50, 900), (60, 700), (70, 400), (80, 100)]


def line(points, bounds=()):
    x, y = zip(*points, strict=True)
    return joined_line(x, y, [1] * len(x), [value in bounds for value in x])


@pytest.mark.parametrize(
    ("rate", "relation", "db", "text"),
    [(250, "=", 75.0, "75"), (50, ">=", 80.0, "≥ 80"), (950, "<", 50.0, "< 50"), (100, ">=", 80.0, "≥ 80")],
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
    assert (reach_text(found), reach_remark(found)) == ("55", "comes back further out")
    assert reach_remark(reach(line(CURVE), 250)) == ""


def test_story_1_reach_100(lab):
    lab.add("Dome 20", CURVE)
    lab.add("Shale 2", [(55, 720), (65, 560), (75, 200)])
    bench, (dome, shale) = lab.subjects("Dome 20", "Shale 2")
    assert [reach_text(reaches(bench, who, [100])[0].reach) for who in (dome, shale)] == ["≥ 80", "≥ 75"]
