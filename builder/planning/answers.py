"""The answer in words: what a plan shows, or what stands in the way and what would help."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from builder import wording
from builder.bench.scatter import Scatter
from builder.bench.sides import Whole
from builder.bench.uncertainty import Term
from builder.planning.afterwards import Further
from builder.planning.costs import Costs
from builder.planning.lattices import Lattice
from builder.planning.promises import Promise

TERM_NAMES: Mapping[Term, str] = {
    "repeats": "the scatter of repeats",
    "session": "the day-to-day scatter",
    "placement": "standing there again",
    "spot": "what is not known of the spots' loss",
    "kit": "the offset of the reference kit",
}
_ORDINALS = (
    "One", "A second", "A third", "A fourth", "A fifth", "A sixth", "A seventh", "An eighth", "A ninth", "A tenth",
    "An eleventh",
)  # fmt: skip
NAMED_FROM = 0.15  # share of the variance from which on a term is named with its cure


@dataclass(frozen=True, slots=True)
class Size:
    """How much a plan asks for."""

    spots: int
    fewest: int
    most: int
    days: int
    runs: int
    minutes: float


def size_of(lattice: Lattice, repeats: Whole, minutes: float) -> Size:
    """Of one plan, shape (cells,)."""
    table = repeats.reshape(lattice.days, len(lattice.spots))
    taken = repeats[repeats > 0]
    return Size(
        spots=int((table > 0).any(axis=0).sum()),
        fewest=int(taken.min()) if len(taken) else 0,
        most=int(taken.max()) if len(taken) else 0,
        days=int((table > 0).any(axis=1).sum()),
        runs=int(repeats.sum()) * (2 if lattice.both else 1),
        minutes=minutes,
    )


def size_text(size: Size) -> str:
    """ "6 spots, 3 repeats, two days, 3 h 20 min"."""
    often = f"{size.fewest}" if size.fewest == size.most else f"{size.fewest} to {size.most}"
    days = f"{wording.in_words(size.days)} {'day' if size.days == 1 else 'days'}"
    return f"{wording.count(size.spots, 'spot')}, {often} repeats, {days}, {time_text(size.minutes)}"


def time_text(minutes: float) -> str:
    """ "3 h 20 min"; whole minutes, upward."""
    hours, rest = divmod(math.ceil(minutes - 1e-9), 60)
    return " ".join(
        part for part in (f"{hours} h" if hours else "", f"{rest} min" if rest or not hours else "") if part
    )


def rate_text(value: float) -> str:
    """A half-width: whole from 10 on, one decimal below. [Mbit/s]"""
    return wording.number(value, _decimals(value))


def promise_text(made: Promise, *, alone: bool) -> str:
    """ "41 Mbit/s would be shown, likely 34–50", rounded outward; of one device *alone* "41 Mbit/s, likely 34–50"."""
    decimals = _decimals(made.half)
    step = 10**-decimals
    low, high = math.floor(made.low / step + 1e-6) * step, math.ceil(made.high / step - 1e-6) * step
    known = "" if alone else " would be shown"
    return f"{wording.number(made.half, decimals)} Mbit/s{known}, likely {wording.between(low, high, decimals)}"


def _decimals(value: float) -> int:
    return 0 if value >= 10 else 1


def shown(size: Size, made: Promise, shares: Mapping[Term, float], *, alone: bool) -> str:
    """The sentence of a plan that is worth its time."""
    what = "the mean would be known to ±" if alone else "a difference of "
    text = promise_text(made, alone=alone)
    largest = max(shares, key=lambda term: shares[term])
    most = f"{wording.number(100 * shares[largest], 0)} % of the variance is {TERM_NAMES[largest]}"
    if not size.runs:
        return f"Nothing has to be measured: with what is there {what}{text}; {most}."
    return f"{size_text(size)}: {what}{text}; {most}."


def never(goal: float, limit: float) -> str:
    """No number of repeats is enough."""
    return (
        f"No number of repeats shows {rate_text(goal)} Mbit/s: with repeats without end at any of these spots and on all "
        f"the days it would still be {rate_text(limit)}."
    )


def not_reached(goal: float, best: float, df_at_fault: float | None) -> str:
    """Up to thirty repeats are not enough."""
    text = f"{rate_text(goal)} Mbit/s is not reached with up to 30 repeats a cell; best {rate_text(best)}."
    if df_at_fault is not None:
        text += (
            f" The cause is how little is known of the scatter ({wording.number(df_at_fault, 0)} degrees of freedom): more "
            "runs can even widen an interval."
        )
    return text


def more_repeats(goal: float, repeats: int, minutes: float) -> str:
    """Reached with more repeats than a plan takes."""
    return (
        f"{rate_text(goal)} Mbit/s takes {repeats} repeats a cell, {time_text(minutes)}; a plan takes at most 12, for days and "
        "places soon weigh more than repeats."
    )


def not_in_time(goal: float, hours: float, needed: float, best: float | None) -> str:
    """Reached, but not in the hours that there are."""
    only = "" if best is None else f"; best is {rate_text(best)}"
    given = time_text(60 * hours)
    return f"{rate_text(goal)} Mbit/s does not fit into {given}{only}. It takes {time_text(needed)}."


def day_more(days: int, half: float, goal: float) -> str:
    """What a further session brings."""
    how = "which is enough" if half <= goal else "still not enough"
    return f"{_ORDINALS[days]} session brings it to {rate_text(half)}, {how}."


def levelled(minutes: float) -> str:
    """More time would hardly help."""
    return f"Beyond {time_text(minutes)}, 30 more minutes would take off less than 1 %."


def further(taken: Sequence[Further], left_out: Sequence[Further]) -> list[str]:
    """What is planned behind the single runs, and what does not fit any more."""
    sentences = []
    if taken:
        minutes = sum(one.minutes for one in taken)
        sentences.append(f"Then {wording.listing([one.name for one in taken])}: {time_text(minutes)} more.")
    if left_out:
        sentences.append(f"No time is left for {wording.listing([one.name for one in left_out])}.")
    return sentences


def cures(shares: Mapping[Term, float], scatter: Scatter, house: str) -> list[str]:
    """The terms that are left, the largest first, and what makes each smaller."""
    lines = []
    for term in sorted(shares, key=lambda one: -shares[one]):
        if shares[term] < NAMED_FROM:
            break
        text = f"{wording.number(100 * shares[term], 0)} % is {TERM_NAMES[term]}: {_CURES[term]}"
        known = scatter.day(house).source if term == "session" else scatter.placement(house).source
        if term in ("session", "placement") and known == "assumed":
            text += "; it is assumed, and more sessions of the reference device would show it"
        elif term in ("session", "placement") and known == "measured":
            text += "; more sessions of the reference device would make it surer"
        lines.append(f"{text}.")
    return lines


_CURES: Mapping[Term, str] = {
    "repeats": "more repeats",
    "session": "another day, or both devices on the same day (--both)",
    "placement": "more spots, or standing there again",
    "spot": "reading the spots again",
    "kit": "both devices in spots read with the same kit, at like slopes",
}


def cost_text(costs: Costs) -> str:
    """What the minutes rest on."""
    parts = [
        f"{name} {wording.trimmed(minutes, 1)} min ({costs.sources[key]})"
        for name, key, minutes in (
            ("a run", "run_minutes", costs.run_minutes),
            ("a change of spot", "spot_minutes", costs.spot_minutes),
            ("a new session", "session_minutes", costs.session_minutes),
            ("a change of the device", "swap_minutes", costs.swap_minutes),
        )
    ]
    return f"Minutes: {wording.listing(parts)}."


def listed(sentences: Sequence[str]) -> str:
    """Sentences as one text."""
    return " ".join(sentence for sentence in sentences if sentence)
