"""Which files changed, as the operating system tells it, and what of that counts."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from pathlib import Path

from watchfiles import Change, awatch

from catalog.reading.sources import is_checked_copy

# Changes that follow each other within STEP_MS are told together, and none later than MOST_MS.
STEP_MS, MOST_MS = 50, 400


def counts(path: Path, *, catalog: Path, folders: Iterable[Path]) -> bool:
    """Whether a change of *path* may change what is shown: editors and spreadsheets leave files of their own behind.

    catalog  the file; of its folder nothing else counts
    folders  of templates and batches, where everything else does
    """
    if path == catalog:
        return True
    inside = [path.relative_to(folder) for folder in folders if path.is_relative_to(folder)]
    return any(not any(map(_by_the_way, relative.parts)) for relative in inside) and not _beside(path, catalog)


def _by_the_way(name: str) -> bool:
    left = name.startswith((".", "~$", "#")) or name.endswith(("~", ".swp", ".swx", ".tmp", ".part"))
    return left or name == "__pycache__" or is_checked_copy(name)


def _beside(path: Path, catalog: Path) -> bool:
    """SQLite's own files beside the catalogue, which may lie in a batch's folder."""
    return path.parent == catalog.parent and path.name.startswith(f"{catalog.name}-")


async def watch(
    watched: Iterable[tuple[Path, bool]],
    *,
    catalog: Path,
    stop: asyncio.Event,
    told: Callable[[set[Path]], None],
) -> None:
    """Tell the files that changed, again and again until *stop*.

    watched  folders, each with whether what lies deeper counts
    """
    places = {kind: [folder for folder, deep in watched if deep is kind and folder.is_dir()] for kind in (True, False)}

    def counted(_: Change, path: str) -> bool:
        return counts(Path(path), catalog=catalog, folders=places[True])

    async def of_kind(deep: bool) -> None:
        async for some in awatch(
            *places[deep], watch_filter=counted, debounce=MOST_MS, step=STEP_MS, stop_event=stop, recursive=deep
        ):
            told({Path(path) for _, path in some})

    await asyncio.gather(*(of_kind(deep) for deep, folders in places.items() if folders))
