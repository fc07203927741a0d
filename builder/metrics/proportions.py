"""How sure a share of requests is: bounds of one share, and how two differ. Shares are fractions, nothing rounds.

Requests of one run follow one another, so they say less than as many that come by themselves: a share is as sure as
that of `effective` independent requests (`effective_requests`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from catalog.marks import CHANCE

MOST_LAG_ONE = 0.99
"""No run is taken to repeat itself more than so. [1]"""

FEWEST_DF = 4
"""Degrees of freedom from which a measured spread between runs is used. [1]"""

LEAST_RUN_SPREAD = 0.01
"""A measured spread of a share between runs counts as at least so much. [1]"""

PRACTICE_RUN_SPREAD = 0.03
"""Spread of a share between runs where too few were made to measure it (practice). [1]"""


@dataclass(frozen=True, slots=True)
class Requests:
    """What a role came to in one run: planned requests, how many of them were on time, and what they are worth.

    effective  independent requests that would say as much, above 0. [1]
    Raises     ValueError for counts that are not a share, or an effective number that is not above 0.
    """

    on_time: int
    planned: int
    effective: float

    def __post_init__(self) -> None:
        if self.planned < 1 or not 0 <= self.on_time <= self.planned or not self.effective > 0:
            raise ValueError(f"{self.on_time} of {self.planned}, worth {self.effective}, is not a share of requests")

    @property
    def share(self) -> float:
        return self.on_time / self.planned


@dataclass(frozen=True, slots=True)
class ShareDifference:
    """The share of one device minus that of another. Fractions. [1]

    low, high   its 95 % interval
    run_spread  spread of a share between runs that went in
    assumed     that spread is practice, because too few runs were made to measure it
    """

    difference: float
    low: float
    high: float
    run_spread: float
    assumed: bool

    @property
    def separated(self) -> bool:
        return self.low > 0 or self.high < 0


def effective_requests(planned: int, lag_one: float, correlation_time: float = 1.0) -> float:
    """How many independent requests would say as much as *planned* in a row. [1]

    lag_one           correlation of each request with the next; held to 0 to 0.99. [1]
    correlation_time  how many requests in a row say as much as one by itself, at all distances: it counts where it asks
                      for more than the lag-one correlation, as where noise lies on a slow swing. [1]
    Source            variance of the mean of a first-order autoregressive series: n (1 - r) / (1 + r); of any: n / time.
    """
    r = min(max(lag_one, 0.0), MOST_LAG_ONE)
    return min(planned * (1 - r) / (1 + r), planned / correlation_time)


def one_sided_bounds(requests: Requests) -> tuple[float, float]:
    """The share is not below the first with 95 % confidence, and not above the second with 95 %: two statements. [1]

    Source  Clopper & Pearson 1934, by quantiles of the beta distribution, which take fractions.
    """
    from scipy.special import betaincinv  # only where a share is judged

    on_time = requests.share * requests.effective
    late = requests.effective - on_time
    low = 0.0 if requests.on_time == 0 else float(betaincinv(on_time, late + 1, CHANCE))
    high = 1.0 if requests.on_time == requests.planned else float(betaincinv(on_time + 1, late, 1 - CHANCE))
    return low, high


def share_shown(requests: Requests, mark: float) -> bool:
    """Whether so many requests show on which side of a mark the share lies: the bound lies on the same side.

    mark  share that is enough, 0 to 1. [1]
    """
    low, high = one_sided_bounds(requests)
    return low >= mark if requests.on_time >= mark * requests.planned else high < mark


def share_interval(requests: Requests, *, level: float = 0.95) -> tuple[float, float]:
    """The interval of one share within its run. [1]

    level   above 0 and below 1. [1]
    Source  Wilson 1927, without correction for continuity.
    """
    return _wilson(requests.share, requests.effective, _quantile(level))


def share_difference(a: Sequence[Requests], b: Sequence[Requests]) -> ShareDifference:
    """How the share of one device differs from that of another, over one run of each or several.

    Several runs of a device add their requests. What runs differ by besides chance widens the interval: measured where
    runs have four degrees of freedom or more, pooled over both devices, else practice.

    a, b    the runs of each device, at least one
    Raises  ValueError without a run.
    Source  Newcombe 1998, method 10 (from Wilson's limits); the spread between runs is an own rule, method section 6.
    """
    interval = _Interval(a, b)
    # What runs differ by may reach past the ends, but no two shares differ by more than 1.
    low, high = (min(max(end(1 - CHANCE), -1.0), 1.0) for end in (interval.least, interval.most))
    return ShareDifference(interval.difference, low, high, interval.spread, not interval.measured)


def share_lead_p(a: Sequence[Requests], b: Sequence[Requests]) -> float:
    """1 minus the highest level at which the interval of `share_difference` lies above 0; 1 where it does at none. [1]

    Raises  ValueError without a run.
    """
    interval = _Interval(a, b)
    return 1 - _highest_level(lambda level: interval.least(level) > 0) if interval.difference > 0 else 1.0


class _Interval:
    """The interval of a difference of shares, at any level."""

    def __init__(self, a: Sequence[Requests], b: Sequence[Requests]) -> None:
        if not a or not b:
            raise ValueError("a share that nobody measured differs from nothing")
        self._runs = len(a), len(b)
        self._df = len(a) + len(b) - 2
        self.measured = self._df >= FEWEST_DF
        self.spread = max(LEAST_RUN_SPREAD, _pooled_spread(a, b)) if self.measured else PRACTICE_RUN_SPREAD
        self._sides = _summed(a), _summed(b)
        self.difference = self._sides[0].share - self._sides[1].share

    def least(self, level: float) -> float:
        (low_a, _), (_, high_b) = (share_interval(side, level=level) for side in self._sides)
        return self.difference - self._distance(self._sides[0].share - low_a, high_b - self._sides[1].share, level)

    def most(self, level: float) -> float:
        (_, high_a), (low_b, _) = (share_interval(side, level=level) for side in self._sides)
        return self.difference + self._distance(high_a - self._sides[0].share, self._sides[1].share - low_b, level)

    def _distance(self, of_a: float, of_b: float, level: float) -> float:
        return math.hypot(*(self._widened(*one, level) for one in zip((of_a, of_b), self._runs, strict=True)))

    def _widened(self, distance: float, runs: int, level: float) -> float:
        if self.measured:
            return max(distance, _student(level, self._df) * self.spread / math.sqrt(runs))
        return math.hypot(distance, _quantile(level) * self.spread / math.sqrt(runs))


def least_told_apart() -> float:
    """How far the shares of two devices with one run each have to lie apart, however many requests were made. [1]"""
    return _quantile(1 - CHANCE) * PRACTICE_RUN_SPREAD * math.sqrt(2)


def _summed(runs: Sequence[Requests]) -> Requests:
    return Requests(
        sum(run.on_time for run in runs), sum(run.planned for run in runs), sum(run.effective for run in runs)
    )


def _pooled_spread(*devices: Sequence[Requests]) -> float:
    """Standard deviation of a share between runs of one device, pooled over devices. [1]"""
    squares = 0.0
    for runs in devices:
        mean = math.fsum(run.share for run in runs) / len(runs)
        squares += math.fsum((run.share - mean) ** 2 for run in runs)
    return math.sqrt(squares / sum(len(runs) - 1 for runs in devices))


def _highest_level(leaves_out: Callable[[float], bool]) -> float:
    """The highest level at which an interval leaves something out, by bisection; 0 where it does at none."""
    low, high = 0.0, 1.0
    for _ in range(50):
        level = (low + high) / 2
        low, high = (level, high) if leaves_out(level) else (low, level)
    return low


def _wilson(share: float, n: float, z: float) -> tuple[float, float]:
    centre = share + z * z / (2 * n)
    half = z * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    return max(0.0, (centre - half) / (1 + z * z / n)), min(1.0, (centre + half) / (1 + z * z / n))


@lru_cache(1 << 10)
def _quantile(level: float) -> float:
    """Of the standard normal distribution: what encloses *level* around 0. [1]"""
    from scipy.special import ndtri

    return float(ndtri((1 + level) / 2))


def _student(level: float, df: int) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(df, (1 + level) / 2))
