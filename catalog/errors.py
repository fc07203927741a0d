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

from catalog.problems import Problem as Problem
from catalog.problems import listing

MOST_LINES = 40  # of a listing on a terminal; a longer one scrolls its beginning away


class CatalogError(Exception):
    """A refusal in plain words."""

    exit_code = 1


class InputRefused(CatalogError):
    """What was given cannot be taken, and nothing was changed."""


class BatchRefused(InputRefused):
    """The batch was refused and the catalogue is unchanged."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(listing(problems, most=MOST_LINES)))
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
