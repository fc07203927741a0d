"""The joined line: knots, gaps, weights, shared ranges and lead changes."""

import numpy as np
import pytest

from builder.bench.joined_line import joined_line, lead_changes, shared_range


def line(points, n=None, bound=None):
    x, y = zip(*points, strict=True)
    return joined_line(x, y, n or [1] * len(x), bound or [False] * len(x))


def test_gap_of_12_db_is_joined_and_13_is_not():
    # Source: job.md C01: 50 and 63 dB unjoined, 50 and 62 joined.
    assert line([(50, 900), (62, 700)]).pieces == [(50, 62)]
    assert line([(50, 900), (63, 700)]).pieces == [(50, 50), (63, 63)]


def test_cells_at_one_place_are_averaged_by_their_repeats():
    joined = line([(60, 300), (50, 900), (60, 600)], n=[1, 3, 2])
    assert joined.x.tolist() == [50, 60]
    assert joined.y.tolist() == pytest.approx([900, 500])  # (300 + 2 * 600) / 3
    assert joined.cell_weights(np.array([0.25, 0.75])).tolist() == pytest.approx([0.25, 0.25, 0.5])


def test_mean_weights_are_the_exact_integral():
    # Worked by hand in job.md story 1: Dome over 55-75 dB.
    dome = line([(50, 900), (60, 700), (70, 400), (80, 100)])
    weights = dome.mean_weights(55, 75)
    assert weights.tolist() == pytest.approx([0.0625, 0.4375, 0.4375, 0.0625])
    assert weights @ dome.y == pytest.approx(543.75)
    # numpy's trapezoid on a grid that holds every knot computes the same integral.
    grid = np.linspace(55, 75, 41)
    assert weights @ dome.y == pytest.approx(np.trapezoid(np.interp(grid, dome.x, dome.y), grid) / 20)


def test_point_weights_give_the_line_between_and_at_knots():
    joined = line([(50, 900), (60, 700)])
    assert joined.at([55]) == pytest.approx([800])
    assert joined.point_weights(60).tolist() == [0, 1]


def test_slope_is_least_squares_inside_the_range():
    joined = line([(50, 900), (60, 700), (70, 400), (80, 100)])
    inside = np.polyfit([60, 70], [700, 400], 1)[0]
    assert joined.slope(55, 75) == pytest.approx(inside)
    assert joined.slope(50, 80) == pytest.approx(np.polyfit(joined.x, joined.y, 1)[0])
    assert joined.slope(61, 63) == pytest.approx(-30)  # no knot inside: the two range ends
    assert joined.slope(60, 60) == pytest.approx((400 - 900) / 20)  # a knot: its neighbours on both sides
    assert line([(50, 900)]).slope(50, 50) == 0


def test_shared_range_is_the_longest_without_a_gap():
    a = line([(50, 1), (60, 1), (80, 1), (90, 1), (95, 1)])
    b = line([(52, 1), (60, 1), (70, 1), (80, 1), (92, 1)])
    assert shared_range(a, b) == (80, 92)
    assert shared_range(line([(45, 1), (60, 1)]), line([(65, 1), (75, 1)])) is None
    # Of two that are equally long it is the one at less loss.
    both = line([(50, 1), (60, 1), (80, 1), (90, 1)])
    assert shared_range(both, both) == (50, 60)


def test_lead_changes_cross_touch_and_run_together():
    # Story 1: 64.286 and 66.667 dB.
    dome = line([(50, 900), (60, 700), (70, 400), (80, 100)])
    shale = line([(55, 720), (65, 560), (75, 200)])
    assert lead_changes(dome, shale, 55, 75) == pytest.approx([450 / 7, 200 / 3])
    touch = line([(50, 500), (60, 400), (70, 500)])
    assert lead_changes(touch, line([(50, 400), (60, 400), (70, 400)]), 50, 70) == []
    together = line([(50, 500), (60, 400), (66, 400), (70, 300)])
    assert lead_changes(together, line([(50, 400), (60, 400), (66, 400), (70, 400)]), 50, 70) == [60]
