"""Claims of an article, tested: below the half-width, or while a candidate is open, they are not printed."""

from __future__ import annotations

from dataclasses import replace

from builder import wording
from builder.articles.bindings import Binding, NotBound
from builder.articles.evidence import Evidence, group_of, pair_of, subject_of, window_of
from builder.articles.mix_claims import copes_better
from builder.articles.observations import heat_reading
from builder.articles.quotes import Quote, dates_of, whose
from builder.articles.quoting import held_text, lead_text, pair_quote
from builder.bench.bench import Subject, labels
from builder.bench.cells import Cell, Group
from builder.pairs.refusals import Refusal, units_disagree
from builder.pairs.unit_agreement import disagreement
from builder.pairs.verdicts import PairFigure
from builder.registers.heat import hotter_claim
from builder.registers.prices import cheaper_claim
from builder.windows.claims import fastest_claim, firmware_claim
from builder.windows.standing import ranked_entry

_MOST_YEARS = 20


def claimed(evidence: Evidence, binding: Binding) -> Quote:
    """The words of a claim that the tests carry.

    Raises  NotBound with the numbers: the tests do not carry it.
    """
    if binding.link in ("hotter", "cheaper"):
        return _observed(evidence, binding)
    if binding.link == "copes":
        return copes_better(evidence, binding)
    if binding.subjects[1] == "all":
        return _leads_all(evidence, binding)
    if "window" in binding.options:
        raise NotBound("A window goes with “claim A leads all”; two devices are compared over their shared range.")
    figure = pair_of(evidence, binding)
    for subject, typed in zip((figure.a, figure.b), binding.subjects, strict=True):
        if "/" not in typed:
            _require_agreeing_units(evidence, subject, figure.group)
    name_a, name_b = labels(figure.a, figure.b)
    if binding.link == "alike":
        if figure.verdict != "not-separated":
            raise NotBound(f"That {name_a} and {name_b} cannot be told apart is not so: {figure.sentence}")
        return pair_quote(evidence, figure, binding.words or f"{name_a} and {name_b} cannot be told apart", "claim")
    if figure.verdict not in ("separated", "at-least"):
        raise NotBound(f"That {name_a} leads {name_b} is not carried by the tests: {_why_not(evidence, figure)}")
    if figure.ahead != "a":
        raise NotBound(f"That {name_a} leads {name_b} is not so: {figure.sentence}")
    if binding.words:
        return pair_quote(evidence, figure, binding.words, "claim")
    lead = pair_quote(evidence, figure, f"{name_a} leads {name_b} by {lead_text(figure)}", "claim")
    return replace(lead, mark=held_text(figure))


def _observed(evidence: Evidence, binding: Binding) -> Quote:
    """That a surface is hotter, or a device cheaper over some years, than another."""
    a, b = (subject_of(evidence, text) for text in binding.subjects)
    name_a, name_b = labels(a, b)
    if binding.link == "hotter":
        one, other = (heat_reading(evidence, binding, subject) for subject in (a, b))
        claim = hotter_claim(one, other, name_a=name_a, name_b=name_b)
        conditions = f"{one.face}, {one.load}, after {wording.trimmed(one.minutes, 2)} min"
    else:
        years = _years(binding)
        prices = (evidence.prices.get(subject.device, ()) for subject in (a, b))
        claim = cheaper_claim(*prices, years=years, name_a=name_a, name_b=name_b)
        conditions = f"over {wording.trimmed(years, 2)} years"
    if isinstance(claim, Refusal):
        raise NotBound(claim.sentence)
    if not claim.sentence.startswith(f"{name_a} {'rises' if binding.link == 'hotter' else 'costs less'}"):
        raise NotBound(f"That {name_a} is {binding.link} than {name_b} is not so: {claim.sentence}")
    devices = tuple(dict.fromkeys([a.device, b.device]))
    return Quote(binding.words or claim.sentence, "claim", whose(a, b), conditions, "", 0, devices)


def _years(binding: Binding) -> float:
    try:
        years = float(binding.options["years"].replace(",", "."))
    except (KeyError, ValueError) as failure:
        raise NotBound("“claim A cheaper B” needs years, a number.") from failure
    if not 0 <= years <= _MOST_YEARS:
        raise NotBound(f"Costs are compared over 0 to {_MOST_YEARS} years.")
    return years


def _why_not(evidence: Evidence, figure: PairFigure) -> str:
    """Why a comparison carries no lead: the refusal for two firmwares, else the sentence of the comparison."""
    if (figure.a.device, figure.a.unit) == (figure.b.device, figure.b.unit):
        claim = firmware_claim(evidence.bench, figure)
        if isinstance(claim, Refusal):
            return f"{claim.sentence}{_numbers(figure)}"
    return f"{figure.sentence}{_numbers(figure)}"


def _numbers(figure: PairFigure) -> str:
    """Lead and half-width side by side, with as many decimals as it takes to tell them apart."""
    if figure.difference is None or figure.half_width is None:
        return ""
    alike = wording.rounded(abs(figure.difference), figure.decimals) == wording.rounded(
        figure.half_width, figure.decimals
    )
    decimals = figure.decimals + 1 if alike else figure.decimals
    lead = wording.number(abs(figure.difference), decimals)
    return f" A lead of {lead} Mbit/s is within the half-width of {wording.number(figure.half_width, decimals)}."


def _require_agreeing_units(evidence: Evidence, subject: Subject, group: Group | None) -> None:
    """Units of one model that differ carry no claim of the model."""
    difference = disagreement(evidence.bench, subject, group)
    if difference is not None:
        units = " or ".join(f"{subject.device}/{side.unit}" for side in (difference.a, difference.b))
        raise NotBound(f"{units_disagree(subject.model, difference.sentence)} Name a unit: {units}.")


def _leads_all(evidence: Evidence, binding: Binding) -> Quote:
    subject = subject_of(evidence, binding.subjects[0])
    if binding.link != "leads":
        raise NotBound("Only “leads” can be claimed of all.")
    name = binding.options.get("window")
    if name is None:
        raise NotBound("“claim A leads all” needs a window: near, middle or far.")
    group = group_of(evidence, binding, [subject])
    low_high = window_of(evidence, group, name)
    ranking = evidence.ranked(group, name)
    claim = fastest_claim(ranking, subject, of_unit="/" in binding.subjects[0])
    if isinstance(claim, Refusal):
        raise NotBound(claim.sentence)
    entry = ranked_entry(ranking, subject.device)
    assert entry is not None
    span = f"{wording.db_range(*low_high)} dB"
    return Quote(
        binding.words or f"{subject.model} leads every other device",
        f"claim, {name} window, {span}",
        whose(subject),
        evidence.names[group].text,
        dates_of(_cells(evidence, group)),
        entry.n,
        (subject.device,),
        figures=claim.figures,
    )


def _cells(evidence: Evidence, group: Group) -> list[Cell]:
    return [c for c in evidence.bench.cells_in_group(group) if c.mean is not None]
