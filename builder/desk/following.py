"""Which files changed, as the operating system tells it, and what of that counts."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from pathlib import Path

from watchfiles import Change, awatch

from catalog.reading.sources import is_checked_copy

# Changes that follow each other within STEP_MS are told together, and none later than MOST_MS.
STEP_MS, MOST_MS = 50, 400


def counts(path: Path, *, catalog: Path, folders: Mapping[Path, bool]) -> bool:
    """Whether a change of *path* may change what is shown: editors and spreadsheets leave files of their own behind.

    catalog  the file; SQLite's own files beside it do not count
    folders  of templates and batches, each with whether what lies deeper counts
    """
    if path == catalog:
        return True
    if path.parent == catalog.parent and path.name.startswith(f"{catalog.name}-"):
        return False
    for folder, deep in folders.items():
        if path.parent == folder or (deep and path.is_relative_to(folder)):
            return not any(map(_by_the_way, path.relative_to(folder).parts))
    return False


def _by_the_way(name: str) -> bool:
    left = name.startswith((".", "~$", "#")) or name.endswith(("~", ".swp", ".swx", ".tmp", ".part"))
    return left or name == "__pycache__" or is_checked_copy(name)


async def watch(
    folders: Mapping[Path, bool], *, catalog: Path, stop: asyncio.Event, told: Callable[[set[Path]], None]
) -> None:
    """Tell the files that changed, again and again until *stop*.

    folders  as `counts` has them; that of the catalogue is watched, too
    """
    kinds = {deep: [folder for folder, kind in folders.items() if kind is deep] for deep in (True, False)}
    if catalog.parent not in folders:
        kinds[False].append(catalog.parent)

    def counted(_: Change, path: str) -> bool:
        return counts(Path(path), catalog=catalog, folders=folders)

    async def of_kind(places: list[Path], *, deep: bool) -> None:
        async for some in awatch(
            *places, watch_filter=counted, debounce=MOST_MS, step=STEP_MS, stop_event=stop, recursive=deep
        ):
            told({Path(path) for _, path in some})

    await asyncio.gather(*(of_kind(places, deep=deep) for deep, places in kinds.items() if places))
