"""Which files changed, as the operating system reports it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from watchfiles import Change, awatch
from watchfiles._rust_notify import WatchfilesRustInternalError

from builder.desk.watched import States, counts, differing, states

# Changes that follow each other within STEP_MS are reported together, and none later than MOST_MS.
STEP_MS, MOST_MS = 50, 400
ODD_NAME_S = 2.0  # until all is watched again, and looked at, after a change of a file whose name is no text


async def watch(
    folders: Callable[[], Mapping[Path, bool]],
    *,
    catalog: Path,
    stop: asyncio.Event,
    changed: Callable[[set[Path]], None],
    since: States,
) -> None:
    """Report the files that changed, again and again until *stop*.

    folders  as `counts` has them; that of the catalogue is watched, too. Those that are there are looked for anew
             whenever one of them comes or goes, for the system watches folders and not their names
    since    what the files were before they were read: what changed before the first watch is reported, too
    """

    def there() -> dict[Path, bool]:
        return {folder: deep for folder, deep in folders().items() if folder.is_dir()}

    def since_the_start() -> set[Path]:
        return differing(since, states(folders(), catalog=catalog))

    def perhaps_anything() -> set[Path]:
        return {catalog, *there()}

    missed = since_the_start
    while not stop.is_set():
        await _watch_these(there, catalog=catalog, stop=stop, changed=changed, missed=missed)
        missed = perhaps_anything


async def _watch_these(
    there: Callable[[], Mapping[Path, bool]],
    *,
    catalog: Path,
    stop: asyncio.Event,
    changed: Callable[[set[Path]], None],
    missed: Callable[[], set[Path]],
) -> None:
    """The same until *stop*, or until other folders are *there*.

    missed  what changed before these were watched
    """
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
        except BaseExceptionGroup as several:
            if (others := several.split(WatchfilesRustInternalError)[1]) is not None:
                raise others from several
            # A name that is no UTF-8 text ends a watch; of what grows under such a name it would be told each second.
            await asyncio.sleep(ODD_NAME_S)
            over.set()

    async def with_the_rest() -> None:
        await stop.wait()
        over.set()

    async def meanwhile() -> None:
        await asyncio.sleep(MOST_MS / 1000)
        if paths := missed():
            changed(paths)
        if there() != places:  # one came back before its folder was watched
            over.set()

    others = [asyncio.create_task(with_the_rest()), asyncio.create_task(meanwhile())]
    try:
        await asyncio.gather(*(of_kind(some, recursive=kind) for kind, some in ((True, deep), (False, flat)) if some))
    finally:
        for task in others:
            task.cancel()
