"""What is asked of a role: which of the marks that batches declared are in force, and how many requests can show one.

Marks are no condition of a test: the marks in force are held against every log of their role, whenever it was entered.
"""

from __future__ import annotations

import json
import math
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

CHANCE = 0.05
"""Of showing a share that is not so. [1]"""

_IN_WORKLOAD = re.compile(r"(?P<workload>[^~/]+)~(?P<version>\d+)/(?P<role>[^~/]+)")


@dataclass(frozen=True, slots=True)
class Marks:
    """What is enough, and what is good; None: not asked.

    target_ms, target_share  this share of the planned requests within this time is enough. [ms] [1]
    good_ms, good_share      and this is good
    batch_id                 the batch that set them so last; None where nobody set any
    """

    target_ms: float | None = None
    target_share: float | None = None
    good_ms: float | None = None
    good_share: float | None = None
    batch_id: str | None = None

    def values(self) -> dict[str, float | None]:
        """The four by name."""
        return {name: getattr(self, name) for name in MARKS}


MARKS = ("target_ms", "target_share", "good_ms", "good_share")


@dataclass(frozen=True, slots=True)
class InWorkload:
    """The role that a workload defines for itself, apart into its names."""

    workload: str
    version: int
    role: str

    def __str__(self) -> str:
        return f"{self.workload}~{self.version}/{self.role}"


def in_workload(role_id: str) -> InWorkload | None:
    """The names in the id of a role that a workload defines for itself; None for one of the catalogue's."""
    match = _IN_WORKLOAD.fullmatch(role_id)
    return InWorkload(match["workload"], int(match["version"]), match["role"]) if match else None


_Family = tuple[str, str, str, str]  # workload, role, kind, recipe


def laid_over(current: Marks, said: Mapping[str, Any], batch_id: str) -> Marks:
    """The marks after a batch declared some: its values instead of the old ones, and it set them if any is another."""
    new = replace(current, **{name: said[name] for name in MARKS if name in said})
    return current if new == current else replace(new, batch_id=batch_id)


def marks_in_force(
    roles: Iterable[tuple[str, str, str]], declarations: Iterable[tuple[str, str, str]]
) -> dict[str, Marks]:
    """The marks in force of each role, by its id.

    roles         (id, kind, recipe as JSON text)
    declarations  (role, batch, what it declared as JSON text) in the order of entry
    Returns       for a role that a version of a workload defines for itself, the marks of the newest version with a
                  role of that name and recipe
    """
    declared: dict[str, Marks] = defaultdict(Marks)
    for role_id, batch_id, said in declarations:
        declared[role_id] = laid_over(declared[role_id], json.loads(said), batch_id)
    marks: dict[str, Marks] = {}
    newest: dict[_Family, tuple[int, str]] = {}
    families: dict[str, _Family] = {}
    for role_id, kind, recipe in roles:
        marks[role_id] = declared[role_id]
        if (names := in_workload(role_id)) is not None:
            families[role_id] = family = (names.workload, names.role, kind, recipe)
            newest[family] = max(newest.get(family, (0, "")), (names.version, role_id))
    for role_id, family in families.items():
        marks[role_id] = declared[newest[family][1]]
    return marks


def requests_to_show(mark: float) -> int | None:
    """How many requests, all of them in time, show a share of *mark*; None where no number does. [1]

    Source  the one-sided bound of Clopper & Pearson 1934 for n of n: mark^n <= 0.05.
    """
    return math.ceil(math.log(CHANCE) / math.log(mark)) if 0 < mark < 1 else None


def requests_planned(kind: str, recipe: Mapping[str, Any], duration_s: float) -> int | None:
    """How many requests a role makes at most in a run of *duration_s*; None where its recipe does not say. [1]

    Pages count as if they took no time, with the mean pause between them; fetches take as long as they take.
    """
    pause = recipe.get("pause_s")
    every_s = {
        "stream": recipe.get("segment_s"),
        "voice": recipe.get("packet_ms", 0) / 1000,
        "game": recipe.get("packet_ms", 0) / 1000,
        "pages": sum(pause) / 2 if pause else None,
    }.get(kind)
    return math.floor(duration_s / every_s) if every_s else None
