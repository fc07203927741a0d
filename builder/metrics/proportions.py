"""How sure a share of requests is: bounds of one share, and whether two differ. Shares are fractions, nothing rounds.

Requests are counted as if each came by itself. Those of one run follow one another, so this is the most that they can
show: what it does not show is not shown.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_CHANCE = 0.05


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


def same_share_p(on_time_a: int, planned_a: int, on_time_b: int, planned_b: int) -> float:
    """Two-sided p-value of two shares being one and the same, by the number of requests alone. [1]

    Raises  ValueError as `one_sided_bounds` does.
    Source  Fisher 1935, exact test: the chance of all divisions that are no more likely than the one seen.
    """
    _require_counts(on_time_a, planned_a)
    _require_counts(on_time_b, planned_b)
    import numpy as np
    from scipy.special import gammaln  # as above

    def log_ways(of: int, taken: NDArray[np.float64]) -> NDArray[np.float64]:
        ways: NDArray[np.float64] = gammaln(of + 1) - gammaln(taken + 1) - gammaln(of - taken + 1)
        return ways

    every = on_time_a + on_time_b
    of_a = np.arange(max(0, every - planned_b), min(planned_a, every) + 1, dtype=np.float64)
    log_chance = log_ways(planned_a, of_a) + log_ways(planned_b, every - of_a)
    chance = np.exp(log_chance - log_chance.max())
    seen = chance[on_time_a - int(of_a[0])]
    return float(chance[chance <= seen * (1 + 1e-7)].sum() / chance.sum())


def _require_counts(on_time: int, planned: int) -> None:
    if planned < 1 or not 0 <= on_time <= planned:
        raise ValueError(f"{on_time} of {planned} is not a share of requests")
