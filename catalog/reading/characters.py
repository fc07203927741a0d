"""Characters that are never typed on purpose: they do not show, turn the text around, or break the files made of it.

Source: the Unicode Standard 15, 23.1 (control codes), 23.2 (layout controls), 23.7 (noncharacters); letters of several
scripts as in UTS 39, section 5 (what passes as one script, from memory).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from typing import Any

_NONCHARACTERS = "".join(f"{chr(plane + 0xFFFE)}{chr(plane + 0xFFFF)}" for plane in range(0, 0x110000, 0x10000))
_ODD = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f"  # controls but tab and line ends
    "\u00ad\u180e\u200b\u2060-\u2064\ufeff"  # of no width
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # direction
    f"\ufdd0-\ufdef{_NONCHARACTERS}]"
    # Joiners belong between letters of scripts that join and between the parts of an emoji, nowhere else.
    "|(?<![^\x00-\u02ff])[\u200c\u200d]|[\u200c\u200d](?![^\x00-\u02ff])"
)
# Scripts whose letters are taken for each other. Others mix as people mix them: Han with kana, with Latin.
_CONFUSABLE = frozenset({"LATIN", "GREEK", "CYRILLIC", "ARMENIAN", "CHEROKEE", "COPTIC"})


def odd_character(text: str) -> str | None:
    """The first character of *text* that no text should hold, by number and name; None for none."""
    if text.isascii() and text.isprintable():
        return None
    match = _ODD.search(text)
    if match is None:
        return None
    character = match.group()
    unnamed = "a control character" if unicodedata.category(character) == "Cc" else "no character at all"
    return f"U+{ord(character):04X} ({unicodedata.name(character, unnamed).lower()})"


def scripts_of(name: str) -> list[str]:
    """The alphabets that one name takes letters from, where they are taken for each other; else none."""
    if name.isascii():
        return []
    letters = [character for character in name if character.isalpha()]
    scripts = {unicodedata.name(letter, "").partition(" ")[0] for letter in letters} & _CONFUSABLE
    return sorted(script.capitalize() for script in scripts) if len(scripts) > 1 else []


def texts_in(values: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Every key and text of a TOML document, with the path it stands at."""
    if isinstance(values, str):
        yield path, values
    elif isinstance(values, Mapping):
        for key, value in values.items():
            yield (*path, key), key
            yield from texts_in(value, (*path, key))
    elif isinstance(values, list):
        for place, value in enumerate(values):
            yield from texts_in(value, (*path, place))
