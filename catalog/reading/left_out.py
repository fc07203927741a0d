"""How long rows of a log last when conditions leave out some of them, and no row says it.

A row lasts until the next row of its log, be that one left out or not: an amount of one second must not be spread
over the seconds left out after it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from catalog.digesting.coverage import interval_lengths, usual_step
from catalog.digesting.logs import Floats
from catalog.reading.log_numbers import Mask

NEAR = 0.1  # (practice) steps of one log differ by less


def lengths_among(times_s: Floats, tests: Sequence[Mask]) -> Floats | None:
    """Lengths of the rows that pass every test; None where the rows left out say nothing about them. [s]

    A test that leaves out rows which fit between those that stay leaves out time of the log. One whose other rows run
    backwards, or come between so often that the usual step is another, tells several logs apart: their rows are not
    counted.

    times_s  shape (n,), of all rows of the file. [s]
    tests    each of shape (n,), whether a row passes it
    Source   own rule.
    """
    stays = np.logical_and.reduce(tests)
    if np.count_nonzero(stays) < 2 or not _rises(times_s[stays]):
        return None
    step_s = float(usual_step(times_s[stays]))
    apart = []
    for place, test in enumerate(tests):
        others = [other for at, other in enumerate(tests) if at != place]
        with_left_out = times_s[np.logical_and.reduce(others)] if others else times_s
        if not _fits(with_left_out, step_s):
            apart.append(test)
    own = np.logical_and.reduce(apart) if apart else np.ones(len(times_s), dtype=np.bool_)
    if np.count_nonzero(own) == np.count_nonzero(stays) or not _fits(times_s[own], step_s):
        return None
    lengths: Floats = interval_lengths(times_s[own])[stays[own]]
    return lengths


def _rises(times_s: Floats) -> bool:
    return bool((np.diff(times_s) > 0).all())


def _fits(times_s: Floats, step_s: float) -> bool:
    return _rises(times_s) and abs(float(usual_step(times_s)) - step_s) <= NEAR * step_s
