"""Which files a preview follows, and what tells each from what it was."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from stat import S_ISREG

from catalog.reading.sources import is_checked_copy

States = Mapping[Path, tuple[int, ...]]
"""Inode, size and time of each file. [1, byte, ns]"""


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


def states(folders: Mapping[Path, bool], *, catalog: Path) -> States:
    """What every file that counts is now; of one that is not there nothing.

    folders  as `counts` has them
    """
    result = {}
    for path in _files(folders, catalog):
        if path == catalog or counts(path, catalog=catalog, folders=folders):
            try:
                status = path.stat()
            except OSError:  # it went in between
                continue
            if S_ISREG(status.st_mode):
                result[path] = (status.st_ino, status.st_size, status.st_mtime_ns)
    return result


def differing(before: States, now: States) -> set[Path]:
    """The files that came, went or are others now."""
    return {path for path in before.keys() | now.keys() if before.get(path) != now.get(path)}


def _files(folders: Mapping[Path, bool], catalog: Path) -> Iterator[Path]:
    yield catalog
    for folder, deep in folders.items():
        try:
            yield from folder.rglob("*") if deep else folder.iterdir()
        except OSError:  # it is not there, or nobody may look into it
            continue
