"""The verdict on the difference of two weighted means (method.md, sections 3 and 4): of one pair, or of many at once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, get_args

import numpy as np

from builder import wording
from builder.bench.bench import Bench, Subject, labels
from builder.bench.bounds import apart
from builder.bench.cells import Cell
from builder.bench.sides import Whole
from builder.bench.uncertainty import SideSums, Uncertainties, summed, uncertainties
from builder.bench.weighted import Weighted
from builder.metrics.intervals import half_width, two_sided_p
from builder.pairs.sentences import Verdict, pair_sentence
from builder.pairs.verdicts import PairFigure, verdict_sentence

VERDICTS: tuple[Verdict, ...] = get_args(Verdict)
JUDGED_CODES = ("", "two-bounds", "single-run", "bound-within-noise")


@dataclass(frozen=True, slots=True)
class Unjudged:
    """Two weighted means to be compared; *base* names the pair and the place.

    pools  of each side, the cells from which its single runs take their spread
    """

    base: PairFigure
    a: Weighted
    b: Weighted
    pools: tuple[Sequence[Cell], Sequence[Cell]]


def judged(bench: Bench, every: Sequence[Unjudged]) -> list[PairFigure]:
    """The verdicts on differences of one match, in words: all at once, because one by one takes ten times as long."""
    if not every:
        return []
    sides = [side for one in every for side in (one.a, one.b)]
    pools = [pool for one in every for pool in one.pools]
    cells, sums = summed(bench, sides, match=every[0].base.match, pools=pools)
    of_a = np.arange(0, len(sides), 2)
    uncertainty = uncertainties(cells, sums, of_a, of_a + 1, scatter=bench.scatter)
    columns = {name: values.tolist() for name, values in judge(sums, uncertainty, of_a, of_a + 1).items()}
    return [
        _in_words(bench, one, {name: values[i] for name, values in columns.items()}, uncertainty.assumed_by(i))
        for i, one in enumerate(every)
    ]


def _in_words(bench: Bench, one: Unjudged, row: Mapping[str, Any], assumed: tuple[str, ...]) -> PairFigure:
    base, verdict = one.base, VERDICTS[row["verdict"]]
    judged_as: dict[str, Any] = {
        "verdict": verdict,
        "code": JUDGED_CODES[row["code"]] or None,
        "port_a": _port(bench, base.a, held=row["port_a"]),
        "port_b": _port(bench, base.b, held=row["port_b"]),
        **{name: row[name] for name in ("mean_a", "mean_b", "bound_a", "bound_b", "n_a", "n_b")},
    }
    if verdict in ("undecided", "no-verdict"):
        difference = None if math.isnan(row["difference"]) else row["difference"]
        figure = replace(base, **judged_as, crossings=(), difference=difference)
        return replace(figure, sentence=_why_not(figure, row))
    judged_as |= {name: row[name] for name in ("difference", "half_width", "p")}
    if verdict == "at-least":
        judged_as |= {"leader": "b" if row["b_leads"] else "a", "crossings": ()}
    else:
        ends = row["difference"] - row["half_width"], row["difference"] + row["half_width"]
        ratio = None if math.isnan(row["ratio"]) else row["ratio"]
        judged_as |= {"ratio": ratio, "standard_uncertainty": row["standard_uncertainty"], "interval": ends}
    by_practice = _slope_by_practice(one.a, one.b)
    figure = replace(base, **judged_as, assumed=(*assumed, *by_practice), effective_df=row["df"])
    return replace(figure, sentence=verdict_sentence(figure))


def _why_not(figure: PairFigure, row: Mapping[str, Any]) -> str:
    """The sentence of a pair without a verdict."""
    name_a, name_b = labels(figure.a, figure.b)
    if figure.code == "two-bounds":
        return pair_sentence("two bounds", a=name_a, b=name_b)
    if figure.code == "single-run":
        capped = [figure.bound_b, figure.bound_a] if row["once_is_b"] else [figure.bound_a, figure.bound_b]
        which = "no spread" if row["no_spread"] else "single run"
        which += ", held" if capped[0] else ", other held" if capped[1] else ""
        one, other = (name_b, name_a) if row["once_is_b"] else (name_a, name_b)
        return pair_sentence(which, one=one, other=other)
    assert figure.mean_a is not None
    assert figure.mean_b is not None
    lead = float(apart(figure.mean_a, figure.mean_b)) * (1 if figure.bound_a else -1)
    one, other = (name_a, name_b) if figure.bound_a else (name_b, name_a)
    return pair_sentence(
        "bound within noise",
        one=one,
        other=other,
        lead=wording.number(lead, figure.decimals, signed=True),
        needed=wording.number(row["half_width"], figure.decimals),
    )


def _port(bench: Bench, subject: Subject, *, held: bool) -> float | None:
    return bench.limits.ports[subject.device] if held else None


def _slope_by_practice(*sides: Weighted) -> tuple[str, ...]:
    return ("slope_per_db",) if any(side.slope_assumed for side in sides) else ()


def judge(sums: SideSums, uncertainty: Uncertainties, a: Whole, b: Whole) -> dict[str, Any]:
    """Verdicts on p differences a - b with the figures each allows, nan for those it forbids; arrays of shape (p,).

    sums, a, b  the sides that were summed up, and which of them make each pair
    uncertainty      the uncertainties of the differences
    """
    mean_a, mean_b = sums.mean[a], sums.mean[b]
    bound_a, bound_b = sums.bound[a], sums.bound[b]
    difference = apart(mean_a, mean_b)
    half = half_width(uncertainty.u, uncertainty.df)
    lead = np.where(bound_b, -difference, difference)
    one_bound, capped, two = bound_a ^ bound_b, bound_a | bound_b, bound_a & bound_b
    unknown, known = ~two & ~uncertainty.known, ~two & uncertainty.known
    at_least, within = known & one_bound & (lead > half), known & one_bound & ~(lead > half)
    exact = known & ~capped
    separated, judged_pairs = exact & (np.abs(difference) > half), exact | at_least
    once_is_b = unknown & ~sums.once[a]
    nothing = np.nan
    return {
        "verdict": np.select(
            [two | within, unknown, at_least, separated],
            [place_of("undecided"), place_of("no-verdict"), place_of("at-least"), place_of("separated")],
            place_of("not-separated"),
        ),
        "code": np.select([two, unknown, within], range(1, len(JUDGED_CODES)), 0),
        "once_is_b": once_is_b,
        "no_spread": unknown & ~np.where(once_is_b, sums.alone[b], sums.alone[a]),
        "mean_a": mean_a,
        "mean_b": mean_b,
        "bound_a": bound_a,
        "bound_b": bound_b,
        "port_a": sums.at_port[a],
        "port_b": sums.at_port[b],
        "n_a": sums.n[a],
        "n_b": sums.n[b],
        # The least lead: less than that it is in one case of twenty at most.
        "difference": np.where(at_least, lead - half, np.where(exact | (unknown & ~capped), difference, nothing)),
        "ratio": np.divide(mean_a, mean_b, out=np.full(len(a), nothing), where=exact & (mean_b != 0)),
        "standard_uncertainty": np.where(exact, uncertainty.u, nothing),
        # What a bound would have had to lead by is printed with its refusal, too.
        "half_width": np.where(judged_pairs | within, half, nothing),
        "df": np.where(judged_pairs, uncertainty.df, nothing),
        "p": np.where(judged_pairs, two_sided_p(difference, uncertainty.u, uncertainty.df), 1.0),
        "b_leads": np.where(at_least, bound_b, separated & (difference < 0)),
    }


def place_of(verdict: Verdict) -> int:
    """The number of a verdict in arrays."""
    return VERDICTS.index(verdict)
