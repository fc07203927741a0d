"""A review as its author works on it: what is wrong stands at its place in the text, and the rest is shown.

A build refuses such an article. The words are those of `check` and `build`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from html import escape

from builder import addresses
from builder.articles.bound_article import ArticleProblem, BoundArticle, article_file, wrong_note, wrong_place
from builder.pages.contents import Contents
from builder.pages.parts.looked_up import look_up_one
from builder.pages.review import ReviewPage, review_page
from builder.publishing.checking.secrets_sought import Sought
from builder.publishing.making.articles_read import addresses_of, wrong_in
from builder.publishing.making.page_list import Task
from catalog.records import Article

# Stand around the number of a line while its text is made into HTML; no text of an article holds them afterwards.
_OPEN, _CLOSE = "\ue010", "\ue011"
_NOTED = re.compile(f"{_OPEN}(\\d+){_CLOSE}")
_STRAY = re.compile(f"[{_OPEN}{_CLOSE}]")


@dataclass(frozen=True, slots=True)
class DraftReview(Task):
    """The page of a review, whatever is wrong in it. Without problems it is the page that a build writes."""

    def page(self, contents: Contents) -> ReviewPage:
        (article_id,) = self.arguments
        article = next(one for one in contents.catalogue.articles if one.article_id == article_id)
        bound = look_up_one(*contents, article, in_text=True)
        others = [problem for problem in problems_of(contents, bound) if not _at_a_binding(bound, problem)]
        return review_page(*contents, _with_notes(contents, bound, others) if others else bound)


def draft_review(article_id: str) -> DraftReview:
    """The task of one review."""
    return DraftReview("review", (article_id,))


def problems_of(contents: Contents, bound: BoundArticle) -> list[ArticleProblem]:
    """Everything in an article that would stop a build or a publication, but for names that are hidden now."""
    file = article_file(bound.article)
    pages = cache(partial(addresses_of, contents))
    home = contents.site.address or ""
    places = dict.fromkeys(wrong_in(bound, Sought(()), has_page=lambda path: path in pages(), home=home))
    # Of a link its sentence says what was typed.
    return [
        ArticleProblem(file, line, typed if typed.startswith("(=") else "", sentence)
        for line, typed, sentence in places
    ]


def place_of_problem(article: Article, problem: ArticleProblem) -> str:
    """The address of a problem: its place on the page of the review."""
    return f"/{addresses.review(article.article_id)}#{wrong_place(problem.line)}"


def _at_a_binding(bound: BoundArticle, problem: ArticleProblem) -> bool:
    return problem.typed.startswith("(=") and problem in bound.problems


def _with_notes(contents: Contents, bound: BoundArticle, others: Sequence[ArticleProblem]) -> BoundArticle:
    """The article with what is wrong elsewhere than in a binding at the end of its line.

    Where that place is lost, as in the last cell of a table or inside of a tag, the notes stand before the text.
    """
    lines = _STRAY.sub("", bound.article.text).split("\n")
    for line in {problem.line for problem in others}:
        lines[line - 1] += f"{_OPEN}{line}{_CLOSE}"
    marked = look_up_one(*contents, replace(bound.article, text="\n".join(lines)), in_text=True)
    taken = {problem.line for problem in bound.problems if _at_a_binding(bound, problem)}
    placed: set[int] = set()

    def noted(mark: re.Match[str]) -> str:
        if mark.string.rfind("<", 0, mark.start()) > mark.string.rfind(">", 0, mark.start()):
            return ""
        line = int(mark[1])
        here = [] if line in placed else [problem for problem in others if problem.line == line]
        placed.add(line)
        return "".join(
            f" {wrong_note(line, problem.typed, problem.sentence, first=place == 0 and line not in taken)}"
            for place, problem in enumerate(here)
        )

    passages = [replace(passage, html=_NOTED.sub(noted, passage.html)) for passage in marked.passages]
    lost = [problem for problem in others if problem.line not in placed]
    if lost:
        at = {
            problem.line: f' id="{wrong_place(problem.line)}"'
            for problem in reversed(lost)
            if problem.line not in taken
        }
        items = "".join(
            f'<li><strong class="wrong"{at.pop(problem.line, "")}>{escape(str(problem))}</strong></li>'
            for problem in lost
        )
        passages[0] = replace(passages[0], html=f"<ul>{items}</ul>{passages[0].html}")
    return replace(marked, article=bound.article, passages=tuple(passages))
