"""Which time a log covers. Gaps are not filled in: every figure leaves them out, and their length is stated.

Lengths are of any unit, as long as it is one; whole numbers stay whole numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Times = NDArray[Any]

MOST_STEPS = 3
"""A time between two rows that is longer than so many usual steps is a gap (practice). [1]"""


def usual_step(starts: Times) -> Any:
    """The middle of all steps from one row to the next. [unit of starts]

    starts  shape (n,), n at least 2, rising.
    Raises  ValueError for fewer than two rows.
    Source  own rule; a median is moved neither by gaps nor by a few doubled rows.
    """
    if len(starts) < 2:
        raise ValueError(f"one row has no step, got {len(starts)} start times")
    return _middle(np.diff(starts))


def _middle(steps: Times) -> Any:
    """The median, in the type of the steps; nearly every log has but one."""
    return steps[0] if steps.min() == steps.max() else steps.dtype.type(np.median(steps))


def interval_lengths(starts: Times) -> Times:
    """Length of every interval of a log that gives only when each began. [unit of starts]

    An interval lasts until the next begins. Before a gap (`MOST_STEPS`), and at the end, it is taken to last the
    usual step.

    starts  shape (n,), n at least 2, rising.
    Raises  ValueError for fewer than two intervals or times that do not rise.
    Source  own rule.
    """
    if len(starts) < 2:
        raise ValueError(f"one interval has no length of its own, got {len(starts)} start times")
    lengths = np.diff(starts)
    if not lengths.min() > 0:
        raise ValueError("the start times of a log must rise")
    step = _middle(lengths)
    if lengths.max() > MOST_STEPS * step:
        lengths = np.where(lengths > MOST_STEPS * step, step, lengths)
    return np.append(lengths, step)


def gaps(starts: Times, lengths: Times) -> Times:
    """Time from the end of every interval to the beginning of the next; 0 where they meet or overlap. [unit of starts]

    starts   shape (n,), rising.
    lengths  shape (n,).
    Returns  shape (n - 1,).
    """
    return np.asarray(np.maximum(np.diff(starts) - lengths[:-1], 0))


@dataclass(frozen=True)
class Coverage:
    """What a log covers of the time from its first row to its last. [unit of its starts]

    duration     from the first start to the last end
    covered      time that some interval covers, what two of them cover counted once
    longest_gap  between two intervals that none covers; 0 without one
    """

    duration: float
    covered: float
    longest_gap: float


def coverage(starts: Times, lengths: Times) -> Coverage:
    """How much of its time a log covers. In a gap, it is unknown whether the client or only its log was silent.

    starts   shape (n,), n at least 1, rising.
    lengths  shape (n,), above 0.
    Source   own rule (practice).
    """
    between = gaps(starts, lengths)
    duration = float(starts[-1] + lengths[-1] - starts[0])
    return Coverage(duration, duration - float(between.sum()), float(between.max(initial=0)))
