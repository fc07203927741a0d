"""Throughput from a log of intervals. Rates are Mbit/s, times seconds; nothing here rounds."""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def rates_mbit_s(byte_counts: FloatArray, seconds: FloatArray) -> FloatArray:
    """Rate of every interval from the bytes it carried. [Mbit/s]

    byte_counts  shape (n,). [byte]
    seconds      shape (n,), length of each interval. [s]
    Raises       ValueError for unequal shapes or an interval that is not longer than 0.
    Source       definition: 8 bits a byte, 10^6 bits a Mbit (IEC 80000-13).
    """
    _require_lengths(byte_counts, seconds)
    return np.asarray(byte_counts * 8 / 1e6 / seconds, dtype=np.float64)


def interval_mean_mbit_s(
    start_s: FloatArray, seconds: FloatArray, mbit_s: FloatArray, *, skip_first_s: float = 0.0
) -> float | None:
    """Mean rate of a run: everything carried after the warm-up, divided by the time it took. [Mbit/s]

    Intervals that begin before the warm-up is over are left out whole, because it is unknown when inside an
    interval its bytes came. Time between intervals that no interval covers counts neither way.

    start_s       shape (n,), when each interval began, any zero. [s]
    seconds       shape (n,), length of each interval. [s]
    mbit_s        shape (n,), rate of each interval. [Mbit/s]
    skip_first_s  warm-up, counted from the earliest start. [s]
    Returns       None where the warm-up leaves nothing.
    Raises        ValueError for unequal shapes, an interval not longer than 0 or a negative warm-up.
    Source        definition; the length of the warm-up belongs to the method of the test (practice).
    """
    _require_lengths(mbit_s, seconds)
    _require_lengths(start_s, seconds)
    if skip_first_s < 0:
        raise ValueError(f"a warm-up must be at least 0 s, got {skip_first_s}")
    if len(start_s) == 0:
        return None
    # In floating point 4.1 - 1.1 is a hair below 3.0; a microsecond is below the resolution of any log.
    kept = start_s - np.min(start_s) >= skip_first_s - 1e-6
    if not np.any(kept):
        return None
    return float(np.dot(mbit_s[kept], seconds[kept]) / np.sum(seconds[kept]))


def _require_lengths(values: FloatArray, seconds: FloatArray) -> None:
    if values.shape != seconds.shape:
        raise ValueError(f"{len(values)} values do not fit {len(seconds)} intervals")
    if not np.all(seconds > 0):
        raise ValueError(f"an interval must be longer than 0 s, got {np.min(seconds)}")
