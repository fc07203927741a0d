"""Long tables as the text of downloads: CSV column by column, and JSON as the library writes it, but faster."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any

import pandas as pd

Value = str | int | float | bool | None

# A spreadsheet runs a cell that begins like this as a formula; numbers may begin so.
_RUNS_AS_FORMULA = ("=", "+", "-", "@", "\t", "\r")

_AT_ONCE = 5_000  # rows of JSON made at a time

# The library writes JSON without line breaks ten times as fast as with them; so the breaks are its separators.
_ROWS = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",\n   ", ": "))
# A mapping as a value: a quote before it that is not within a text, where it would have a backslash.
_NESTED = re.compile(r"(?<=[^\\]\": )\{([^{}]*)\}")


def csv_texts(table: Mapping[str, Sequence[Value]]) -> tuple[bytes, bytes]:
    """A table as CSV: with decimal points and commas between; with decimal commas and semicolons between.

    table  heading -> values, all of one length
    """
    plain = pd.DataFrame({name: _texts(column) for name, column in table.items()}, dtype=object)
    fractions = [name for name, column in table.items() if float in set(map(type, column))]
    comma = plain.assign(**{name: plain[name].str.replace(".", ",") for name in fractions})
    return _csv(plain, ","), _csv(comma, ";")


def json_text(head: Mapping[str, Value], rows: Iterable[Mapping[str, Any]]) -> Iterator[bytes]:
    """The parts of ``json.dumps({**head, "rows": rows}, ensure_ascii=False, allow_nan=False, indent=1)``.

    A row's values are plain, or mappings of plain ones whose texts hold no braces.
    """
    whole = json.dumps({**head, "rows": [None]}, ensure_ascii=False, allow_nan=False, indent=1)
    left = iter(rows)
    before = whole.removesuffix("null\n ]\n}")
    while some := list(islice(left, _AT_ONCE)):
        # No text of a value can look like this: a line break in it would be "\n", two characters.
        text = _ROWS.encode(some)[2:-2].replace("},\n   {", "\n  },\n  {\n   ")
        text = _NESTED.sub(_laid_out, text) if '": {' in text else text
        yield (before + "{\n   " + text + "\n  }").encode()
        before = ",\n  "
    yield b"\n ]\n}" if before == ",\n  " else (before.removesuffix("\n  ") + "]\n}").encode()


def _laid_out(nested: re.Match[str]) -> str:
    return "{\n    " + nested[1].replace(",\n   ", ",\n    ") + "\n   }" if nested[1] else "{}"


def _csv(table: pd.DataFrame, separator: str) -> bytes:
    return table.to_csv(sep=separator, index=False, lineterminator="\r\n").encode()


def _texts(column: Sequence[Value]) -> list[str]:
    kinds = set(map(type, column)) - {type(None)}
    if len(kinds) == 1 and float not in kinds:  # 1 and true are equal, and so are 0.0 and -0.0: not so as texts
        known = {value: _typed(value) for value in set(column)}
        return [known[value] for value in column]
    return [_typed(value) for value in column]


def _typed(value: Value) -> str:
    """A value as a spreadsheet takes it: numbers plainly, text never as a formula."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return repr(value)
    if isinstance(value, float):
        return f"{value:g}" if value.is_integer() and abs(value) < 1e15 else repr(value)
    return f"'{value}" if value.startswith(_RUNS_AS_FORMULA) else value
