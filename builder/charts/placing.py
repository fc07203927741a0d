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


def stairs(starts: Sequence[float], widths: Sequence[float], *, space: float) -> list[int]:
    """Rows, 0 on top, for texts that hang on lines from places on an axis and run to the right.

    Taken from the right, each text goes into the highest row where it ends before every text and every line
    that is there already. What is above it then starts right of it, so its own line crosses no text either.

    starts  left end of each text, and where its line hangs, shape (n,), any order
    widths  width of each text, shape (n,)
    space   least distance between a text and what follows it
    """
    rows = [0] * len(starts)
    free_until: list[float] = []  # a row's leftmost start or line: lines of the rows below cross it
    for i in sorted(range(len(starts)), key=lambda i: (-starts[i], i)):
        end = starts[i] + widths[i] + space
        row = next((r for r, left in enumerate(free_until) if end <= left), len(free_until))
        free_until[: row + 1] = [starts[i]] * (row + 1)
        rows[i] = row
    return rows
