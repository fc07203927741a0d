"""The refusal of a site that is not as it should be: what is wrong with it, and the first of what was found."""

from __future__ import annotations

from collections.abc import Sequence

from catalog.errors import BuildRefused

MOST_NAMED = 10


def refuse(what: str, found: Sequence[object]) -> None:
    """Raises BuildRefused, which says *what* and names the first of *found*; does nothing where nothing was found."""
    if found:
        named = "\n".join(map(str, found[:MOST_NAMED]))
        more = f"\n… and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
        raise BuildRefused(f"{what}, so it was not put in place:\n{named}{more}")
