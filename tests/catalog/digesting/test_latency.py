"""Percentiles, intervals, Apdex and page scores against RFC 2330, Hyndman & Fan, scipy and G.1030."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats

from catalog.digesting.latency import (
    apdex,
    is_thin,
    mean_page_mos,
    nearest_rank,
    on_time_share,
    page_mos,
    percentile,
    percentiles,
    planned_requests,
    rank_interval,
)

Published = Callable[[str], list[dict[str, str]]]

# Source: worked story 5 of the job analysis: 38 of 60 planned pages finished.
STORY_5 = [300.0] * 30 + [800.0] * 6 + [2400.0] * 2


def test_percentiles_of_rfc_2330(published: Published) -> None:
    # Source: RFC 2330 section 11.3, worked example. P100 and the median of an even n are other statistics.
    rows = [row for row in published("rfc2330_percentile") if row["p"] in ("0.25", "0.5")]
    assert len(rows) == 2
    for row in rows:
        data = [float(x) for x in row["data"].split()]
        percent = round(100 * float(row["p"]))
        assert nearest_rank(data, percent, planned=len(data)) == float(row["expected"])


def test_a_lost_reply_ranks_last(published: Published) -> None:
    # Source: RFC 2679 section 5.1 (from memory): 100, 110, lost, 90, 500 has P50 = 110.
    (row,) = [row for row in published("rfc2679_lost") if row["stat"] == "p50"]
    words = row["data_ms"].split()
    finished = [float(word) for word in words if word != "lost"]
    assert len(finished) < len(words)
    assert nearest_rank(finished, 50, planned=len(words)) == float(row["expected"])
    assert nearest_rank(finished, 80, planned=len(words)) == 500
    assert nearest_rank(finished, 81, planned=len(words)) is None


def test_type_1_of_hyndman_and_fan(published: Published) -> None:
    # Source: Hyndman & Fan 1996, definition 1; values by numpy.
    rows = [row for row in published("hyndman_fan") if row["hf_type"] == "1"]
    assert len(rows) >= 3
    for row in rows:
        data = [float(x) for x in row["data"].split()]
        share = float(row["p"])
        percent = round(100 * share)
        assert percent / 100 == share
        assert nearest_rank(data, percent, planned=len(data)) == float(row["expected"])


@pytest.mark.parametrize("n", [1, 7, 100, 101])
def test_every_percent_against_numpy(n: int) -> None:
    # Reference library: numpy's inverted_cdf, fed shares nudged down so that floating point cannot raise a rank.
    data = np.random.default_rng(n).exponential(100, n)
    for percent in range(1, 100):
        expected = np.quantile(data, percent / 100 - 1e-12, method="inverted_cdf")
        assert nearest_rank(data, percent, planned=n) == expected


def test_ranks_are_whole_number_arithmetic() -> None:
    # By hand: the 7th percentile of 100 values is the 7th. Floating 0.07 * 100 is 7.000000000000001.
    assert math.ceil(0.07 * 100) == 8
    assert nearest_rank([float(i) for i in range(1, 101)], 7, planned=100) == 7


def test_percentiles_of_a_collapsed_run() -> None:
    # Source: worked story 5: ranks 30, 36, 38, 39, 54 and 57 of 60.
    found = {p.percent: p for p in percentiles(STORY_5, (50, 60, 63, 64, 90, 95), planned=60)}
    assert [found[p].ms for p in (50, 60, 63)] == [300, 800, 2400]
    assert [found[p].failed for p in (50, 63, 64, 90, 95)] == [False, False, True, True, True]
    assert [found[p].thin for p in (64, 90, 95)] == [False, False, True]
    assert nearest_rank(STORY_5, 90, planned=38) == 800  # "until the collapse": rank 35 of 38
    assert on_time_share(STORY_5, 1000, planned=60) == pytest.approx(0.6)
    assert on_time_share(STORY_5, 1000, planned=38) == pytest.approx(36 / 38)


def test_planned_requests_of_a_collapsed_run() -> None:
    # Source: worked story 5: 38 / 380 s * 600 s = 60.
    assert planned_requests(38, ended_at_s=380, planned_s=600) == 60
    # By hand: 7.5 goes up; a run that outlived its plan keeps what it made; nothing made plans nothing.
    assert planned_requests(5, ended_at_s=400, planned_s=600) == 8
    assert planned_requests(5, ended_at_s=401, planned_s=600) == 7
    assert planned_requests(40, ended_at_s=610, planned_s=600) == 40
    assert planned_requests(0, ended_at_s=10, planned_s=600) == 0
    # By hand: 3 / 0.1 s * 0.35 s = 10.5 as typed; the nearest binary numbers make it a hair less.
    assert planned_requests(3, ended_at_s=0.1, planned_s=0.35) == 11
    with pytest.raises(ValueError, match="times must be above 0 s, got ended_at_s 0 and planned_s 600"):
        planned_requests(1, ended_at_s=0, planned_s=600)
    with pytest.raises(ValueError, match="made must be at least 0, got -1"):
        planned_requests(-1, ended_at_s=1, planned_s=1)


@pytest.mark.parametrize(("percent", "enough"), [(50, 10), (75, 20), (90, 50), (95, 100), (99, 500)])
def test_thin_below_five_requests_beyond(percent: int, enough: int) -> None:
    # Source: method section 6 (common practice): n * (100 - p) < 500; a 99th percentile needs 500 requests.
    assert not is_thin(percent, planned=enough)
    assert is_thin(percent, planned=enough - 1)


def test_rank_intervals_of_the_published_table(published: Published) -> None:
    # Source: Conover 1999, Hahn & Meeker 1991; indices and coverage by scipy.
    for row in published("quantile_ci_order_stats"):
        found = rank_interval(int(row["n"]), float(row["p"]), level=float(row["confidence"]))
        assert found.low == int(row["expected_l"])
        assert found.high == (None if row["expected_u"] == "+inf" else int(row["expected_u"]))
        assert found.coverage == pytest.approx(float(row["expected_coverage"]), abs=5e-9)


def test_the_fewest_requests_that_bound_a_percentile_from_above(published: Published) -> None:
    # Source: Wilks 1941: the largest of n values is an upper bound of a quantile from so many values on. Ours has two
    # equal tails, so a one-sided 95 % is one tail of a two-sided 90 %.
    rows = [row for row in published("wilks_min_n") if row["kind"] == "one-sided upper (max)"]
    assert len(rows) == 6
    for row in rows:
        least, level = int(row["expected"]), 2 * float(row["confidence"]) - 1
        assert rank_interval(least, float(row["p"]), level=level).high == least
        assert rank_interval(least - 1, float(row["p"]), level=level).high is None


def test_rank_interval_of_a_published_two_sided_example(published: Published) -> None:
    # Source: values of an R package, as the test suite of scipy carries them.
    data = np.exp(np.arange(0, 1.005, 0.01))
    rows = [row for row in published("quantile_ci_r_refs") if row["alternative"] == "two-sided"]
    assert len(rows) == 2
    for row in rows:
        found = rank_interval(len(data), float(row["p"]), level=float(row["confidence"]))
        assert found.low is not None
        assert found.high is not None
        assert data[found.low - 1] == pytest.approx(float(row["expected_low"]), rel=1e-12)
        assert data[found.high - 1] == pytest.approx(float(row["expected_high"]), rel=1e-12)


@pytest.mark.parametrize("n", [1, 2, 5, 40, 333])
@pytest.mark.parametrize("share", [0.01, 0.5, 0.75, 0.99])
def test_rank_interval_against_scipy(n: int, share: float) -> None:
    # Reference library: scipy.stats.quantile_test, which gives nan where no rank bounds an end.
    found = rank_interval(n, share)
    reference = stats.quantile_test(np.arange(1, n + 1), p=share).confidence_interval(0.95)
    assert (found.low or math.nan) == pytest.approx(reference.low, nan_ok=True)
    assert (found.high or math.nan) == pytest.approx(reference.high, nan_ok=True)


def test_interval_ends_among_failed_requests() -> None:
    # By hand with the table above: of 100 planned, ranks 84 and 96 enclose the 90th percentile.
    finished = [float(ms) for ms in range(1, 91)]
    found = percentile(finished, 90, planned=100)
    assert (found.ms, found.low_ms, found.high_ms) == (90, 84, math.inf)
    worst = percentile(finished, 99, planned=100)
    assert (worst.ms, worst.failed, worst.low_ms, worst.high_ms) == (None, True, math.inf, None)
    assert percentile([5.0], 50, planned=1).low_ms is None


def test_percentiles_a_page_shows() -> None:
    # Source: the shape of `roles` in the list of commands: 50, 75, 90, 95 and 99.
    assert [p.percent for p in percentiles([1.0], planned=1)] == [50, 75, 90, 95, 99]


def test_on_time_includes_the_target_itself() -> None:
    # Source: role targets of the job analysis: "95 % of pages within 1000 ms or less".
    assert on_time_share([999.9, 1000.0, 1000.1], 1000, planned=4) == 0.5
    assert on_time_share([], 1000, planned=4) == 0.0


def test_apdex_of_the_specification(published: Published) -> None:
    # Source: Apdex technical specification 1.1: (satisfied + tolerating / 2) / total.
    for row in published("apdex"):
        s, t, f = (int(row[key]) for key in ("satisfied", "tolerating", "frustrated"))
        finished = [500.0] * s + [1500.0] * t + [2500.0] * (f // 2)
        found = apdex(finished, 500, planned=s + t + f)
        assert (found.satisfied, found.tolerating, found.frustrated) == (s, t, f)
        assert found.score == pytest.approx(float(row["expected"]), abs=1e-12)
        assert not found.small_group


def test_apdex_boundaries() -> None:
    # Source: Apdex technical specification 1.1: satisfied up to T, tolerating up to 4 T, both included.
    found = apdex([500.0, 500.1, 2000.0, 2000.1], 500, planned=5)
    assert (found.satisfied, found.tolerating, found.frustrated) == (1, 2, 2)
    assert found.small_group
    assert apdex([1.0] * 99, 500, planned=99).small_group
    assert not apdex([1.0] * 100, 500, planned=100).small_group
    assert apdex([0.4], 0.5, planned=1).satisfied == 1
    with pytest.raises(ValueError, match="target_ms must be above 0, got 0"):
        apdex([1.0], 0, planned=1)


def test_page_score_of_g_1030(published: Published) -> None:
    # Source: ITU-T G.1030 (02/2014), Appendix II, II-2. Pairs from memory check the formula, not the pair.
    rows = published("g1030_web")
    for row in rows:
        pair = {"fastest_s": float(row["min_session_s"]), "slowest_s": float(row["max_session_s"])}
        assert page_mos(float(row["session_s"]), **pair) == pytest.approx(float(row["expected"]), abs=1e-6)
    verified = [row for row in rows if (row["min_session_s"], row["max_session_s"]) == ("0.67", "6")]
    assert len(verified) >= 5
    for row in verified:
        assert page_mos(float(row["session_s"])) == pytest.approx(float(row["expected"]), abs=1e-6)


def test_page_score_runs_from_5_to_1() -> None:
    assert page_mos(0.67) == 5.0
    assert page_mos(0.1) == 5.0
    assert page_mos(6.0) == pytest.approx(1.0, abs=1e-12)
    assert page_mos(60.0) == 1.0
    with pytest.raises(ValueError, match="times must be above 0 and rise"):
        page_mos(0.0)
    with pytest.raises(ValueError, match="times must be above 0 and rise"):
        page_mos(1.0, fastest_s=6, slowest_s=6)
    with pytest.raises(ValueError, match="times must be above 0 and rise"):
        page_mos(1.0, fastest_s=0, slowest_s=6)


def test_a_failed_page_scores_1() -> None:
    # By hand: 5, 4.269281 (published for 1 s) and one failed page.
    assert mean_page_mos([500.0, 1000.0], planned=3) == pytest.approx((5 + 4.269281 + 1) / 3, abs=1e-6)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: nearest_rank([1.0], 0, planned=1), r"percent must lie in 1\.\.99, got 0"),
        (lambda: nearest_rank([1.0], 100, planned=1), r"percent must lie in 1\.\.99, got 100"),
        (lambda: nearest_rank([1.0, 2.0], 50, planned=1), "planned is 1, but 2 requests finished"),
        (lambda: nearest_rank([], 50, planned=0), "without a planned request there is nothing to count"),
        (lambda: on_time_share([1.0, 2.0], 5, planned=1), "planned is 1, but 2 requests finished"),
        (lambda: mean_page_mos([], planned=0), "without a planned request there is nothing to count"),
        (lambda: rank_interval(0, 0.5), "n must be at least 1, got 0"),
        (lambda: rank_interval(5, 1.0), "share and level must lie between 0 and 1"),
        (lambda: rank_interval(5, 0.0), "share and level must lie between 0 and 1"),
        (lambda: rank_interval(5, 0.5, level=1.0), "share and level must lie between 0 and 1"),
        (lambda: rank_interval(5, 0.5, level=0.0), "share and level must lie between 0 and 1"),
    ],
)
def test_wrong_calls_are_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
