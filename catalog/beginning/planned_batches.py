"""A batch of rows that are still to be measured: a folder with batch.toml and tables, in the order to be run."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from catalog.errors import InputRefused
from catalog.whole_files import whole_folder

LOGS = "logs"


@dataclass(frozen=True)
class PlannedBatch:
    """What such a batch holds.

    keys      of the batch: id, title, timezone, licence
    sessions  id, house and date of each day
    tables    stem -> header, and rows of as many texts
    purpose   of [bench]: what the day is measured against, over which window
    """

    keys: Mapping[str, str]
    sessions: Sequence[tuple[str, str, str]]
    tables: Mapping[str, tuple[Sequence[str], Sequence[Sequence[str]]]]
    purpose: Mapping[str, str] = field(default_factory=dict)


def log_name(order: int, of: int, *parts: str) -> str:
    """The name of a row's log in its batch: "logs/07-s4-down-2.csv".

    of  rows in all: the numbers have as many digits as the last, at least two
    """
    words = [re.sub(r"[^a-z0-9]+", "-", part.lower()).strip("-") for part in parts]
    return f"{LOGS}/{order:0{max(len(str(of)), 2)}}-{'-'.join(word for word in words if word)}.csv"


def write_planned_folder(folder: Path, batch: PlannedBatch) -> None:
    """Make *folder* with a batch.toml, the tables and an empty folder for the logs.

    Raises  InputRefused for one that exists; WriteRefused.
    """
    if folder.exists():
        raise InputRefused(f"{folder} is there already. A plan wants a name of its own.")
    lines = [
        "# A plan: the rows of the tables are still to be measured, in their order. What is measured gets its time",
        "# (when) and its value or log, and loses the word planned; what stays planned is left out on entering.",
        "format = 1",
        *(f"{key} = {_quoted(value)}" for key, value in batch.keys.items()),
    ]
    for session, house, date in batch.sessions:
        lines += ["", "[[session]]", f"id = {_quoted(session)}", f"house = {_quoted(house)}"]
        lines.append(f"date = {date}                 # correct it if it is another day")
    if batch.purpose:
        lines += ["", "[bench]", *(f"{key} = {_quoted(value)}" for key, value in batch.purpose.items())]
    with whole_folder(folder) as made:
        (made / "batch.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
        for stem, (header, rows) in batch.tables.items():
            (made / f"{stem}.csv").write_text(table_text(header, rows), encoding="utf-8", newline="")
        (made / LOGS).mkdir()


def table_text(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table as CSV."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([header, *rows])
    return out.getvalue()


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)  # a basic string of TOML is written like one of JSON
