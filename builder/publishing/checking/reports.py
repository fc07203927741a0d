"""What a build says: while it works, and when it is done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from catalog.errors import BuildRefused

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


MOST_NAMED = 10


def refuse(what: str, reasons: Sequence[object]) -> None:
    """Raises BuildRefused, which says *what* and names the first of *reasons*; does nothing without any."""
    if reasons:
        named = "\n".join(map(str, reasons[:MOST_NAMED]))
        more = f"\n… and {len(reasons) - MOST_NAMED} more" if len(reasons) > MOST_NAMED else ""
        raise BuildRefused(f"{what}, so it was not put in place:\n{named}{more}")
