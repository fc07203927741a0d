from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from builder.charts.placing import axis_end, spread, ticks

WISHES = st.lists(st.tuples(st.floats(-50, 350), st.floats(5, 50)), min_size=1, max_size=6)


@given(WISHES)
def test_labels_never_lie_on_each_other_and_stay_in_the_column(wishes):
    wanted, heights = zip(*wishes, strict=True)
    centres = spread(wanted, heights, low=0, high=300)
    edges = sorted((c - h / 2, c + h / 2) for c, h in zip(centres, heights, strict=True))
    assert edges[0][0] >= -1e-6
    assert edges[-1][1] <= 300 + 1e-6
    assert all(below[0] >= above[1] - 1e-6 for above, below in pairwise(edges))


@given(WISHES)
def test_labels_keep_the_order_of_their_lines(wishes):
    wanted, heights = zip(*wishes, strict=True)
    centres = spread(wanted, heights, low=0, high=300)
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    assert [centres[i] for i in order] == sorted(centres)


@given(WISHES)
def test_labels_move_as_little_as_possible(wishes):
    # Reference: scipy.optimize.isotonic_regression on the wishes less the space of the labels before.
    wishes.sort()
    wanted, heights = zip(*wishes, strict=True)
    offsets = [sum(heights[:i]) + height / 2 for i, height in enumerate(heights)]
    free = isotonic_regression([w - o for w, o in zip(wanted, offsets, strict=True)]).x
    centres = spread(wanted, heights, low=-1e6, high=1e6)
    assert centres == pytest.approx([f + o for f, o in zip(free, offsets, strict=True)])


def test_labels_that_have_room_stay_beside_their_lines():
    assert spread([250, 40, 150], [30, 30, 30], low=0, high=300) == [250, 40, 150]


def test_more_labels_than_the_column_holds_are_refused():
    with pytest.raises(ValueError, match="labels need 320 px, but the column has 300"):
        spread([0, 0], [160, 160], low=0, high=300)


@pytest.mark.parametrize(
    ("highest", "end"), [(0, 1), (0.4, 0.4), (7, 8), (98.4, 100), (100, 100), (101, 120), (925, 1000), (1100, 1200)]
)
def test_an_axis_ends_at_a_round_number(highest, end):
    assert axis_end(highest) == pytest.approx(end)


@given(st.floats(-2000, 2000), st.floats(0.5, 3000), st.integers(2, 8))
def test_ticks_are_round_evenly_apart_inside_and_no_more_than_asked(low, span, most):
    places = ticks(low, low + span, most=most)
    assert 1 <= len(places) <= most
    assert all(low - 1e-6 <= at <= low + span + 1e-6 for at in places) or places == [low]
    steps = {round(b - a, 6) for a, b in pairwise(places)}
    assert len(steps) <= 1
    for step in steps:
        assert f"{step:.0e}"[0] in "125"


def test_ticks_by_hand():
    assert ticks(45, 93, most=7) == [50, 60, 70, 80, 90]
    assert ticks(0, 1000, most=7) == [0, 200, 400, 600, 800, 1000]
    assert ticks(-30, 180, most=5) == [0, 50, 100, 150]
