"""Charts of throughput that an article asks for: which lines or which ranking, checked, and left to the page to draw."""

from __future__ import annotations

from dataclasses import dataclass

from builder import wording
from builder.articles.bindings import Binding, NotBound
from builder.articles.evidence import Evidence, group_of, line_of, subject_of, window_of
from builder.bench.bench import Subject, labels
from builder.bench.cells import Group
from builder.bench.joined_line import SAME_X_DB
from builder.bench.tracks import Track
from builder.pairs.compare import compare
from builder.pairs.verdicts import Range
from builder.windows.knots import fade_sentence, knots
from builder.windows.standing import top_sentence
from catalog.figure_names import joined_id
from catalog.method import MIN_KNOTS, MIN_RANGE_DB

CHARTS = ("lines", "ranking")


@dataclass(frozen=True, slots=True)
class FigureOrder:
    """A figure of an article.

    key     what it is about, unique among the figures of an article
    title   the question it answers
    spoken  its answer in one or two sentences
    whose   the subjects of a range chart; empty for a ranking
    window  of a ranking; "" for a range chart
    shared  the range shaded on a range chart [dB]
    line    of the article's file where it is asked for, and how it was typed there
    """

    key: str
    title: str
    spoken: str
    group: Group
    line: int
    typed: str
    whose: tuple[Subject, ...] = ()
    window: str = ""
    shared: Range | None = None


def ordered_figure(evidence: Evidence, binding: Binding) -> FigureOrder:
    """The figure a binding of one of CHARTS asks for. Raises NotBound as quotes do."""
    return _ranking(evidence, binding) if binding.kind == "ranking" else _lines(evidence, binding)


def _lines(evidence: Evidence, binding: Binding) -> FigureOrder:
    whose = tuple(subject_of(evidence, text) for text in binding.subjects)
    if len({(w.device, w.unit, w.firmware) for w in whose}) < len(whose):
        raise NotBound("A line is asked for twice.")
    group = group_of(evidence, binding, whose)
    if group.several_links:
        raise NotBound("A client on several bands at once has no single attenuation, so there is no line to draw.")
    lines = [line_of(evidence, subject, group) for subject in whose]
    names = line_names(whose)
    title = f"How far does {names[0]} reach?"
    spoken, shared = fade_sentence(knots(evidence.bench, lines[:1], match="attenuation")[0], match="attenuation"), None
    if len(whose) == 2:
        title = f"Which gives more in the same place, {names[0]} or {names[1]}?"
        (figure,) = (f for f in compare(evidence.bench, *whose, match="attenuation") if f.group == group)
        spoken, shared = figure.sentence, figure.range
    elif len(whose) > 2:
        title = f"Which gives more in the same place, {wording.listing(names, 'or')}?"
        spoken, shared = _over_all(names, lines)
    key = "~".join(["lines", *(joined_id(w.id, w.unit, w.firmware) for w in whose), group.slug])
    return FigureOrder(
        key, binding.words or title, spoken, group, binding.line, binding.typed, whose=whose, shared=shared
    )


def line_names(whose: tuple[Subject, ...]) -> list[str]:
    """Names that tell the lines of one chart apart, as short as they can be."""
    if len(whose) == 2:
        return list(labels(*whose))
    models = [subject.model for subject in whose]
    if len(set(models)) == len(models):
        return models
    return [f"{subject.maker} {subject.model} {subject.firmware}, unit {subject.unit}" for subject in whose]


def _over_all(names: list[str], lines: list[Track]) -> tuple[str, Range | None]:
    """The means of several lines over the range all of them cover without a gap, if there is one."""
    shared = lines[0].line.pieces
    for one in lines[1:]:
        shared = [
            (max(low, start), min(high, end))
            for low, high in shared
            for start, end in one.line.pieces
            if max(low, start) < min(high, end)
        ]
    low, high = max(shared, key=lambda piece: piece[1] - piece[0], default=(0.0, 0.0))
    # What a pair of them would be refused for, the whole is refused for, too (method.md, section 2).
    enough = all(len(one.line.knots_within(low, high)) >= MIN_KNOTS for one in lines)
    if high - low < MIN_RANGE_DB - SAME_X_DB or not enough:
        return f"{wording.listing(names)} share no range long enough, so each line stands by itself.", None
    means = [(name, one.over(low, high)) for name, one in zip(names, lines, strict=True)]
    texts = [f"{name} {wording.rate(mean.mean, bound=mean.bound)}" for name, mean in means]
    return f"Over {wording.db_range(low, high)} dB the means are, in Mbit/s: {wording.listing(texts)}.", (low, high)


def _ranking(evidence: Evidence, binding: Binding) -> FigureOrder:
    window = binding.options.get("window")
    if window is None:
        raise NotBound("A ranking needs a window: near, middle or far.")
    group = group_of(evidence, binding, ())
    low_high = window_of(evidence, group, window)
    ranking = evidence.ranked(group, window)
    if not ranking.ranked:
        raise NotBound(top_sentence(ranking))
    place = "in the middle" if window == "middle" else window
    title = f"Who leads {place}, at {wording.db_range(*low_high)} dB?"
    return FigureOrder(
        f"ranking~{group.slug}~{window}",
        binding.words or title,
        top_sentence(ranking),
        group,
        binding.line,
        binding.typed,
        window=window,
    )
