"""Words and paths that are secret in themselves, and how they are looked for in a text without crying wolf.

A name is found only as a whole word, whatever stands for its special characters in HTML, JSON or an address. A model
of six letters or more, or with a digit, is found in any case, split or joined; a shorter one only as it is written, and
one that is a word of the program's own pages only behind its maker. A version like "2.0", which is a number too, is
found only where the text speaks of firmware. A word that the program itself uses is not a secret.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from urllib.parse import quote

from catalog.queries import HiddenWords

_WORD = re.compile(r"\w+")
_PLAIN_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_FIRMWARE = r"(?:firmware|version|release|~|@)[\"':=,;\s\w]{0,16}?[\s\"':=,;~@]"
_SHORT = 4  # a model of fewer letters is looked for only behind its maker
_LONG = 6  # one of as many is looked for in any spelling
_SPACE = r"(?:\s|\\n|&nbsp;|&#160;|%20|\+)+"
_BETWEEN = r"(?:[\s_.·/-]|&nbsp;|&#160;|%20|\+)?"  # what may stand between the letters of a split name
_LEFT_OUT = ("&nbsp;", "&#160;", "%20", *" \t\r\n\xa0_.·/-+")  # the same in a text that is squeezed


@dataclass(frozen=True, slots=True)
class Secret:
    """One secret that is looked for.

    needles   its parts, lower-cased, the longest first; a cheap test before the regular expression
    squeezed  whether they are to be looked for in the text without what may split a name
    within    longer public names, of which it may be a part
    """

    kind: str
    pattern: re.Pattern[str]
    needles: tuple[str, ...]
    squeezed: bool = False
    within: tuple[re.Pattern[str], ...] = ()

    def found_in(self, text: str) -> re.Match[str] | None:
        """The first place that is not part of a longer public name."""
        for match in self.pattern.finditer(text):
            around = (other for name in self.within for other in name.finditer(text))
            if not any(o.start() <= match.start() and match.end() <= o.end() for o in around):
                return match
        return None


@dataclass(frozen=True)
class Sought:
    """Everything that is looked for."""

    secrets: Sequence[Secret]

    @cached_property
    def _by_needles(self) -> Mapping[tuple[str, bool], list[Secret]]:
        by_needle: dict[tuple[str, bool], list[Secret]] = {}
        for secret in self.secrets:
            by_needle.setdefault((secret.needles[0], secret.squeezed), []).append(secret)
        return by_needle

    @cached_property
    def _squeezes(self) -> bool:
        return any(secret.squeezed for secret in self.secrets)

    def found_in(self, text: str, small: str) -> Iterator[tuple[str, re.Match[str]]]:
        """Kind and place of each secret in *text*, the first place only. small: the text, lower-cased."""
        squeezed = small
        if self._squeezes:
            for between in _LEFT_OUT:  # one by one: many times as quick as str.translate unless a text is ASCII
                squeezed = squeezed.replace(between, "")
        for (needle, split), secrets in self._by_needles.items():
            looked_at = squeezed if split else small
            if needle in looked_at:
                for secret in secrets:
                    if all(part in looked_at for part in secret.needles) and (match := secret.found_in(text)):
                        yield secret.kind, match

    def holds(self, text: str) -> bool:
        """Whether any secret is in *text*."""
        return any(True for _ in self.found_in(text, text.lower()))


def sought(words: HiddenWords, *, paths: Sequence[Path] = (), usual: str = "") -> Sought:
    """What to look for.

    paths  folders and files of the publisher
    usual  the texts of the program: a word in them is not a secret by itself
    """
    usual_words = {word.lower() for word in _WORD.findall(usual)}
    usual_text = " ".join(usual.lower().split())

    def everyday(text: str) -> bool:
        """Whether the program itself uses this: one word, two of them, or more in this order."""
        parts = [part.lower() for part in _WORD.findall(text)]
        return set(parts) <= usual_words and (len(parts) < 3 or text.lower() in usual_text)

    secrets = [
        _secret("the id of something hidden", _id(name), name, re.IGNORECASE)
        for name in words.ids
        if name.lower() not in usual_words
    ]
    secrets += [_secret("the id of something hidden", rf"{_id(day)}(?!T\d)", day, 0) for day in words.days]
    for maker, model in words.names:
        if maker:
            together = rf"{_whole(maker, end=False)}[^\w-]{{1,3}}{_whole(model, start=False)}"
            secrets.append(_secret("the name of something hidden", together, model, re.IGNORECASE))
        if not all(part.lower() in usual_words for part in _WORD.findall(model)) and model not in words.public:
            secrets += _alone(model, words.public)
    for version in words.firmware:
        near = _FIRMWARE if _PLAIN_NUMBER.fullmatch(version) else ""
        secrets.append(
            _secret("the version of a hidden firmware", near + _whole(version, start=not near), version, re.I)
        )
    secrets += [
        _secret("a note on something hidden", _whole(text), text, re.IGNORECASE)
        for text in (*words.notes, *words.words)
        if not everyday(text)
    ]
    secrets += [
        _secret("a path on somebody's computer", _whole(str(path)), str(path), 0)
        for path in dict.fromkeys(paths)
        if len(path.parts) > 2
    ]
    return Sought(tuple(secrets))


def _alone(model: str, public: Sequence[str]) -> Iterator[Secret]:
    """A model without its maker: in any spelling, or where it is too short for that as it is written."""
    letters = _letters(model)
    if len(letters) >= _LONG or (len(letters) >= _SHORT and any(c.isdigit() for c in letters)):
        longer = [name for name in public if letters in _letters(name) and letters != _letters(name)]
        within = tuple(re.compile(_split(name), re.IGNORECASE) for name in longer)
        pattern = re.compile(_split(model), re.IGNORECASE)
        yield Secret("the name of something hidden", pattern, (letters,), squeezed=True, within=within)
    elif len(model) >= _SHORT:
        within = tuple(re.compile(_whole(name)) for name in public if model in name)
        yield Secret("the name of something hidden", re.compile(_whole(model)), _needles(model), within=within)


def _secret(kind: str, pattern: str, text: str, flags: int) -> Secret:
    return Secret(kind, re.compile(pattern, flags), _needles(text))


def _needles(text: str) -> tuple[str, ...]:
    """The parts that stand in every spelling as they are."""
    parts: list[str] = re.findall(r"[a-z0-9]+", text.lower())
    return tuple(sorted(set(parts), key=lambda part: (-len(part), part))) or ("",)


def _letters(name: str) -> str:
    return "".join(_WORD.findall(name)).replace("_", "").lower()


def _split(name: str) -> str:
    """The letters and digits of a name, with or without something between any two of them."""
    return rf"(?<!\w)(?<!\d\.){_BETWEEN.join(map(_spelled, _letters(name)))}(?!\w)(?!\.\d)"


def _id(name: str) -> str:
    """An id, also in "one--other", but not one that is part of a longer id."""
    return rf"(?:(?<![\w-])|(?<=--)){_all_spelled(name)}(?!\w)(?!-(?!-))"


def _whole(text: str, *, start: bool = True, end: bool = True) -> str:
    """*text* as whole words: no letter, digit or further part of a number beside it."""
    before = r"(?<![\w])(?<!\d\.)" if start else ""
    after = r"(?!\w)(?!\.\d)" if end else ""
    return before + _SPACE.join(_all_spelled(part) for part in text.split()) + after


def _all_spelled(part: str) -> str:
    return "".join(map(_spelled, part))


def _spelled(character: str) -> str:
    """A character as it may stand in a text, in HTML, JSON, an address, or an id of a figure."""
    if character.isascii() and character.isalnum():
        return character
    code = f"{ord(character):x}"
    ways = {
        character,
        html.escape(character),
        f"&#{ord(character)};",
        f"&#x{code};",
        quote(character, safe=""),
        f"\\{character}",
        f"\\u{code:0>4}",
        f"_{code}_",
    }
    return f"(?:{'|'.join(re.escape(way) for way in sorted(ways, key=lambda way: (-len(way), way)))})"
