"""Where the public copy lies in a site: it is made while the rest of the program is loaded."""

from __future__ import annotations

from pathlib import Path

DATABASE = "likeloss.db"


def database_in(site: Path) -> Path:
    """Where it lies in a site's folder. Makes the folder around it."""
    folder = site / "data"
    folder.mkdir(exist_ok=True)
    return folder / DATABASE
