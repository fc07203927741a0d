"""A row of the benchmark as data, the place it is measured in, and the line it prints."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any

from measuring import Took, likeloss, run
from plain.inventory import inventory_of

HERE = Path(__file__).parent
NOW = datetime(2026, 1, 1, tzinfo=UTC)
LATER = NOW + timedelta(days=1)  # nothing is hidden or shown in between


@dataclass(frozen=True)
class Limit:
    """What a figure may be, at 400 devices.

    unit  "s" by the clock, or of the figure's value: "M/s", "kB", "MB", "files", "times"
    """

    most: float
    unit: str = "s"
    least: bool = False  # the figure shall not be below it instead

    def __str__(self) -> str:
        return f"{'≥' if self.least else '≤'} {self.most:g} {self.unit}"

    def met(self, value: float) -> bool:
        return value >= self.most if self.least else value <= self.most


@dataclass(frozen=True)
class Figure:
    """What a row came to.

    processor, clock  seconds; None where the figure is no time
    value             what is held against the limit; the clock where it is None
    beside            the plain alternatives, in words
    """

    processor: float | None = None
    clock: float | None = None
    value: float | None = None
    beside: str = ""


@dataclass(frozen=True)
class Row:
    """One row: its name, its budget, and how it is measured. Returns None where there is nothing to measure yet.

    once  it does not depend on the size of the catalogue
    slow  left out where rows are only to be seen running; tests run it elsewhere
    """

    what: str
    limit: Limit | None
    measure: Callable[[Place], Figure | None]
    once: bool = False
    slow: bool = False


@dataclass
class Place:
    """A catalogue of so many devices, and what was built of it. Everything is made when it is first asked for.

    share  of the full size of what does not go by devices: logs of 3 million rows, 10,000 run rows
    pairs  how often the build and its peers are timed in turn
    brief  once is enough, where a row would take a median
    """

    folder: Path
    devices: int
    share: float
    pairs: int
    brief: bool = False
    notes: dict[str, Any] = field(default_factory=dict)

    @property
    def site(self) -> Path:
        return self.folder / "site"

    @cached_property
    def catalog(self) -> Path:
        """Filled by a process of its own. Its arithmetic takes one thread, so that others' work does not slow it."""
        command = [sys.executable, str(HERE / "generator.py"), str(self.folder), str(self.devices)]
        self.notes["filled"] = run(command, more={"OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(HERE.parents[1])})
        return self.folder / "catalog.db"

    @cached_property
    def copy(self) -> Path:
        """The same again, for what writes into it."""
        return Path(shutil.copyfile(self.catalog, self.folder / "copy.db"))

    @cached_property
    def first(self) -> Took:
        """The first full build, watched; the site stays for all other rows."""
        return self.build(self.site, cache="cache", watch=True)

    @cached_property
    def sizes(self) -> Path:
        """What the site holds, for its peers."""
        _ = self.first
        return inventory_of(self.site).write(self.folder / "sizes.json")

    def build(self, out: Path, *, cache: str, as_of: datetime = NOW, watch: bool = False) -> Took:
        words = ("build", "--catalog", self.catalog, "--out", out, "--as-of", as_of.isoformat())
        return run(likeloss(*words), more={"XDG_CACHE_HOME": str(self.folder / cache)}, watch=watch)

    def inside(self, what: str, *arguments: object) -> dict[str, Any]:
        """What `inside.py` measures in a process of its own."""
        command = [sys.executable, str(HERE / "inside.py"), what, *map(str, arguments)]
        answer: dict[str, Any] = json.loads(run(command).output)
        return answer

    def size(self, full: int, least: int = 1_000) -> int:
        return max(least, round(full * self.share))


def text_of(row: Row, figure: Figure | None) -> str:
    """The line that is printed."""
    if figure is None:
        return f"{row.what:<42} {'not there, skipped':>47}   {row.limit or ''}"
    value = figure.clock if figure.value is None else figure.value
    processor = "" if figure.processor is None else f"{figure.processor:,.2f} s"
    clock = "" if figure.clock is None else f"{figure.clock:,.2f} s"
    unit = row.limit.unit if row.limit else ""
    special = "" if figure.value is None else f"{figure.value:,.4g} {unit}".strip()
    verdict = "" if row.limit is None or value is None else "met" if row.limit.met(value) else "NOT MET"
    limit = str(row.limit) if row.limit else "none"
    return f"{row.what:<42} {processor:>11} {clock:>11} {special:>14} {limit:>13} {verdict:>8}  {figure.beside}"


HEADING = f"{'what':<42} {'processor':>11} {'clock':>11} {'or':>14} {'limit':>13} {'':>8}  beside it"
