"""Fewer points of a log that still show its every extreme, for charts in a copy that holds no raw samples."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

AT_MOST = 2000


def kept_points(values: NDArray[np.int64], *, at_most: int = AT_MOST) -> NDArray[np.int64]:
    """Places of at most so many points: first, last, and of each stretch the lowest and the highest.

    values   shape (n,). [any]
    at_most  points to keep, at least 4. [1]
    Raises   ValueError for fewer than 4 points.
    """
    if at_most < 4:
        raise ValueError(f"at_most must be at least 4, got {at_most}")
    if len(values) <= at_most:
        return np.arange(len(values))
    kept = {0, len(values) - 1}
    begin = 0
    for stretch in np.array_split(values, (at_most - 2) // 2):
        kept |= {begin + int(stretch.argmin()), begin + int(stretch.argmax())}
        begin += len(stretch)
    return np.array(sorted(kept))


def spread_ranks(count: int, *, at_most: int = AT_MOST) -> NDArray[np.int64]:
    """At most so many ranks from 1 to *count*, evenly spread, the first and the last among them.

    Raises  ValueError for fewer than 2 ranks.
    """
    if at_most < 2:
        raise ValueError(f"at_most must be at least 2, got {at_most}")
    if count <= at_most:
        return np.arange(1, count + 1)
    return 1 + np.arange(at_most) * (count - 1) // (at_most - 1)
