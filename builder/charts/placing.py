"""Where text goes, so that no two texts lie on each other, and where an axis ends.

Places are px, y growing downwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)


def axis_end(highest: float) -> float:
    """A round number that is not below *highest*: where an axis from 0 ends. 1 where there is nothing above 0."""
    if highest <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(highest))
    return next(step * power for step in _STEPS if highest <= step * power * (1 + 1e-9))


def spread(wanted: Sequence[float], heights: Sequence[float], *, low: float, high: float) -> list[float]:
    """Centres of labels in one column, each as near to its wanted place as its neighbours allow.

    The centres keep the order of *wanted* (ties in the order given) and make the sum of squared moves least:
    with the space of the labels before it taken off each wish, that is isotonic regression, solved by
    pooling adjacent violators (Barlow et al. 1972), then cut to the column.

    wanted     wished centres, shape (n,)
    heights    height of each label, shape (n,)
    low, high  ends of the column
    Raises     ValueError where the labels together are taller than the column.
    """
    if sum(heights) > high - low + 1e-9:
        raise ValueError(f"labels need {sum(heights)} px, but the column has {high - low}")
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    centre_offsets: list[float] = []  # of a label's centre, were all labels stacked from 0
    used = 0.0
    for i in order:
        centre_offsets.append(used + heights[i] / 2)
        used += heights[i]

    pools: list[tuple[float, int]] = []  # mean free wish, number of labels
    for i, offset in zip(order, centre_offsets, strict=True):
        mean, size = wanted[i] - offset, 1
        while pools and pools[-1][0] >= mean:
            earlier, count = pools.pop()
            mean, size = (earlier * count + mean * size) / (count + size), count + size
        pools.append((mean, size))
    free = [mean for mean, size in pools for _ in range(size)]

    centres = [0.0] * len(wanted)
    for i, offset, place in zip(order, centre_offsets, free, strict=True):
        centres[i] = min(max(place, low), high - used) + offset
    return centres


def ticks(low: float, high: float, *, most: int) -> list[float]:
    """At most *most* round places from *low* to *high*, evenly apart; at least one."""
    span = high - low
    power = 10.0 ** math.floor(math.log10(span / most)) if span > 0 else 1.0
    for step in (power * times for times in (1.0, 2.0, 5.0, 10.0, 20.0)):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first < most:
            break
    return [round(number * step, 9) + 0.0 for number in range(first, last + 1)] or [low]
