"""Settings of tests, conditions that differ from how a bench always tests, in words."""

from __future__ import annotations

import re

from builder import wording
from catalog.records import Settings

AS_ALWAYS = "as usually tested"


def called(one: Settings) -> str:
    """The title of settings as it stands alone; what they set where nobody gave one."""
    return one.title or wording.capital(stated(one))


def in_words(one: Settings) -> str:
    """The title of settings in the middle of a sentence: "one link at a time"."""
    title = one.title or stated(one)
    return title[:1].lower() + title[1:] if re.match(r"[A-Z](?:[a-z]|\s|$)", title) else title


def stated(one: Settings) -> str:
    """What settings set: "multi-link off, power 17 dBm"."""
    return ", ".join(_condition(name, value) for name, value in one.conditions)


def _condition(name: str, value: str | float | int) -> str:
    match name:
        case "standard":
            return f"client held to 802.11{value}"
        case "links":
            return f"links on {wording.band(str(value))}"
        case "power_dbm":
            return f"power {wording.decibels(float(value))} dBm"
        case "punctured_mhz":
            return f"punctured {value} MHz"
        case "hops":
            return wording.count(int(value), "hop")
    return f"{name.replace('_', '-')} {value}"
