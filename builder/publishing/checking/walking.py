"""Every file of a site, looked at once: ten thousand paths as objects would take longer than the looking."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path


def entries_below(folder: Path | str, inside: str = "") -> Iterator[tuple[str, os.DirEntry[str]]]:
    """(address, entry) of everything below a folder that is no folder, in no order.

    inside  what addresses begin with
    Raises  OSError where a folder cannot be read.
    """
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.is_dir(follow_symlinks=False):
                yield from entries_below(entry.path, f"{inside}{entry.name}/")
            elif not entry.is_dir():
                yield inside + entry.name, entry
