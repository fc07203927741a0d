"""What is said of logs whose instants do not fit: swapped, another day's, an hour off, or at an impossible time."""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from builder import wording
from builder.watching.clocks import (
    AHEAD_S,
    DAY_S,
    HOUR_S,
    IN_PLACE_S,
    NEAR_S,
    USUAL_WITHIN_S,
    Timed,
    after_later,
    came_in_turn,
    in_turn_of,
    out_of_turn,
)
from builder.watching.day_runs import DayRun
from builder.watching.expecting import RARE, Expected, Expecting
from builder.watching.repeats import Odd
from builder.watching.states import Place, Sense

AFTER_MIDNIGHT_H = 6  # (practice) a day on the bench may last until then


def swapped(
    runs: Sequence[DayRun], odd: Sequence[Odd], every: Sequence[Timed], expecting: Expecting
) -> list[tuple[DayRun, DayRun, str]]:
    """Pairs of runs whose logs lie in each other's place, each with what shows it."""
    by_place = {one.row.place: one for one in every}
    off_places = {one.run.row.place for one in odd}
    suspects = [
        run
        for run in runs
        if run.row.place in off_places
        or ((log := by_place.get(run.row.place)) and (log.impossible or abs(log.off_s) > USUAL_WITHIN_S))
    ]
    pairs: list[tuple[DayRun, DayRun, str]] = []
    taken: set[Place] = set()
    for one in suspects:
        for other in runs:
            alike = (one.session, one.client) == (other.session, other.client) and one is not other
            if not alike or {one.row.place, other.row.place} & taken:
                continue
            how = _exchanged(one, other, by_place, every, off_places, expecting)
            if how:
                first, second = sorted((one, other), key=lambda run: run.row.order)
                pairs.append((first, second, how))
                taken |= {one.row.place, other.row.place}
    return pairs


def _exchanged(
    one: DayRun,
    other: DayRun,
    by_place: Mapping[Place, Timed],
    every: Sequence[Timed],
    off: set[Place],
    expecting: Expecting,
) -> str:
    """What shows that two logs lie in each other's place; "" where nothing does."""
    a, b = by_place.get(one.row.place), by_place.get(other.row.place)
    if a is None or b is None:  # without instants only the values speak
        both = {one.row.place, other.row.place} <= off
        return "each gives what the other’s place leads to" if both and _values_fit(one, other, expecting) else ""
    assert a.row.started is not None
    assert b.row.started is not None
    here = abs((a.row.started - a.turn).total_seconds()) > USUAL_WITHIN_S
    there = abs((b.row.started - b.turn).total_seconds()) > USUAL_WITHIN_S
    apart = abs((a.row.started - b.row.started).total_seconds()) > IN_PLACE_S
    crossed = all(
        abs((x.row.started - y.turn).total_seconds()) <= IN_PLACE_S for x, y in ((a, b), (b, a)) if x.row.started
    )
    if here and there and apart and crossed:
        begins = "each begins when it was the other’s turn"
        return f"{begins}, and gives what the other’s place leads to" if _values_fit(one, other, expecting) else begins
    # Renamed after they came, or copied late; then the order of the plan speaks, with the values.
    if one.row.place not in off or not out_of_turn(a, every) or not _values_fit(one, other, expecting):
        return ""
    astray = out_of_turn(a, every, apart_from=b) and out_of_turn(b, every, apart_from=a)
    if astray and in_turn_of(a, b, every) and in_turn_of(b, a, every):
        return "each gives what the other’s place leads to, and begins between the runs around that"
    return ""


def _values_fit(one: DayRun, other: DayRun, expecting: Expecting) -> bool:
    """Whether each of two values is unusual in its place and usual in the other's."""
    if not one.value or not other.value or one.cell == other.cell:
        return False
    at_one, at_other = _expected_at(one, other, expecting), _expected_at(other, one, expecting)
    if at_one is None or at_other is None:
        return False
    exchanged = min(at_one.odds_of(other.value), at_other.odds_of(one.value))
    as_is = min(at_one.odds_of(one.value), at_other.odds_of(other.value))
    return as_is < RARE <= exchanged


def _expected_at(run: DayRun, other: DayRun, expecting: Expecting) -> Expected | None:
    siblings = [one.value for one in expecting.of_cell[run.cell] if one not in (run, other) and one.value is not None]
    spread = expecting.spread_of(run)
    if not siblings or spread is None:
        return expecting.from_elsewhere(run, without=(run, other))
    # Of another visit, maybe: standing there again counts.
    wide = math.hypot(spread * math.sqrt(1 + 1 / len(siblings)), 2**0.5 * expecting.standing_again(run))
    return Expected(statistics.median(siblings), wide)


def swap_senses(pairs: Sequence[tuple[DayRun, DayRun, str]]) -> list[Sense]:
    """Both logs of a pair are named, each at its row."""
    senses = []
    for first, second, how in pairs:
        text = f"The logs of {first.name} and {second.name} look swapped: {how}."
        remedy = f"Give each file the other’s name, or repeat {first.name} and {second.name} if you are not sure."
        senses += [
            Sense("logs-swapped", text, remedy, grave=True, place=run.row.place, log=run.row.log)
            for run in (first, second)
        ]
    return senses


def day_senses(
    every: Sequence[Timed], names: Mapping[Place, str], days: Mapping[str, date], zone: ZoneInfo
) -> tuple[list[Sense], set[Place]]:
    """Logs of another day than their session, and the rows that this speaks for: of a whole session it is said once."""
    sessions: dict[str, list[tuple[Timed, date]]] = defaultdict(list)
    for one in every:
        if one.row.started is not None:
            sessions[one.client[0]].append((one, one.row.started.astimezone(zone).date()))
    senses: list[Sense] = []
    rows: set[Place] = set()
    for session, logs in sessions.items():
        if (day := days.get(session)) is None:
            continue
        others = [(one, of) for one, of in logs if of != day and not _goes_on(one, of, day, zone)]
        if len(others) > 1 and len({of for _, of in others}) == 1 and len(others) == len(logs):
            last, of = others[-1]
            rows |= {one.row.place for one, _ in others}
            text = (
                f"All {len(others)} logs are of {wording.date(of.isoformat())}, and the session {session} is of "
                f"{wording.date(day.isoformat())}."
            )
            senses.append(
                Sense(
                    "wrong-day",
                    text,
                    "Correct the date of the session in batch.toml.",
                    True,
                    last.row.place,
                    last.row.log,
                )
            )
            continue
        for one, of in others:
            rows.add(one.row.place)
            away = (of - day).days
            apart = f"{wording.in_words(abs(away))} {'day' if abs(away) == 1 else 'days'}"
            name, side = names[one.row.place], "before" if away < 0 else "after"
            shifted = abs(one.off_s - away * DAY_S) <= NEAR_S
            why = (
                f"It came when {name} was due, so the clock of {one.client[1]} was {apart} off, or an older log was copied."
                if shifted
                else "It is an older log, or a clock was wrong."
            )
            text = (
                f"The log of {name} is of {wording.date(of.isoformat())}, {apart} {side} its session "
                f"({wording.date(day.isoformat())}). {why}"
            )
            remedy = f"Set the clock and repeat {name} now, or put today’s log in its place."
            senses.append(Sense("wrong-day", text, remedy, True, one.row.place, one.row.log))
    return senses, rows


def _goes_on(one: Timed, of: date, day: date, zone: ZoneInfo) -> bool:
    """Whether a log is of the night after the day, in its turn."""
    assert one.row.started is not None
    early = one.row.started.astimezone(zone).hour < AFTER_MIDNIGHT_H
    return of == day + timedelta(days=1) and early and abs(one.off_s) <= USUAL_WITHIN_S


def clock_senses(
    every: Sequence[Timed],
    names: Mapping[Place, str],
    delays: Mapping[tuple[str, str], float],
    odd: Mapping[Place, Odd],
    zone: ZoneInfo,
) -> list[Sense]:
    """Logs whose clock was full hours off, or that begin at a time that was not theirs; once for a whole client."""
    senses = []
    counts: dict[tuple[str, str], list[Timed]] = defaultdict(list)
    for one in every:
        counts[one.client].append(one)
    for client, delay in delays.items():
        whole = round(-delay / HOUR_S)
        if whole and abs(-delay - whole * HOUR_S) <= NEAR_S:
            last = counts[client][-1].row
            senses.append(
                Sense("clock-off", *_of_client(client[1], len(counts[client]), whole), True, last.place, last.log)
            )
        elif delay < -AHEAD_S:
            last = counts[client][-1].row
            text = f"The logs of {client[1]} end {_span(-delay)} after they came: its clock is ahead of this machine’s."
            senses.append(Sense("clock-off", text, f"Set the clock of {client[1]}.", True, last.place, last.log))
    for one in every:
        if abs(one.off_s) <= USUAL_WITHIN_S and (not one.impossible or delays.get(one.client, 0.0) < -AHEAD_S):
            continue  # in its turn, or as far off as its whole client
        name = names[one.row.place]
        late = out_of_turn(one, every)
        hours = one.hours
        beside = _beside(odd.get(one.row.place))
        if hours is not None and (hours > 0 or late or (one.by_arrival and came_in_turn(one, every))):
            side = "ahead" if hours > 0 else "behind"
            apart = f"{wording.in_words(abs(hours))} {'hour' if abs(hours) == 1 else 'hours'}"
            text = (
                f"The log of {name} begins at {_clock(one.row.started, zone)}, when its turn was at {_clock(one.turn, zone)}: "
                f"its clock is {apart} {side}, or a time zone is missing{beside}."
            )
            remedy = f"Set the clock of {one.client[1]}, then repeat {name} now, or correct the times of its log."
            senses.append(Sense("clock-off", text, remedy, True, one.row.place, one.row.log))
        elif one.impossible or (late and abs(one.off_s) > USUAL_WITHIN_S):
            came = (
                f"ends {_span(-one.lag_s)} after it came"
                if one.impossible
                else f"begins at {_clock(one.row.started, zone)}, {_out_of_turn(one, every)}"
            )
            text = f"The log of {name} {came}: it is another run’s log, or a clock is wrong{beside}."
            remedy = f"Look whose log it is; repeat {name} now if nobody knows."
            senses.append(Sense("other-time", text, remedy, True, one.row.place, one.row.log))
    return senses


def _of_client(client: str, count: int, hours: int) -> tuple[str, str]:
    apart = f"{wording.in_words(abs(hours))} {'hour' if abs(hours) == 1 else 'hours'}"
    if hours > 0:
        return (
            f"All {count} logs of {client} are {apart} ahead of this machine: its clock is, or a time zone is missing.",
            f"Set the clock of {client}, and correct the times of these logs.",
        )
    return (
        f"The {count} logs of {client} end {apart} before they came: its clock is behind, a time zone is missing, or they "
        "were copied so late.",
        f"Compare the clock of {client} with this machine’s.",
    )


def _out_of_turn(one: Timed, every: Sequence[Timed]) -> str:
    return "after runs that the plan has later" if after_later(one, every) else "before runs that the plan has earlier"


def _beside(odd: Odd | None) -> str:
    """What else speaks for another run's log."""
    if odd is None:
        return ""
    side = "under" if odd.off < 0 else "over"
    return f"; it also gives {wording.number(100 * abs(odd.off), 0)} % {side} what this cell should"


def _clock(when: datetime | None, zone: ZoneInfo) -> str:
    return "" if when is None else f"{when.astimezone(zone):%H:%M}"


def _span(seconds: float) -> str:
    minutes = round(seconds / 60)
    return wording.count(max(minutes, 1), "minute") if minutes < 120 else f"{minutes / 60:.1f} hours"
