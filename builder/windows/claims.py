"""Claims a sentence would like to make, and the refusals it gets instead (method.md, section 11).

Each function gives a Claim that the results carry, or a Refusal with its code and its sentence. Pairs, links and
rankings refuse by themselves; here is what only a sentence would say.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from builder import wording
from builder.bench.bench import Bench, Subject, cells_of_subject, current_firmware, labels, subject_named
from builder.bench.cells import Cell, natural
from builder.pairs import refusals
from builder.pairs.refusals import Refusal
from builder.pairs.unit_agreement import against_other_units, units_with_values
from builder.pairs.verdicts import PairFigure
from builder.windows.ranking import Ranking, rank_figure
from builder.windows.standing import ranked_entry, rate_text, reason


@dataclass(frozen=True, slots=True)
class Claim:
    """A sentence the results carry, and the ids of the figures it rests on."""

    sentence: str
    figures: tuple[str, ...]


def fastest_claim(ranking: Ranking, subject: Subject | None = None, *, of_unit: bool = False) -> Claim | Refusal:
    """ "Fastest tested" in a window: only if a device is separated from every other one with results there.

    Refused while any candidate is capped, does not cover the window, or is not separated from it, and of a model whose
    units disagree.

    subject      whom the sentence is about; None: the first of the ranking
    of_unit  it is about this unit only, so that other units of its model do not matter
    """
    place = f"in the {ranking.window} window ({wording.db_range(*ranking.range)} dB)"
    if subject is None and not ranking.ranked:
        return Refusal("candidate-not-decided", f"No device covers the {ranking.window} window, so none is fastest.")
    leader = subject or ranking.ranked[0].subject
    if why := _undecided(ranking, leader):
        return Refusal("candidate-not-decided", refusals.candidate_not_decided(leader.model, place, "; ".join(why)))
    entry = ranked_entry(ranking, leader.device)
    assert entry is not None
    if entry.units_disagree and not of_unit:
        only = f"What unit {leader.unit} gave {place} is not claimed of the others."
        return Refusal("units-disagree", refusals.units_disagree(leader.model, only))
    return Claim(
        f"{leader.model} is the fastest tested {place} of {len(ranking.ranked)} ranked: "
        f"{wording.rate(entry.value, bound=entry.bound)} Mbit/s.",
        (entry.figure, rank_figure(ranking, leader.device)),
    )


def _undecided(ranking: Ranking, subject: Subject) -> list[str]:
    """Why a device cannot be called the first of a window, candidate by candidate; none where it is."""
    entry = ranked_entry(ranking, subject.device)
    left_out = next((n for n in ranking.not_ranked if n.subject.device == subject.device), None)
    if left_out is not None:
        return [f"it is {reason(left_out).rstrip('.')}"]
    if entry is None:
        return ["it has no results there"]
    if (entry.subject.unit, entry.subject.firmware) != (subject.unit, subject.firmware):
        return [f"only {entry.subject.firmware}, unit {entry.subject.unit}, is ranked of it"]
    others = [e for e in ranking.ranked if e.subject.device != subject.device]
    results = [
        f"{e.subject.model} ({rate_text(e)} Mbit/s) was held back by the client or the lab" for e in others if e.bound
    ]
    results += [f"{n.subject.model} is {reason(n).rstrip('.')}" for n in ranking.not_ranked]
    if entry.worst != 1:
        ranks = wording.ranks(entry.best, entry.worst, len(ranking.ranked))
        results.append(f"with {rate_text(entry)} Mbit/s it is {ranks}, for the tests do not tell it from the others")
    return results or ([] if others else ["no other device covers the window"])


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
        ahead, behind = labels(figure.a, figure.b) if figure.difference >= 0 else labels(figure.b, figure.a)
        return Refusal(
            "firmware-within-noise",
            refusals.firmware_within_noise(
                ahead,
                behind,
                wording.number(abs(figure.difference), figure.decimals),
                wording.number(figure.half_width, figure.decimals),
                one_day=len(_sessions(bench, figure)) == 1,
            ),
        )
    assert figure.code is not None
    return Refusal(figure.code, figure.sentence)


def model_claim(bench: Bench, device_id: str) -> Claim | Refusal:
    """Whether one unit may speak for the model: refused where two units with one firmware are separated.

    Raises  UnknownName for a device nobody entered.
    """
    subject = subject_named(bench, device_id)
    firmware = current_firmware(bench, device_id) or subject.firmware
    units = units_with_values(bench, replace(subject, firmware=firmware))
    results: dict[str, PairFigure] = {}
    for unit in units:
        for figure in against_other_units(bench, subject_named(bench, f"{device_id}@{firmware}", unit=unit)):
            if natural(figure.a.unit) < natural(figure.b.unit):
                results[figure.figure] = figure
    for figure in results.values():
        if figure.verdict in ("separated", "at-least"):
            return Refusal("units-disagree", refusals.units_disagree(subject.model, figure.sentence))
    if not units:
        return Claim(f"No unit of {subject.model} was tested yet.", ())
    if len(units) < 2:
        return Claim(f"One unit of {subject.model} was tested; how units differ is not known.", ())
    compared = tuple(name for name, figure in results.items() if figure.verdict == "not-separated")
    agree = "could not be told apart" if compared else "were never tested alike"
    return Claim(f"{len(units)} units of {subject.model} were tested and {agree}.", compared)


def _sessions(bench: Bench, figure: PairFigure) -> set[tuple[str, str]]:
    cells: list[Cell] = [c for subject in (figure.a, figure.b) for c in cells_of_subject(bench, subject, figure.group)]
    if figure.match == "spot":
        cells = [c for c in cells if c.spot == figure.spot and (c.spot_since or None) == figure.epoch]
    return {(c.house, c.session) for c in cells if c.mean is not None}
