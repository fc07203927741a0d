"""What a build says: while it works, and when it is done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class BuildReport:
    """What a build wrote: pages, charts drawn on them, and files in all.

    warnings  what an author should look at: numbers typed into articles, with the bindings that would replace them
    stills    pictures for video that were written
    """

    pages: int
    charts: int
    files: int
    warnings: tuple[str, ...] = ()
    stills: int = 0
