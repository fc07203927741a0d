"""How sure a share of requests is: bounds of one share, and whether two differ. Shares are fractions, nothing rounds.

Requests are counted as if each came by itself. Those of one run follow one another, so these bounds are the narrowest
there can be: what they do not show is not shown.
"""

from __future__ import annotations

import math

_CHANCE = 0.05
_Z = 1.959963984540054  # normal quantile of 0.975


def one_sided_bounds(on_time: int, planned: int) -> tuple[float, float]:
    """The share is not below the first with 95 % confidence, and not above the second with 95 %: two statements. [1]

    on_time  0 to planned. [1]
    planned  at least 1. [1]
    Raises   ValueError for counts that are none of a share.
    Source   Clopper & Pearson 1934, by quantiles of the beta distribution.
    """
    _require_counts(on_time, planned)
    from scipy.special import betaincinv  # only where a share is judged

    low = 0.0 if on_time == 0 else float(betaincinv(on_time, planned - on_time + 1, _CHANCE))
    high = 1.0 if on_time == planned else float(betaincinv(on_time + 1, planned - on_time, 1 - _CHANCE))
    return low, high


def share_shown(on_time: int, planned: int, mark: float) -> bool:
    """Whether so many requests show on which side of a mark the share lies: the bound lies on the same side.

    mark    share that is enough, 0 to 1. [1]
    Raises  ValueError as `one_sided_bounds` does.
    """
    low, high = one_sided_bounds(on_time, planned)
    return low >= mark if on_time >= mark * planned else high < mark


def requests_to_show(mark: float) -> int | None:
    """How many requests, all of them in time, show a share of *mark*; None where no number does. [1]

    Source  the bound above for on_time = planned: mark^n <= 0.05.
    """
    return math.ceil(math.log(_CHANCE) / math.log(mark)) if 0 < mark < 1 else None


def share_interval(on_time: int, planned: int) -> tuple[float, float]:
    """The 95 % interval of a share. [1]

    Raises  ValueError as `one_sided_bounds` does.
    Source  Wilson 1927 (score interval).
    """
    _require_counts(on_time, planned)
    share, spread = on_time / planned, _Z**2 / planned
    middle = share + spread / 2
    half = _Z * math.sqrt(share * (1 - share) / planned + spread / (4 * planned))
    return max(0.0, (middle - half) / (1 + spread)), min(1.0, (middle + half) / (1 + spread))


def share_difference(on_time_a: int, planned_a: int, on_time_b: int, planned_b: int) -> tuple[float, float]:
    """The 95 % interval of share a minus share b, by the number of requests alone. [1]

    Raises  ValueError as `one_sided_bounds` does.
    Source  Newcombe 1998, Statistics in Medicine 17, 873-890, method 10 (without a continuity correction).
    """
    low_a, high_a = share_interval(on_time_a, planned_a)
    low_b, high_b = share_interval(on_time_b, planned_b)
    a, b = on_time_a / planned_a, on_time_b / planned_b
    return a - b - math.hypot(a - low_a, high_b - b), a - b + math.hypot(high_a - a, b - low_b)


def _require_counts(on_time: int, planned: int) -> None:
    if planned < 1 or not 0 <= on_time <= planned:
        raise ValueError(f"{on_time} of {planned} is not a share of requests")
