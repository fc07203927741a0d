"""Received levels beside the loss of their spot: what a device gives out is the same wherever it is read."""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from builder import wording
from builder.bench.bench import Bench
from builder.bench.sides import spot_variance
from builder.watching.day_runs import DayRun
from builder.watching.expecting import RARE, chance, odds_text
from builder.watching.states import Sense

ROUNDED_DB = 12**-0.5  # of a level typed in whole dB
LEAST_OFF_DB = 5.0  # (practice) less may be a person who walked by
LEAST_OLDER = 3  # older devices that show what a level may be (own rule)


@dataclass(frozen=True, slots=True)
class _Given:
    """What a device seems to give out: level + loss, by run. [dBm]"""

    run: DayRun
    dbm: float


def level_senses(runs: Sequence[DayRun], before: Bench) -> list[Sense]:
    """Levels that do not go with the loss of their spot, as other places of the device or the older devices have it."""
    by_device: dict[tuple[object, ...], list[_Given]] = defaultdict(list)
    for run in runs:
        if run.level_dbm is not None and run.loss_db is not None:
            by_device[run.device, run.client, run.session, run.group].append(_Given(run, run.level_dbm + run.loss_db))
    senses = []
    for members in by_device.values():
        visits: dict[int, list[_Given]] = defaultdict(list)
        for one in members:
            visits[one.run.visit].append(one)
        for visit, here in visits.items():
            elsewhere = [statistics.median([one.dbm for one in of]) for number, of in visits.items() if number != visit]
            senses += _of_visit(here, elsewhere, before)
    return senses


def _of_visit(here: Sequence[_Given], elsewhere: Sequence[float], before: Bench) -> list[Sense]:
    read = math.hypot(before.scatter.level_sigma_db, ROUNDED_DB)
    usual = _usual(here[0].run, elsewhere, before)
    own = statistics.median([one.dbm for one in here])
    odd = []
    for one in here:
        siblings = [other.dbm for other in here if other is not one]
        apart = (
            _odds(one.dbm - statistics.median(siblings), read * math.sqrt(1 + 1 / len(siblings))) if siblings else 0.0
        )
        far = 1.0 if usual is None else _odds(one.dbm - usual[0], math.hypot(usual[1], read))
        if apart < RARE and (far < RARE or (usual is None and len(siblings) > 1)):
            odd.append(one)
    if usual is not None and len(here) > 1 and not odd:
        # The whole visit may be off, its readings agreeing with each other.
        share = _odds(own - usual[0], math.hypot(usual[1], read))
        if share < RARE:
            return [_visit_sense(here, own - usual[0], usual[2], share)]
    return [_sense(one, here, usual) for one in odd]


def _odds(off_db: float, spread_db: float) -> float:
    return chance(off_db, spread_db) if abs(off_db) >= LEAST_OFF_DB else 1.0


def _usual(run: DayRun, elsewhere: Sequence[float], before: Bench) -> tuple[float, float, str] | None:
    """What level + loss should be [dBm], how surely [dB], and by what."""
    place = math.hypot(before.scatter.placement(run.house).sigma_db, _spot_sigma(run, before))
    if elsewhere:
        return statistics.median(elsewhere), place * math.sqrt(1 + 1 / len(elsewhere)), "this device’s other places"
    if run.group is None or run.group not in before.cells_in:
        return None
    older = []
    for cells in before.cells_in[run.group].values():
        given = [
            c.level_dbm + c.attenuation_db for c in cells if c.level_dbm is not None and c.attenuation_db is not None
        ]
        older += [statistics.median(given)] if given else []
    if len(older) < LEAST_OLDER:
        return None
    return statistics.median(older), math.hypot(statistics.stdev(older), place), "the older devices"


def _spot_sigma(run: DayRun, before: Bench) -> float:
    """What is not known of the spot's own loss, by the cells measured there. [dB]"""
    cells = [cell for cell in before.cells if cell.house == run.house and cell.spot == run.spot]
    return (
        math.sqrt(spot_variance(cells[-1], before.scatter)) if cells else before.scatter.placement(run.house).sigma_db
    )


def _sense(one: _Given, here: Sequence[_Given], usual: tuple[float, float, str] | None) -> Sense:
    run = one.run
    siblings = [other.dbm for other in here if other is not one]
    middle = usual[0] if usual is not None and not siblings else statistics.median(siblings)
    off = one.dbm - middle
    beside = "the other repeats there" if siblings or usual is None else f"what {usual[2]} lead to at this loss"
    text = (
        f"{wording.decibels(run.level_dbm or 0.0)} dBm at {run.name} lies {wording.decibels(abs(off))} dB "
        f"{'under' if off < 0 else 'over'} {beside}: a typing slip, or client or device stood elsewhere than at "
        f"{run.at_spot}."
    )
    remedy = (
        f"Read the level at {run.at_spot} again; if it stays, put the client on its mark and repeat {run.name} now."
    )
    return Sense("level-off-spot", text, remedy, grave=False, place=run.row.place, log=run.row.log)


def _visit_sense(here: Sequence[_Given], off: float, by: str, share: float) -> Sense:
    last = here[-1].run
    text = (
        f"{'Both' if len(here) == 2 else f'All {len(here)}'} levels at {last.at_spot} lie {wording.decibels(abs(off))} dB {'under' if off < 0 else 'over'} "
        f"what {by} lead to at {wording.decibels(last.loss_db or 0.0)} dB, where {odds_text(share)} lies so far off: the "
        "client is not at its mark, or the loss of the spot has changed."
    )
    remedy = (
        f"Look where client and device stand, then repeat {last.at_spot}; if they stand right, read the spot again."
    )
    return Sense("level-off-spot", text, remedy, grave=False, place=last.row.place, log=last.row.log)
