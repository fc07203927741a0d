"""One article with everything in it looked up: passages, figures to draw, quotes to list, and what is wrong."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from html import escape

from builder.articles.bindings import KINDS, Binding, NotBound, read_bindings
from builder.articles.blocks import BlockOrder, ordered_block
from builder.articles.claims import claimed
from builder.articles.evidence import Evidence
from builder.articles.figures import CHARTS, FigureOrder, ordered_figure
from builder.articles.markdown_text import LONE_MARK, MARK, marked_html
from builder.articles.pictures import Picture, place_pictures
from builder.articles.quotes import Quote
from builder.articles.quoting import frozen, quote
from builder.articles.typed_numbers import proposals, typed_numbers
from catalog.errors import BuildRefused
from catalog.records import Article


@dataclass(frozen=True, slots=True)
class ArticleProblem:
    """Something in an article that cannot be published, or that its author should look at: file, line, what was typed, why."""

    file: str
    line: int
    typed: str
    sentence: str

    def __str__(self) -> str:
        typed = f"{self.typed} " if self.typed else ""
        return f"{self.file} line {self.line}: {typed}{self.sentence}"


@dataclass(frozen=True, slots=True)
class Passage:
    """A stretch of sanitised HTML, and the figure that follows it."""

    html: str
    figure: FigureOrder | BlockOrder | None = None


@dataclass(frozen=True, slots=True)
class Bound:
    """A binding and what stands in for it."""

    binding: Binding
    quote: Quote


@dataclass(frozen=True, slots=True)
class BoundArticle:
    """An article ready for its page.

    bound     every quote in reading order; the page lists them, number-1 first
    warnings  about typed numbers and old prices
    """

    article: Article
    passages: tuple[Passage, ...]
    bound: tuple[Bound, ...]
    problems: tuple[ArticleProblem, ...]
    warnings: tuple[ArticleProblem, ...]


def article_file(article: Article) -> str:
    """An article's file as people know it: its batch and its path there."""
    return f"{article.batch_id}/{article.path}"


def number_key(place: int) -> str:
    """The fragment of a quote's row in the list of an article's numbers; the first place is 1."""
    return f"number-{place}"


def wrong_place(line: int) -> str:
    """The fragment of what is wrong in a line of an article, where a preview says so in the text."""
    return f"wrong-in-line-{line}"


def wrong_note(line: int, typed: str, sentence: str, *, first: bool) -> str:
    """What is wrong, as HTML for its place in the text; only the *first* of a line can be gone to."""
    place = f' id="{wrong_place(line)}"' if first else ""
    text = " ".join(filter(None, (typed, sentence)))
    return f'<strong class="wrong"{place}>Line {line}: {escape(text)}</strong>'


def bind(
    article: Article, evidence: Evidence, pictures: Mapping[str, Picture], *, in_text: bool = False
) -> BoundArticle:
    """Look up everything an article names.

    pictures  path inside the article's batch -> picture
    in_text   what is wrong with a binding stands in its place, for the author; otherwise nothing does
    """
    file = article_file(article)
    marked = marked_html(article.text)
    problems = [
        ArticleProblem(file, line, "", "This (= is never read: it has no =), or stands in raw HTML or in a link.")
        for line in marked.lost
    ]
    html, missing = place_pictures(marked.html, folder=posixpath.dirname(article.path), pictures=pictures)
    problems += [_no_picture(article, name) for name in missing]
    bound: list[Bound] = []
    figures: dict[int, FigureOrder | BlockOrder] = {}
    texts: dict[int, str] = {}
    lone = {int(m[1]) for m in LONE_MARK.finditer(html)}
    for read in read_bindings(marked.bindings):
        number, line, binding = read.number, read.line, read.binding
        try:
            if isinstance(binding, NotBound):
                raise binding
            if binding.kind == "under":
                texts[number] = ""
                continue
            if KINDS[binding.kind].block:
                if number not in lone:
                    raise NotBound("A figure stands in a paragraph of its own.")
                order = _ordered(evidence, binding)
                if order.key in {other.key for other in figures.values()}:
                    raise NotBound("This figure stands in the article already.")
                figures[number] = order
            else:
                bound.append(Bound(binding, _quoted(evidence, binding)))
                key = number_key(len(bound))
                last = bound[-1].quote
                texts[number] = f'<a class="bound" href="#{key}">{escape(last.printed)}</a>'
                if evidence.disputed(last.devices, last.figures):
                    texts[number] += f' <a class="mark" href="#{key}">disputed</a>'
        except NotBound as failure:
            wrong = ArticleProblem(file, line, f"(= {' '.join(read.inside.split())} =)", str(failure))
            first = all(other.line != line or not other.typed for other in problems)
            texts[number] = wrong_note(line, wrong.typed, wrong.sentence, first=first) if in_text else ""
            problems.append(wrong)
    typed = typed_numbers(article.text)
    warnings = [
        ArticleProblem(file, number.line, "", sentence)
        for number, sentence in zip(typed, proposals(evidence, typed, article.devices), strict=True)
    ]
    warnings += [
        ArticleProblem(file, one.binding.line, one.binding.typed, f"{one.quote.remark}.")
        for one in bound
        if one.quote.remark
    ]
    return BoundArticle(
        article,
        tuple(_passages(html, texts, figures)),
        tuple(bound),
        tuple(sorted(problems, key=lambda problem: problem.line)),
        tuple(warnings),
    )


def _quoted(evidence: Evidence, binding: Binding) -> Quote:
    if binding.kind == "claim":
        return claimed(evidence, binding)
    live = quote(evidence, binding)
    return frozen(binding, live) if binding.frozen else live


def _ordered(evidence: Evidence, binding: Binding) -> FigureOrder | BlockOrder:
    if binding.words and not binding.words.endswith("?"):
        raise NotBound("The title of a figure is a question and ends with “?”.")
    return ordered_figure(evidence, binding) if binding.kind in CHARTS else ordered_block(evidence, binding)


def _no_picture(article: Article, name: str) -> ArticleProblem:
    line = next((i for i, text in enumerate(article.text.split("\n"), start=1) if name in text), 1)
    return ArticleProblem(
        article_file(article),
        line,
        "",
        f"The picture {name} is not in the batch, or has no words for those who cannot see it. Describe it as an "
        "[[image]] with its alt in batch.toml.",
    )


def _passages(
    html: str, texts: Mapping[int, str], figures: Mapping[int, FigureOrder | BlockOrder]
) -> Iterable[Passage]:
    def filled(part: str) -> str:
        part = LONE_MARK.sub(lambda m: m[0] if texts.get(int(m[1])) else "", part)
        return MARK.sub(lambda m: texts.get(int(m[1]), ""), part)

    start = 0
    for match in LONE_MARK.finditer(html):
        if int(match[1]) in figures:
            yield Passage(filled(html[start : match.start()]), figures[int(match[1])])
            start = match.end()
    yield Passage(filled(html[start:]))


def require_sound(articles: Iterable[BoundArticle]) -> None:
    """Raises BuildRefused with the problems of all articles, one per line, if there are any."""
    problems = [problem for one in articles for problem in one.problems]
    if problems:
        raise BuildRefused(
            "Articles say what the catalogue does not carry, so no site was put in place:\n"
            + "\n".join(map(str, problems))
        )
