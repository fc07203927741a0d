from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from builder.charts.placing import axis_end, spread, stairs

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


@given(st.lists(st.tuples(st.floats(0, 400), st.floats(1, 150)), min_size=1, max_size=9))
def test_no_text_of_the_ruler_meets_a_text_or_a_line(texts):
    starts, widths = zip(*texts, strict=True)
    rows = stairs(starts, widths, space=4)
    assert sorted(set(rows)) == list(range(max(rows) + 1))
    for i, (start, width) in enumerate(texts):
        for j, other in enumerate(starts):
            # The line of j passes every row above its own; two texts of one place hang on one line.
            if i != j and rows[j] == rows[i]:
                assert not start <= other < start + width
            if rows[j] > rows[i]:
                assert not start < other < start + width


def test_texts_with_room_share_a_row():
    assert stairs([0, 100, 200], [80, 80, 80], space=4) == [0, 0, 0]
    assert stairs([0, 50, 200], [80, 80, 80], space=4) == [1, 0, 0]


@pytest.mark.parametrize(
    ("highest", "end"), [(0, 1), (0.4, 0.4), (7, 8), (98.4, 100), (100, 100), (101, 120), (925, 1000), (1100, 1200)]
)
def test_an_axis_ends_at_a_round_number(highest, end):
    assert axis_end(highest) == pytest.approx(end)
