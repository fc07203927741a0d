"""Running the program in a process of its own and killing it at a chosen moment."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
# Moments a test kills at: 6 in CI, 50 by hand (LIKELOSS_KILLS=50).
KILLS = int(os.environ.get("LIKELOSS_KILLS", "6"))


def started(*arguments: object, cache: Path, before: str = "") -> subprocess.Popen[str]:
    """The program as a process. before: Python that the process runs first, to limit itself."""
    script = f"{before}\nfrom builder.cli import main\nmain()"
    environment = os.environ | {"PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(cache)}
    return subprocess.Popen(
        [sys.executable, "-c", script, *map(str, arguments)],
        env=environment,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


def ran(*arguments: object, cache: Path, before: str = "") -> tuple[int, str, str]:
    """Exit code, standard output and standard error of the program."""
    process = started(*arguments, cache=cache, before=before)
    out, err = process.communicate(timeout=300)
    return process.returncode, out, err


def killed(*arguments: object, cache: Path, after: float) -> int:
    """Kill the program *after* that many seconds with a signal it cannot catch; its exit code, -9 if it was caught."""
    process = started(*arguments, cache=cache)
    deadline = time.monotonic() + after
    while process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.002)
    process.kill()
    process.communicate(timeout=60)
    return int(process.returncode)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below *folder* and its bytes."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}
