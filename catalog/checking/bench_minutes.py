"""[bench] of a batch: minutes that measuring takes, where the clock times of runs do not show them, and what a planned
day is measured for.
"""

from __future__ import annotations

from catalog.checking import keys
from catalog.checking.keys import Key
from catalog.checking.things import Things

MINUTES = ("run_minutes", "spot_minutes", "session_minutes", "swap_minutes")
MOST_MINUTES = 1440.0
PURPOSE = ("against", "window")
"""The device that the planned one is compared with, and the window that is asked about; both read while a day is
watched, and no figure rests on them."""


def read_bench(things: Things) -> None:
    """Its values have to be numbers; they are read again from the batch's file by who plans."""
    section = things.root.child("bench")
    if section is not None:
        minutes = {name: Key(keys.number(0, MOST_MINUTES), name) for name in MINUTES}
        section.read(minutes | {name: Key(keys.text, name) for name in PURPOSE})
