"""Sums of logarithms of means, and their uncertainty by the terms of method section 3 (method.md, section 8).

To first order ln of a mean changes by weight / mean for each of its cells. So a sum of signed logarithms is one weighted
sum of cells, and what its parts share (a session, a visit, a spot, a kit) is counted once, with both signs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from builder.comparisons.bench import Bench
from builder.comparisons.padded_sides import Floats, padded_cells
from builder.comparisons.uncertainty import side_sums, uncertainties
from builder.comparisons.weighted import Weighted

SpreadOf = Callable[[Floats], tuple[float, float] | None]
"""Coefficients of some logarithms -> u of their sum [1] and its degrees of freedom; None where a single run has no spread."""


def spread_of_logs(bench: Bench, values: Sequence[Weighted]) -> SpreadOf:
    """What gives the uncertainty of any sum of the logarithms of *values*, means above 0 of lines at like loss.

    A single run takes its spread from the cells of all values together.
    """
    entries = [(number, i) for number, one in enumerate(values) for i in range(len(one.cells))]
    flat = [values[number].cells[i] for number, i in entries]
    cells = padded_cells([flat], bench.scatter, pools=[flat])
    share = np.array([values[number].weights[i] / values[number].mean for number, i in entries])
    slopes = np.array([[values[number].slope] for number, _ in entries])
    whose = np.array([number for number, _ in entries])
    one = np.array([0])

    def spread(coefficients: Floats) -> tuple[float, float] | None:
        weights = (share * coefficients[whose])[:, np.newaxis]
        sums = side_sums(cells, one, weights, slopes, match="attenuation", scatter=bench.scatter)
        found = uncertainties(cells, sums, one, scatter=bench.scatter)
        return (float(found.u[0]), float(found.df[0])) if found.known[0] else None

    return spread
