"""Means of interval logs, worked by hand from their definition."""

import numpy as np
import pytest

from catalog.digesting.throughput import interval_mean_mbit_s, rates_mbit_s


def array(*values: float) -> np.ndarray:
    return np.array(values, dtype=np.float64)


def test_rates_from_bytes() -> None:
    # By hand: 125 MB in a second are 1000 Mbit/s; in half a second twice that.
    assert rates_mbit_s(array(125e6, 125e6, 0), array(1, 0.5, 2)).tolist() == [1000.0, 2000.0, 0.0]


def test_mean_is_all_bits_over_all_time() -> None:
    # By hand: 1 s at 900 and 3 s at 500 are 2400 Mbit in 4 s; a mean of the two rates would say 700.
    assert interval_mean_mbit_s(array(0, 1), array(1, 3), array(900, 500)) == 600.0
    byte_counts, seconds = array(112.5e6, 187.5e6), array(1, 3)
    rates = rates_mbit_s(byte_counts, seconds)
    assert interval_mean_mbit_s(array(7, 8), seconds, rates) == pytest.approx(300e6 * 8 / 1e6 / 4, rel=1e-15)


def test_warm_up_leaves_out_intervals_that_begin_in_it() -> None:
    starts, seconds, rates = array(10, 11, 12, 13), array(1, 1, 1, 1), array(100, 200, 600, 800)
    # By hand, counted from the first start: 2 s leave 600 and 800; 1.5 s leave the same, 3 s only 800.
    assert interval_mean_mbit_s(starts, seconds, rates, skip_first_s=2) == 700.0
    assert interval_mean_mbit_s(starts, seconds, rates, skip_first_s=1.5) == 700.0
    assert interval_mean_mbit_s(starts, seconds, rates, skip_first_s=3) == 800.0
    assert interval_mean_mbit_s(starts, seconds, rates) == 425.0
    assert interval_mean_mbit_s(starts, seconds, rates, skip_first_s=4) is None


def test_warm_up_is_not_moved_by_floating_point() -> None:
    # 4.1 - 1.1 is 2.9999999999999996; that interval begins at 3 s and counts.
    assert 4.1 - 1.1 < 3
    assert interval_mean_mbit_s(array(1.1, 4.1), array(3, 3), array(100, 800), skip_first_s=3) == 800.0


def test_rows_in_any_order() -> None:
    mean = interval_mean_mbit_s(array(12, 10, 11), array(1, 1, 1), array(600, 100, 200), skip_first_s=1)
    assert mean == 400.0


def test_nothing_logged_is_no_mean() -> None:
    assert interval_mean_mbit_s(array(), array(), array()) is None


@pytest.mark.parametrize(
    ("starts", "seconds", "rates", "skip", "message"),
    [
        (array(0, 1), array(1, 0), array(5, 5), 0.0, "an interval must be longer than 0 s, got 0.0"),
        (array(0), array(1, 1), array(5, 5), 0.0, "1 values do not fit 2 intervals"),
        (array(0, 1), array(1, 1), array(5), 0.0, "1 values do not fit 2 intervals"),
        (array(0, 1), array(1, 1), array(5, 5), -1.0, "a warm-up must be at least 0 s, got -1.0"),
    ],
)
def test_impossible_logs_are_refused(
    starts: np.ndarray, seconds: np.ndarray, rates: np.ndarray, skip: float, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        interval_mean_mbit_s(starts, seconds, rates, skip_first_s=skip)
