"""Names of things inside the ids of figures: escaped so that they are safe in an address, and read back exactly.

An id is parts joined by "~". Letters and digits of ASCII, full stops and hyphens stand as they are; any other
character is its code point in hexadecimal between low lines: "7.1 b" is "7.1_20_b".
"""

from __future__ import annotations

import re
from functools import lru_cache


def joined_id(*parts: str) -> str:
    """Parts as one id that is safe in an address and a fragment; different parts never give the same id."""
    return "~".join(map(_escaped, parts))


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
