"""Texts of an earlier publication in the words of today: a sentence that is only said otherwise is no changed figure.

A record holds figures as they were printed, some of them as sentences (`figures.py`). Whoever rewords one of these adds
here how it was said; figures are taken over digit by digit, so that a changed one still differs.
"""

from __future__ import annotations

import re

from builder.wording import MINUS

_NUMBER = rf"[+{MINUS}]?[\d.]+"
# Formerly "A minus B is −47 Mbit/s, likely −139 to +45".
_LESS = re.compile(
    r"These tests cannot tell (?P<a>.+?) and (?P<b>.+) apart: (?P<where>.+) (?P=a) minus (?P=b) is "
    rf"(?P<lead>{_NUMBER}) Mbit/s, likely (?P<low>{_NUMBER})(?: to |–)(?P<high>{_NUMBER}); (?P<rest>a difference of )"
)
_OTHER_WORDS = {
    "Distance does not travel from one house to another, so": "The same distance loses more in one house than in another, so",
}
_PROTOCOL = re.compile(r"(?<=, )(?:tcp|udp)(?=[,.; )]|$)")


def in_words_of_today(text: str) -> str:
    """What an earlier publication printed, as it would be said now."""
    for before, now in _OTHER_WORDS.items():
        text = text.replace(before, now)
    return _PROTOCOL.sub(lambda found: found[0].upper(), _LESS.sub(_ahead, text))


def _ahead(found: re.Match[str]) -> str:
    behind = found["lead"].startswith(MINUS)
    low, high = (_turned(found["high"]), _turned(found["low"])) if behind else (found["low"], found["high"])
    lead, high = found["lead"].lstrip(f"+{MINUS}"), high.lstrip(f"+{MINUS}")
    likely = f"{low[1:]} behind to {high} ahead" if low.startswith(MINUS) else f"{low.lstrip('+')}–{high} ahead"
    one = found["b" if behind else "a"]
    if not lead.strip("0."):
        said = f"they came out {lead} Mbit/s apart, {one} likely {likely}"
    else:
        said = f"{one} was {lead} Mbit/s ahead, likely {likely}"
    return f"These tests cannot tell {found['a']} and {found['b']} apart: {found['where']} {said}; {found['rest']}"


def _turned(number: str) -> str:
    """The same number with the other sign; none has no sign."""
    digits = number.lstrip(f"+{MINUS}")
    return digits if number.startswith(MINUS) or not digits.strip("0.") else f"{MINUS}{digits}"
