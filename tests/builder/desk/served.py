"""`likeloss preview` as a process of its own, as people start it."""

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

    def address(self, page: str) -> str:
        return f"http://127.0.0.1:{self.port}/{page}"


def command(*words):
    return [sys.executable, "-c", "from builder.cli import main; main()", "preview", *map(str, words)]


@contextmanager
def served(catalog, *batches, as_of):
    """The preview of a catalogue, once it can be looked at."""
    words = ["--catalog", catalog, "--port", "0", "--as-of", as_of.isoformat(), *batches]
    process = subprocess.Popen(command(*words), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
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
