"""Claims a sentence would like to make, and the refusals it gets instead (method.md, section 11).

Each function gives a Claim that the results carry, or a Refusal with its code and its sentence. Pairs, links and
rankings refuse by themselves; here is what only a sentence would say.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

from builder import wording
from builder.comparisons import refusals
from builder.comparisons.bench import Bench, cells_of_subject, current_firmware, labels, subject
from builder.comparisons.cells import Cell, natural
from builder.comparisons.collapses import RATE_FROM_RUNS, Count
from builder.comparisons.heating import rise_of
from builder.comparisons.matched import compare
from builder.comparisons.ranking import Ranking
from builder.comparisons.refusals import Refusal
from builder.comparisons.roles import RoleResult
from builder.comparisons.uncertainty import Match
from builder.comparisons.verdicts import PairFigure
from builder.metrics.heat import rises_separated
from catalog.digesting.latency import Percentile
from catalog.records import Heat

_MATCHES: tuple[Match, ...] = ("attenuation", "spot")


@dataclass(frozen=True, slots=True)
class Claim:
    """A sentence the results carry, and the ids of the figures it rests on."""

    sentence: str
    figures: tuple[str, ...]


def fastest_claim(ranking: Ranking) -> Claim | Refusal:
    """ "Fastest tested" in a window: only if the first device is separated from every other one with results there.

    Refused while any candidate is capped, does not cover the window, or cannot be told from the first.
    """
    place = f"in the {ranking.window} window ({wording.db_range(*ranking.range)} dB)"
    if not ranking.ranked:
        return Refusal("candidate-not-decided", f"No device covers the {ranking.window} window, so none is fastest.")
    first, others = ranking.ranked[0], ranking.ranked[1:]
    open_ = [entry for entry in others if entry.best == 1]
    why = ""
    if open_ and (first.bound or any(entry.bound for entry in open_)):
        capped = [entry.who.model for entry in (first, *open_) if entry.bound]
        why = f"{wording.listing(capped)} {'was' if len(capped) == 1 else 'were'} held back by the client or the lab"
    elif open_:
        why = f"the tests cannot tell {wording.listing([e.who.model for e in open_])} from it"
    elif first.worst > 1:
        why = "judged together, the tests cannot tell the others from it"
    elif ranking.not_ranked:
        missing = [n.who.model for n in ranking.not_ranked]
        why = f"{wording.listing(missing)} {'does' if len(missing) == 1 else 'do'} not cover the window"
    if why:
        return Refusal("candidate-not-decided", refusals.candidate_not_decided(first.who.model, place, why))
    among = f" of {len(ranking.ranked)} ranked" if others else ", the only one ranked"
    return Claim(
        f"{first.who.model} is the fastest tested {place}{among}: "
        f"{wording.rate(first.value, bound=first.bound)} Mbit/s.",
        (first.figure,),
    )


def firmware_claim(bench: Bench, figure: PairFigure) -> Claim | Refusal:
    """Whether a firmware made a device faster or slower, from its comparison with the one before it.

    figure   the two firmwares of one unit, compared at like loss or at one spot
    Raises   ValueError for a figure of two devices or units.
    """
    if (figure.a.device, figure.a.unit) != (figure.b.device, figure.b.unit):
        raise ValueError("a firmware claim needs one unit of one device on both sides")
    if figure.verdict in ("separated", "at-least"):
        return Claim(figure.sentence, (figure.figure,))
    if figure.verdict == "not-separated":
        assert figure.difference is not None
        assert figure.half_width is not None
        return Refusal(
            "firmware-within-noise",
            refusals.firmware_within_noise(
                *labels(figure.a, figure.b),
                wording.rate_difference(figure.difference, decimals=figure.decimals),
                wording.number(figure.half_width, figure.decimals),
                one_day=len(_sessions(bench, figure)) == 1,
            ),
        )
    assert figure.code is not None
    return Refusal(figure.code, figure.sentence)


def model_claim(bench: Bench, device_id: str) -> Claim | Refusal:
    """Whether one unit may speak for the model: refused where two units with one firmware are told apart.

    Raises  UnknownName for a device nobody entered.
    """
    who = subject(bench, device_id)
    firmware = current_firmware(bench, device_id) or who.firmware
    cells = [c for c in bench.cells_of.get(device_id, ()) if c.firmware == firmware and c.mean is not None]
    units = sorted({c.unit for c in cells}, key=natural)
    found: list[PairFigure] = []
    for one, other in combinations(units, 2):
        sides = [subject(bench, f"{device_id}@{firmware}", unit=unit) for unit in (one, other)]
        for match in _MATCHES:
            found += compare(bench, *sides, match=match)
    for figure in found:
        if figure.verdict in ("separated", "at-least"):
            return Refusal("units-disagree", refusals.units_disagree(who.model, figure.sentence))
    if len(units) < 2:
        return Claim(f"One unit of {who.model} was tested; how units differ is not known.", ())
    compared = tuple(f.figure for f in found if f.verdict == "not-separated")
    agree = "could not be told apart" if compared else "were never tested alike"
    return Claim(f"{len(units)} units of {who.model} were tested and {agree}.", compared)


def both_directions_claim(name: str) -> Refusal:
    """The sum of down and up, which is always refused."""
    return Refusal("sum-of-directions", refusals.sum_of_directions(name))


def collapse_rate(count: Count) -> float | Refusal:
    """Share of runs that did not finish, from 20 runs on; below that there are only counts. [1]"""
    if count.runs < RATE_FROM_RUNS:
        return Refusal("too-few-runs", refusals.too_few_runs(count.sentence, RATE_FROM_RUNS))
    return count.collapsed / count.runs


def percentile_claim(role: RoleResult, percent: int, *, finished_only: bool = False) -> Percentile | Refusal:
    """A percentile of a role as a sentence may state it.

    percent        one of catalog.digesting.latency.PERCENTS
    finished_only  over the finished requests alone
    Raises         ValueError for a role without requests, or a percentile that is not kept.
    """
    name = role.role.role_id
    if not role.percentiles:
        raise ValueError(role.sentence)
    found = next((p for p in role.percentiles if p.percent == percent), None)
    if found is None:
        kept = ", ".join(str(p.percent) for p in role.percentiles)
        raise ValueError(f"percentile {percent} is not kept; {kept} are")
    if finished_only and role.verdict == "did-not-finish":
        return Refusal("finished-only-percentile", refusals.finished_only_percentile(name, percent))
    if found.thin:
        return Refusal("thin-percentile", refusals.thin_percentile(name, percent, role.planned or 0))
    return found


def hotter_claim(a: Heat, b: Heat, *, name_a: str, name_b: str) -> Claim | Refusal:
    """Which of two surfaces rises more above its room, at one load after equal minutes on one material."""
    unlike = [
        what
        for what, differs in (
            ("load", a.load != b.load),
            ("minutes", a.minutes != b.minutes),
            ("material", a.material != b.material),
            ("mount", a.mount != b.mount),
        )
        if differs
    ]
    if unlike:
        return Refusal("unequal-conditions", refusals.heat_unlike(name_a, name_b, wording.listing(unlike)))
    rise_a, rise_b = rise_of(a), rise_of(b)
    if rise_a is None or rise_b is None:
        return Refusal("unequal-conditions", refusals.heat_without_room(name_a if rise_a is None else name_b))
    if not rises_separated(rise_a, rise_b):
        texts = name_a, wording.kelvin(rise_a), name_b, wording.kelvin(rise_b)
        return Refusal("heat-within-reading", refusals.heat_within_reading(*texts))
    hot, cool = (name_a, name_b) if rise_a > rise_b else (name_b, name_a)
    return Claim(f"{hot} rises {wording.kelvin(abs(rise_a - rise_b))} more above the room than {cool}.", ())


def _sessions(bench: Bench, figure: PairFigure) -> set[tuple[str, str]]:
    cells: list[Cell] = [c for who in (figure.a, figure.b) for c in cells_of_subject(bench, who, figure.group)]
    if figure.match == "spot":
        cells = [c for c in cells if c.spot == figure.spot and (c.spot_since or None) == figure.epoch]
    return {(c.house, c.session) for c in cells if c.mean is not None}
