"""The reference device of the house today, beside its own history (method section 9)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from builder import wording
from builder.bench.bench import Bench
from builder.bench.cells import Cell
from builder.bench.sessions import OTHER_SESSIONS, SUSPENDED_OUTSIDE, SessionFactor, session_factors
from builder.watching.day_runs import DayRun
from builder.watching.states import Sense


def reference_senses(runs: Sequence[DayRun], after: Bench) -> list[Sense]:
    """Sessions of the day in which the reference device lies outside 0.90 to 1.10 of what it gives on other days.

    At one place that is said once its whole interval lies outside: standing there again can do as much.
    """
    of_reference: dict[tuple[object, ...], list[DayRun]] = defaultdict(list)
    for run in runs:
        house = after.houses.get(run.house)
        if house is not None and run.device == house.reference_device and run.value is not None:
            of_reference[run.house, run.session, run.group].append(run)
    if not of_reference:
        return []
    senses = []
    for key, factor in session_factors(after).items():
        members = of_reference.get(key)
        if members is None or not factor.suspended:
            continue
        behind = _with_history(members, after, factor)
        if behind and (len({run.at_spot for run in behind}) > 1 or _wholly_outside(factor)):
            senses.append(_sense(factor, behind, after))
    return senses


def _with_history(members: Sequence[DayRun], after: Bench, factor: SessionFactor) -> list[DayRun]:
    """Its runs of today at places where its history is known."""
    known: dict[object, set[str]] = defaultdict(set)
    cells: list[Cell] = [c for c in after.cells_with(members[0].device, factor.group) if c.house == factor.house]
    for cell in cells:
        known[cell.spot or cell.attenuation_db].add(cell.session)
    return [run for run in members if len(known[run.spot or run.loss_db]) > OTHER_SESSIONS]


def _wholly_outside(factor: SessionFactor) -> bool:
    low, high = SUSPENDED_OUTSIDE
    return factor.interval is not None and (factor.interval[1] < low or factor.interval[0] > high)


def _sense(factor: SessionFactor, behind: Sequence[DayRun], after: Bench) -> Sense:
    last, places = behind[-1], list(dict.fromkeys(run.at_spot for run in behind))
    device = after.devices[last.device].model
    text = (
        f"{device}, the reference device of this house, gives {wording.ratio(factor.factor)} of its mean on "
        f"{wording.count(factor.sessions, 'other day')} at {wording.listing(places)}, outside "
        f"{wording.between(*SUSPENDED_OUTSIDE, 2)}: today’s air, server or client is not as usual, or {device} is not."
    )
    remedy = (
        f"Check server, client and channel, and repeat {device} at {places[-1]} now; while it stays so, what is measured "
        "today cannot be put beside other days."
    )
    return Sense("reference-off", text, remedy, True, last.row.place, last.row.log)
