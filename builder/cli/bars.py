"""A progress bar on standard error while something takes long; only on a terminal."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

WIDTH = 30
PATIENCE_S = 0.5  # what is over by then needs no bar
PAUSE_S = 0.1


@contextmanager
def bar_on(stream: TextIO, *, clock: Callable[[], float] = time.monotonic) -> Iterator[Callable[[str, int, int], None]]:
    """A function that takes what is being done, how much of it is done and how much there is, and shows it.

    The bar is wiped when the block ends, however it ends.
    """
    if not stream.isatty():
        yield lambda doing, done, total: None
        return
    began = last = clock()
    shown = 0

    def show(doing: str, done: int, total: int) -> None:
        nonlocal last, shown
        now = clock()
        if now - began < PATIENCE_S or now - last < PAUSE_S or not total:
            return
        last = now
        full = WIDTH * done // total
        line = f"{doing[:60]} [{'#' * full}{'.' * (WIDTH - full)}] {done} of {total}"
        stream.write("\r" + line.ljust(shown))
        stream.flush()
        shown = len(line)

    try:
        yield show
    finally:
        if shown:
            stream.write("\r" + " " * shown + "\r")
            stream.flush()
