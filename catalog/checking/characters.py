"""Texts with characters that do not show, and names with letters of several alphabets."""

from __future__ import annotations

from catalog.checking.answers import Answers
from catalog.checking.troubles import AS_TYPED, Trouble
from catalog.errors import Problem
from catalog.reading.batch import TomlFile
from catalog.reading.characters import odd_character, scripts_of, texts_in


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


def odd_texts(document: TomlFile, name: str, answers: Answers) -> list[Problem]:
    """Problems with the texts of a TOML file, each with its line."""
    odd = []
    for path, text in texts_in(document.values):
        if (trouble := odd_trouble(text)) is not None:
            line, key = document.lines.of(*path), str(path[-1])
            if not answers.as_entered(trouble, (name,), row=line, columns=(key,)):
                odd.append(trouble.at(name, line, key, ascii(text)))
    return odd
