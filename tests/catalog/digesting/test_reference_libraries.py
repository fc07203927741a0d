"""Trend and percentile figures beside independent libraries of the field."""

import numpy as np
import pymannkendall
import pytest
from hdrh.histogram import HdrHistogram
from statsmodels.datasets import nile
from statsmodels.duration.survfunc import SurvfuncRight

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


# Weeks in remission of the 21 patients on placebo, all of whom relapsed. Source: Freireich et al. 1963, Blood 21, as
# Gehan 1965 prints them (typed from memory; their number and sum are held against the table of published values).
PLACEBO_WEEKS = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]


def test_the_median_of_a_published_survival_study(published):
    # A percentile over planned requests is a quantile of a survival curve in which nobody is lost on the way.
    expected = {row["quantity"]: float(row["expected"]) for row in published("km_freireich_summary")}
    assert (len(PLACEBO_WEEKS), sum(PLACEBO_WEEKS)) == (expected["events_placebo"], expected["exposure_placebo"])
    assert nearest_rank(PLACEBO_WEEKS, 50, planned=21) == expected["median_placebo"]


@pytest.mark.parametrize("failed", [0, 7, 40])
def test_percentiles_are_quantiles_of_a_kaplan_meier_curve(failed):
    # Source: statsmodels, right-censored survival function; a request that failed or was never made is one that is
    # still waiting when all others are done. The percentile p is the first time at which at most 1 - p wait (type 1 of
    # Hyndman & Fan); where the curve never gets there, there is none.
    rng = np.random.default_rng(failed)
    finished = np.round(rng.lognormal(5, 0.8, 60))  # rounding makes ties
    waits, done = np.append(finished, [1e9] * failed), [1] * 60 + [0] * failed
    curve = SurvfuncRight(waits, done)
    for percent in (1, 10, 50, 59, 75, 90, 95, 99):
        found = nearest_rank(finished, percent, planned=60 + failed)
        reached = curve.surv_times[curve.surv_prob <= 1 - percent / 100 + 1e-12]
        assert found == (reached[0] if len(reached) else None)
