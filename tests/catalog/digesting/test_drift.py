"""Trend figures against Sen 1968, Kendall's exact tables, the Nile and statsmodels."""

import math
from collections.abc import Callable
from itertools import permutations

import numpy as np
import pytest
from scipy import signal, stats
from statsmodels.datasets import nile
from statsmodels.tsa.stattools import acf

from catalog.digesting.drift import Drift, autocorrelation, detrended, drift, mann_kendall, memory_samples, theil_sen

Published = Callable[[str], list[dict[str, str]]]

NILE = nile.load_pandas().data["volume"].to_numpy(dtype=np.float64)


def test_slopes_of_sen_1968_and_the_nile(published: Published) -> None:
    # Source: Sen 1968, example with its 93 % interval; Nile 1871-1970 with 95 %. Both by scipy.
    rows = published("theil_sen")
    sen = {row["quantity"]: float(row["expected"]) for row in rows if row["x"] != "nile year"}
    (x,) = {row["x"] for row in rows} - {"nile year"}
    (y,) = {row["y"] for row in rows} - {"nile volume"}
    values, at = np.array(y.split(), dtype=float), np.array(x.split(), dtype=float)
    found = theil_sen(values, at, level=0.93)
    assert found == pytest.approx((sen["slope"], sen["low"], sen["high"]), abs=5e-3)
    river = {row["quantity"]: float(row["expected"]) for row in rows if row["x"] == "nile year"}
    found = theil_sen(NILE, np.arange(1871.0, 1971.0))
    assert found == pytest.approx((river["slope"], river["low"], river["high"]), abs=1e-6)


def test_mann_kendall_of_the_nile(published: Published) -> None:
    # Source: a public trend library on the Nile: S, tie-corrected variance, Z with continuity correction, p.
    rows = [row for row in published("mann_kendall") if row["data"] == "nile volume"]
    expected = {row["quantity"]: float(row["expected"]) for row in rows}
    found = mann_kendall(NILE)
    assert found.s == expected["S"]
    assert found.variance == pytest.approx(expected["VarS"], abs=1e-5)
    assert found.z == pytest.approx(expected["Z"], abs=1e-9)
    assert found.p == pytest.approx(expected["p_two_sided"], abs=1e-12)


def test_mann_kendall_variance_without_ties() -> None:
    # Source: n (n - 1) (2n + 5) / 18, 112750 for n = 100 (Kendall 1975).
    assert mann_kendall(np.arange(100.0)).variance == 112750
    assert mann_kendall(np.arange(100.0)).s == 100 * 99 / 2


@pytest.mark.parametrize(
    ("n", "s", "quantity"), [(4, 4, "P(S>=4)"), (5, 8, "P(S>=8)"), (6, 11, "P(S>=11)"), (8, 16, "P(S>=16)")]
)
def test_mann_kendall_is_exact_for_few_values(published: Published, n: int, s: int, quantity: str) -> None:
    # Source: Kendall's exact upper tails (Gilbert 1987, table A18); two-sided is twice that.
    (row,) = [row for row in published("mann_kendall") if row["quantity"] == quantity]
    order = next(p for p in permutations(range(n)) if mann_kendall_s(p) == s)
    found = mann_kendall(np.array(order, dtype=float))
    assert found.s == s
    assert found.p == pytest.approx(2 * float(row["expected"]), abs=2e-4)
    falling = mann_kendall(-np.array(order, dtype=float))
    assert (falling.s, falling.z) == (-found.s, -found.z)
    assert falling.p == pytest.approx(found.p, rel=1e-12)


def mann_kendall_s(order: tuple[int, ...]) -> int:
    return sum((b > a) - (b < a) for i, a in enumerate(order) for b in order[i + 1 :])


def test_mann_kendall_example_of_gilbert(published: Published) -> None:
    # Source: Gilbert 1987 style example, n = 4.
    (row,) = [row for row in published("mann_kendall") if row["data"] == "10 15 14 20"]
    assert mann_kendall(np.array([10.0, 15.0, 14.0, 20.0])).s == int(row["expected"])


def test_mann_kendall_is_exact_up_to_40_values() -> None:
    # Reference library: scipy's exact Kendall test, and the normal distribution beyond.
    values = np.random.default_rng(15).permutation(41.0 + np.arange(41))
    exact = stats.kendalltau(np.arange(40), values[:40], method="exact").pvalue
    assert mann_kendall(values[:40]).p == pytest.approx(exact, rel=1e-9)
    found = mann_kendall(values)
    assert found.p == pytest.approx(2 * stats.norm.sf(abs(found.z)), rel=1e-9)
    assert found.p != pytest.approx(stats.kendalltau(np.arange(41), values, method="exact").pvalue, rel=1e-6)


def test_mann_kendall_without_a_trend() -> None:
    assert mann_kendall(np.full(12, 5.0)) == mann_kendall(np.full(12, 7.0))
    assert mann_kendall(np.full(12, 5.0)).p == 1.0
    with pytest.raises(ValueError, match="a trend needs at least two values, got 1"):
        mann_kendall(np.array([1.0]))


def test_autocorrelation_against_statsmodels() -> None:
    # Reference library: statsmodels acf (c_k / c_0); on the Nile lag 1 is .498408 (published in its notes).
    centred = NILE - NILE.mean()
    assert autocorrelation(centred) == pytest.approx(acf(NILE, nlags=99, fft=False), abs=1e-12)
    assert autocorrelation(centred)[1] == pytest.approx(0.498408, abs=1e-6)
    assert autocorrelation(1e-6 * centred) == pytest.approx(autocorrelation(centred), abs=1e-12)
    assert autocorrelation(np.zeros(4)).tolist() == [1, 0, 0, 0]


def test_detrending_against_scipy() -> None:
    # Reference library: scipy.signal.detrend, type "linear".
    assert detrended(NILE) == pytest.approx(signal.detrend(NILE), abs=1e-9)
    assert not detrended(500 + 0.1 * np.arange(1000)).any()
    assert detrended(np.array([3.0])).tolist() == [0.0]


def test_memory_of_a_run() -> None:
    # By hand: an autoregressive process of 0.9 falls below 0.1 after ln 0.1 / ln 0.9 = 21.9 samples; a long one
    # shows that within its own scatter. Alternating values forget at once; a trend is no memory.
    rng = np.random.default_rng(6)
    wander = signal.lfilter([1.0], [1.0, -0.9], rng.standard_normal(200_000))
    assert memory_samples(wander) == pytest.approx(22, abs=3)
    assert memory_samples(np.tile([1.0, 2.0], 50)) == 1
    assert memory_samples(rng.standard_normal(5000) + np.arange(5000)) == 1
    assert memory_samples(np.full(50, 5.0)) == 1


def test_drift_of_a_run_that_gains_6_mbit_s_an_hour() -> None:
    # By hand: 500 + 6 an hour, sampled every 10 s for 5 hours, noise of 1: 60 blocks of 5 minutes.
    hours = np.arange(1800) * 10 / 3600
    found = drift(500 + 6 * hours + np.random.default_rng(7).standard_normal(1800), 10.0)
    assert found is not None
    assert (found.blocks, found.block_s) == (60, 300.0)
    assert found.low < 6 < found.high
    # Standard error by least squares: 1 / sqrt(30 a block) / (sd of the block times 1.44 h * sqrt(60)) = 0.016.
    assert found.per_hour == pytest.approx(6, abs=0.07)
    assert found.found


def test_no_drift_is_not_found_more_often_than_it_should() -> None:
    # By hand: at 5 % about 5 of 100 runs of noise with memory drift by chance; 13 or more have a chance of 0.15 %.
    rng = np.random.default_rng(8)
    runs = [signal.lfilter([1.0], [1.0, -0.8], rng.standard_normal(4400))[400:] for _ in range(100)]
    found = [drift(run, 10.0) for run in runs]
    assert all(found)
    assert 0 < sum(one.found for one in found if one) < 13


def test_blocks_grow_with_the_memory_of_the_run() -> None:
    # By hand: a memory of about 22 samples of 30 s asks for blocks of 220 samples, 6600 s, not of 300 s.
    rng = np.random.default_rng(9)
    run = signal.lfilter([1.0], [1.0, -0.9], rng.standard_normal(6000))
    found = drift(run, 30.0)
    assert found is not None
    assert found.block_s >= 10 * 30.0 * memory_samples(run)
    assert found.blocks == 6000 // (10 * memory_samples(run))


def test_a_drift_is_found_below_5_percent() -> None:
    # Source: method section 7 gives no other level than the 5 % used throughout.
    drifts = [Drift(per_hour=1, low=0, high=2, p=p, blocks=10, block_s=300) for p in (0.0499, 0.05)]
    assert [one.found for one in drifts] == [True, False]


def test_too_short_a_run_has_no_drift() -> None:
    # By hand: ten blocks of 5 minutes are 300 samples of 10 s; 299 are not enough.
    noise = np.random.default_rng(10).standard_normal(300)
    assert memory_samples(noise) <= 3
    assert drift(noise, 10.0) is not None
    assert drift(noise[:299], 10.0) is None


def test_left_over_samples_count() -> None:
    # By hand: 329 samples make ten blocks of 32 or 33, so the last value is in the last block.
    noise = np.random.default_rng(11).standard_normal(329)
    before, after = drift(noise, 10.0), drift(np.append(noise[:-1], noise[-1] + 300), 10.0)
    assert before is not None
    assert after is not None
    assert before.blocks == 10
    assert before.block_s == 320.0
    assert math.isclose(before.per_hour, after.per_hour) is False


def test_gaps_neither_bend_a_drift_nor_count_as_blocks() -> None:
    # By hand: 10 hours at 10 s, 6 Mbit/s an hour more, hours 4 to 6 not logged: of 120 blocks of 5 minutes 96 are left.
    time_h = np.arange(3600) / 360
    values = 500 + 6 * time_h + np.random.default_rng(8).standard_normal(3600)
    known = (time_h < 4) | (time_h >= 6)
    found = drift(np.where(known, values, 900.0), 10.0, known=known)
    assert found is not None
    assert found.blocks == 96
    assert found.low < 6 < found.high
    assert found.per_hour == pytest.approx(6, abs=0.1)
    assert drift(values, 10.0, known=time_h < 0.76) is None  # 9 blocks and a piece are left


def test_what_a_run_remembers_is_judged_by_what_was_logged() -> None:
    # Noise that forgets at once: a straight line across a gap would look like a long memory.
    values = np.random.default_rng(9).standard_normal(4000)
    known = np.ones(4000, dtype=bool)
    known[1000:3000] = False
    values[~known] = np.linspace(5, -5, 2000)
    assert memory_samples(values) > 100
    assert memory_samples(values, known) == 1


def test_gaps_leave_the_autocorrelation_where_it_is() -> None:
    # A first-order process that remembers 0.8; every tenth second is missing.
    series = signal.lfilter([1.0], [1.0, -0.8], np.random.default_rng(10).standard_normal(50_000))
    known = np.arange(50_000) % 10 != 3
    found = autocorrelation(detrended(series, known), known)
    assert found[:4] == pytest.approx([1, 0.8, 0.64, 0.512], abs=0.02)
