"""Everything that can go wrong, as one tree.

    CatalogError                 a sentence for a person; the command line prints it bare
    |-- InputRefused             exit 1: what was given cannot be taken; nothing changed
    |   `-- BatchRefused         ... with every problem of the batch
    |-- BuildRefused             exit 1: the site cannot be built; the old one stands
    |-- UnknownName              exit 1: a device, client or workload nobody entered
    |-- WriteRefused             exit 1: a full disk, another writer, no right to write; nothing changed
    `-- CatalogUnusable          exit 3: missing, damaged, or written by a newer version

A wrong call of a function is a ValueError, a broken invariant an assert; neither belongs here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

LINED = (".toml", ".md")  # files whose places are lines


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One thing wrong with one value: where, what, what we wanted, what to do.

    table   file name of the table ("runs.csv"), or "batch.toml", or an article's
    row     row as a spreadsheet counts it (the header is row 1), or the line of a .toml file or an article
    column  column or key, as typed where it was typed
    value   the text as typed
    code    a stable word for scripts, never shown alone
    """

    table: str
    row: int
    column: str
    value: str
    expected: str
    remedy: str
    code: str

    def __str__(self) -> str:
        where = f"{self.table} {'line' if self.table.endswith(LINED) else 'row'} {self.row}"
        column = f', column "{self.column}"' if self.column else ""
        return f"{where}{column}: {self.expected} {self.remedy}".rstrip()


class CatalogError(Exception):
    """A refusal in plain words."""

    exit_code = 1


class InputRefused(CatalogError):
    """What was given cannot be taken, and nothing was changed."""


class BatchRefused(InputRefused):
    """The batch was refused and the catalogue is unchanged."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(map(str, problems)))
        self.problems = tuple(problems)


class BuildRefused(CatalogError):
    """The site cannot be built; what stood before still stands."""


class UnknownName(CatalogError):
    """A name that is not in the catalogue."""


class WriteRefused(CatalogError):
    """The catalogue is sound, but could not be written now; it is as it was."""


class CatalogUnusable(CatalogError):
    """The catalogue is missing, damaged, or was written by a newer version."""

    exit_code = 3
