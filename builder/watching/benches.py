"""What is known without the day, and with it: two benches of the devices of the day and all that were tested over its links.

The first is read once for each state of the catalogue.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from builder.bench.bench import Bench, load_bench
from catalog.checking.batches import Checked
from catalog.entering import as_if_entered
from catalog.visibility import Asked, full_part


@dataclass(frozen=True, slots=True)
class Before:
    """The part of a catalogue that a day is about.

    state  of its file
    """

    catalog: Path
    state: tuple[int, ...]
    asked: Asked
    part: Database
    bench: Bench


class Benches:
    """Kept from look to look by the process that looks."""

    def __init__(self) -> None:
        self._before: Before | None = None

    def before(self, catalog: Path, asked: Asked, *, now: datetime) -> Before:
        """The catalogue without the day. Raises CatalogUnusable."""
        status = catalog.stat()
        state = status.st_ino, status.st_size, status.st_mtime_ns
        kept = self._before
        if kept is None or (kept.catalog, kept.state, kept.asked) != (catalog, state, asked):
            if kept is not None:
                kept.part.close()
            part = full_part(catalog, asked, as_of=now)
            self._before = kept = Before(catalog, state, asked, part, load_bench(part))
        return kept

    def after(self, before: Before, checked: Checked, *, now: datetime) -> Bench:
        """The same with what of the day is sound."""
        whole = as_if_entered(checked, before.part, now=now)
        copy = full_part(whole, before.asked, as_of=now)
        bench = load_bench(copy)
        copy.close()
        whole.close()
        return bench


def asked_of(devices: Iterable[str], clients: Iterable[str]) -> Asked:
    """What a day is about: its devices, and everything that was tested with its clients."""
    return Asked(devices=frozenset(devices), clients=frozenset(clients))
