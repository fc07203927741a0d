"""From a binding to the words that stand in for it, with all that must be known beside a number.

Every text comes from builder.wording or from a comparison's own sentence: an article has the digits of the pages.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from builder import wording
from builder.articles import mix_quotes, observations
from builder.articles.bindings import Binding, NotBound
from builder.articles.evidence import Evidence, group_of, line_of, pair_of, subject_of, window_of
from builder.articles.quotes import RATE_UNIT, SPACE, Quote, dates_of, figures_of, whose
from builder.bench.bench import Subject, cells_of_subject, firmware_by_date, labels
from builder.bench.bounds import PORT_LIMITS
from builder.bench.cells import Cell, Group
from builder.bench.summed_up import AS_NOTED, NO_SPREAD, summaries_of
from builder.pairs.verdicts import PairFigure, summaries_text
from builder.windows.ranking import rank_figure
from builder.windows.reach import is_rate, reach_of, reach_text
from builder.windows.standing import ranked_entry


def quote(evidence: Evidence, binding: Binding) -> Quote:
    """The present words of a binding that is neither a claim nor a figure.

    Raises  NotBound: it names something unknown or withdrawn, or a figure that the method refuses.
    """
    return _QUOTED[binding.kind](evidence, binding)


def _value(evidence: Evidence, binding: Binding) -> Quote:
    subject = subject_of(evidence, binding.subjects[0])
    group = group_of(evidence, binding, [subject])
    places = [name for name in ("at", "window", "spot") if name in binding.options]
    if len(places) != 1:
        raise NotBound("A value needs one place: at DECIBELS, window NAME or spot NAME.")
    if places == ["spot"]:
        return _spot_value(evidence, binding, subject, group)
    line = line_of(evidence, subject, group)
    if places == ["window"]:
        name = binding.options["window"]
        low, high = window_of(evidence, group, name)
        what = f"mean over the {name} window, {wording.db_range(low, high)} dB"
    else:
        low = high = _decibels(binding.options["at"])
        what = f"throughput at {wording.decibels(low)} dB"
    if not line.line.covers(low, high):
        tested = wording.listing([f"{wording.db_range(*piece)} dB" for piece in line.line.pieces])
        raise NotBound(f"{subject.model} was not tested there: its line covers {tested}.")
    weighted = line.at(low) if low == high else line.over(low, high)
    entries = weighted.used
    bound = any(cell.bound for cell in entries)
    return Quote(
        _rate(weighted.mean, bound=bound),
        _noted(what, entries),
        whose(subject),
        evidence.names[group].text,
        dates_of(entries),
        weighted.runs,
        (subject.device,),
        figures=figures_of(entries),
        mark=wording.held_by_port(evidence.bench.limits.ports[subject.device]) if weighted.at_port else "",
    )


def _spot_value(evidence: Evidence, binding: Binding, subject: Subject, group: Group) -> Quote:
    spot, session = binding.options["spot"], binding.options.get("session")
    cells = [c for c in cells_of_subject(evidence.bench, subject, group) if c.mean is not None]
    wanted = [c for c in cells if c.spot == spot and session in (None, c.session)]
    if not wanted:
        spots = wording.listing(list(dict.fromkeys(c.spot for c in cells if c.spot))) or "no spot"
        raise NotBound(f"{subject.model} has no such result at {spot}; it was measured at {spots}.")
    if len(wanted) > 1:
        sessions = wording.listing(list(dict.fromkeys(c.session for c in wanted)), "or")
        raise NotBound(f"{subject.model} was measured at {spot} {len(wanted)} times; name the session: {sessions}.")
    (cell,) = wanted
    assert cell.mean is not None
    return Quote(
        _rate(cell.mean, bound=cell.bound),
        _noted(f"throughput at {spot}", [cell]),
        whose(subject),
        evidence.names[group].text,
        dates_of([cell]),
        cell.n,
        (subject.device,),
        figures=figures_of([cell]),
        mark=wording.held_by_port(evidence.bench.limits.ports[subject.device]) if cell.limit in PORT_LIMITS else "",
    )


def _noted(what: str, cells: Sequence[Cell]) -> str:
    """What is quoted, and which summaries it rests on."""
    summaries = summaries_of(cells)
    return f"{what} ({', '.join(summaries)}, {AS_NOTED})" if summaries else what


def _decibels(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError as failure:
        raise NotBound(f"{text!r} is not a number in dB.") from failure


def _rate(value: float, *, bound: bool = False) -> str:
    return wording.rate(value, bound=bound).replace(" ", SPACE) + RATE_UNIT


def _difference(evidence: Evidence, binding: Binding) -> Quote:
    figure = pair_of(evidence, binding)
    if figure.verdict == "undecided" or figure.difference is None:
        raise NotBound(figure.sentence)
    name_a, name_b = labels(figure.a, figure.b)
    quoted = pair_quote(evidence, figure, difference_text(figure), f"{name_a} minus {name_b}")
    return replace(quoted, mark=held_text(figure))


def difference_text(figure: PairFigure) -> str:
    """A difference with its interval, a least lead, or a difference that has no interval and says so."""
    assert figure.difference is not None
    if figure.verdict == "at-least":
        name_a, name_b = labels(figure.a, figure.b)
        leader = name_a if figure.leader == "a" else name_b
        least = wording.number(figure.difference, figure.decimals)
        return f"at least {least}{RATE_UNIT} for {leader}"
    low = figure.difference if figure.interval is None else figure.interval[0]
    signed = low < 0  # of a difference that is surely more the words around it say whose
    text = wording.number(figure.difference, figure.decimals, signed=signed) + RATE_UNIT
    if figure.interval is None:
        return f"{text} ({NO_SPREAD if figure.summaries_a or figure.summaries_b else 'single run'}, no interval)"
    return f"{text} ({wording.likely(wording.between(*figure.interval, figure.decimals, signed=signed))})"


def lead_text(figure: PairFigure) -> str:
    """By how much the faster one leads, without a sign: "30 Mbit/s, likely 7–53", "at least 180 Mbit/s"."""
    assert figure.difference is not None
    gain = wording.number(abs(figure.difference), figure.decimals) + RATE_UNIT
    if figure.verdict == "at-least":
        return f"at least {gain}"
    if figure.interval is None:
        return gain
    low, high = sorted(map(abs, figure.interval))
    return f"{gain}, {wording.likely(wording.between(low, high, figure.decimals))}"


def _ratio(evidence: Evidence, binding: Binding) -> Quote:
    figure = pair_of(evidence, binding)
    if figure.ratio is None:
        raise NotBound(figure.sentence)
    name_a, name_b = labels(figure.a, figure.b)
    quoted = pair_quote(evidence, figure, wording.ratio(figure.ratio), f"{name_a} over {name_b}")
    return replace(quoted, mark=held_text(figure))


def held_text(figure: PairFigure) -> str:
    """Whose port held a value back: "held back by Rondel 4's 1 Gbit/s port"; "" for nobody's."""
    ports = zip(labels(figure.a, figure.b), (figure.port_a, figure.port_b), strict=True)
    held = [f"{name}'s {wording.port_speed(port)} port" for name, port in ports if port is not None]
    return f"held back by {wording.listing(held)}" if held else ""


def _verdict(evidence: Evidence, binding: Binding) -> Quote:
    figure = pair_of(evidence, binding)
    return pair_quote(evidence, figure, figure.sentence, "verdict")


def pair_quote(evidence: Evidence, figure: PairFigure, text: str, what: str) -> Quote:
    """A quote of a comparison."""
    assert figure.group is not None
    place = {
        "attenuation": "in the same place",
        "level": "at the same signal",
        "spot": f"at {figure.spot}",
    }[figure.match]
    if figure.range is not None:
        unit = "dBm" if figure.match == "level" else "dB"
        span = wording.dbm_range if figure.match == "level" else wording.db_range
        place += f", {span(*figure.range)} {unit}"
    rests = summaries_text(figure)
    cells = [
        c
        for subject, group in ((figure.a, figure.group), (figure.b, figure.group_b or figure.group))
        for c in cells_of_subject(evidence.bench, subject, group)
        if c.mean is not None and figure.spot in (None, c.spot)
    ]
    return Quote(
        text,
        f"{what}, {place}" + (f" (summaries {AS_NOTED}. {rests})" if rests else ""),
        whose(figure.a, figure.b),
        " against ".join(evidence.names[group].text for group in (figure.group, figure.group_b) if group),
        dates_of(cells),
        figure.n_a + figure.n_b,
        tuple(dict.fromkeys([figure.a.device, figure.b.device])),
        figures=(figure.figure, *figures_of(cells)),
    )


def _rank(evidence: Evidence, binding: Binding) -> Quote:
    subject = subject_of(evidence, binding.subjects[0])
    if subject.settings:
        raise NotBound(f"{subject.model} with {subject.under} is in no ranking: rankings name no settings.")
    group = group_of(evidence, binding, [subject])
    name = binding.required("window")
    low_high = window_of(evidence, group, name)
    ranking = evidence.ranked(group, name)
    entry = ranked_entry(ranking, subject.device)
    if entry is None:
        left_out = next((n for n in ranking.not_ranked if n.subject.device == subject.device), None)
        raise NotBound(left_out.sentence if left_out else f"{subject.model} has no place in this ranking.")
    if (entry.subject.unit, entry.subject.firmware) != (subject.unit, subject.firmware):
        raise NotBound(f"Only {entry.subject.firmware}, unit {entry.subject.unit}, is ranked of {subject.model}.")
    cells = cells_of_subject(evidence.bench, subject, group)
    return Quote(
        wording.ranks(entry.best, entry.worst, len(ranking.ranked)),
        _noted(f"rank interval in the {name} window, {wording.db_range(*low_high)} dB", cells),
        whose(subject),
        evidence.names[group].text,
        dates_of(cells),
        entry.n,
        (subject.device,),
        figures=(entry.figure, rank_figure(ranking, subject.device), *figures_of(cells)),
    )


def _reach(evidence: Evidence, binding: Binding) -> Quote:
    subject = subject_of(evidence, binding.subjects[0])
    group = group_of(evidence, binding, [subject])
    typed = binding.required("rate")
    try:
        rate = float(typed.replace(",", "."))
    except ValueError as failure:
        raise NotBound(f"{typed!r} is not a rate in Mbit/s.") from failure
    if not is_rate(rate):
        raise NotBound(f"{typed!r} is not a rate in Mbit/s.")
    line = line_of(evidence, subject, group)
    where = reach_of(evidence.bench, line, rate)
    if where.db is None:
        raise NotBound(f"{subject.model} has no reach at {wording.trimmed(rate, 1)} Mbit/s: {reach_text(where)}.")
    return Quote(
        f"{reach_text(where)}{SPACE}dB",
        _noted(f"loss at which {wording.trimmed(rate, 1)} Mbit/s are left", line.cells),
        whose(subject),
        evidence.names[group].text,
        dates_of(line.cells),
        sum(c.n for c in line.cells),
        (subject.device,),
        figures=figures_of(line.cells),
    )


def _firmware(evidence: Evidence, binding: Binding) -> Quote:
    subject = subject_of(evidence, binding.subjects[0])
    device = evidence.bench.devices[subject.device]
    if not subject.firmware:
        raise NotBound(f"{subject.model} has no firmware with results.")
    released = next((f.released for f in firmware_by_date(device) if f.version == subject.firmware), None)
    what = f"firmware released {wording.date(released)}" if released else "firmware"
    cells = cells_of_subject(evidence.bench, subject)
    return Quote(subject.firmware, what, whose(subject), "", dates_of(cells), 0, (subject.device,))


def _tested(evidence: Evidence, binding: Binding) -> Quote:
    subject = subject_of(evidence, binding.subjects[0])
    group = group_of(evidence, binding, [subject]) if binding.conditions else None
    cells = [c for c in cells_of_subject(evidence.bench, subject, group) if c.mean is not None]
    if not cells:
        raise NotBound(f"{subject.model} has no results, so there is no day of a test.")
    return Quote(
        dates_of(cells),
        "days of the tests",
        whose(subject),
        evidence.names[group].text if group else "",
        "",
        sum(c.n for c in cells),
        (subject.device,),
    )


_QUOTED: Mapping[str, Callable[[Evidence, Binding], Quote]] = {
    "value": _value,
    "difference": _difference,
    "ratio": _ratio,
    "verdict": _verdict,
    "rank": _rank,
    "reach": _reach,
    "firmware": _firmware,
    "tested": _tested,
    **observations.QUOTED,
    **mix_quotes.QUOTED,
}


# Kinds whose words have been others: what was published of them is their numbers.
_REWORDED = ("difference", "rank", "verdict", "waits")
_FIGURE = re.compile(r"(at least |≥ ?)?([−-]?)(\d+(?:[.,]\d+)*)( behind)?")
# A verdict that two are not told apart, by its figures: as it is said, and as it was said ("A minus B is −7").
_LEANING = re.compile(r"(?:was|came out| minus .+ is) [+]?(\S+) Mbit/s.*?likely (.+?); a difference of (\S+)")


def figures_in(text: str) -> list[str] | str:
    """The numbers of a text with their signs and bounds, whatever the words between them; a text without any, whole."""
    plain = " ".join(text.split())
    leaning = _LEANING.search(plain)
    if leaning:
        lead, low, high, half = _numbers(" ; ".join(leaning.groups()))
        return [_negative(lead), _negative(high), _negative(low), half] if lead[0] == "−" else [lead, low, high, half]
    return _numbers(plain) or plain


def _numbers(plain: str) -> list[str]:
    return [
        f"{'≥' if least else ''}{'−' if minus or behind else ''}{digits}"
        for least, minus, digits, behind in _FIGURE.findall(plain)
    ]


def _negative(number: str) -> str:
    return number[1:] if number[0] == "−" else f"−{number}" if number.strip("0.,") else number


def frozen(binding: Binding, live: Quote) -> Quote:
    """A quote that keeps its value: as published and when, and what the catalogue says now if that is another."""
    assert binding.frozen is not None
    kept, day = binding.frozen
    alike = figures_in if binding.kind in _REWORDED else str.split
    same = alike(kept) == alike(live.text)
    now = "" if same else f"; the catalogue now says {live.text.rstrip('.')}"
    return replace(live, text=f"{kept} (as published {wording.date(day)}{now})")
