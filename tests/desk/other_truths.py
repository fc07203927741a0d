"""Bench days whose truth is not the method's: values of a replayed day changed as a seed says."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from tests.desk.bench_days import REPEATS, Landing
from tests.desk.slips import KINDS

_HEIGHTS = {KINDS.index("a value at a known ceiling"), KINDS.index("a value at a likely ceiling")}
Change = Callable[[np.random.Generator, float], float]

# Factor on all values of a run; takes the generator and which part of the day is over, from 0 to 1.
TRUTHS: Mapping[str, Change] = {
    "heavy-tailed repeats": lambda rng, part: float(np.exp(0.75 * REPEATS * rng.standard_t(3))),
    "drift over the day": lambda rng, part: 1.0 - 0.08 * part,
    "scatter twice as high": lambda rng, part: float(np.exp(3**0.5 * REPEATS * rng.standard_normal())),
}


def otherwise(landings: Sequence[Landing], truth: str, *, seed: int) -> list[Landing]:
    """The same logs under another truth; what stands at a ceiling stays there."""
    rng = np.random.default_rng([151, seed])
    first, last = landings[0].at, landings[-1].at
    changed = []
    for one in landings:
        factor = TRUTHS[truth](rng, (one.at - first) / (last - first))
        held = one.table != "runs" or (one.slip and one.number in _HEIGHTS)
        changed.append(one if held else replace(one, values=one.values * factor))
    return changed
