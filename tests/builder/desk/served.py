"""`likeloss preview` and `likeloss watch` as processes of their own, as people start them."""

import re
import signal
import subprocess
import sys
from contextlib import contextmanager
from dataclasses import dataclass


@dataclass
class Served:
    process: subprocess.Popen
    port: int

    def address(self, page: str = "") -> str:
        return f"http://127.0.0.1:{self.port}/{page}"


def command(*words, verb="preview"):
    return [sys.executable, "-c", "from builder.cli import main; main()", verb, *map(str, words)]


@contextmanager
def served(catalog, *batches, as_of=None, verb="preview"):
    """The preview of a catalogue, or the watch of a batch, once it can be looked at."""
    words = ["--catalog", catalog, "--port", "0", *batches]
    if as_of is not None:
        words += ["--as-of", as_of.isoformat()]
    process = subprocess.Popen(command(*words, verb=verb), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        said = ""
        while (match := re.search(r"http://127\.0\.0\.1:(\d+)/", said)) is None:
            line = process.stdout.readline()
            assert line, process.stderr.read()
            said += line
        yield Served(process, int(match[1]))
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
            process.communicate(timeout=60)
