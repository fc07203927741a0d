"""What the runs and logs of a day say against their siblings, their clock, their place and the catalogue.

Each sense is one sentence with what is known and the cell to repeat. Where two say the same of one row, the one that
explains the other stays; of what `check` finds, what is said here in other words goes.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from builder.bench.bench import Bench
from builder.watching.clock_senses import clock_senses, day_senses, swap_senses, swapped
from builder.watching.clocks import days_of, timed, usual_delay, zone_of
from builder.watching.day_runs import day_runs, of_client, station_name
from builder.watching.expecting import Expecting
from builder.watching.heights import known_ceilings, likely_ceilings
from builder.watching.levels import level_senses
from builder.watching.references import reference_senses
from builder.watching.repeats import Odd, odd_runs
from builder.watching.states import Measured, Place, Sense
from builder.watching.stops import missing_roles, short_senses, silent_roles

_ANOTHER_LOG = frozenset({"logs-swapped", "other-time", "clock-off", "at-ceiling", "repeat-off"})
# What `check` finds, too -> the senses here that say it with the cell to repeat.
COVERED: Mapping[str, frozenset[str]] = {
    "odd-repeat": _ANOTHER_LOG | {"likely-ceiling"},
    "factor-8": _ANOTHER_LOG,
    "factor-1000": _ANOTHER_LOG,
    "level-off": frozenset({"level-off-spot"}),
    "other-day": frozenset({"wrong-day", "logs-swapped"}),
    "two-at-once": frozenset({"logs-swapped", "clock-off", "other-time", "wrong-day"}),
}
# What says of a run that its value is none, and of a value that it cannot be.
STOPPED = frozenset({"rate-stopped", "log-not-covered"})
IMPOSSIBLE = frozenset({"above-phy"})


def senses_of(
    measured: Sequence[Measured],
    *,
    before: Bench,
    after: Bench,
    document: Mapping[str, Any],
    now: datetime,
    of_check: Sequence[Sense] = (),
    still_open: Sequence[Measured] = (),
) -> list[Sense]:
    """Everything that is to be said of the rows of a day, in the order of the plan, with what `check` says of them.

    before      the bench of the catalogue alone
    after       the same with the day's good rows
    document    batch.toml
    now         when somebody looks
    of_check    problems and warnings of `check`, each at its row
    still_open  rows of the plan of which nothing has come, with their texts for values
    """
    stopped = {one.place for one in of_check if one.code in STOPPED and one.place is not None}
    runs = day_runs(measured, after=after, document=document, valueless=stopped)
    names = {run.row.place: run.name for run in runs} | {
        row.place: station_name(row) for row in measured if row.place[1] == "stations"
    }
    measured = [row for row in measured if row.place in names]
    expecting = Expecting(before, runs)
    every, zone = timed(measured), zone_of(document)
    odd = odd_runs(runs, expecting)
    heights = likely_ceilings(runs, expecting, after, {one.run.row.place for one in odd})
    if heights:
        odd = odd_runs(runs, expecting, held_back={run for _, level in heights for run in level})
    odd_at = {one.run.row.place: one for one in odd}
    pairs = swapped(runs, odd, every, expecting)
    exchanged = {run.row.place for pair in pairs for run in pair[:2]}
    explained: set[Place] = exchanged | {one.place for one in of_check if one.code in IMPOSSIBLE and one.place}
    senses = swap_senses(pairs)
    of_days, of_other_days = day_senses(every, names, days_of(document), zone)
    for more in (
        of_days,
        clock_senses(every, names, usual_delay(measured), odd_at, zone),
        known_ceilings(runs, after, odd_at),
    ):
        senses += [one for one in more if one.place not in explained]
        explained |= {one.place for one in more if one.place is not None}
    senses += [
        Sense("repeat-off", one.sentence, _again(one), True, one.run.row.place, one.run.row.log)
        for one in odd
        if one.run.row.place not in explained and (one.beside is None or one.beside.row.place not in explained)
    ]
    senses += [one for one in short_senses(runs) if one.place not in exchanged | stopped]
    senses += silent_roles(measured)
    senses += missing_roles(measured, still_open, now=now)
    senses += level_senses(runs, before)
    senses += [one for one, _ in heights]
    senses += reference_senses(runs, after)
    settled = {
        "two-at-once": _at_once_with(measured, senses),
        "other-day": of_other_days,
        # By a fixed share and distance in `check`; here by the scatter of the bench, where that is known.
        "odd-repeat": {run.row.place for run in runs if expecting.spread_of(run) is not None},
        "level-off": {run.row.place for run in runs if run.level_dbm is not None and run.loss_db is not None},
    }
    senses = _with_check(senses, of_check, names, settled)
    order = {row.place: (row.place[1], row.order) for row in (*measured, *still_open)}
    return sorted(senses, key=lambda one: order.get(one.place, ("", 0)) if one.place else ("", 0))


def _again(odd: Odd) -> str:
    if odd.beside is not None:
        return f"Measure {odd.run.at_spot} once more now: a third run shows which of the two to repeat."
    return f"Repeat {odd.run.name} now, while client and device still stand there."


def _at_once_with(measured: Sequence[Measured], senses: Sequence[Sense]) -> set[Place]:
    """Rows whose log begins at the instant of one whose clock is in question."""
    off = {one.place for one in senses if one.code in COVERED["two-at-once"]}
    instants = {(of_client(row), row.started) for row in measured if row.place in off}
    return {row.place for row in measured if row.started is not None and (of_client(row), row.started) in instants}


def _with_check(
    senses: Sequence[Sense],
    of_check: Sequence[Sense],
    names: Mapping[Place, str],
    settled: Mapping[str, Container[Place]],
) -> list[Sense]:
    """The senses, with what `check` says beside them. Where both say the same, its question goes along with ours.

    settled  what `check` says -> rows of which another sense says it already, or that were judged here
    """
    by_place = {(one.place, one.code): number for number, one in enumerate(senses)}
    result, more = list(senses), []
    for one in of_check:
        said = [by_place[one.place, code] for code in COVERED.get(one.code, ()) if (one.place, code) in by_place]
        if said:
            ours = result[said[0]]  # its place and question are those of the other
            result[said[0]] = replace(
                one, code=ours.code, text=ours.text, remedy=ours.remedy, log=ours.log, grave=ours.grave or one.grave
            )
        elif one.place not in settled.get(one.code, ()):
            name = names.get(one.place) if one.place is not None else None
            if name is not None and one.code in STOPPED | IMPOSSIBLE:
                one = replace(one, text=f"{name}: {one.text}", remedy=f"Repeat {name} now. {one.remedy}".strip())
            more.append(one)
    return [*result, *more]
