"""What the results of a day say until now: line, verdict, the promise anew, and what pays next."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builder import wording
from builder.bench.bench import Bench, labels
from builder.bench.cells import Group
from builder.pairs.compare import compare
from builder.pairs.verdicts import PairFigure
from builder.planning.answers import promise_text, rate_text, time_text
from builder.planning.costs import Costs
from builder.planning.forecasts import group_spread
from builder.watching.day_plan import DayPlan, PlanRow, day_plan, label_of
from builder.watching.day_runs import DayRun, day_runs
from builder.watching.line_so_far import cells_so_far, picture_so_far
from builder.watching.states import Measured, SoFar
from builder.watching.to_come import Key, Standing

BEHIND = 1.2  # of the promise of the plan
LEAST_CELLS = 3  # from which on the promise is worked out anew
LEAST_PLACES = 3  # of a line that a verdict is given on while the day goes on (own rule; the method asks for two)
NEXT_MINUTES = 10.0
WORTH, WORTH_MINUTES = 0.01, 30.0  # what less time has to take off, as the search of a plan has it
NEARLY = 0.15  # (practice) scatter nearer to the usual is called that


def so_far_of(
    measured: Sequence[Measured],
    *,
    before: Bench,
    after: Bench,
    document: Mapping[str, Any],
    plan: Sequence[PlanRow],
    costs: Costs,
    left_out: int = 0,
    made: DayPlan | None = None,
) -> SoFar:
    """What the day says until now.

    before    the bench of the catalogue alone
    after     the same with the day's good rows
    document  batch.toml
    plan      every row of the plan, done or not
    costs     minutes of runs, spots and swaps
    left_out  runs in question, which are neither in *measured* nor in *after*
    made      what `day_plan` gives of these rows, where the caller has kept it
    """
    made = made or day_plan(plan, before=before, document=document)
    if made is None:
        return SoFar()
    runs = day_runs(measured, after=after, document=document)
    done = _done(runs, made)
    group = made.group or next((run.group for run in runs if run.device == made.device.device and run.group), None)
    if not done or group is None:
        return SoFar(promise=_promised(made))
    figure = _figure(after, made, group)
    standing = _standing(before, after, made)
    again, behind = ("", False) if standing is None else _promise_anew(standing, done)
    return SoFar(
        picture=picture_so_far(after, made, group, figure),
        line=_line(after, made, group, done, left_out),
        verdict=_verdict(after, made, group, figure),
        promise=again or _promised(made),
        behind=behind,
        pays_next=""
        if standing is None
        else pays_next(standing, done, costs, here=_here(runs, made), then=_then(plan, measured, made)),
        cells=cells_so_far(after, made, group, done),
    )


def _standing(before: Bench, after: Bench, made: DayPlan) -> Standing | None:
    usual = None if made.lattice is None else group_spread(before, made.lattice.group)
    return None if made.lattice is None or usual is None else Standing(made, made.lattice, after, usual)


def _done(runs: Iterable[DayRun], made: DayPlan) -> dict[Key, int]:
    """Runs with a value, by cell of the plan."""
    done: dict[Key, int] = {}
    for run in runs:
        key = run.device, run.session, run.spot or run.at_spot
        if run.value is not None and key in made.cells:
            done[key] = done.get(key, 0) + 1
    return done


def _here(runs: Sequence[DayRun], made: DayPlan) -> Key | None:
    """Where client and device stand: the cell of the last run that came."""
    last = max(
        runs,
        key=lambda run: (
            (run.row.arrived is not None, run.row.arrived or run.row.started, run.row.order)
            if run.row.arrived is not None
            else (False, None, run.row.order)
        ),
        default=None,
    )
    if last is None:
        return None
    key = last.device, last.session, last.spot or last.at_spot
    return key if key in made.cells else None


def _then(plan: Sequence[PlanRow], measured: Sequence[Measured], made: DayPlan) -> Key | None:
    """The cell of the first row of the plan of which nothing has come."""
    come = {row.place for row in measured}
    left = [row.texts for row in sorted(plan, key=lambda row: row.order) if row.place not in come]
    keys = [(texts.get("device", ""), texts.get("session", ""), label_of(texts)) for texts in left]
    return next((key for key in keys if key in made.cells), None)


def _promised(made: DayPlan) -> str:
    if made.made is None:
        return f"What the plan promises cannot be worked out: {made.refused}" if made.refused else ""
    alone = made.other is None
    what = "the mean to ±" if alone else "that a difference of "
    return f"The plan promises {what}{promise_text(made.made, alone=alone)}."


def _figure(after: Bench, made: DayPlan, group: Group) -> PairFigure | None:
    """The comparison of the two at like loss in the group of the day."""
    if made.other is None:
        return None
    figures = compare(after, made.device, made.other, match="attenuation", only=made.only)
    return next((one for one in figures if one.group == group), figures[0] if figures else None)


def _line(after: Bench, made: DayPlan, group: Group, done: Mapping[Key, int], left_out: int) -> str:
    """How much of the plan is done, and how the line goes."""
    device = made.device.device
    planned = {key: often for key, often in made.cells.items() if key[0] == device}
    begun = sum(key in done for key in planned)
    own = sum(often for key, often in done.items() if key[0] == device)
    text = f"{made.device.model}: {begun} of {wording.count(len(planned), 'cell')} begun, {own} of {sum(planned.values())} runs."
    track = after.line(made.device, group, "attenuation")
    if track is not None and len(track.line.x) > 1:
        x, y = track.line.x, track.line.y
        text += (
            f" It goes from {wording.rate(float(y[0]))} Mbit/s at {wording.decibels(float(x[0]))} dB to "
            f"{wording.rate(float(y[-1]))} at {wording.decibels(float(x[-1]))} dB."
        )
    if left_out:
        runs = "run in question is" if left_out == 1 else "runs in question are"
        text += f" {wording.capital(wording.in_words(left_out))} {runs} left out."
    return text


def _verdict(after: Bench, made: DayPlan, group: Group, figure: PairFigure | None) -> str:
    """The comparison in its own words, or how much is missing for one."""
    if made.other is None or figure is None:
        return ""
    names = labels(made.device, made.other)
    for side, name in zip((made.device, made.other), names, strict=True):
        track = after.line(side, group, "attenuation")
        places = 0 if track is None else len(track.line.x)
        if places < LEAST_PLACES:
            missing = LEAST_PLACES - places
            more = f"{wording.in_words(missing)} more {'is' if missing == 1 else 'are'} needed"
            return (
                f"No verdict yet: {name} was measured at {wording.in_words(places)} "
                f"{'place' if places == 1 else 'places'}; {more}."
            )
    return figure.sentence


def _open(made: DayPlan, done: Mapping[Key, int]) -> dict[Key, int]:
    """Runs of the plan still to be made, by cell."""
    return {key: often - done.get(key, 0) for key, often in made.cells.items() if often > done.get(key, 0)}


def _promise_anew(standing: Standing, done: Mapping[Key, int]) -> tuple[str, bool]:
    """What the plan will show if the open runs come out as those of today did, and whether that is behind the promise."""
    made = standing.plan
    device = made.device.device
    measured = [key for key, cell in standing.today.items() if key[0] == device and cell.sd is not None]
    scatter = standing.own_scatter(device)
    if made.made is None or len(measured) < LEAST_CELLS or scatter is None:
        return "", False
    half = standing.half(standing.with_more(_open(made, done)))
    if not math.isfinite(half):
        return "", False
    behind = half > BEHIND * made.made.half
    begin = "With all runs of the plan" if _open(made, done) else "With what is measured"
    shown = f"{rate_text(half)} Mbit/s"
    what = f"the mean is known to ±{shown}" if made.other is None else f"a difference of {shown} would be shown"
    usual = abs(scatter - 1) < NEARLY
    times = "as usual here" if usual else f"{wording.number(scatter, 1)} times as much as is usual here"
    text = (
        f"{begin} {what}; the plan promised {rate_text(made.made.half)}. Runs of {made.device.model} scatter {times}."
    )
    return (f"Behind the plan: {wording.lowered(text)}" if behind else text), behind


@dataclass(frozen=True, slots=True)
class _Step:
    """Further runs of one cell: what they take, and the half-width with them. [min, Mbit/s]"""

    key: Key
    runs: int
    minutes: float
    half: float

    def gain(self, now: float) -> float:
        """Half-width taken off a minute."""
        return (now - self.half) / self.minutes


def pays_next(standing: Standing, done: Mapping[Key, int], costs: Costs, *, here: Key | None, then: Key | None) -> str:
    """What ten minutes bring most: which cell, how many runs, and from what to what the half-width goes.

    here  where client and device stand
    then  the cell that the plan has next
    """
    made = standing.plan
    if standing.uncovered(standing.cells):
        return _to_be_covered(standing, _open(made, done))
    now = standing.half(standing.cells)
    if not math.isfinite(now):
        return ""
    today = (here or then or next(iter(made.cells)))[1]
    devices = [made.device.device, *([made.other.device] if made.both and made.other is not None else [])]
    may_be = [(device, today, spot) for device in devices for spot in made.spots]
    steps = [step for key in may_be if (step := _step(standing, key, costs, here)) is not None]
    best = max(steps, key=lambda step: step.gain(now), default=None)
    if best is None or best.half > now * (1 - WORTH * best.minutes / WORTH_MINUTES):
        return f"Little pays now: thirty more minutes take off less than 1 % of the ±{rate_text(now)} Mbit/s."
    following = next((step for step in steps if step.key == then), None)
    text = f"Most for the next {NEXT_MINUTES:g} minutes: {_what(standing, best)}; {_from_to(now, best.half)}."
    if following is not None and following.key != best.key:
        text += f" What the plan has next, {_what(standing, following)}: {_from_to(now, following.half)}."
    return text


def _from_to(now: float, then: float) -> str:
    """ "±43 Mbit/s become ±40"; with a decimal where they would print the same."""
    first, last = rate_text(now), rate_text(then)
    if first == last:
        first, last = wording.number(now, 1), wording.number(then, 1)
    return f"±{first} Mbit/s stay as they are" if first == last else f"±{first} Mbit/s become ±{last}"


def _step(standing: Standing, key: Key, costs: Costs, here: Key | None) -> _Step | None:
    """As many runs of a cell as fit, at least two of a new one."""
    device, _, spot = key
    going = 0.0
    if here is not None and here[0] != device:
        going = costs.swap_minutes + costs.spot_minutes
    elif here is None or here[2] != spot:
        going = costs.spot_minutes
    runs = max(int((NEXT_MINUTES - going) / costs.run_minutes), 1 if key in standing.today else 2)
    half = standing.half(standing.with_more({key: runs}, stays=key if key == here else None))
    return _Step(key, runs, going + runs * costs.run_minutes, half) if math.isfinite(half) else None


def _what(standing: Standing, step: _Step) -> str:
    """ "6 more runs of Rondel 6 at S7 (10 min)"."""
    model = standing.after.devices[step.key[0]].model
    more = "more " if step.key in standing.today else ""
    runs = f"{step.runs} {more}{'run' if step.runs == 1 else 'runs'}"
    return f"{runs} of {model} at {step.key[2]} ({time_text(step.minutes)})"


def _to_be_covered(standing: Standing, left: Mapping[Key, int]) -> str:
    """While the range is not covered: which cells of the plan are missing for that."""
    open_cells = [key for key in left if key not in standing.today]
    if not open_cells:
        return ""
    for side in standing.uncovered(standing.cells):
        cells = [key for key in open_cells if key[0] == side.device]
        if cells:
            spots = wording.listing_of_many([key[2] for key in cells], 4)
            ends = wording.db_range(standing.lattice.low, standing.lattice.high)
            return f"The open cells of {side.model} come first: without {spots} the range of the plan, {ends} dB, is not covered."
    return ""
