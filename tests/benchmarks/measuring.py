"""What a command takes: processor seconds of it and all its children, seconds by the clock, and memory."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[2]
_PROGRAM = "import sys; sys.path.insert(0, sys.argv.pop(1)); from builder.cli import main; main(sys.argv[1:])"


@dataclass(frozen=True)
class Took:
    """One run of a command.

    processor   user and system, of the command and of every child it waited for. [s]
    clock       from its start to its end. [s]
    alone_mb    the most that one of these processes held. [MB]
    workers_mb  the most that all held at once, what forked workers share counted once; 0 if nobody watched. [MB]
    """

    processor: float
    clock: float
    alone_mb: float
    workers_mb: float
    output: str


def likeloss(*words: object) -> list[str]:
    """The command line of a verb, as this checkout has it."""
    return [sys.executable, "-c", _PROGRAM, str(ROOT), *map(str, words)]


def run(
    command: Sequence[str], *, cwd: Path = ROOT, more: Mapping[str, str] | None = None, watch: bool = False
) -> Took:
    """Run *command* to its end.

    more    further environment variables
    watch   look at its memory and that of its workers, twice a second
    Raises  RuntimeError with what it printed, where it fails.
    """
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        begun = time.perf_counter()
        child = subprocess.Popen(command, cwd=cwd, env=os.environ | dict(more or {}), stdout=out, stderr=err)
        with _Watch(child.pid) if watch else _NoWatch() as seen:
            _, status, usage = os.wait4(child.pid, 0)
        clock = time.perf_counter() - begun
        child.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        err.seek(0)
        output, trouble = out.read().decode(), err.read().decode()
    if child.returncode:
        raise RuntimeError(f"{' '.join(command[4:8])} … ended with {child.returncode}: {(trouble or output)[-800:]}")
    processor = usage.ru_utime + usage.ru_stime
    return Took(processor, clock, usage.ru_maxrss / 1024, seen.most_mb, output)


def middle(times: Sequence[Took]) -> Took:
    """The median of processor and clock, each by itself."""
    return Took(
        median(one.processor for one in times),
        median(one.clock for one in times),
        max(one.alone_mb for one in times),
        max(one.workers_mb for one in times),
        times[-1].output,
    )


def in_turn(commands: Sequence[Callable[[], Took]], *, times: int) -> list[list[Took]]:
    """Each command so many *times*, forwards, then backwards, so that a drift of the machine meets all alike."""
    results: list[list[Took]] = [[] for _ in commands]
    for turn in range(times):
        places = range(len(commands))
        for place in places if turn % 2 == 0 else reversed(places):
            results[place].append(commands[place]())
    return results


class _NoWatch:
    most_mb = 0.0

    def __enter__(self) -> _NoWatch:
        return self

    def __exit__(self, *_: object) -> None: ...


class _Watch(_NoWatch):
    """Adds up, twice a second, what a process holds and what its children do not share."""

    def __init__(self, process: int) -> None:
        self.process, self.done = process, threading.Event()
        self.thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> _Watch:
        self.thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.done.set()
        self.thread.join()

    def _look(self) -> None:
        while not self.done.wait(0.5):  # looking costs time, too, though none of what is measured
            total = _kb(self.process, "status", r"VmRSS:\s+(\d+)")
            for child in _children(self.process):
                total += _kb(child, "smaps_rollup", r"Private_\w+: +(\d+)")
            self.most_mb = max(self.most_mb, total / 1024)


def _kb(process: int, file: str, pattern: str) -> int:
    try:
        return sum(map(int, re.findall(pattern, Path(f"/proc/{process}/{file}").read_text())))
    except OSError:  # it ended meanwhile, or this system has no such files
        return 0


def _children(process: int) -> list[int]:
    found: list[int] = []
    for file in Path(f"/proc/{process}/task").glob("*/children"):
        try:
            own = [int(child) for child in file.read_text().split()]
        except OSError:
            continue
        found += own + [one for child in own for one in _children(child)]
    return found
