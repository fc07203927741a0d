"""Rows of the live preview: from its start to the first page, and from an edit to the page that shows it."""

from __future__ import annotations

import os
import re
import resource
import signal
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from measuring import ROOT, likeloss, run
from rows import NOW, Figure, Limit, Place, Row

from tests.benchmarks import generator

PATIENCE_S = 120.0


def first_page(place: Place) -> Figure | None:
    if not _is_there():
        return None
    batch, _ = generator.one_article(place.folder / "edited-first", place.devices)
    with _served(place, batch) as (address, begun):
        _wait(address, "<h1")
        clock = time.perf_counter() - begun
    return Figure(_spent(place), clock, beside="from the start of the process until the start page has answered")


def edit_seen(place: Place) -> Figure | None:
    """The median of three edits of an article, each until its page under its address shows the new words."""
    if not _is_there():
        return None
    batch, text = generator.one_article(place.folder / "edited", place.devices)
    article = re.findall(r'\[\[article\]\]\nid = "([^"]+)"', (batch / "batch.toml").read_text(encoding="utf-8"))[0]
    with _served(place, batch) as (address, _):
        page = f"{address}reviews/{article}/index.html"
        _wait(page, "<h1")
        times = []
        for number in range(3):
            words = f"Edited for the {number}. time."
            with text.open("a", encoding="utf-8") as file:
                file.write(f"\n{words}\n")
            begun = time.perf_counter()
            _wait(page, words)
            times.append(time.perf_counter() - begun)
    return Figure(None, sorted(times)[1], beside=f"three edits took {', '.join(f'{t:.2f} s' for t in times)}")


def _is_there() -> bool:
    """Whether `preview` takes a batch, as the live one does."""
    return (ROOT / "builder" / "desk").is_dir() and "BATCH" in run(likeloss("preview", "--help")).output


@contextmanager
def _served(place: Place, batch: Path) -> Iterator[tuple[str, float]]:
    """A preview of the catalogue and a batch that is not in it: its address, and when it was started."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    words = ("preview", batch, "--port", port, "--catalog", place.catalog, "--as-of", NOW.isoformat())
    log = place.folder / "preview.log"
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    with log.open("w") as out:
        begun = time.perf_counter()
        server = subprocess.Popen(likeloss(*words), cwd=place.folder, stdout=out, stderr=out, env=os.environ)
        try:
            yield f"http://127.0.0.1:{port}/", begun
        except TimeoutError as late:
            raise RuntimeError(f"{late}; it said {log.read_text()[-800:]}") from late
        finally:
            server.send_signal(signal.SIGINT)
            try:
                server.wait(20)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            place.notes["preview"] = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _spent(place: Place) -> float:
    return float(place.notes["preview"])


def _wait(address: str, words: str) -> None:
    """Ask for a page until it answers with *words*."""
    until = time.perf_counter() + PATIENCE_S
    while time.perf_counter() < until:
        try:
            with urllib.request.urlopen(address, timeout=PATIENCE_S) as answer:
                if words in answer.read().decode("utf-8", "replace"):
                    return
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            pass
        time.sleep(0.02)
    raise TimeoutError(f"{address} did not show {words!r} within {PATIENCE_S:.0f} s")


ROWS = (
    Row("preview, the first page", Limit(4), first_page, slow=True),  # the other starts one, too
    Row("preview, an edit of an article", Limit(2), edit_seen),
)
