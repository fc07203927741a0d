"""Runs that stopped, or ended before the others did, and roles that never got an answer."""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta

from builder import wording
from builder.watching.day_runs import DayRun, mix_of, station_name
from builder.watching.states import Measured, Sense

SHORT = 0.8  # (practice) of how long the others of the day lasted
LEAST_OTHERS = 3
LATE = timedelta(minutes=3)  # (practice) between the logs of one mix


def short_senses(runs: Sequence[DayRun]) -> list[Sense]:
    """Runs whose log ends well before the others' do."""
    lengths = [(run, run.row.digest["duration_s"]) for run in runs if run.row.digest.get("duration_s")]
    if len(lengths) <= LEAST_OTHERS:
        return []
    usual = statistics.median([lasted for _, lasted in lengths])
    return [
        Sense(
            "run-short",
            f"The log of {run.name} lasts {lasted:.4g} s, where the others of today last {usual:.4g} s: the run broke off, or "
            "the log was copied before it was over.",
            f"Copy the log again; if it is whole, repeat {run.name} now.",
            True,
            run.row.place,
            run.row.log,
        )
        for run, lasted in lengths
        if lasted < SHORT * usual
    ]


def missing_roles(measured: Sequence[Measured], still_open: Sequence[Measured], *, now: datetime) -> list[Sense]:
    """Roles of which no log has come, minutes after those of the others in their mix.

    still_open  rows of the plan of which nothing has come: without a log
    """
    arrived: dict[str, datetime] = {}
    for row in measured:
        if row.place[1] == "stations" and row.arrived is not None:
            mix = mix_of(row)
            arrived[mix] = max(arrived.get(mix, row.arrived), row.arrived)
    senses = []
    for row in still_open:
        came = arrived.get(mix_of(row)) if row.place[1] == "stations" else None
        if came is not None and now - came > LATE:
            name, minutes = station_name(row), int((now - came).total_seconds() // 60)
            text = (
                f"No log of {name} has come, {wording.count(minutes, 'minute')} after the last of its mix: it was not copied, or "
                "that client never began, and the others had the air to themselves."
            )
            remedy = f"Copy its log; if there is none, repeat the whole mix {mix_of(row)} now."
            senses.append(Sense("role-missing", text, remedy, True, row.place))
    return senses


def silent_roles(measured: Sequence[Measured]) -> list[Sense]:
    """Roles of a mix of which no request was answered."""
    mixes: dict[str, list[Measured]] = defaultdict(list)
    for row in measured:
        if row.place[1] == "stations":
            mixes[mix_of(row)].append(row)
    senses = []
    for rows in mixes.values():
        silent = [row for row in rows if row.digest and not row.digest.get("finished")]
        answered = [row for row in rows if row.digest.get("finished")]
        for row in silent:
            made = round(row.digest.get("made", 0.0))
            name = station_name(row)
            beside = f", while {wording.count(len(answered), 'other role')} of this mix got theirs" if answered else ""
            nothing = f"None of the {made} requests of {name} was answered" if made else f"{name} made no request"
            why = (
                "that client was not connected or its generator did not run, and the others had the air to themselves."
                if answered
                else "the server did not answer, or the device broke down."
            )
            remedy = f"Look at the client, then repeat the whole mix {mix_of(row)} now: its other roles met less load than planned."
            senses.append(Sense("role-silent", f"{nothing}{beside}: {why}", remedy, True, row.place, row.log))
    return senses
