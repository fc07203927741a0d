"""Files and folders that take their names only when they are whole.

What is written goes into a draft in a hidden folder beside its place, reaches the disk, and is then renamed. A full
disk, a kill or a loss of power leaves what stood there before, and nothing under a name that a person would take for
the real one: a draft lies in

    .likeloss-writing-*      beside the place; without a living owner it is rubbish, and the next writer there removes it
"""

from __future__ import annotations

import fcntl
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext, suppress
from pathlib import Path
from typing import BinaryIO

from catalog.errors import InputRefused, WriteRefused

_DRAFTS = ".likeloss-writing-"
_JOURNALS = ("-journal", "-wal", "-shm")  # sqlite.org/tempfiles.html: names SQLite takes beside a database


@contextmanager
def whole_file(target: Path, *, new: bool = False) -> Iterator[BinaryIO]:
    """A file to write, which takes the place of *target* when the block ends well.

    A link stays, and what it leads to is replaced; an older file's rights are kept. A pipe or a device holds nothing
    that could be lost and is written as it is. Whether an older file may be replaced, the caller decides.

    new     *target* must not be there, also not since the caller looked; its folder is made if need be
    Raises  WriteRefused: it cannot be written. Then, and whenever the block fails, all is as it was.
    """
    place = _real(target)
    with _os_errors_refused(target), _folder_of(place, made=new):
        if target.exists() and not target.is_file() and not target.is_dir():
            with target.open("wb") as file:
                yield file
            return
        with draft_beside(place) as draft:
            with draft.open("wb") as file:
                yield file
                file.flush()
                os.fsync(file.fileno())
            if new:
                take_name(draft, place)
                return
            if place.exists():
                shutil.copymode(place, draft)
            draft.replace(place)
            _sync(place.parent)


@contextmanager
def whole_folder(target: Path) -> Iterator[Path]:
    """An empty folder to fill, which becomes *target* when the block ends well; *target* is new, or an empty folder.

    Raises  WriteRefused: it could not be written, or *target* holds something. Then, and whenever the block fails,
            *target* is as it was.
    """
    place = _real(target)
    with _os_errors_refused(target), draft_beside(place) as draft:
        draft.mkdir()
        yield draft
        for path in sorted(draft.rglob("*")):
            _sync(path)
        _sync(draft)
        if place.exists():
            shutil.copymode(place, draft)
        draft.rename(place)  # over an empty folder, too, and over nothing else
        _sync(place.parent)


@contextmanager
def draft_beside(place: Path) -> Iterator[Path]:
    """A path that is not there yet, on the same file system as *place* and out of everybody's sight.

    Whatever lies there, or beside it as SQLite's journals do, is gone after the block.
    Raises  InputRefused where the folder of *place* does not exist, WriteRefused where nothing can be made in it.
    """
    if not place.parent.is_dir():
        raise InputRefused(f"The folder {place.parent} does not exist, so nothing can be written in it.")
    forget_abandoned(place.parent)
    while True:
        with _os_errors_refused(place):
            folder = Path(tempfile.mkdtemp(prefix=_DRAFTS, dir=place.parent))
        descriptor = os.open(folder, os.O_RDONLY)
        # Between the two lines above it had no owner yet, and another process that cleans up may have removed it.
        if lock(descriptor) is not False and folder.exists():
            break
        os.close(descriptor)
    try:
        yield folder / place.name
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        os.close(descriptor)


def take_name(draft: Path, place: Path) -> None:
    """Give the finished file *draft* the name *place*, which must be free.

    Raises  WriteRefused: another process made one of this name meanwhile.
    """
    taken = f"{place} was made by someone else meanwhile. Nothing was changed; try again."
    try:
        os.link(draft, place)  # unlike a rename, this never replaces another file
    except FileExistsError as failure:
        raise WriteRefused(taken) from failure
    except OSError:  # some file systems have no links
        if place.exists():
            raise WriteRefused(taken) from None
        draft.rename(place)
    _sync(place.parent)


def forget_abandoned(folder: Path) -> None:
    """Remove the drafts in *folder* whose writers were killed."""
    for draft in folder.glob(f"{_DRAFTS}*"):
        with suppress(OSError):  # it is gone by now, or belongs to another process
            descriptor = os.open(draft, os.O_RDONLY | os.O_NOFOLLOW)
            try:
                if lock(descriptor):
                    shutil.rmtree(draft, ignore_errors=True)
            finally:
                os.close(descriptor)


def lock(descriptor: int) -> bool | None:
    """Hold an open folder for this process; a killed process lets go by itself.

    False where another process holds it, None on a file system without locks, where it is unknown.
    """
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return None
    return True


def require_apart(target: Path, *, catalog: Path | None) -> None:
    """Refuse a *target* that cannot be written without harm to the catalogue; links are followed.

    catalog  its file; None for one in memory, which nothing can harm
    Raises   InputRefused: it is that file, one that SQLite keeps beside it, or a folder it lies in.
    """
    if catalog is None:
        return
    place, kept = _real(target), _real(catalog)
    if place == kept or (target.exists() and catalog.exists() and target.samefile(catalog)):
        raise InputRefused(f"{target} is the catalogue itself. Name another place to write to.")
    if any(place == kept.with_name(kept.name + end) for end in _JOURNALS):
        raise InputRefused(f"{target} is a name that SQLite uses beside the catalogue {catalog}. Name another.")
    if place in kept.parents:
        raise InputRefused(f"{target} holds the catalogue {catalog}. Name a folder of its own to write to.")


@contextmanager
def _folder_of(place: Path, *, made: bool) -> Iterator[None]:
    """With *made*, the folder that *place* is to lie in is there, and gone again if it was not and the block fails."""
    folder = place.parent
    was_there = folder.exists()
    if made:
        folder.mkdir(exist_ok=True)
    try:
        yield
    except BaseException:
        if made and not was_there:
            with suppress(OSError):  # another process has put something in it
                folder.rmdir()
        raise


@contextmanager
def _os_errors_refused(target: Path) -> Iterator[None]:
    """Turn an OSError into WriteRefused, with the reason."""
    try:
        yield
    except OSError as failure:
        reason = (failure.strerror or str(failure)).lower()
        raise WriteRefused(f"{target} cannot be written: {reason}. What was there before is as it was.") from failure


def _real(path: Path) -> Path:
    """Where *path* leads; unlike Path.resolve, a loop of links is left for the caller that opens it."""
    return Path(os.path.realpath(path))


def _sync(path: Path) -> None:
    """Wait until the disk holds a file, or the names in a folder."""
    # Not every file system can do so for folders, nor may everybody open one to write in it.
    with suppress(OSError) if path.is_dir() else nullcontext():
        descriptor = os.open(path, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
