"""Tables as the text of downloads, a part at a time: the parts of any cut, joined, are the text of the whole."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from io import StringIO
from typing import Any

Value = str | int | float | bool | None

# A spreadsheet runs a cell that begins like this as a formula; numbers may begin so.
_RUNS_AS_FORMULA = ("=", "+", "-", "@", "\t", "\r")

_ROWS = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def csv_head(names: Iterable[str]) -> tuple[bytes, bytes]:
    """The first line of a table, as both kinds of CSV have it."""
    return csv_rows({name: [name] for name in names})


def csv_rows(table: Mapping[str, Sequence[Value]]) -> tuple[bytes, bytes]:
    """Rows as CSV: with decimal points and commas between; with decimal commas and semicolons between.

    table  heading -> values, all of one length
    """
    plain = [_texts(column) for column in table.values()]
    twin = [
        [text.replace(".", ",") for text in texts] if float in set(map(type, column)) else texts
        for texts, column in zip(plain, table.values(), strict=True)
    ]
    return _csv(plain, ","), _csv(twin, ";")


def json_rows(rows: Iterable[Mapping[str, Any]]) -> bytes:
    """Rows as JSON, a line each, without the brackets around them. Raises ValueError for what is no number."""
    return ",\n".join(map(_ROWS.encode, rows)).encode()


def json_text(head: Mapping[str, Value], parts: Iterable[bytes]) -> Iterator[bytes]:
    """The document of *head* and of the rows in *parts*, each as json_rows gives it."""
    before = _ROWS.encode({**head, "rows": []}).removesuffix("]}").encode() + b"\n"
    for part in filter(None, parts):
        yield before + part
        before = b",\n"
    yield b"\n]}\n" if before == b",\n" else before + b"]}\n"


def _csv(columns: Sequence[Sequence[str]], separator: str) -> bytes:
    text = StringIO()
    csv.writer(text, delimiter=separator, lineterminator="\r\n").writerows(zip(*columns, strict=True))
    return text.getvalue().encode()


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
        return f"{value:.0f}" if value.is_integer() and abs(value) < 1e15 else repr(value)
    return f"'{value}" if value.startswith(_RUNS_AS_FORMULA) else value
