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
    the same cell. Sessions that share no cell, as when the device's firmware changed between them, belong to
    different chains, each with a mean of its own: the spread is pooled over the chains, with
    sessions - chains degrees of freedom, and 8 sessions in one chain are what "measured" asks for.
    """
    by_house: Mapping[str, list[Cell]] = _exact_cells_by_house(cells)
    found: dict[str, Spread] = {}
    for house in houses:
        own = [c for c in by_house.get(house.house_id, ()) if c.device == house.reference_device]
        chains = [list(chain.values()) for chain in session_chains(own)]
        sessions = sum(len(chain) for chain in chains)
        df = sum(len(chain) - 1 for chain in chains)
        if df >= MIN_REFERENCE_SESSIONS - 1:
            squares = sum((len(chain) - 1) * statistics.variance(chain) for chain in chains)
            found[house.house_id] = Spread(math.sqrt(squares / df), df, "measured", sessions)
        elif constants.session_spread is not None:
            found[house.house_id] = Spread(constants.session_spread, math.inf, "declared", sessions)
        else:
            found[house.house_id] = ASSUMED_SPREAD
    return found


def session_chains(cells: Sequence[Cell]) -> list[dict[str, float]]:
    """`session_factors` apart by chain: sessions that are linked by cells they share, directly or over others."""
    chain_of: dict[str, int] = {}
    chains: dict[int, dict[str, float]] = {}
    linked: dict[tuple[object, ...], list[Cell]] = defaultdict(list)
    for cell in cells:
        if cell.mean:
            linked[_alike(cell)].append(cell)
    for number, members in enumerate(linked.values()):
        sessions = {c.session for c in members}
        if len(sessions) < 2:
            continue
        met = {chain_of[s] for s in sessions if s in chain_of}
        for session, chain in list(chain_of.items()):
            if chain in met:
                chain_of[session] = number
        chain_of |= dict.fromkeys(sessions, number)
    for session, factor in session_factors(cells).items():
        chains.setdefault(chain_of[session], {})[session] = factor
    return [chains[number] for number in sorted(chains)]


def session_factors(cells: Sequence[Cell]) -> dict[str, float]:
    """Session -> mean of value / long-run mean over the cells that were measured in two sessions or more."""
    alike: dict[tuple[object, ...], list[Cell]] = defaultdict(list)
    for cell in cells:
        if cell.mean:
            alike[_alike(cell)].append(cell)
    relative: dict[str, list[float]] = defaultdict(list)
    for members in alike.values():
        if len({c.session for c in members}) < 2:
            continue
        long_run = statistics.fmean(c.mean or 0.0 for c in members)
        for cell in members:
            relative[cell.session].append((cell.mean or 0.0) / long_run)
    return {session: statistics.fmean(values) for session, values in sorted(relative.items())}


def _alike(cell: Cell) -> tuple[object, ...]:
    """What two sessions must share for their values to be compared."""
    return cell.unit, cell.firmware, cell.client, cell.driver, cell.group, cell.place


def _exact_cells_by_house(cells: Sequence[Cell]) -> dict[str, list[Cell]]:
    by_house: dict[str, list[Cell]] = defaultdict(list)
    for cell in cells:
        if cell.mean is not None and not cell.bound:
            by_house[cell.house].append(cell)
    return by_house
