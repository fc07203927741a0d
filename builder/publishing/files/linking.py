"""Files of a new site that the site before has just so: they are those very files, under a second name.

A file is linked only if its bytes, read now, are the ones wanted: whatever somebody did to the site before by hand is
not carried over. Nothing here, or after it, writes into a file that lies there already, so the site before stays as it
is while it is served, and either name may go without harm to the other. What copies the site elsewhere and looks at sizes
and times moves only what changed, for a link keeps the time.
"""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass, field
from filecmp import cmp
from pathlib import Path

from builder.publishing.checking.walking import entries_below


@dataclass(frozen=True, slots=True)
class Stage:
    """A folder that a site is written into, and the site before, if there is one.

    mode  of a file that is written now; one whose rights somebody changed is not taken over
    """

    folder: Path
    before: Path | None
    mode: int
    _written: set[str] = field(default_factory=set)
    _folders: set[str] = field(default_factory=set)  # that are there: to ask for each file takes longer than to link it

    @classmethod
    def of(cls, folder: Path, before: Path | None) -> Stage:
        """Raises OSError where nothing can be written into *folder*."""
        probe = folder / ".probe"
        probe.touch()
        try:
            return cls(folder, before, probe.stat().st_mode)
        finally:
            probe.unlink()

    def write(self, address: str, content: bytes) -> None:
        """Put a file with this content at an address of the site."""
        target = self.folder / address
        around = address.rpartition("/")[0]
        if around not in self._folders:
            target.parent.mkdir(parents=True, exist_ok=True)
            self._folders.add(around)
        if address in self._written:
            target.unlink()  # it may be a file of the site before
        self._written.add(address)
        same = self._earlier(address, len(content))
        if same is None or same.read_bytes() != content:
            target.write_bytes(content)
        elif not _linked(same, target):
            target.write_bytes(content)
            _dated_like(same, target)

    def settle(self) -> None:
        """Do the same for all files that were put into the folder in another way, once they are whole."""
        for address in {address for address, _ in entries_below(self.folder)} - self._written:
            self._settle(address)

    def _settle(self, address: str) -> None:
        target = self.folder / address
        same = self._earlier(address, target.stat().st_size)
        if same is None or not cmp(same, target, shallow=False):
            return
        second = target.with_name(f".{target.name}.linked")
        if _linked(same, second):
            second.replace(target)
        else:
            _dated_like(same, target)

    def _earlier(self, address: str, size: int) -> Path | None:
        """The file of the site before at this address, if it is one of this size and nothing but a file."""
        if self.before is None:
            return None
        path = self.before / address
        try:
            state = path.lstat()
        except OSError:
            return None
        return path if stat.S_ISREG(state.st_mode) and (state.st_mode, state.st_size) == (self.mode, size) else None


def _linked(file: Path, second: Path) -> bool:
    """Whether *second* is now another name of *file*: not every file system has that, nor every owner the right to."""
    try:
        os.link(file, second)
    except (OSError, NotImplementedError):
        return False
    return True


def _dated_like(file: Path, copy: Path) -> None:
    state = file.stat()
    os.utime(copy, ns=(state.st_atime_ns, state.st_mtime_ns))
