"""The verdict on the difference of two weighted means (method.md, sections 3 and 4)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from builder import wording
from builder.comparisons import refusals
from builder.comparisons.bench import Bench, Subject, labels
from builder.comparisons.bounds import apart, decide_with_bounds
from builder.comparisons.cells import Cell
from builder.comparisons.pair_sentences import Verdict
from builder.comparisons.uncertainty import Match, Uncertainty, Weighted, standard_uncertainty
from builder.comparisons.verdicts import PairFigure, verdict_sentence
from builder.metrics.intervals import two_sided_p


def difference_uncertainty(
    bench: Bench, sides: Sequence[Weighted], *, match: Match, pool: Sequence[Cell]
) -> Uncertainty | None:
    """Uncertainty of a value or a difference with this bench's constants and day-to-day spreads."""
    return standard_uncertainty(sides, match=match, pool=pool, constants=bench.constants, spreads=bench.spreads)


def judged(bench: Bench, base: PairFigure, a: Weighted, b: Weighted, *, pool: Sequence[Cell]) -> PairFigure:
    """The verdict on the difference of two weighted means; *base* names the place, *a* has sign +1 and *b* -1."""
    name_a, name_b = labels(base.a, base.b)
    mean_a, mean_b = a.mean, b.mean
    figure = replace(
        base, mean_a=mean_a, mean_b=mean_b, bound_a=_holds_bound(a), bound_b=_holds_bound(b),
        port_a=_port(bench, base.a, a), port_b=_port(bench, base.b, b),
        n_a=sum(c.n for c, _, _ in a.entries()), n_b=sum(c.n for c, _, _ in b.entries()),
    )  # fmt: skip
    if figure.bound_a and figure.bound_b:
        return _without_figures(figure, "undecided", "two-bounds", refusals.two_bounds(name_a, name_b))
    difference = float(apart(mean_a, mean_b))
    spread = difference_uncertainty(bench, (a, b), match=base.match, pool=pool)
    if spread is None:
        once = any(c.sd is None for c, _, _ in a.entries())
        names = (name_a, name_b) if once else (name_b, name_a)
        held = name_a if figure.bound_a else name_b if figure.bound_b else None
        figure = _without_figures(figure, "no-verdict", "single-run", refusals.single_run(*names, held=held))
        return figure if held else replace(figure, difference=difference)
    half = spread.half_width
    figure = replace(figure, half_width=half, effective_df=spread.df, assumed=spread.assumed)
    if figure.bound_a or figure.bound_b:
        return _bounded(figure, spread, name_a, name_b)
    verdict: Verdict = "separated" if abs(difference) > half else "not-separated"
    return _spoken(
        replace(
            figure, verdict=verdict, difference=difference,
            ratio=mean_a / mean_b if mean_b else None,
            standard_uncertainty=spread.u, interval=(difference - half, difference + half),
            p=two_sided_p(difference, spread.u, spread.df),
        )
    )  # fmt: skip


def _bounded(figure: PairFigure, spread: Uncertainty, name_a: str, name_b: str) -> PairFigure:
    assert figure.mean_a is not None
    assert figure.mean_b is not None
    decided = decide_with_bounds(
        figure.mean_a, figure.mean_b, bound_a=figure.bound_a, bound_b=figure.bound_b, half_width=spread.half_width
    )
    lead = float(apart(figure.mean_a, figure.mean_b)) * (1 if figure.bound_a else -1)
    if decided.leader is None:
        capped, other = (name_a, name_b) if figure.bound_a else (name_b, name_a)
        sentence = refusals.bound_within_noise(
            capped, other, wording.number(lead, figure.decimals, signed=True),
            wording.number(spread.half_width, figure.decimals),
        )  # fmt: skip
        return _without_figures(figure, "undecided", decided.code, sentence)
    return _spoken(
        replace(
            figure, verdict="at-least", leader=decided.leader, difference=decided.least_lead, crossings=(),
            p=two_sided_p(decided.least_lead, spread.u, spread.df),
        )
    )  # fmt: skip


def _without_figures(figure: PairFigure, verdict: Verdict, code: str | None, sentence: str) -> PairFigure:
    """A verdict that forbids every figure but the two means."""
    return replace(
        figure, verdict=verdict, code=code, sentence=sentence, crossings=(), half_width=None, effective_df=None,
        assumed=(),
    )  # fmt: skip


def _port(bench: Bench, who: Subject, side: Weighted) -> float | None:
    return bench.limits.ports[who.device] if side.at_port else None


def _holds_bound(side: Weighted) -> bool:
    return any(cell.bound for cell, _, _ in side.entries())


def _spoken(figure: PairFigure) -> PairFigure:
    return replace(figure, sentence=verdict_sentence(figure))
