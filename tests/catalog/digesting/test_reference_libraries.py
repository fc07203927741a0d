"""Trend and percentile figures beside independent libraries of the field."""

import numpy as np
import pymannkendall
import pytest
from hdrh.histogram import HdrHistogram
from statsmodels.datasets import nile

from catalog.digesting.drift import mann_kendall, theil_sen
from catalog.digesting.latency import nearest_rank


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_mann_kendall_and_sen_slope_agree_with_pymannkendall(seed):
    # Source: pymannkendall (normal approximation, tie-corrected); long series, where ours uses the same.
    rng = np.random.default_rng(seed)
    values = np.round(rng.normal(0, 3, 60) + 0.03 * seed * np.arange(60), 1)  # rounding makes ties
    expected = pymannkendall.original_test(values)
    found = mann_kendall(values)
    assert found.s == expected.s
    assert found.variance == pytest.approx(expected.var_s)
    assert found.z == pytest.approx(expected.z)
    assert found.p == pytest.approx(expected.p)
    assert theil_sen(values, np.arange(60.0))[0] == pytest.approx(pymannkendall.sens_slope(values).slope)


def test_mann_kendall_agrees_on_the_nile():
    volume = nile.load_pandas().data["volume"].to_numpy(dtype=np.float64)
    expected = pymannkendall.original_test(volume)
    assert mann_kendall(volume).z == pytest.approx(expected.z)


@pytest.mark.parametrize("percent", [1, 7, 50, 75, 90, 95, 99])
def test_nearest_rank_agrees_with_a_histogram_up_to_its_bucket(percent):
    # Source: an HDR histogram with 3 significant digits is nearest rank up to its bucket width (0.1 %).
    rng = np.random.default_rng(percent)
    latencies = np.ceil(rng.lognormal(5, 0.8, 2000)).astype(int)
    histogram = HdrHistogram(1, 10_000_000, 3)
    for value in latencies:
        histogram.record_value(int(value))
    found = nearest_rank([float(v) for v in latencies], percent, planned=len(latencies))
    assert found == pytest.approx(histogram.get_value_at_percentile(percent), rel=1e-3, abs=1)
