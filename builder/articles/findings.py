"""What articles came to, in the catalogue's own sentences and not in their author's: who coped, verdicts, claims."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import replace

from builder import wording
from builder.articles.bindings import Binding, NotBound
from builder.articles.bound_article import Bound, BoundArticle
from builder.articles.claims import claimed
from builder.articles.evidence import Evidence, pair_of
from builder.articles.mix_quotes import coping_quoted
from builder.bench.bench import labels
from builder.bench.naming import device_name
from builder.pairs.verdicts import PairFigure, without_share
from builder.under_load.coping import Coping, worst_coping
from catalog.figure_names import SETTINGS_SIGN

MOST_NAMED = 6
_OF_PAIRS = ("leads", "alike")


def finding(evidence: Evidence, articles: Sequence[BoundArticle]) -> str:
    """The first thing that articles found: who coped with a workload, if they say so of several devices, else their first
    verdict or claim, else who coped; "" where they bind none of these.

    articles  in reading order; those with problems are passed over
    """
    sound = [article for article in articles if not article.problems]
    bound = [one for article in sound for one in article.bound if one.binding.frozen is None and _about(article, one)]
    coped = _coped(evidence, bound)
    stated = next((one for one in bound if one.binding.kind in ("verdict", "claim")), None)
    if len(coped) < 2 and stated is not None:
        return _stated(evidence, stated.binding)
    if not coped:
        return ""
    about = dict.fromkeys(device for one in sound for device in one.article.devices)
    return _coped_sentence(evidence, bound, coped | _coped_too(evidence, bound, [d for d in about if d not in coped]))


def _about(article: BoundArticle, one: Bound) -> bool:
    """Whether a quote is of the devices that its article says it is about; one that says of none is about all."""
    return not article.article.devices or set(one.quote.devices) <= set(article.article.devices)


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


def _coped_too(evidence: Evidence, bound: Sequence[Bound], devices: Iterable[str]) -> dict[str, Coping]:
    """The same of devices that an article is about without a quote of how they coped."""
    first = next(one.binding for one in bound if one.binding.kind == "coped")
    coped: dict[str, Coping] = {}
    for device in devices:
        with suppress(NotBound):  # it was not tested so, or its runs would have to be told apart
            if (result := coping_quoted(evidence, replace(first, subjects=(device,)))) is not None:
                coped[device] = result
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
        return _of_two(evidence, replace(binding, kind="verdict", link="", words=""))
    return f"{claimed(evidence, replace(binding, words='')).text.rstrip('.')}."


def _of_two(evidence: Evidence, binding: Binding) -> str:
    """What came out, with what it was measured, and with which firmware where that is not the current one."""
    figure = pair_of(evidence, binding)
    groups = wording.listing([evidence.names[group].text for group in (figure.group, figure.group_b) if group])
    parts = [f"{without_share(figure)} Measured with {groups}.", _since_then(evidence, binding, figure)]
    return " ".join(part for part in parts if part)


def _since_then(evidence: Evidence, binding: Binding, figure: PairFigure) -> str:
    """Of which devices it was an earlier firmware, and what the tests say of the current ones if that is otherwise.

    "" where all are current, and of two versions of one device, whose sentence names them.
    """
    if figure.a.device == figure.b.device:
        return ""
    now = [evidence.bench.subjects[side.device].firmware for side in (figure.a, figure.b)]
    earlier = [
        (name, side.firmware, current)
        for name, side, current in zip(labels(figure.a, figure.b), (figure.a, figure.b), now, strict=True)
        if side.firmware != current
    ]
    if not earlier:
        return ""
    was = wording.listing([f"{name} had firmware {before}" for name, before, _ in earlier])
    try:
        today = pair_of(evidence, replace(binding, subjects=tuple(map(_of_today, binding.subjects))))
    except NotBound:
        return f"{was}."
    if (today.verdict, today.ahead) == (figure.verdict, figure.ahead):
        return f"{was}."
    later = wording.listing([after for _, _, after in earlier])
    return f"{was}. With {later}: {wording.lowered(without_share(today))}"


def _of_today(typed: str) -> str:
    """What an author typed, without the unit and the firmware: the current one."""
    device, sign, settings = typed.partition(SETTINGS_SIGN)
    return f"{re.split('[/@]', device)[0]}{sign}{settings}"
