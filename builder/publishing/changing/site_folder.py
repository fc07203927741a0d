"""The folder a site lives in: built beside its place, swapped in whole, and never a folder that is not ours."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from builder.publishing.changing.swapping import held, new_stage, put_in_place, settle
from catalog.errors import BuildRefused

# Marks a folder as a built site: only such a folder is ever replaced.
MARKER = ".likeloss-site"
MARKER_TEXT = "Built by Likeloss. The next build replaces this whole folder.\n"
# Marks a folder as a preview, which nobody may publish, and which no build for the public replaces.
PREVIEW_MARKER = ".likeloss-preview"
PREVIEW_TEXT = "A preview by Likeloss, with hidden things in it. Not for the public.\n"


@contextmanager
def staged(
    out: Path, *, keep_earlier: bool = False, drop_earlier: Callable[[], bool] | None = None, preview: bool = False
) -> Iterator[Path]:
    """A fresh folder that takes the place of *out* when the block ends well, and vanishes when it does not.

    keep_earlier  what was at *out* stays beside it as *out*.earlier
    drop_earlier  asked once the block has ended: whether neither that nor an earlier version may stay
    preview       *out* is a preview's folder, not a public site's; neither ever replaces the other. Nobody but its owner
                  may read it
    Raises        BuildRefused: *out* is a file, or a folder that holds anything other than what it should, or a preview
                  would lie in a public site, or nothing can be written beside it, or another process writes it. Then,
                  and whenever the block fails, *out* is as it was.
    """
    out = out.resolve()
    with ExitStack() as holding:
        try:
            settle(out)
            _require_ours(out, preview=preview)
            if out.exists():
                holding.enter_context(held(out))
            stage = new_stage(out)
            if not preview:
                stage.chmod(0o755)
        except OSError as failure:
            raise BuildRefused(f"The site cannot be written to {out}: {_reason(failure)}") from failure
        try:
            holding.enter_context(held(stage))
            marker, text = (PREVIEW_MARKER, PREVIEW_TEXT) if preview else (MARKER, MARKER_TEXT)
            (stage / marker).write_text(text, encoding="utf-8")
            yield stage
            if preview:
                _make_private(stage)
            put_in_place(stage, out, keep=keep_earlier, drop=drop_earlier is not None and drop_earlier())
        except OSError as failure:
            raise BuildRefused(f"The site cannot be written to {out}: {_reason(failure)}") from failure
        finally:
            shutil.rmtree(stage, ignore_errors=True)


def _make_private(folder: Path) -> None:
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o700 if path.is_dir() else 0o600)


def _require_ours(out: Path, *, preview: bool) -> None:
    if out.exists() and not out.is_dir():
        raise BuildRefused(f"{out} is a file. Name a folder for the site.")
    if not out.parent.is_dir():
        raise BuildRefused(f"The folder {out.parent} does not exist, so no site can be built in it.")
    if preview and (site := next((folder for folder in out.parents if (folder / MARKER).is_file()), None)) is not None:
        raise BuildRefused(
            f"{out} lies in {site}, which is a public site or a version of one. A preview holds hidden things and never "
            "goes there. Name a folder elsewhere."
        )
    if not out.is_dir() or not any(out.iterdir()):
        return
    if preview and (out / MARKER).is_file():
        raise BuildRefused(f"{out} is a public site. A preview holds hidden things and never goes there.")
    if not preview and (out / PREVIEW_MARKER).is_file():
        raise BuildRefused(f"{out} is a preview. Name another folder for the public site.")
    if not (out / (PREVIEW_MARKER if preview else MARKER)).is_file():
        raise BuildRefused(
            f"{out} holds files that no build of Likeloss wrote, and a build replaces the whole folder. "
            "Name an empty or a new folder."
        )


def _reason(failure: OSError) -> str:
    return f"{failure.strerror or failure}."
