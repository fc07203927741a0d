"""Texts with characters that do not show, and names with letters of several alphabets."""

from __future__ import annotations

from catalog.checking.answers import Answers
from catalog.checking.troubles import AS_TYPED, Trouble
from catalog.errors import Problem
from catalog.reading.characters import odd_character, scripts_of, texts_in
from catalog.reading.documents import TomlFile
from catalog.reading.sources import place_of


def odd_trouble(text: str) -> Trouble | None:
    """Why *text* is not taken: it holds a character that does not show, or that no file may hold."""
    if (character := odd_character(text)) is None:
        return None
    return Trouble(
        f"The text holds the character {character}, which does not show or changes how the rest is shown.",
        "Type the text again; such characters come along when it is copied from a page.",
        "odd-characters",
        if_entered=True,
    )


def scripts_trouble(name: str) -> Trouble | None:
    """The question about a name that mixes alphabets: their letters look alike, so a search would miss it."""
    if not (scripts := scripts_of(name)):
        return None
    return Trouble(
        f"{name!r} has letters of several alphabets: {' and '.join(scripts)}. Some look alike and are not.",
        "Type it in one alphabet.",
        "odd-characters",
        options=(AS_TYPED,),
    )


def odd_texts(document: TomlFile, answers: Answers) -> list[Problem]:
    """Problems with the texts of a document, each with its place."""
    odd = []
    for path, text in texts_in(document.values):
        if (trouble := odd_trouble(text)) is not None:
            (source, line), key = document.place(*path), str(path[-1])
            table = place_of(source).table
            if not answers.as_entered(trouble, (table,), row=line, columns=(key,)):
                odd.append(trouble.at(source, line, key, ascii(text)))
    return odd
