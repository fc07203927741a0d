"""The claim that one device copes better than another in a role, while several clients are busy."""

from __future__ import annotations

from collections.abc import Sequence

from builder import wording
from builder.articles.bindings import Binding, NotBound
from builder.articles.evidence import Evidence
from builder.articles.mix_quotes import broke_off_text
from builder.articles.mix_runs import is_role, only_of_role, plan_text, runs_of
from builder.articles.quotes import Quote, whose
from builder.bench.bench import labels
from builder.under_load.arrangements import likeness
from builder.under_load.collapses import count
from builder.under_load.mix_comparisons import MixComparison, RoleComparison, mix_comparisons
from builder.under_load.mixes import MixResult


def copes_better(evidence: Evidence, binding: Binding) -> Quote:
    """The words of a claim that one device copes better with a role.

    It holds where the shares in time are separated (under_load.mix_comparisons), or only the other device broke off, in
    every arrangement of machines in which both did the workload.

    Raises  NotBound with the numbers: it does not, or nothing both did is alike.
    """
    role = binding.required("role")
    (a, runs_a), (b, runs_b) = (runs_of(evidence, binding, text) for text in binding.subjects)
    if (a.id, a.unit, a.firmware) == (b.id, b.unit, b.firmware):
        raise NotBound("Both sides are the same unit with the same firmware.")
    if a.settings != b.settings:
        raise NotBound("Runs with several clients are compared under the same settings only.")
    names = labels(a, b)
    claimed = f"That {names[0]} copes better with {role} than {names[1]}"
    for name, runs in zip(names, (runs_a, runs_b), strict=True):
        if all(run.excluded for run in runs):
            raise NotBound(f"{claimed} is not carried by the tests: no run of {name} counts, for {runs[-1].excluded}.")
    comparisons = mix_comparisons(evidence.bench, a, runs_a, {b.device: runs_b})
    alike = [one for one in comparisons if one.kind != "company-differs"]
    if not alike:
        raise NotBound(f"{claimed} is not carried by the tests. {comparisons[0].sentence}")
    by_id = {run.mix.mix: run for run in (*runs_a, *runs_b)}
    compared = [tuple([by_id[mix] for mix in side] for side in one.mixes) for one in alike]
    roles = [_role(one, role, binding.options.get("client")) for one in alike]
    sentences = [_carried(claimed, result, names, sides) for result, sides in zip(roles, compared, strict=True)]
    every = [run for sides in compared for side in sides for run in side]
    first, other = compared[0][0][0], compared[0][1][0]
    like = likeness(first.arrangement, other.arrangement)
    days = sorted(run.mix.date[:10] for run in every)
    return Quote(
        binding.words or sentences[0],
        f"claim, with machines {'all alike' if alike[0].kind == 'alike' else 'alike but for one'}: {sentences[0]}",
        whose(a, b),
        plan_text(evidence, first),
        wording.date_range(days[0], days[-1]),
        len({run.mix.mix for run in every}),
        tuple(dict.fromkeys([a.device, b.device])),
        figures=tuple(dict.fromkeys(r.figure for run in every for r in run.roles if is_role(r.role, role))),
        mark=like.difference if alike[0].kind == "one-seat-replaced" else "",
    )


def _role(comparison: MixComparison, name: str, client: str | None) -> RoleComparison:
    """What a comparison says of one role of one client. Raises NotBound: none, or several."""
    return only_of_role(
        comparison.workload, name, client, [(one.role, one.clients[0], one) for one in comparison.roles]
    )


def _carried(
    claimed: str, result: RoleComparison, names: tuple[str, str], sides: tuple[Sequence[MixResult], ...]
) -> str:
    """The sentence of a comparison that carries the claim. Raises NotBound with the sentence of one that does not."""
    ends = [f"{name} {broke_off_text([run.mix for run in side])}" for name, side in zip(names, sides, strict=True)]
    broke = [count(run.mix for run in side).collapsed > 0 for side in sides]
    ended = f"{ends[0]}; {ends[1]}."
    if all(broke):
        raise NotBound(f"{claimed} is not carried by the tests, for both broke off: {ended}")
    if broke[0]:
        raise NotBound(f"{claimed} is not so: {ended}")
    if broke[1]:
        return ended
    if result.difference is None or not result.difference.separated:
        raise NotBound(f"{claimed} is not carried by the tests. {result.sentence}")
    if result.difference.difference < 0:
        raise NotBound(f"{claimed} is not so. {result.sentence}")
    return result.sentence
