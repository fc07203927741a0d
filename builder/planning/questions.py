"""What a plan is asked for, and why it cannot be made: sides, group, house, spots and the range it has to cover."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from builder import wording
from builder.bench.bench import Bench, Subject, firmware_by_date, subject_named
from builder.bench.cells import Group, usual
from builder.bench.naming import full_name
from builder.bench.tracks import EVERYTHING, GroupFilter, Track
from builder.planning.coverage import range_of
from builder.planning.forecasts import Spread, forecast, group_spread
from builder.planning.lattices import Lattice, Side
from builder.planning.places import Spot, spots_of
from catalog.errors import InputRefused
from catalog.method import MIN_KNOTS, WINDOW_NAMES
from catalog.records import Device

MOST_HOURS, MOST_DAYS = 200.0, 10
MOST_NAMED = 3  # groups in a refusal
LEAST_REPEATS, MOST_REPEATS = 2, 12  # of a cell


@dataclass(frozen=True, slots=True)
class Goal:
    """The difference to be shown: in Mbit/s, or in percent of the other device's mean over the range."""

    value: float
    percent: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """What was asked on the command line.

    window  its name; None for the widest range
    goal    None: the best that the hours allow
    hours   None for as many as pay
    days    sessions at most
    least   repeats of a cell at least
    """

    device: str
    against: str | None = None
    both: bool = False
    window: str | None = None
    only: GroupFilter = EVERYTHING
    goal: Goal | None = None
    hours: float | None = None
    days: int = 2
    least: int = 3


@dataclass(frozen=True)
class Ground:
    """What a plan is made over.

    mean   the other's mean over the range, or what is expected of the device where it is asked for by itself. [Mbit/s]
    notes  what was chosen, and what was left out
    """

    lattice: Lattice
    mean: float
    notes: tuple[str, ...]


def read_goal(text: str) -> Goal:
    """ "40" in Mbit/s or "5%" in percent.

    Raises  InputRefused for anything else.
    """
    typed = text.strip().replace(",", ".")
    match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(%|percent|mbit/s)?", typed, re.IGNORECASE)
    if match is None or not float(match[1]) > 0:
        raise InputRefused(f"{text!r} is no difference to show. Write Mbit/s, such as 40, or percent, such as 5%.")
    value, percent = float(match[1]), match[2] in ("%", "percent")
    if percent and value >= 100:
        raise InputRefused(f"{text!r} is no difference between two devices. Write less than 100%.")
    if value > 1e6:
        raise InputRefused(f"{text!r} is more than any access point carries. Write Mbit/s.")
    return Goal(value, percent)


def ground_of(bench: Bench, question: Question) -> Ground:
    """Everything a plan rests on.

    Raises  UnknownName for a name nobody entered; InputRefused where there is nothing to plan over, with the reason.
    """
    _refuse_limits(question)
    if not bench.cells:
        raise InputRefused("The catalogue holds no results yet, so nothing says what to expect. Enter some first.")
    if question.window not in (None, *WINDOW_NAMES):
        raise InputRefused(f"There is no window {question.window!r}. Windows are {wording.listing(WINDOW_NAMES)}.")
    device = _with_firmware(bench, subject_named(bench, question.device))
    other = None if question.against is None else subject_named(bench, question.against)
    if other is None and question.both:
        raise InputRefused("--both measures the other device again: name it with --against.")
    if other is None and question.goal is not None and question.goal.percent:
        raise InputRefused("Percent are of the other device's mean: name it with --against, or write Mbit/s.")
    if other is not None and _with_firmware(bench, other) == device:
        raise InputRefused("A device is not compared with itself. Name another one, or another firmware.")
    group, notes = _group(bench, question, device, other)
    spread = group_spread(bench, group)
    if spread is None:
        raise InputRefused(
            f"Nothing in {full_name(bench, group)} was repeated often enough to show how runs scatter. "
            "Measure one device three times, or declare house_spread under [method]."
        )
    sides = [one for one in (device, other) if one is not None]
    measured = [_on_axis(bench, one, group) for one in sides]
    house = _house(bench, group, measured)
    known = spots_of(bench, house, group.band, bench.cells_in.get(group, {}).get(device.device, ()))
    known = known or spots_of(bench, house, group.band, [cell for track in measured if track for cell in track.cells])
    spots, more = _forecastable(bench, sides, group, known, spread)
    notes += more
    if len(spots) < MIN_KNOTS:
        here = wording.count(len(spots), "spot")
        raise InputRefused(
            f"{bench.houses[house].name} has {here} in {wording.band(group.band)} with a known loss at which a device "
            f"of this group was tested. A range wants at least {wording.in_words(MIN_KNOTS)}; one spot shows no line."
        )
    low, high = range_of(bench, group, sides, measured, spots, window=question.window, both=question.both)
    of_sides = [
        Side(
            one,
            track.cells if track else (),
            forecast(bench, one, group, spots, spread),
            _client(bench, group, [*measured[::-1]]),
        )
        for one, track in zip(sides, measured, strict=True)
    ]
    lattice = Lattice(
        group=group,
        device=of_sides[0],
        other=of_sides[1] if other is not None else None,
        spots=spots,
        days=question.days,
        low=low,
        high=high,
        both=question.both,
        scatter=bench.scatter,
        inside=0 if question.window is not None else MIN_KNOTS,  # the mean over a window asks for no more than a line
    )
    if not lattice.covers(np.full((1, lattice.size), question.least)).all():
        raise InputRefused(
            f"Not even all spots cover {wording.db_range(low, high)} dB with at least {wording.in_words(MIN_KNOTS)} of each "
            "side inside of it."
        )
    if measured[0] is None:
        notes.append(f"{device.model} has no results here; the values expected are those of the median device.")
    if len(sides) > 1 and any(cell.bound for track in measured[1:] if track for cell in track.cells):
        notes.append(f"Some values of {sides[1].model} are lower bounds; against those only a least lead can be shown.")
    return Ground(lattice, lattice.own[1], tuple(notes))


def _refuse_limits(question: Question) -> None:
    if question.hours is not None and not 0 < question.hours <= MOST_HOURS:
        raise InputRefused(
            f"{question.hours:g} hours are no time to measure in. Write more than 0 and at most {MOST_HOURS:g}."
        )
    if question.least < LEAST_REPEATS:
        raise InputRefused(
            "A cell that is measured once shows no scatter, so none is planned. Write at least 2 repeats."
        )
    if question.least > MOST_REPEATS:
        raise InputRefused(f"At most {MOST_REPEATS} repeats of a cell are planned: more of them tell nothing new.")
    if not 1 <= question.days <= MOST_DAYS:
        raise InputRefused(f"{question.days} is no number of days to plan. Write 1 to {MOST_DAYS}.")


def _with_firmware(bench: Bench, subject: Subject) -> Subject:
    """A device without results is measured with its latest public firmware."""
    if subject.firmware:
        return subject
    versions = firmware_by_date(bench.devices[subject.device])
    public = [one for one in versions if one.public] or versions
    return replace(subject, firmware=public[-1].version) if public else subject


def _group(bench: Bench, question: Question, device: Subject, other: Subject | None) -> tuple[Group, list[str]]:
    """The group that is asked for; of several that with most devices."""
    asked, side = ("with" if other is None else "of", other or device)
    every = [group for group in bench.cells_in if not group.several_links]
    tested = [group for group in every if _on_axis(bench, side, group) is not None]
    if other is None and not tested:
        tested = every  # a device that is new is planned where the others were tested
    if other is not None and not tested and not question.both:
        raise InputRefused(
            f"{other.model} has no results at a known loss, so there is nothing to compare {device.model} with. "
            "With --both it is measured, too."
        )
    tested = tested or every
    able = [group for group in tested if _can(bench.devices[device.device], group)]
    fitting = [group for group in able if any(question.only.takes(cell) for cell in bench.cells_in_group(group))]
    if not fitting:
        names = [full_name(bench, one) for one in sorted(able, key=lambda one: one.sort_key)]
        where = "; ".join(names[:MOST_NAMED]) + (f"; and {len(names) - MOST_NAMED} more" if names[MOST_NAMED:] else "")
        tried = f"There are some in {where}." if able else f"{device.model} has no radio for what was tested."
        raise InputRefused(f"There are no results {asked} {side.model} under these conditions. {tried}")
    most = min(fitting, key=lambda g: (-len(bench.cells_in[g]), usual(g), g.sort_key))
    if len(fitting) == 1:
        return most, []
    return most, [f"{len(fitting)} groups fit; this is the one with most devices: {full_name(bench, most)}."]


def _can(device: Device, group: Group) -> bool:
    """Whether the device has a radio for the group; one without registered radios may have any."""
    widest = {radio.band: radio.max_width_mhz for radio in device.radios}
    return not widest or group.width_mhz <= widest.get(group.band, 0)


def _on_axis(bench: Bench, subject: Subject, group: Group) -> Track | None:
    return bench.line(subject, group, "attenuation")


def _house(bench: Bench, group: Group, measured: Sequence[Track | None]) -> str:
    """Where the other was tested, else the device, else most of the group."""
    for track in reversed(measured):
        if track is not None:
            return Counter(cell.house for cell in track.cells).most_common(1)[0][0]
    return Counter(cell.house for cell in bench.cells_in_group(group)).most_common(1)[0][0]


def _client(bench: Bench, group: Group, measured: Sequence[Track | None]) -> tuple[str, str | None]:
    """The client setup and driver that measured last: the other device, else the device, else any of the group."""
    for track in measured:
        if track is not None:
            last = max(track.cells, key=lambda cell: (cell.date, cell.client))
            return last.client, last.driver
    last = max(bench.cells_in_group(group), key=lambda cell: (cell.date, cell.client))
    return last.client, last.driver


def _forecastable(
    bench: Bench, sides: Sequence[Subject], group: Group, spots: Sequence[Spot], spread: Spread
) -> tuple[tuple[Spot, ...], list[str]]:
    """The spots at whose loss something is known of every side."""
    if not spots:
        return (), []
    known = np.all([np.isfinite(forecast(bench, one, group, spots, spread).values) for one in sides], axis=0)
    left_out = [spot.label for spot, is_known in zip(spots, known, strict=True) if not is_known]
    notes = []
    if left_out:
        notes.append(f"Left out, for no device of this group was tested so near or far: {wording.listing(left_out)}.")
    return tuple(spot for spot, is_known in zip(spots, known, strict=True) if is_known), notes


def goal_in_rate(goal: Goal, mean: float) -> float:
    """The half-width to be reached. [Mbit/s]"""
    value = goal.value / 100 * mean if goal.percent else goal.value
    return value if math.isfinite(value) else math.inf
