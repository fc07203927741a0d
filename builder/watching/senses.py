"""What the runs and logs of a day say against their siblings, their clock, their place and the catalogue.

Each sense is one sentence with what is known and the cell to repeat. Where two say the same of one row, the one that
explains the other stays; of what `check` finds, what is said here in other words goes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from builder.bench.bench import Bench
from builder.watching.clock_senses import clock_senses, day_senses, swap_senses, swapped
from builder.watching.clocks import days_of, timed, usual_delay, zone_of
from builder.watching.day_runs import day_runs, station_name
from builder.watching.expecting import Expecting
from builder.watching.heights import known_ceilings, likely_ceilings
from builder.watching.levels import level_senses
from builder.watching.references import reference_senses
from builder.watching.repeats import odd_runs
from builder.watching.states import Measured, Place, Sense
from builder.watching.stops import short_senses, silent_roles

# What `check` finds, too -> the senses here that say it with the cell to repeat.
COVERED: Mapping[str, frozenset[str]] = {
    "odd-repeat": frozenset({"repeat-off", "at-ceiling", "logs-swapped", "other-time", "clock-off", "likely-ceiling"}),
    "level-off": frozenset({"level-off-spot"}),
    "other-day": frozenset({"wrong-day", "logs-swapped"}),
    "two-at-once": frozenset({"logs-swapped", "clock-off", "other-time", "wrong-day"}),
}
JUDGED_HERE = frozenset({"odd-repeat", "level-off"})
"""What `check` finds by a fixed share or distance, and what is judged here by the scatter of the bench instead."""


def senses_of(
    measured: Sequence[Measured],
    *,
    before: Bench,
    after: Bench,
    document: Mapping[str, Any],
    now: datetime,
    of_check: Sequence[Sense] = (),
) -> list[Sense]:
    """Everything that is to be said of the rows of a day, in the order of the plan, with what `check` says of them.

    before    the bench of the catalogue alone
    after     the same with the day's good rows
    document  batch.toml
    now       when somebody looks
    of_check  problems and warnings of `check`, each at its row
    """
    runs = day_runs(measured, after=after, document=document)
    names = {run.row.place: run.name for run in runs} | {
        row.place: station_name(row) for row in measured if row.place[1] == "stations"
    }
    measured = [row for row in measured if row.place in names]
    expecting = Expecting(before, runs)
    every, zone = timed(measured), zone_of(document)
    odd = odd_runs(runs, expecting)
    odd_at = {one.run.row.place: one for one in odd}
    pairs = swapped(runs, odd, every, expecting)
    exchanged = {run.row.place for pair in pairs for run in pair[:2]}
    explained: set[Place] = set(exchanged)
    senses = swap_senses(pairs)
    for more in (
        day_senses(every, names, days_of(document), zone),
        clock_senses(every, names, usual_delay(measured), odd_at, zone, now=now),
        known_ceilings(runs, after, odd_at),
    ):
        senses += [one for one in more if one.place not in explained]
        explained |= {one.place for one in more if one.place is not None}
    senses += [
        Sense("repeat-off", one.sentence, _again(one.run.name, one.beside), True, one.run.row.place, one.run.row.log)
        for one in odd
        if one.run.row.place not in explained
    ]
    senses += [one for one in short_senses(runs) if one.place not in exchanged]
    senses += silent_roles(measured)
    senses += level_senses(runs, before)
    senses += likely_ceilings(runs, expecting, after, odd_at)
    senses += reference_senses(runs, after)
    senses += _of_check(of_check, senses, names)
    order = {row.place: (row.place[1], row.order) for row in measured}
    return sorted(senses, key=lambda one: order.get(one.place, ("", 0)) if one.place else ("", 0))


def _again(name: str, beside: Any) -> str:
    if beside is not None:
        return f"Measure the cell of {name} once more now: the third run shows which of them to leave out."
    return f"Repeat {name} now, while client and device still stand there."


def _of_check(of_check: Sequence[Sense], senses: Sequence[Sense], names: Mapping[Place, str]) -> list[Sense]:
    """What `check` says and nothing here, with the cell to repeat where the run itself is in question."""
    said = {(one.place, one.code) for one in senses}
    kept = []
    for one in of_check:
        here = COVERED.get(one.code, frozenset())
        if one.code in JUDGED_HERE or any((one.place, code) in said for code in here):
            continue
        name = names.get(one.place) if one.place is not None else None
        if one.code == "rate-stopped" and name is not None:
            one = replace(one, remedy=f"Repeat {name} now. {one.remedy}".strip(), text=f"{name}: {one.text}")
        kept.append(one)
    return kept
