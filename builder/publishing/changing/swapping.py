"""One folder in the place of another in one step, the earlier one beside it, and what a killed run left behind.

Beside the site's folder NAME there may be

    NAME.earlier             the version before, kept by `publish`
    .NAME.building-*         a folder being built; garbage if its owner is dead
    .NAME.swapping-INODE     just before and just after the step. Before it, the folder is the new site and has this
                             inode itself; after it, it is what NAME was, and belongs to NAME.earlier
    .NAME.aside-INODE        what NAME was, where the file system cannot exchange two folders in one step

Linux exchanges two folders in one step (renameat2 with RENAME_EXCHANGE), so NAME is a whole site at every instant.
Elsewhere two renames follow each other: for a moment NAME is not there, and a run killed in that moment leaves the
old site under its other name, from which the next run brings it back.
"""

from __future__ import annotations

import ctypes
import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from glob import escape
from pathlib import Path

from catalog.errors import BuildRefused
from catalog.whole_files import lock

_AT_FDCWD = -100  # linux/fcntl.h: a path is relative to the working directory
_RENAME_EXCHANGE = 2  # linux/fs.h
_CANNOT = (errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EPERM)  # an old kernel, or a file system without it


def earlier_of(out: Path) -> Path:
    """Where the version before the one at *out* is kept."""
    return out.with_name(f"{out.name}.earlier")


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Lock *folder* for this process; the lock of a killed process goes by itself.

    Raises  BuildRefused when another process has locked it.
    """
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        if lock(descriptor) is False:
            raise BuildRefused(f"Another Likeloss is writing {folder}. Try again when it is done.")
        yield
    finally:
        os.close(descriptor)


def new_stage(out: Path) -> Path:
    """An empty folder beside *out*, to build in, which only its owner may enter."""
    return Path(tempfile.mkdtemp(prefix=f".{out.name}.building-", dir=out.parent))


def put_in_place(stage: Path, out: Path, *, keep: bool, drop: bool = False) -> None:
    """Give the whole folder *stage* the name *out*.

    keep  what was at *out* becomes its earlier version; otherwise it goes
    drop  it goes, and so does an earlier version that is there already
    """
    os.sync()  # what is swapped in must have reached the disk before it is called the site
    if not out.exists():
        stage.rename(out)
        return
    if drop:
        os.sync()
        with _without_earlier(out):
            _swap(stage, out, name=out)
        shutil.rmtree(stage, ignore_errors=True)
        return
    if keep:
        ready = out.with_name(f".{out.name}.swapping-{stage.stat().st_ino}")
        stage.rename(ready)
        try:
            _swap(ready, out, name=out)
        except OSError:
            shutil.rmtree(ready, ignore_errors=True)
            raise
        _become_earlier(ready, out)
    else:
        _swap(stage, out, name=out)
        shutil.rmtree(stage, ignore_errors=True)


@contextmanager
def _without_earlier(out: Path) -> Iterator[None]:
    """From here on whoever cleans up removes the earlier version, unless the block fails."""
    earlier = earlier_of(out)
    if not earlier.exists():
        yield
        return
    rubbish = _rubbish(earlier, out)
    try:
        yield
    except OSError:
        rubbish.rename(earlier)
        raise
    shutil.rmtree(rubbish, ignore_errors=True)


def _rubbish(folder: Path, out: Path) -> Path:
    """Give *folder* a name under which it is cleaned up, in one step."""
    name = new_stage(out)
    name.rmdir()
    return folder.rename(name)


def roll_back(out: Path) -> None:
    """Let *out* and its earlier version change places."""
    _swap(earlier_of(out), out, name=out)


def settle(out: Path) -> None:
    """Finish or clean up what a killed run left beside *out*; nothing that is in use is touched."""
    for aside in sorted(out.parent.glob(f".{escape(out.name)}.aside-*")):
        if out.exists():
            _become_earlier(aside, out)
        else:
            aside.rename(out)
    for folder in sorted(out.parent.glob(f".{escape(out.name)}.swapping-*")):
        if not _unused(folder):
            continue
        if folder.name.endswith(f"-{folder.stat().st_ino}"):
            shutil.rmtree(folder, ignore_errors=True)  # built, checked, but never swapped in
        else:
            _become_earlier(folder, out)
    for folder in sorted(out.parent.glob(f".{escape(out.name)}.building-*")):
        if _unused(folder):
            shutil.rmtree(folder, ignore_errors=True)


def _become_earlier(folder: Path, out: Path) -> None:
    earlier = earlier_of(out)
    if earlier.exists():
        rubbish = _rubbish(earlier, out)
        folder.rename(earlier)
        shutil.rmtree(rubbish, ignore_errors=True)
    else:
        folder.rename(earlier)


def _swap(one: Path, other: Path, *, name: Path) -> None:
    """Exchange two folders, in one step where the system can."""
    if exchange(one, other):
        return
    aside = name.with_name(f".{name.name}.aside-{other.stat().st_ino}")
    other.rename(aside)
    try:
        one.rename(other)
    except OSError:
        aside.rename(other)
        raise
    aside.rename(one)


def exchange(one: Path, other: Path) -> bool:
    """Exchange two names in one step; False where this system or file system cannot, and then nothing is changed.

    Source  renameat2(2), Linux man-pages: RENAME_EXCHANGE.
    """
    call = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if call is None:
        return False
    if call(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0:
        return True
    code = ctypes.get_errno()
    if code in _CANNOT:
        return False
    raise OSError(code, os.strerror(code), str(one))


def _unused(folder: Path) -> bool:
    """Whether no living process has locked *folder*."""
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except FileNotFoundError:
        return False
    try:
        return lock(descriptor) is not False  # without locks there is no way to tell: go on as if alone
    finally:
        os.close(descriptor)
