"""Latency metrics over planned requests. Inputs and results are milliseconds; nothing here rounds.

Requests that failed or were never made rank after every finished one, as RFC 7679 treats a lost packet.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

Latencies = Sequence[float] | NDArray[np.float64]

PERCENTS = (50, 75, 90, 95, 99)
"""Percentiles a page shows. [%]"""

THIN_BELOW = 500
"""A percentile p of n requests is thin when n * (100 - p) is below this: fewer than 5 requests beyond it."""

APDEX_TOLERATED = 4
"""Answers within so many times the target are tolerated (Apdex specification 1.1). [1]"""

APDEX_SMALL_GROUP = 100
"""Fewer requests than this are marked as a small group (Apdex specification 1.1, from memory). [1]"""

PAGE_FASTEST_S, PAGE_SLOWEST_S = 0.67, 6.0
"""Session times ITU-T G.1030 gives the scores 5 and 1: the one verified pair. [s]"""


def planned_requests(made: int, *, ended_at_s: float, planned_s: float) -> int:
    """Requests a run without a planned count would have made, had it kept its pace to the end. [1]

    made        requests made before the run ended. [1]
    ended_at_s  when it ended. [s]
    planned_s   how long it should have lasted. [s]
    Returns     to the nearest whole number, halves up; never fewer than were made.
    Raises      ValueError for a negative count or times that are not above 0.
    Source      method section 6.
    """
    if made < 0:
        raise ValueError(f"made must be at least 0, got {made}")
    if not (ended_at_s > 0 and planned_s > 0):
        raise ValueError(f"times must be above 0 s, got ended_at_s {ended_at_s} and planned_s {planned_s}")
    # Through their decimal digits: 0.35 s is meant as typed, not as the nearest binary number below it.
    expected = made * Fraction(str(planned_s)) / Fraction(str(ended_at_s))
    return max(made, math.floor(expected + Fraction(1, 2)))


def nearest_rank(finished_ms: Latencies, percent: int, *, planned: int) -> float | None:
    """Latency within which *percent* of the planned requests were answered. [ms]

    The smallest finished latency whose rank reaches ceil(percent * planned / 100), in whole numbers.
    Requests that failed or were never made rank after every finished one: None says the rank fell among them.

    finished_ms  shape (n,), any order. [ms]
    percent      1 to 99. [%]
    planned      requests the plan asked for, at least n and at least 1. [1]
    Raises       ValueError for a percent outside 1..99, planned < n or planned < 1.
    Source       RFC 2330 section 11.3 (type 1 of Hyndman & Fan 1996); lost replies as in RFC 7679.
    """
    rank = _rank(percent, planned, finished=len(finished_ms))
    return float(np.sort(finished_ms)[rank - 1]) if rank <= len(finished_ms) else None


def is_thin(percent: int, *, planned: int) -> bool:
    """Whether fewer than five planned requests lie beyond the percentile, so that it says little.

    percent  1 to 99. [%]
    planned  requests the plan asked for. [1]
    Source   common practice; written in whole numbers so that 500 requests carry a 99th percentile.
    """
    return planned * (100 - percent) < THIN_BELOW


@dataclass(frozen=True)
class RankInterval:
    """Ranks, counted from 1, between which a quantile lies; None where no rank bounds that end.

    coverage  probability that the interval covers the quantile, at least the level asked for where both ends
              exist. [1]
    """

    low: int | None
    high: int | None
    coverage: float


def rank_interval(n: int, share: float, *, level: float = 0.95) -> RankInterval:
    """Order statistics that enclose the *share* quantile of the source of *n* independent values.

    With B ~ Binomial(n, share) and a = 1 - level: the greatest low rank with P(B < low) <= a/2 and the least
    high rank with P(B >= high) <= a/2.

    n        how many values, at least 1. [1]
    share    which quantile, above 0 and below 1. [1]
    level    coverage asked for, above 0 and below 1. [1]
    Raises   ValueError for n, share or level outside those.
    Source   Hahn & Meeker 1991, section 5.2; Conover 1999, section 3.2.
    """
    from scipy.special import bdtr, bdtrc

    if n < 1:
        raise ValueError(f"n must be at least 1, got {n}")
    if not (0 < share < 1 and 0 < level < 1):
        raise ValueError(f"share and level must lie between 0 and 1, got {share} and {level}")
    tail = (1 - level) / 2
    ranks = range(1, n + 1)
    low = bisect_right(ranks, tail, key=lambda rank: float(bdtr(rank - 1, n, share)))
    high = bisect_left(ranks, -tail, key=lambda rank: -float(bdtrc(rank - 1, n, share))) + 1
    below = float(bdtr(low - 1, n, share)) if low else 0.0
    within = float(bdtr(high - 1, n, share)) if high <= n else 1.0
    return RankInterval(low or None, high if high <= n else None, within - below)


@dataclass(frozen=True)
class Percentile:
    """One percentile of one role, with what must be said beside it.

    percent  which one. [%]
    ms       None: the rank fell among requests that failed or were never made. [ms]
    thin     fewer than five planned requests lie beyond it
    low_ms   lower end of the interval; math.inf: it falls among the failed; None: no rank bounds it. [ms]
    high_ms  upper end, in the same way. [ms]
    """

    percent: int
    ms: float | None
    thin: bool
    low_ms: float | None
    high_ms: float | None

    @property
    def failed(self) -> bool:
        return self.ms is None


def percentile(finished_ms: Latencies, percent: int, *, planned: int) -> Percentile:
    """`nearest_rank` with its thin mark and its interval within this run, as if requests were independent.

    Parameters and errors as `nearest_rank`; the interval from `rank_interval` at 95 %.
    """
    return percentiles(finished_ms, (percent,), planned=planned)[0]


def percentiles(finished_ms: Latencies, percents: Sequence[int] = PERCENTS, *, planned: int) -> tuple[Percentile, ...]:
    """`percentile` for each of *percents*, in their order, sorting once, and only what is not sorted."""
    ordered = np.asarray(finished_ms, dtype=np.float64)
    if np.any(ordered[1:] < ordered[:-1]):
        ordered = np.sort(ordered)

    def at(rank: int) -> float:
        return float(ordered[rank - 1]) if rank <= len(ordered) else math.inf

    results = []
    for percent in percents:
        ms = at(_rank(percent, planned, finished=len(ordered)))
        ends = rank_interval(planned, percent / 100)
        results.append(
            Percentile(
                percent=percent,
                ms=None if ms == math.inf else ms,
                thin=is_thin(percent, planned=planned),
                low_ms=None if ends.low is None else at(ends.low),
                high_ms=None if ends.high is None else at(ends.high),
            )
        )
    return tuple(results)


def on_time_share(finished_ms: Latencies, target_ms: float, *, planned: int) -> float:
    """Share of the planned requests that were answered within the target. [1]

    finished_ms  shape (n,), any order. [ms]
    target_ms    a request of exactly this long is on time. [ms]
    planned      requests the plan asked for, at least n and at least 1. [1]
    Raises       ValueError for planned < n or planned < 1.
    Source       method section 6.
    """
    _require_planned(planned, len(finished_ms))
    return int(np.count_nonzero(np.asarray(finished_ms) <= target_ms)) / planned


@dataclass(frozen=True)
class Apdex:
    """Apdex of one role; the target must be shown with the score.

    score        satisfied + half of the tolerating, divided by all. [1]
    frustrated   too slow, failed or never made. [1]
    small_group  fewer than 100 requests
    """

    score: float
    target_ms: float
    satisfied: int
    tolerating: int
    frustrated: int

    @property
    def small_group(self) -> bool:
        return self.satisfied + self.tolerating + self.frustrated < APDEX_SMALL_GROUP


def apdex(finished_ms: Latencies, target_ms: float, *, planned: int) -> Apdex:
    """Satisfied up to the target T, tolerating up to 4 T, frustrated beyond it or failed.

    finished_ms  shape (n,), any order. [ms]
    target_ms    T, above 0. [ms]
    planned      requests the plan asked for, at least n and at least 1. [1]
    Raises       ValueError for a target not above 0, planned < n or planned < 1.
    Source       Apdex Alliance, technical specification 1.1.
    """
    within = np.asarray(finished_ms)
    _require_planned(planned, len(within))
    satisfied = int(np.count_nonzero(within <= target_ms))
    return counted_apdex(
        satisfied, int(np.count_nonzero(within <= APDEX_TOLERATED * target_ms)), target_ms=target_ms, planned=planned
    )


def counted_apdex(satisfied: int, tolerated: int, *, target_ms: float, planned: int) -> Apdex:
    """`apdex` from counts: requests within the target, and within four times it (both counted). [1]

    Raises  ValueError for a target not above 0, or counts that do not rise up to planned.
    """
    if not target_ms > 0:
        raise ValueError(f"target_ms must be above 0, got {target_ms}")
    if not 0 <= satisfied <= tolerated <= planned or planned < 1:
        raise ValueError(f"counts must rise, got {satisfied}, {tolerated} and {planned}")
    return Apdex(
        score=(satisfied + (tolerated - satisfied) / 2) / planned,
        target_ms=target_ms,
        satisfied=satisfied,
        tolerating=tolerated - satisfied,
        frustrated=planned - tolerated,
    )


def page_mos(session_s: float, *, fastest_s: float = PAGE_FASTEST_S, slowest_s: float = PAGE_SLOWEST_S) -> float:
    """Opinion score, 1 to 5, that people give to a page that took so long. [MOS]

    session_s  how long the page took, above 0. [s]
    fastest_s  session time of the score 5, above 0. [s]
    slowest_s  session time of the score 1, above fastest_s. [s]
    Raises     ValueError for times outside those.
    Source     ITU-T G.1030 (02/2014), Appendix II, equation II-2: straight in ln t, cut at 1 and 5.
    """
    if not (session_s > 0 and 0 < fastest_s < slowest_s):
        raise ValueError(f"times must be above 0 and rise, got {session_s}, {fastest_s} and {slowest_s}")
    return min(5.0, max(1.0, 5 - _page_slope(fastest_s, slowest_s) * math.log(session_s / fastest_s)))


def mean_page_mos(finished_ms: Latencies, *, planned: int) -> float:
    """Mean of `page_mos` over the planned pages; a page that failed or was never made scores 1. [MOS]

    finished_ms  shape (n,), any order; one that took no time at all scores 5. [ms]
    planned      pages the plan asked for, at least n and at least 1. [1]
    Raises       ValueError for planned < n or planned < 1.
    Source       ITU-T G.1030 for one page; the mean, and 1 for a failed page, are own rules.
    """
    _require_planned(planned, len(finished_ms))
    session_s = np.maximum(np.asarray(finished_ms, dtype=np.float64) / 1000, PAGE_FASTEST_S)
    scores = np.maximum(1.0, 5 - _page_slope(PAGE_FASTEST_S, PAGE_SLOWEST_S) * np.log(session_s / PAGE_FASTEST_S))
    return (float(scores.sum()) + (planned - len(finished_ms))) / planned


def _page_slope(fastest_s: float, slowest_s: float) -> float:
    """What a page loses from one e-fold of its time to the next. [MOS]"""
    return 4 / math.log(slowest_s / fastest_s)


def _rank(percent: int, planned: int, *, finished: int) -> int:
    """Rank ceil(percent * planned / 100) in whole numbers: floating 0.07 * 100 would give rank 8, not 7."""
    if not 1 <= percent <= 99:
        raise ValueError(f"percent must lie in 1..99, got {percent}")
    _require_planned(planned, finished)
    return -(-percent * planned // 100)


def _require_planned(planned: int, finished: int) -> None:
    if planned < finished:
        raise ValueError(f"planned is {planned}, but {finished} requests finished")
    if planned < 1:
        raise ValueError("without a planned request there is nothing to count")
