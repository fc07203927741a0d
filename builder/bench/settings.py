"""Settings of tests: conditions that differ from how a bench always tests, and the subjects that name them.

A subject's id is that of its device, and behind it, where it has any, its settings: "cupola+links-off". It stands in the
device's place wherever a result has a name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from builder import wording
from catalog.records import Settings

SIGN = "+"  # no device's id has one
AS_ALWAYS = "as usually tested"


def subject_id(device: str, settings: str | None) -> str:
    """The id of a device under settings; the device's own without any."""
    return f"{device}{SIGN}{settings}" if settings else device


def parts_of_subject(identifier: str) -> tuple[str, str]:
    """Device and settings of a subject's id; "" for no settings."""
    device, _, settings = identifier.partition(SIGN)
    return device, settings


def by_any_id(settings: Iterable[Settings]) -> dict[str, Settings]:
    """The settings that each id means: of equal ones those that were entered first. settings: in the order of entry."""
    firsts: dict[tuple[object, ...], Settings] = {}
    return {one.settings_id: firsts.setdefault(one.conditions, one) for one in settings}


def split_named(text: str, settings: Mapping[str, Settings]) -> tuple[str, str]:
    """What stands before the last "+", and the settings behind it where such are known; else all of it and ""."""
    before, sign, behind = text.rpartition(SIGN)
    return (before, settings[behind].settings_id) if sign and behind in settings else (text, "")


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


def listed(settings: Sequence[Settings]) -> list[str]:
    """Ids, each once, of those that stand for themselves."""
    firsts = by_any_id(settings)
    return [one.settings_id for one in settings if firsts[one.settings_id] is one]
