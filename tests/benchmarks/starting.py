"""Rows of the program itself: how soon it answers at all, and the demo from nothing."""

from __future__ import annotations

import sys

from measuring import likeloss, middle, run
from rows import Figure, Limit, Place, Row


def helped(place: Place) -> Figure:
    ours = middle([run(likeloss("--help")) for _ in range(1 if place.brief else 5)])
    empty = middle([run([sys.executable, "-c", "pass"]) for _ in range(1 if place.brief else 5)])
    return Figure(ours.processor, ours.clock, beside=f"empty interpreter {empty.processor:.3f} s, {empty.clock:.3f} s")


def demo(place: Place) -> Figure:
    folder = place.folder / "demo"
    folder.mkdir()
    took = run(likeloss("demo"), cwd=folder, more={"XDG_CACHE_HOME": str(folder / "cache")})
    return Figure(took.processor, took.clock, beside=took.output.strip().splitlines()[0])


ROWS = (
    Row("likeloss --help", Limit(0.12), helped, once=True),
    Row("demo from nothing", Limit(60), demo, once=True, slow=True),
)
