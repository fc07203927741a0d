"""Where the public copy lies while a site is made of it, and in the site: packed, as a download."""

from __future__ import annotations

from pathlib import Path

from builder.publishing.files.packing import SUFFIX

DATABASE = "likeloss.db"
PACKED_DATABASE = f"{DATABASE}{SUFFIX}"


def database_in(site: Path) -> Path:
    """Where it lies until it is packed. Makes the folder around it."""
    folder = site / "data"
    folder.mkdir(exist_ok=True)
    return folder / DATABASE
