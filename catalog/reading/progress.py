"""How far a long read has come, reported to a callback."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

Progress = Callable[[str, int, int], None]
"""What is being done ("Reading runs.csv"), how much of it is done, and how much there is."""

Item = TypeVar("Item")


def silent(doing: str, done: int, total: int) -> None:
    """Report nothing."""


def told(items: Sequence[Item], progress: Progress, doing: str, *, every: int = 1) -> Iterator[Item]:
    """Yield the *items*, calling *progress* before each *every*-th one and at the end."""
    for done, item in enumerate(items):
        if done % every == 0:
            progress(doing, done, len(items))
        yield item
    progress(doing, len(items), len(items))
