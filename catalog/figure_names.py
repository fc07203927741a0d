"""Names of things inside the ids of figures: escaped so that they are safe in an address, and read back exactly.

An id is parts joined by "~". Letters and digits of ASCII, full stops and hyphens stand as they are; any other
character is its code point in hexadecimal between low lines: "7.1 b" is "7.1_20_b".
"""

from __future__ import annotations

import re
from collections.abc import Container
from functools import lru_cache


def joined_id(*parts: str) -> str:
    """Parts as one id that is safe in an address and a fragment; different parts never give the same id."""
    return "~".join(map(_escaped, parts))


SETTINGS_SIGN = "+"  # between a device and its settings; no id of either has one


def subject_id(device: str, settings: str | None) -> str:
    """The id of a device under settings, "cupola+links-off"; the device's own without any.

    It stands in the device's place wherever a result has a name.
    """
    return f"{device}{SETTINGS_SIGN}{settings}" if settings else device


def parts_of_subject(identifier: str) -> tuple[str, str]:
    """Device and settings of a subject's id; "" for no settings."""
    device, _, settings = identifier.partition(SETTINGS_SIGN)
    return device, settings


def split_settings(text: str, known: Container[str]) -> tuple[str, str]:
    """What stands before the last "+", and the settings behind it where these are *known*; else all of it and ""."""
    before, sign, behind = text.rpartition(SETTINGS_SIGN)
    return (before, behind) if sign and behind in known else (text, "")


def devices_meant(*texts: str) -> frozenset[str]:
    """Every device that a text like "device@firmware+settings" may mean: each beginning that a sign ends, and all of it."""
    return frozenset(
        text[:end]
        for text in texts
        for end in (len(text), *(i for i, sign in enumerate(text) if sign in ("@", SETTINGS_SIGN)))
    )


def parts_of(figure: str) -> list[str]:
    """The parts of an id, as they were before they were escaped; what is the code point of no character stays as it is."""
    return [re.sub("_([0-9a-f]+)_", _character, part) for part in figure.split("~")]


@lru_cache(maxsize=1 << 16)
def _escaped(part: str) -> str:
    return re.sub("[^A-Za-z0-9.-]", lambda m: f"_{ord(m[0]):x}_", part)


def _character(escape: re.Match[str]) -> str:
    code = int(escape[1], 16)
    # Unicode's code space, less the surrogates, which are halves of a pair and no characters.
    return escape[0] if code > 0x10FFFF or 0xD800 <= code <= 0xDFFF else chr(code)
