"""Conditions of a test: the settings of a batch.toml, and what is wrong with those nobody knows."""

from __future__ import annotations

from collections.abc import Mapping

from catalog.checking.keys import Section
from catalog.checking.known import Row
from catalog.checking.names import nearest
from catalog.checking.thing_keys import SETTINGS
from catalog.checking.troubles import Trouble
from catalog.records import CONDITIONS

# What a key may say, in words, for those that are not free text.
_TAKES: Mapping[str, str] = {
    "standard": "n, ac, ax or be, the one that the client was held to",
    "multi_link": "on or off",
    "links": 'a list of bands, such as ["5", "6"]',
    "power": "full, low, or words of your own",
    "power_dbm": "a number of dBm from -40 to 60",
    "backhaul": "wired or wireless",
    "hops": "a whole number from 0 to 100",
    "punctured_mhz": "a whole number of MHz from 20 to 300, or words",
}
_NAMES = ("id", "title")


def read_settings(section: Section, *, known: bool) -> Row:
    """A row of `settings`, without its number; what is wrong with it is a problem.

    known  the catalogue or the batch has settings of this id
    """
    row: Row = {}
    wrong = False
    for name, value in section.values.items():
        key = SETTINGS.get(name)
        if key is None:
            section.refuse(name, _unknown_key(name), value)
            wrong = True
            continue
        stored = key.read(value)
        if not isinstance(stored, Trouble):
            row[key.column] = stored
            continue
        wrong = True
        section.refuse(name, stored if name in _NAMES else _unknown_value(name, value, stored), value)
    if "id" not in section.values:
        section.refuse("", Trouble("Settings have no id.", "Add id = … there.", "missing"))
    elif not known and not wrong and not row.keys() - {"settings_id", "title"}:
        nothing = Trouble(
            f"The settings {section.values['id']} set nothing.",
            f"Say what differs from how the bench always tests: {', '.join(CONDITIONS)}. A row without settings needs "
            "none.",
            "unknown-setting",
        )
        section.refuse("", nothing)
    return row


def _unknown_key(name: str) -> Trouble:
    near = nearest(name, SETTINGS)
    meant = f" Did you mean {near[0]}?" if near else ""
    return Trouble(
        f"{name!r} is no setting that is known.{meant}",
        f"Known are {', '.join(CONDITIONS)}; in words of your own, power, airtime and queueing.",
        "unknown-setting",
    )


def _unknown_value(name: str, value: object, trouble: Trouble) -> Trouble:
    takes = _TAKES.get(name, "text in quotes")
    near = nearest(value, ("n", "ac", "ax", "be", "on", "off", "wired", "wireless")) if isinstance(value, str) else []
    fitting = [word for word in near if word in takes.replace(",", " ").split()]
    meant = f" Did you mean {fitting[0]}?" if fitting else ""
    return Trouble(f"{name} takes {takes}, not {value!r}.{meant}", "Correct it.", "unknown-setting")
