"""Figures of one long run. Rates are Mbit/s, times seconds; nothing here rounds."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalog.digesting.coverage import coverage, usual_step
from catalog.digesting.drift import Drift, drift
from catalog.digesting.period import Period, find_period
from catalog.digesting.throughput import interval_mean_mbit_s

FloatArray = NDArray[np.float64]
Truths = NDArray[np.bool_]

STALLED_SHARE = 0.01
"""An interval at or below this share of the median carried as good as nothing (practice). [1]"""

MOST_GRID_SAMPLES = 2**17
"""Longer logs are averaged to at most so many samples before a period is looked for. [1]"""


@dataclass(frozen=True)
class LongRun:
    """All figures of one long run; the cause of a period is never among them.

    mean, median, fifth_percentile  weighted by time. [Mbit/s]
    evenness         fifth percentile / median; None where the median is 0. [1]
    longest_stall_s  [s]
    duration_s       from the first start to the last end. [s]
    logged_s         time that an interval covers; all other figures are of this time alone. [s]
    longest_gap_s    longest time between two intervals that none covers; 0 without one. [s]
    step_s           sampling that drift and period were looked for with. [s]
    drift            None: too short to tell
    period           None: none found
    """

    mean: float
    median: float
    fifth_percentile: float
    evenness: float | None
    longest_stall_s: float
    duration_s: float
    logged_s: float
    longest_gap_s: float
    step_s: float
    drift: Drift | None
    period: Period | None


def summarise(start_s: FloatArray, seconds: FloatArray, mbit_s: FloatArray, *, rng: np.random.Generator) -> LongRun:
    """Every figure of method section 7 for one long run.

    start_s  shape (n,), n at least 1, rising, when each interval began. [s]
    seconds  shape (n,), length of each, above 0. [s]
    mbit_s   shape (n,), rate of each, at least 0. [Mbit/s]
    rng      for the surrogates of `find_period`.
    Raises   ValueError for no interval, unequal shapes, times that do not rise, a length not above 0 or a rate
             below 0.
    """
    _require_log(start_s, seconds, mbit_s)
    mean = interval_mean_mbit_s(start_s, seconds, mbit_s)
    assert mean is not None, "no warm-up was cut and there is at least one interval"
    step_s, even, known = even_grid(start_s, seconds, mbit_s)
    logged = coverage(start_s, seconds)
    median, fifth = time_quantile(mbit_s, seconds, 50), time_quantile(mbit_s, seconds, 5)
    return LongRun(
        mean=mean,
        median=median,
        fifth_percentile=fifth,
        evenness=fifth / median if median > 0 else None,
        longest_stall_s=longest_stall_s(start_s, seconds, mbit_s),
        duration_s=logged.duration,
        logged_s=logged.covered,
        longest_gap_s=logged.longest_gap,
        step_s=step_s,
        drift=drift(even, step_s, known=known),
        period=find_period(even, step_s, rng=rng, known=known),
    )


def time_quantile(mbit_s: FloatArray, seconds: FloatArray, percent: int) -> float:
    """Rate that the run was at or below for *percent* of its time. [Mbit/s]

    With equal intervals this is the nearest rank, so always a rate that was seen.

    mbit_s   shape (n,), n at least 1. [Mbit/s]
    seconds  shape (n,), length of each interval, above 0. [s]
    percent  1 to 99. [%]
    Raises   ValueError for a percent outside 1..99.
    Source   Hyndman & Fan 1996, type 1, with time in place of counts.
    """
    if not 1 <= percent <= 99:
        raise ValueError(f"percent must lie in 1..99, got {percent}")
    if seconds.min() == seconds.max():  # nearly every log: ranks in whole numbers, without ordering it all
        rank = -(-percent * len(mbit_s) // 100)
        return float(np.partition(mbit_s, rank - 1)[rank - 1])
    order = np.argsort(mbit_s)  # equal rates may stand in any order
    elapsed = np.cumsum(seconds[order])
    # Sums of 0.1 s miss whole numbers by a hair, which must not move a rank.
    reached = np.searchsorted(elapsed, elapsed[-1] * percent / 100 * (1 - 1e-12))
    return float(mbit_s[order][reached])


def evenness(mbit_s: FloatArray, seconds: FloatArray) -> float | None:
    """Fifth percentile divided by the median, both weighted by time: 1 is perfectly even. [1]

    mbit_s, seconds  as `time_quantile`.
    Returns          None where the median is 0.
    Source           method section 7.
    """
    median = time_quantile(mbit_s, seconds, 50)
    return time_quantile(mbit_s, seconds, 5) / median if median > 0 else None


def longest_stall_s(start_s: FloatArray, seconds: FloatArray, mbit_s: FloatArray) -> float:
    """Longest unbroken time in which next to nothing came: at most 1 % of the median. [s]

    A gap in the log of more than half an interval ends a stall, because what happened in it is unknown.

    start_s, seconds, mbit_s  as `summarise`.
    Source                    own rule (practice).
    """
    stalled = mbit_s <= STALLED_SHARE * time_quantile(mbit_s, seconds, 50)
    if not stalled.any():
        return 0.0
    gaps = np.append(0.0, start_s[1:] - start_s[:-1] - seconds[:-1])
    stretch = np.cumsum(~stalled | (gaps > seconds / 2))
    return float(np.bincount(stretch, np.where(stalled, seconds, 0.0)).max())


def even_grid(start_s: FloatArray, seconds: FloatArray, mbit_s: FloatArray) -> tuple[float, FloatArray, Truths]:
    """The run on evenly spaced steps, as long as its usual one, each the mean of what was logged in it.

    Steps that nothing was logged in lie on a straight line between their neighbours, and are marked.

    start_s, seconds, mbit_s  as `summarise`.
    Returns                   length of a step [s], the rates, shape (m,) [Mbit/s], and which steps were logged.
    """
    total_s = float(start_s[-1] + seconds[-1] - start_s[0])
    step_s = float(np.median(seconds))
    if len(start_s) > 1 and (apart_s := float(usual_step(start_s))) > 1.01 * step_s:
        step_s = apart_s  # a log that looks at a part of each step has one value per step
    step_s = max(step_s, total_s / MOST_GRID_SAMPLES)
    count = max(1, round(total_s / step_s))
    ends = start_s + seconds
    # Time logged and bits carried up to every start and end; overlaps of a badly kept clock are pushed apart.
    moments = np.maximum.accumulate(np.column_stack([start_s, ends]).ravel()) - start_s[0]
    logged = np.concatenate([[0.0], np.repeat(np.cumsum(seconds), 2)[:-1]])
    carried = np.concatenate([[0.0], np.repeat(np.cumsum(seconds * mbit_s), 2)[:-1]])
    edges = np.arange(count + 1) * step_s
    logged_of = np.diff(np.interp(edges, moments, logged))
    amount = np.diff(np.interp(edges, moments, carried))
    known = logged_of > 1e-6 * step_s
    middle = np.arange(count)
    return step_s, np.interp(middle, middle[known], amount[known] / logged_of[known]), known


def _require_log(start_s: FloatArray, seconds: FloatArray, mbit_s: FloatArray) -> None:
    if not len(start_s) == len(seconds) == len(mbit_s) > 0:
        sizes = f"{len(start_s)}, {len(seconds)} and {len(mbit_s)}"
        raise ValueError(f"a log needs as many starts as lengths and rates, got {sizes}")
    if not np.all(np.diff(start_s) > 0):
        raise ValueError("the start times of a log must rise")
    if not np.all(mbit_s >= 0):
        raise ValueError(f"a rate must be at least 0, got {np.min(mbit_s)}")
