"""The folder a site lives in: built beside its place, swapped in whole, and never a folder that is not ours."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from catalog.errors import BuildRefused

# Marks a folder as a built site: only such a folder is ever replaced.
MARKER = ".likeloss-site"
MARKER_TEXT = "Built by Likeloss. The next build replaces this whole folder.\n"


@contextmanager
def staged(out: Path) -> Iterator[Path]:
    """A fresh folder that takes the place of *out* when the block ends well, and vanishes when it does not.

    Raises  BuildRefused: *out* is a file, or a folder that holds something else than a built site, or nothing can
            be written beside it. Then, and whenever the block fails, *out* is as it was.
    """
    out = out.resolve()
    _require_ours(out)
    try:
        stage = Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.parent))
        stage.chmod(0o755)
    except OSError as failure:
        raise BuildRefused(f"The site cannot be written to {out}: {_reason(failure)}") from failure
    try:
        (stage / MARKER).write_text(MARKER_TEXT, encoding="utf-8")
        yield stage
        _swap(stage, out)
    except OSError as failure:
        raise BuildRefused(f"The site cannot be written to {out}: {_reason(failure)}") from failure
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def _require_ours(out: Path) -> None:
    if out.exists() and not out.is_dir():
        raise BuildRefused(f"{out} is a file. Name a folder for the site.")
    if not out.parent.is_dir():
        raise BuildRefused(f"The folder {out.parent} does not exist, so no site can be built in it.")
    if out.is_dir() and not (out / MARKER).is_file() and any(out.iterdir()):
        raise BuildRefused(
            f"{out} holds files that no build of Likeloss wrote, and a build replaces the whole folder. "
            "Name an empty or a new folder."
        )


def _swap(stage: Path, out: Path) -> None:
    if not out.exists():
        stage.rename(out)
        return
    aside = Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.parent))
    aside.rmdir()
    out.rename(aside)
    try:
        stage.rename(out)
    except OSError:
        aside.rename(out)
        raise
    shutil.rmtree(aside, ignore_errors=True)


def _reason(failure: OSError) -> str:
    return f"{failure.strerror or failure}."
