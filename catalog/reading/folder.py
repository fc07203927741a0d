"""The files of a batch folder: which may be opened, and how large they may be."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import NamedTuple

from catalog.errors import InputRefused, Problem
from catalog.reading.rawtable import problem_in
from catalog.reading.sources import is_checked_copy

MAX_TEXT_BYTES = 8 * 2**20  # batch.toml, answers, maps, articles
MAX_TABLE_BYTES = 512 * 2**20
MAX_LOG_BYTES = 1024 * 2**20
MAX_IMAGE_BYTES = 50 * 10**6
MAX_FILES = 100_000


class FileState(NamedTuple):
    """What changes when a file is written or another one takes its name; times in ns since 1970.

    changed_ns  when the system last noted a change, which no program sets
    """

    device: int
    inode: int
    size: int
    written_ns: int
    changed_ns: int


@dataclass(frozen=True)
class Folder:
    """A batch folder, resolved once. Paths inside it are text with forward slashes, as batches write them."""

    root: Path

    def names(self) -> list[str]:
        """What lies directly in the folder and could be tables, in a stable order.

        Raises  InputRefused for a name that is not text: no report could be written about it.
        """
        names = sorted(entry.name for entry in self.root.iterdir() if not entry.name.startswith((".", "~$")))
        names = [name for name in names if not is_checked_copy(name)]
        for name in names:
            if (readable := os.fsencode(name).decode("utf-8", "replace")) != name:
                raise InputRefused(f"The name of the file {readable!r} in the batch is not UTF-8 text. Rename it.")
        return names

    def refusal(self, path: str) -> str | None:
        """Why *path* may not be read, as a sentence; None when it may.

        Refused are absolute paths, "..", links that leave the folder, and what is not a plain file.
        """
        inside = PurePosixPath(path)
        if "\x00" in path or "\\" in path or inside.is_absolute() or ".." in inside.parts or ":" in path[:2]:
            return f"{path!r} leaves the batch. A path inside a batch stays inside it, with forward slashes."
        target = self.root / inside
        try:
            resolved = target.resolve(strict=True)
        except (OSError, RuntimeError, ValueError):
            return f"There is no file {path!r} in the batch. Put it there, or correct the name."
        if not resolved.is_relative_to(self.root):
            return f"{path!r} is a link that leaves the batch folder. Put the file itself into the folder."
        if not resolved.is_file():
            return f"{path!r} is not a file."
        return None

    def state(self, path: str) -> FileState | None:
        """What tells a file that `refusal` let through from what it was; None where it is gone."""
        try:
            status = (self.root / path).stat()
        except OSError:
            return None
        return FileState(status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns, status.st_ctime_ns)

    def read(self, path: str, *, limit: int) -> bytes:
        """The bytes of a file that `refusal` let through.

        Raises  InputRefused when it holds more than *limit* bytes or cannot be read.
        """
        target = self.root / path
        try:
            size = target.stat().st_size
            content = target.read_bytes() if size <= limit else b""
        except OSError as failure:
            raise InputRefused(f"{path} cannot be read: {failure.strerror or failure}.") from failure
        if size > limit:
            raise InputRefused(
                f"{path} is larger than {limit / 10**6:.0f} MB, which is the limit for such a file. Split it."
            )
        return content


def open_place(path: Path) -> Folder:
    """The folder that a workbook lies in, with the logs and pictures that it names."""
    return Folder(path.resolve())


def open_folder(path: Path) -> Folder:
    """The batch folder at *path*.

    Raises  InputRefused: no folder there, an empty one, or one without batch.toml.
    """
    if not path.is_dir():
        what = "is a file" if path.exists() else "does not exist"
        raise InputRefused(f"{path} {what}. A batch is a folder that holds batch.toml and its tables, or a workbook.")
    try:
        entries = sum(1 for _ in _limited(path))
    except OSError as failure:
        raise InputRefused(f"{path} cannot be read: {failure.strerror or failure}.") from failure
    if entries == 0:
        raise InputRefused(f"{path} is empty. A batch is a folder that holds batch.toml and its tables.")
    if not (path / "batch.toml").exists():
        raise InputRefused(
            f"There is no batch.toml in {path}. Every batch needs one; `likeloss new FOLDER` writes a start."
        )
    return Folder(path.resolve())


def _limited(path: Path) -> Iterator[None]:
    with os.scandir(path) as entries:
        for count, _ in enumerate(entries):
            if count >= MAX_FILES:
                raise InputRefused(f"{path} holds more than {MAX_FILES:,} files; that is no batch.")
            yield None


def file_problem(source: str, row: int, column: str, value: str, sentence: str, code: str = "file") -> Problem:
    """A problem with a file that a cell or key names."""
    return problem_in(source, row, sentence, "", code, value=value, column=column)
