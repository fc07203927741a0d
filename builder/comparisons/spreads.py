"""Day-to-day spread of each house, from its reference device where enough sessions show it."""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from builder.comparisons.cells import Cell
from builder.comparisons.uncertainty import ASSUMED_SPREAD, Spread
from catalog.method import MIN_REFERENCE_SESSIONS, Constants
from catalog.records import House


def house_spreads(houses: Iterable[House], cells: Sequence[Cell], constants: Constants) -> dict[str, Spread]:
    """Spread of every house: measured over at least 8 sessions, else declared, else 3 % by practice.

    One session's factor is the mean, over what the reference device did in it, of value / long-run mean of
    the same cell; the spread is the standard deviation of these factors. Their degrees of freedom are sessions - 1.
    """
    by_house: Mapping[str, list[Cell]] = _exact_cells_by_house(cells)
    found: dict[str, Spread] = {}
    for house in houses:
        own = [c for c in by_house.get(house.house_id, ()) if c.device == house.reference_device]
        factors = session_factors(own)
        if len(factors) >= MIN_REFERENCE_SESSIONS:
            sessions = len(factors)
            spread = statistics.stdev(factors.values())
            found[house.house_id] = Spread(spread, sessions - 1, "measured", sessions)
        elif constants.session_spread is not None:
            found[house.house_id] = Spread(constants.session_spread, math.inf, "declared", len(factors))
        else:
            found[house.house_id] = ASSUMED_SPREAD
    return found


def session_factors(cells: Sequence[Cell]) -> dict[str, float]:
    """Session -> mean of value / long-run mean over the cells that were measured in two sessions or more."""
    alike: dict[tuple[object, ...], list[Cell]] = defaultdict(list)
    for cell in cells:
        if cell.mean:
            alike[cell.unit, cell.firmware, cell.client, cell.driver, cell.group, cell.place].append(cell)
    relative: dict[str, list[float]] = defaultdict(list)
    for members in alike.values():
        if len({c.session for c in members}) < 2:
            continue
        long_run = statistics.fmean(c.mean or 0.0 for c in members)
        for cell in members:
            relative[cell.session].append((cell.mean or 0.0) / long_run)
    return {session: statistics.fmean(values) for session, values in sorted(relative.items())}


def _exact_cells_by_house(cells: Sequence[Cell]) -> dict[str, list[Cell]]:
    by_house: dict[str, list[Cell]] = defaultdict(list)
    for cell in cells:
        if cell.mean is not None and not cell.bound:
            by_house[cell.house].append(cell)
    return by_house
