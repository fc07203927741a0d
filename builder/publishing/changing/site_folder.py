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


@contextmanager
def staged(out: Path, *, keep_earlier: bool = False, drop_earlier: Callable[[], bool] | None = None) -> Iterator[Path]:
    """A fresh folder that takes the place of *out* when the block ends well, and vanishes when it does not.

    keep_earlier  what was at *out* stays beside it as *out*.earlier
    drop_earlier  asked once the block has ended: whether neither that nor an earlier version may stay
    Raises        BuildRefused: *out* is a file, or a folder that holds anything other than what it should, or nothing
                  can be written beside it, or another process writes it. Then, and whenever the block fails, *out* is as
                  it was.
    """
    out = out.resolve()
    with ExitStack() as holding:
        try:
            settle(out)
            _require_ours(out)
            if out.exists():
                holding.enter_context(held(out))
            stage = new_stage(out)
            stage.chmod(0o755)
        except OSError as failure:
            raise BuildRefused(f"The site cannot be written to {out}: {_reason(failure)}") from failure
        try:
            holding.enter_context(held(stage))
            (stage / MARKER).write_text(MARKER_TEXT, encoding="utf-8")
            yield stage
            put_in_place(stage, out, keep=keep_earlier, drop=drop_earlier is not None and drop_earlier())
        except OSError as failure:
            raise BuildRefused(f"The site cannot be written to {out}: {_reason(failure)}") from failure
        finally:
            shutil.rmtree(stage, ignore_errors=True)


def _require_ours(out: Path) -> None:
    if out.exists() and not out.is_dir():
        raise BuildRefused(f"{out} is a file. Name a folder for the site.")
    if not out.parent.is_dir():
        raise BuildRefused(f"The folder {out.parent} does not exist, so no site can be built in it.")
    if not out.is_dir() or not any(out.iterdir()):
        return
    if not (out / MARKER).is_file():
        raise BuildRefused(
            f"{out} holds files that no build of Likeloss wrote, and a build replaces the whole folder. "
            "Name an empty or a new folder."
        )


def _reason(failure: OSError) -> str:
    return f"{failure.strerror or failure}."
