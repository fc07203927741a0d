"""What the server has done in the process that looks: names to call there, without what they need here."""

from __future__ import annotations

import os
import signal
import threading
from multiprocessing import parent_process

from builder.watching.jobs import Job, Seen

IN_HAND = "in-hand"
"""File beside the kept logs that holds the path of the log that is being read: should it bring the process down."""


def begin() -> None:
    """Settle in the process: it leaves Ctrl-C to the one it works for, and ends with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)

    def end() -> None:
        parent = parent_process()
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=end, daemon=True).start()


def look(job: Job) -> Seen:
    """`looks.look`."""
    from builder.watching import looks

    return looks.look(job)


def look_and_write(job: Job, key: str) -> Seen:
    """`looks.look_and_write`."""
    from builder.watching import looks

    return looks.look_and_write(job, key)
