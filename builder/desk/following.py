"""Which files changed, as the operating system reports it, and which of them count."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from watchfiles import Change, awatch

from catalog.reading.sources import is_checked_copy

# Changes that follow each other within STEP_MS are reported together, and none later than MOST_MS.
STEP_MS, MOST_MS = 50, 400


def counts(path: Path, *, catalog: Path, folders: Mapping[Path, bool]) -> bool:
    """Whether a change of *path* may change what is shown: editors and spreadsheets leave files of their own behind.

    catalog  the file; SQLite's own files beside it do not count
    folders  of templates and batches, each with whether what lies deeper counts
    """
    if path == catalog or path in folders:
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
    folders: Callable[[], Mapping[Path, bool]],
    *,
    catalog: Path,
    stop: asyncio.Event,
    changed: Callable[[set[Path]], None],
) -> None:
    """Report the files that changed, again and again until *stop*.

    folders  as `counts` has them; that of the catalogue is watched, too. Those that are there are looked for anew
             whenever one of them comes or goes, for the system watches folders and not their names
    """

    def there() -> dict[Path, bool]:
        return {folder: deep for folder, deep in folders().items() if folder.is_dir()}

    first = True
    while not stop.is_set():
        await _watch_these(there, catalog=catalog, stop=stop, changed=changed, first=first)
        first = False


async def _watch_these(
    there: Callable[[], Mapping[Path, bool]],
    *,
    catalog: Path,
    stop: asyncio.Event,
    changed: Callable[[set[Path]], None],
    first: bool,
) -> None:
    """The same until *stop*, or until other folders are *there*."""
    over, places = asyncio.Event(), there()
    deep = [folder for folder, whole in places.items() if whole]
    flat = {catalog.parent, *(folder.parent for folder in deep), *(places.keys() - set(deep))}

    def counted(_: Change, path: str) -> bool:
        return counts(Path(path), catalog=catalog, folders=places)

    async def of_kind(watched: Iterable[Path], *, recursive: bool) -> None:
        try:
            async for some in awatch(
                *watched, watch_filter=counted, debounce=MOST_MS, step=STEP_MS, stop_event=over, recursive=recursive
            ):
                changed({Path(path) for _, path in some})
                gone = any(kind is Change.deleted and Path(path) in places for kind, path in some)
                if gone or there() != places:
                    over.set()
        except FileNotFoundError:  # one went between the look and the watch
            await asyncio.sleep(MOST_MS / 1000)
            over.set()

    async def with_the_rest() -> None:
        await stop.wait()
        over.set()

    async def meanwhile() -> None:
        """What changed before these were watched."""
        await asyncio.sleep(MOST_MS / 1000)
        changed(set(places))

    others = [asyncio.create_task(with_the_rest())]
    if not first:
        others.append(asyncio.create_task(meanwhile()))
    try:
        await asyncio.gather(*(of_kind(some, recursive=kind) for kind, some in ((True, deep), (False, flat)) if some))
    finally:
        for task in others:
            task.cancel()
