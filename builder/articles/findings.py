"""What articles came to, in the catalogue's own sentences and not in their author's: who coped, verdicts, claims."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from builder import wording
from builder.articles.bindings import Binding
from builder.articles.bound_article import Bound, BoundArticle
from builder.articles.claims import claimed
from builder.articles.evidence import Evidence
from builder.articles.mix_quotes import coping_quoted
from builder.articles.quoting import quote
from builder.bench.naming import device_name
from builder.under_load.coping import Coping, worst_coping

MOST_NAMED = 6
_OF_PAIRS = ("leads", "alike")


def finding(evidence: Evidence, articles: Sequence[BoundArticle]) -> str:
    """The first thing that articles found: who coped with a workload, if they say so of several devices, else their first
    verdict or claim, else who coped; "" where they bind none of these.

    articles  in reading order; those with problems are passed over
    """
    sound = [article for article in articles if not article.problems]
    bound = [one for article in sound for one in article.bound if one.binding.frozen is None]
    coped = _coped(evidence, bound)
    if len(coped) > 1:
        return _coped_sentence(evidence, bound, coped)
    stated = next((one for one in bound if one.binding.kind in ("verdict", "claim")), None)
    if stated is not None:
        return _stated(evidence, stated.binding)
    return _coped_sentence(evidence, bound, coped) if coped else ""


def latest_finding(evidence: Evidence, articles: Sequence[BoundArticle]) -> str:
    """What the reviews of the latest month found that found anything; "" where none did."""
    by_month: dict[str, list[BoundArticle]] = defaultdict(list)
    for bound in articles:
        by_month[bound.article.published_utc[:7]].append(bound)
    for month in sorted(by_month, reverse=True):
        if text := finding(evidence, by_month[month]):
            return f"Latest, {wording.date(month)}: {wording.lowered(text) if text.startswith('In ') else text}"
    return ""


def _coped(evidence: Evidence, bound: Sequence[Bound]) -> dict[str, Coping]:
    """Device -> whether it coped with the workload that is first spoken of, at worst."""
    quoted = [one for one in bound if one.binding.kind == "coped"]
    coped: dict[str, Coping] = {}
    for one in quoted:
        result = coping_quoted(evidence, one.binding)
        if one.binding.options["workload"] == quoted[0].binding.options["workload"] and result is not None:
            (device,) = one.quote.devices
            coped[device] = worst_coping([result, coped.get(device, "coped")])
    return coped


def _coped_sentence(evidence: Evidence, bound: Sequence[Bound], coped: dict[str, Coping]) -> str:
    workload = next(one.binding.options["workload"] for one in bound if one.binding.kind == "coped")
    title = max((plan.version, plan.title) for plan in evidence.workloads.values() if plan.workload_id == workload)[1]
    kinds: tuple[Coping, ...] = ("coped", "did-not-cope", "too-close")
    did, did_not, open_of = ([device_name(evidence.bench, d) for d in coped if coped[d] == kind] for kind in kinds)
    words = [f"{wording.listing_of_many(did, MOST_NAMED)} coped with every role"] if did else []
    if did_not:
        words.append(f"{wording.listing_of_many(did_not, MOST_NAMED)} did not{'' if did else ' cope'}")
    if open_of:
        words.append(f"it is too close to say of {wording.listing_of_many(open_of, MOST_NAMED)}")
    return f"In “{title}” {'; '.join(words)}."


def _stated(evidence: Evidence, binding: Binding) -> str:
    if binding.kind == "verdict" or (binding.link in _OF_PAIRS and binding.subjects[1] != "all"):
        return quote(evidence, replace(binding, kind="verdict", link="", words="")).text
    return f"{claimed(evidence, replace(binding, words='')).text.rstrip('.')}."
