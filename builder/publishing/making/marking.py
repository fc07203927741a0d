"""What a preview says at the head of every page: that it is not for the public, and what on it is hidden."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from html import unescape

from sqlite_utils import Database

from builder import wording
from catalog import queries
from catalog.records import Hidden


@dataclass(frozen=True, slots=True)
class Mark:
    """A hidden thing: its name with the instant until which it is hidden, and words that every page about it holds."""

    text: str
    signs: tuple[str, ...]


def marks_of(copy: Database) -> list[Mark]:
    """Everything in a full copy that the public may not see yet, in a stable order."""
    names = {device.device_id: f"{device.maker} {device.model}" for device in queries.devices(copy)}
    titles = {batch.batch_id: batch.title for batch in queries.batches(copy)}
    articles = {article.article_id: article.title for article in queries.articles(copy)}
    return [_mark(hidden, names, titles, articles) for hidden in queries.hidden(copy)]


def _mark(hidden: Hidden, names: dict[str, str], titles: dict[str, str], articles: dict[str, str]) -> Mark:
    device = hidden.id.split("/")[0].split("@")[0]
    name = names.get(device, device)
    signs: tuple[str, ...]
    if hidden.what == "unit":
        text, signs = f"unit {hidden.id.split('/')[1]} of {name}", (name,)
    elif hidden.what == "firmware":
        version = hidden.id.split("@", 1)[1]
        text, signs = f"firmware {version} of {name}", (name, version)
    elif hidden.what == "batch":
        text, signs = f"the batch “{titles.get(hidden.id, hidden.id)}”", (titles.get(hidden.id, hidden.id),)
    elif hidden.what == "article":
        text, signs = f"the review “{articles.get(hidden.id, hidden.id)}”", (articles.get(hidden.id, hidden.id),)
    else:
        text, signs = name, (name,)
    only = "results of " if hidden.covers == "results" and hidden.what != "batch" else ""
    until = wording.instant(datetime.fromisoformat(hidden.until_utc))
    return Mark(f"{only}{text} (hidden until {until})", signs)


def banner(marks: Sequence[Mark], page: str) -> str:
    """The sentence at the head of a page; *page* is its HTML without it."""
    text = unescape(page)
    here = [mark.text for mark in marks if all(sign in text for sign in mark.signs)]
    if here:
        return f"Preview, not for the public. On this page: {'; '.join(here)}."
    return "Preview, not for the public. Nothing hidden is named on this page, but other pages hold hidden things."
