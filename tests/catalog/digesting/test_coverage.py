"""Which time a log covers, worked by hand."""

import numpy as np
import pytest

from catalog.digesting.coverage import Coverage, coverage, gaps, interval_lengths, usual_step


def array(*values: float) -> np.ndarray:
    return np.array(values, dtype=np.float64)


def test_an_interval_lasts_until_the_next_and_the_last_one_the_usual_step() -> None:
    # By hand: 2, 2 and 5 s between starts, of which 2 is the middle; 5 is no more than three of them.
    assert interval_lengths(array(1, 3, 5, 10)).tolist() == [2, 2, 5, 2]
    assert interval_lengths(array(0, 0.5)).tolist() == [0.5, 0.5]


def test_a_gap_is_not_filled_with_the_row_before_it() -> None:
    # By hand: one row a second, then 600 s without one. Three steps are no gap yet, four are.
    assert interval_lengths(array(0, 1, 2, 602, 603)).tolist() == [1, 1, 1, 1, 1]
    assert interval_lengths(array(0, 1, 2, 5, 6)).tolist() == [1, 1, 3, 1, 1]
    assert interval_lengths(array(0, 1, 2, 6, 7)).tolist() == [1, 1, 1, 1, 1]


def test_whole_numbers_stay_whole_numbers() -> None:
    lengths = interval_lengths(np.array([0, 1_000_000, 9_000_000, 10_000_001], dtype=np.int64))
    assert lengths.dtype == np.int64
    assert lengths.tolist() == [1_000_000, 1_000_001, 1_000_001, 1_000_001]
    assert usual_step(np.array([0, 10, 20], dtype=np.int64)) == 10


def test_covered_time_and_gaps_add_up() -> None:
    starts, lengths = array(0, 1, 10, 10.5), array(1, 2, 1, 2)
    assert gaps(starts, lengths).tolist() == [0, 7, 0]
    assert coverage(starts, lengths) == Coverage(duration=12.5, covered=5.5, longest_gap=7)
    assert coverage(array(5), array(3)) == Coverage(duration=3, covered=3, longest_gap=0)


def test_what_is_no_log_is_refused() -> None:
    with pytest.raises(ValueError, match="must rise"):
        interval_lengths(array(1, 1))
    with pytest.raises(ValueError, match="got 1 start times"):
        interval_lengths(array(1))
