"""A cell of a sheet of things as the value that batch.toml would have there."""

from __future__ import annotations

import re
from typing import Any

from catalog.reading.rawtable import Exact
from catalog.reading.thing_sheets import Kind

_NUMBER = re.compile(r"[-+]?[0-9]{1,30}(\.[0-9]{1,30})?(e[-+]?[0-9]{1,3})?", re.IGNORECASE)
_YES = frozenset({"yes", "true", "y"})
_NO = frozenset({"no", "false", "n"})


class NumberForText(ValueError):
    """A sheet holds a number where text is wanted, which has lost its last zeros."""


def value_of(cell: str, kind: Kind) -> Any:
    """The value of a cell that is not blank; what does not fit stays text, for the check to refuse.

    Raises  NumberForText
    """
    match kind:
        case "number":
            return _number(cell)
        case "truth":
            word = cell.casefold()
            return True if word in _YES else False if word in _NO else str(cell)
        case "texts":
            return [_text(part, kind) for part in _parts(cell)]
        case "typed":
            return _number(cell) if type(cell) is Exact else str(cell)
        case "listed":
            return _parts(cell) if ";" in cell else str(cell)
        case "numbers":
            return [_number(part) for part in _parts(cell)]
        case _:
            return _text(cell, kind)


def _text(cell: str, kind: Kind) -> str:
    if type(cell) is Exact and kind != "any" and not (cell.isdigit() and kind != "version"):
        raise NumberForText(cell)
    return str(cell)


def _parts(cell: str) -> list[str]:
    """The items of a list in one cell."""
    return [part.strip() for part in cell.split(";") if part.strip()] if ";" in cell else [cell]


def _number(cell: str) -> int | float | str:
    text = cell.replace("\u2212", "-").strip()
    if not _NUMBER.fullmatch(text):
        return str(cell)
    if re.fullmatch(r"[-+]?[0-9]{1,18}", text):
        return int(text)
    return float(text)


def longer(number: str) -> str:
    """A number as it may have been typed: "7.10" for 7.1, "7.0" for 7."""
    return f"{number}0" if "." in number else f"{number}.0"
