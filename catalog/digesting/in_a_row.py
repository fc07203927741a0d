"""How much each of a row of requests is like the one before it: what makes a run worth fewer independent ones."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def mean_ranks(values: Floats) -> Floats:
    """Rank of each value from 1, equal ones at the mean of their ranks; infinite ones last. [1]

    values  shape (n,)
    Returns shape (n,).
    """
    _, inverse, counts = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    ranks: Floats = (last - (counts - 1) / 2)[inverse]
    return ranks


def lag_one(values: Floats, *, then: float = 0.0, times: int = 0) -> float:
    """Correlation of each value with the next; 0 where all are the same, or there is only one. [1]

    values  shape (n,), n at least 1
    then    a value that follows them, so many *times*: a plan may be much longer than its log
    Source  Box & Jenkins 1976, section 2.1.5: sum of products of neighbours about the mean over the sum of squares.
    """
    mean = (float(values.sum()) + times * then) / (len(values) + times)
    about, beyond = values - mean, then - mean
    squares = float(about @ about) + times * beyond**2
    products = float(about[:-1] @ about[1:])
    if times:
        products += float(about[-1]) * beyond + (times - 1) * beyond**2
    return products / squares if squares else 0.0
