"""Articles of the batches of a preview as their files say them now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from builder.desk.batches import Trouble
from builder.pages.contents import Contents
from catalog.errors import InputRefused
from catalog.reading.folder import MAX_TEXT_BYTES, Folder
from catalog.records import Article


def with_texts(contents: Contents, folders: Mapping[str, Path]) -> tuple[Contents, tuple[Trouble, ...]]:
    """The contents with the articles of these batches as their files say them now.

    An article of a batch that was entered before is shown so, too, although only a correction changes it.
    """
    troubles: list[Trouble] = []
    articles: list[Article] = []
    for article in contents.catalogue.articles:
        text = article.text
        if (folder := folders.get(article.batch_id)) is not None and text:  # one that was withdrawn has none
            result = _text(folder, article.path)
            if isinstance(result, Trouble):
                troubles.append(result)
            else:
                text = result
        articles.append(article if text == article.text else replace(article, text=text))
    if articles == list(contents.catalogue.articles):
        return contents, tuple(troubles)
    return contents._replace(catalogue=replace(contents.catalogue, articles=articles)), tuple(troubles)


def _text(folder: Path, path: str) -> str | Trouble:
    """The text of an article as a check reads it; what is wrong with the file otherwise."""
    title, place = f"{path} is shown as it was", Folder(folder)
    if (refusal := place.refusal(path)) is not None:
        return Trouble(title, ((refusal, ""),))
    try:
        return place.read(path, limit=MAX_TEXT_BYTES).decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        return Trouble(title, (("The article is not UTF-8 text. Save it as UTF-8.", ""),))
    except InputRefused as refused:
        return Trouble(title, ((str(refused), ""),))


def article_files(contents: Contents, folders: Mapping[str, Path]) -> dict[Path, str]:
    """File of each article of these batches -> its id."""
    return {
        folders[article.batch_id] / article.path: article.article_id
        for article in contents.catalogue.articles
        if article.batch_id in folders
    }
