"""Files that travel with the program: the page templates and the demo's batches.

In a checkout they lie beside the packages, in an installation inside `builder/shipped_files`
(pyproject.toml puts them there).
"""

from __future__ import annotations

from pathlib import Path

from catalog.errors import BuildRefused

_PACKAGE = Path(__file__).parent
_INSTALLED = _PACKAGE / "shipped_files"


def templates_folder() -> Path:
    """The folder of page templates. Raises BuildRefused where the installation lacks it."""
    return _folder(_INSTALLED / "site_templates", _PACKAGE.parent / "site_templates", "page templates")


def demo_folder() -> Path:
    """The folder of the demo: its batches and demo.toml. Raises BuildRefused where the installation lacks it."""
    return _folder(_INSTALLED / "demo", _PACKAGE.parent / "data" / "demo", "demo batches")


def _folder(installed: Path, checkout: Path, what: str) -> Path:
    for candidate in (installed, checkout):
        if candidate.is_dir():
            return candidate
    raise BuildRefused(f"The {what} are missing from this installation of Likeloss. Install it again.")
