"""Words and paths that are secret in themselves, and how they are looked for in a text without crying wolf.

A name is found only as a whole word. A model that is a word of everyday ("Porch") only with a capital as it is
written, and one that the site's own pages use anyway only behind its maker; a version like "2.0", which is a number
too, only where the text speaks of firmware.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from catalog.queries import HiddenWords

_WORD = re.compile(r"\w+")
_PLAIN_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_FIRMWARE = r"(?:firmware|version|release|~|@)[\"':=,;\s\w]{0,16}?[\s\"':=,;~@]"
_SHORT = 4  # a model of fewer letters is sought only behind its maker


@dataclass(frozen=True, slots=True)
class Secret:
    """One thing that is sought. needle: its longest part without a space, in small letters: no text holds it without."""

    kind: str
    pattern: re.Pattern[str]
    needle: str


@dataclass(frozen=True)
class Sought:
    """Everything that is sought."""

    secrets: Sequence[Secret]

    def found_in(self, text: str, small: str) -> Iterator[tuple[str, re.Match[str]]]:
        """Kind and place of each secret in *text*, the first place only. small: the text in small letters."""
        for secret in self.secrets:
            if secret.needle in small and (match := secret.pattern.search(text)):
                yield secret.kind, match

    def holds(self, text: str) -> bool:
        """Whether any secret is in *text*."""
        return any(True for _ in self.found_in(text, text.lower()))


def sought(words: HiddenWords, *, paths: Sequence[Path] = (), usual: str = "") -> Sought:
    """What to look for.

    paths  folders and files of the one who publishes
    usual  text of the site's own (its templates): a model that is a word of it is no secret by itself
    """
    own = set(_WORD.findall(usual))
    secrets = [_secret("the id of something hidden", _id(name), name, re.IGNORECASE) for name in words.ids]
    for maker, model in words.names:
        if maker:
            together = rf"{_whole(maker, end=False)}[^\w-]{{1,3}}{_whole(model, start=False)}"
            secrets.append(_secret("the name of something hidden", together, model, re.IGNORECASE))
        if len(model) >= _SHORT and not (set(_WORD.findall(model)) <= own):
            secrets.append(_secret("the name of something hidden", _whole(model), model, 0))
    for version in words.firmware:
        near = _FIRMWARE if _PLAIN_NUMBER.fullmatch(version) else ""
        secrets.append(
            _secret("the version of a hidden firmware", near + _whole(version, start=not near), version, re.I)
        )
    secrets += [
        _secret(
            "a note on something hidden", r"\s+".join(re.escape(word) for word in note.split()), note, re.IGNORECASE
        )
        for note in words.notes
    ]
    secrets += [
        _secret("a path on somebody's computer", _whole(str(path)), str(path), 0)
        for path in dict.fromkeys(paths)
        if len(path.parts) > 2
    ]
    return Sought(tuple(secrets))


def _secret(kind: str, pattern: str, text: str, flags: int) -> Secret:
    return Secret(kind, re.compile(pattern, flags), max(text.split() or [text], key=len).lower())


def _id(name: str) -> str:
    """An id, also in "one--other", but not one that is part of a longer id."""
    return rf"(?:(?<![\w-])|(?<=--)){re.escape(name)}(?!\w)(?!-(?!-))"


def _whole(text: str, *, start: bool = True, end: bool = True) -> str:
    """*text* as whole words: no letter, digit or further part of a number beside it."""
    before = r"(?<![\w])(?<!\d\.)" if start else ""
    after = r"(?!\w)(?!\.\d)" if end else ""
    return before + r"\s+".join(re.escape(part) for part in text.split()) + after
