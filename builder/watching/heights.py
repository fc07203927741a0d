"""Values that something else than the device held back: at a ceiling that is known, or at one that is likely."""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Container, Mapping, Sequence

import numpy as np

from builder import wording
from builder.bench.bench import Bench
from builder.bench.bounds import at_port_limit, bound_from, is_bound
from builder.planning.forecasts import at_places
from builder.registers.link_ceilings import link_ceiling
from builder.registers.proposing import AGREE_WITHIN, LEAST_RANGE_DB, PHY_FACTOR
from builder.watching.day_runs import DayRun
from builder.watching.expecting import Expecting, odds_text
from builder.watching.repeats import Odd
from builder.watching.states import Place, Sense
from catalog.method import SLOPE_WITHIN_DB

RARE_HEIGHT = 1 / 200  # (practice) asked a few times a day, not once a log
LEAST_RUNS = 4  # of two places together (own rule)
FARTHER_GIVES = 1.0 + AGREE_WITHIN
_DRAWS, _SEED = 4000, 20252


def known_ceilings(runs: Sequence[DayRun], after: Bench, odd: Mapping[Place, Odd]) -> list[Sense]:
    """Values at a ceiling of the client or the lab: one sense a cell, or a run where only some of its repeats are."""
    cells: dict[tuple[object, ...], list[DayRun]] = defaultdict(list)
    for run in runs:
        if run.value is not None and run.group is not None:
            cells[run.cell].append(run)
    senses = []
    for members in cells.values():
        group = members[0].group
        assert group is not None
        limits = after.limits.limits_of(
            [run.value or 0.0 for run in members],
            device=members[0].device,
            client=members[0].client,
            house=members[0].house,
            band=group.band,
            width_mhz=group.width_mhz,
            direction=group.direction,
        )
        capped = [(run, limit) for run, limit in zip(members, limits, strict=True) if is_bound(limit)]
        whole = len(capped) == len(members)
        for run, limit in capped[-1:] if whole else capped:
            ceiling = after.limits.ceilings.get((run.client, group.band, group.width_mhz, group.direction))
            by = "the lab" if limit == "lab" else run.client
            most = after.limits.labs.get(run.house, 0.0) if limit == "lab" else ceiling or 0.0
            senses.append(_known(run, by, most, odd.get(run.row.place), len(capped) if whole else 0))
    return senses


def _known(run: DayRun, by: str, most: float, odd: Odd | None, all_of: int) -> Sense:
    value = run.value or 0.0
    above = value > most * FARTHER_GIVES
    which = f"{run.at_spot}: all {all_of} repeats" if all_of > 1 else run.name
    reach = "reach" if all_of > 1 else "gives"
    text = (
        f"{which} {reach} {wording.rate(value)} Mbit/s, {'above' if above else 'at'} the {wording.rate(most)} that {by} is "
        "known to carry"
    )
    if odd is not None and not all_of:
        text += (
            f", and {wording.number(100 * abs(odd.off), 0)} % {'over' if odd.off > 0 else 'under'} its repeats: it is another "
            "run’s log, or a cable was left in."
        )
        remedy = f"Look whose log it is, pull the cable, and repeat {run.name} now."
        return Sense("at-ceiling", text, remedy, True, run.row.place, run.row.log)
    if above:
        text += ": its ceiling wants new evidence, or this is another link."
        remedy = f"Check the width and the cable; if they are right, register {run.name} as the ceiling’s evidence."
        return Sense("at-ceiling", text, remedy, False, run.row.place, run.row.log)
    text += f": it counts as at least {wording.rate(bound_from(most))} and tells no device from a faster one."
    remedy = f"Measure {run.at_spot} with a faster client, or go on farther away, where {by} is not the limit."
    return Sense("at-ceiling", text, remedy, False, run.row.place, run.row.log)


def likely_ceilings(
    runs: Sequence[DayRun], expecting: Expecting, after: Bench, odd: Container[Place]
) -> list[tuple[Sense, list[DayRun]]]:
    """Places apart from each other that give one height, nearer to each other than repeats and the fall allow.

    Each sense with the runs at that height.

    odd  runs that do not belong to their cell
    """
    devices: dict[tuple[object, ...], list[DayRun]] = defaultdict(list)
    for run in runs:
        if run.value is not None and run.group is not None and run.loss_db is not None and not run.group.several_links:
            devices[run.device, run.client, run.session, run.group].append(run)
    results = []
    for members in devices.values():
        visits: dict[int, list[DayRun]] = defaultdict(list)
        for run in members:
            if run.row.place not in odd:
                visits[run.visit].append(run)
        level = _at_one_height(list(visits.values()), expecting, after)
        if level is not None:
            results.append(level)
    return results


def _at_one_height(
    visits: Sequence[Sequence[DayRun]], expecting: Expecting, after: Bench
) -> tuple[Sense, list[DayRun]] | None:
    """The widest set of visits at one height, if one is that chance would hardly bring."""
    near = sorted((visit for visit in visits if len(visit) > 1), key=lambda visit: visit[0].loss_db or 0.0)
    best: tuple[float, list[Sequence[DayRun]], str] | None = None
    for start in near:
        height = statistics.fmean(run.value or 0.0 for run in start)
        level = [
            visit
            for visit in near
            if 0 <= (visit[0].loss_db or 0.0) - (start[0].loss_db or 0.0) <= SLOPE_WITHIN_DB
            and abs(statistics.fmean(run.value or 0.0 for run in visit) / height - 1) <= AGREE_WITHIN
        ]
        span = max(visit[0].loss_db or 0.0 for visit in level) - (start[0].loss_db or 0.0)
        held = [run for visit in level for run in visit]
        if span < LEAST_RANGE_DB or len(held) < LEAST_RUNS or not _could_give_more(held[0], height, after):
            continue
        farther = _farther_and_more(level, near)
        share = _share_of_chance(level, expecting)
        if (farther or share <= RARE_HEIGHT) and (best is None or share < best[0]):
            best = share, level, farther
    if best is None:
        return None
    share, level, farther = best
    return _likely(level, share, farther), [run for visit in level for run in visit]


def _could_give_more(run: DayRun, height: float, after: Bench) -> bool:
    """Whether the radio link would carry enough more, and neither a port nor a known ceiling explains the height."""
    assert run.group is not None
    device, client = after.devices.get(run.device), after.clients.get(run.client)
    if device is None or client is None:
        return False
    link = link_ceiling(device, client, band=run.group.band, width_mhz=run.group.width_mhz)
    port = after.limits.ports.get(run.device)
    known = after.limits.ceilings.get((run.client, run.group.band, run.group.width_mhz, run.group.direction))
    if link is None or link.mbit_s < PHY_FACTOR * height or (port is not None and at_port_limit(height, port)):
        return False
    return known is None or height < bound_from(known)


def _farther_and_more(level: Sequence[Sequence[DayRun]], near: Sequence[Sequence[DayRun]]) -> str:
    """A place farther away that gave clearly more, in words; "" for none."""
    far = max(visit[0].loss_db or 0.0 for visit in level)
    height = statistics.fmean(run.value or 0.0 for visit in level for run in visit)
    for visit in near:
        mean = statistics.fmean(run.value or 0.0 for run in visit)
        if (visit[0].loss_db or 0.0) > far and mean > 1.1 * height:
            return f"{visit[0].at_spot}, farther away, gave {wording.rate(mean)}"
    return ""


def _share_of_chance(level: Sequence[Sequence[DayRun]], expecting: Expecting) -> float:
    """How often runs with the usual scatter, at places that the older devices tell apart, lie so near to each other.

    By draws of a fixed seed: an older device's fall between the places, placement of each visit, scatter of each run.
    """
    runs = [run for visit in level for run in visit]
    spread = expecting.least_spread_of(runs[0], apart_from={run.visit for run in runs})
    if spread is None:
        return 1.0
    values = np.array([run.value for run in runs])
    seen = float((np.log(values) - np.log(values).mean()) @ (np.log(values) - np.log(values).mean()))
    losses = [visit[0].loss_db or 0.0 for visit in level]
    lines = [at_places(track, losses) for track in expecting.lines(runs[0].group).values()]
    falls = np.array([np.log(line / line[0]) for line in lines if np.isfinite(line).all() and line.min() > 0])
    falls = falls if len(falls) else np.zeros((1, len(losses)))
    rng = np.random.default_rng(_SEED)
    places = np.array([expecting.standing_again(visit[0]) for visit in level])
    of_visits = falls[rng.integers(len(falls), size=_DRAWS)] + places * rng.standard_normal((_DRAWS, len(level)))
    drawn = np.repeat(of_visits, [len(visit) for visit in level], axis=1)
    drawn += spread * rng.standard_normal(drawn.shape)
    drawn -= drawn.mean(axis=1, keepdims=True)
    return float(((drawn**2).sum(axis=1) <= seen).mean())


def _likely(level: Sequence[Sequence[DayRun]], share: float, farther: str) -> Sense:
    runs = sorted((run for visit in level for run in visit), key=lambda run: run.row.order)
    values = [run.value or 0.0 for run in runs]
    ordered = sorted(level, key=lambda visit: visit[0].loss_db or 0.0)
    spots = list(dict.fromkeys(visit[0].at_spot for visit in ordered))
    span = (ordered[-1][0].loss_db or 0.0) - (ordered[0][0].loss_db or 0.0)
    low, high = min(values), max(values)
    decimals = wording.rate_decimals(low)
    text = (
        f"{wording.listing(spots)}, {wording.decibels(span)} dB apart, give one height, "
        f"{wording.between(low, high, decimals)} Mbit/s"
    )
    text += f", while {farther}" if farther else ""
    if share <= RARE_HEIGHT:
        rare = "fewer than one day in 2,000" if share < 1 / 2000 else odds_text(share).replace("one in", "one day in")
        text += f"; by the usual scatter and fall {rare} would be so even"
    text += ": client, cable, switch or server may be the limit, or the device itself."
    remedy = (
        f"Run {spots[0]} with the cable in the place of the air to prove it, then repeat these cells if it was the lab."
    )
    last = runs[-1]
    return Sense("likely-ceiling", text, remedy, False, last.row.place, last.row.log)
