"""One log is one run: the same rows as another row's log, in the batch or in the catalogue, are asked about.

Rows are compared as read, through map and conditions, because one file may hold the logs of several clients and two
files may be copies of each other. Of one file of the batch, two logs may not share some of their rows either.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

import numpy as np
from sqlite_utils import Database

from catalog.checking.logfiles import ReadLog, map_and_path
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import Trouble
from catalog.digesting.logs import Log
from catalog.queries.known import digests_of, origin_of_row, samples_of

FOR_BOTH = "both"
LEAST_SHARED = 8  # (practice) of fewer, values of two columns are equal by chance
# Figures that do not depend on what was answered about a gap or an end, nor on the plan of a role.
_TELLING = ("samples", "rows", "min_mbit_s", "max_mbit_s", "sd_mbit_s", "min_ms", "max_ms", "last_s")


class UsedLogs:
    """The row that each log belongs to.

    files  path in the batch -> SHA-256 of every file that a log was read from
    """

    def __init__(self, db: Database | None, files: Mapping[str, str]) -> None:
        self._db = db
        self._files = files
        self._rows: dict[tuple[str, int, int, int], list[tuple[Log, TypedRow]]] = {}
        self._of_file: dict[str, list[tuple[_Rows, TypedRow]]] = {}

    def hold_second(self, table: TypedTable, typed: TypedRow, path: str, read: ReadLog) -> None:
        """Ask about a row whose log already belongs to another row; else the log belongs to this row from now on."""
        alike = self._rows.setdefault(_likeness(read.written), [])
        other = next((row for log, row in alike if log is read.written or _same(log, read.written)), None)
        alike.append((read.written, typed))
        others = self._of_file.setdefault(self._files[map_and_path(path)[1]], [])
        its_rows = _Rows(read.written)
        shares = next((row for one, row in others if its_rows.shared_with(one)), None)
        others.append((its_rows, typed))
        if other is not None:
            same_file = other.file == typed.file
            if other.values["log"] == path:
                rows = (
                    f"rows {other.number} and {typed.number}" if same_file else f"{other.file} row {other.number} too"
                )
                self._ask(table, typed, f"{path} stands for {rows}")
            else:
                where = f"row {other.number}" if same_file else f"{other.file} row {other.number}"
                self._ask(table, typed, f"{path} holds the same rows as {other.values['log']}, the log of {where}")
        elif shares is not None:
            where = f"row {shares.number}" if shares.file == typed.file else f"{shares.file} row {shares.number}"
            self._ask(table, typed, f"{path} holds rows that {shares.values['log']}, the log of {where}, holds too")
        elif (place := self._entered(read)) is not None:
            self._ask(table, typed, f"{path} holds the same rows as the log of {place}")

    def _ask(self, table: TypedTable, typed: TypedRow, sentence: str) -> None:
        question = Trouble(
            f"{sentence}: one log is one run. Which row is its own?",
            "Give the other row its own log, or none.",
            "log-used-twice",
        )
        table.ask(typed, "log", question, options=[FOR_BOTH])

    def _entered(self, read: ReadLog) -> str | None:
        """The row of the catalogue that has this log."""
        if self._db is None:
            return None
        for owner, number in self._by_figures.get(_figures(read.digest), ()):
            samples = samples_of(self._db, owner, number)
            if _same(
                read.log,
                Log(read.log.kind, samples["t"], rate_bit_s=samples.get("rate"), latency_us=samples.get("latency")),
            ):
                batch, file, row = origin_of_row(self._db, owner, number)
                return f"{file} row {row} in batch {batch}"
        return None

    @cached_property
    def _by_figures(self) -> dict[frozenset[tuple[str, float]], list[tuple[str, int]]]:
        assert self._db is not None
        by_figures: dict[frozenset[tuple[str, float]], list[tuple[str, int]]] = {}
        for owner, figures in digests_of(self._db, _TELLING).items():
            by_figures.setdefault(_figures(figures), []).append(owner)
        return by_figures


def _figures(digest: Mapping[str, float]) -> frozenset[tuple[str, float]]:
    return frozenset((figure, digest[figure]) for figure in _TELLING if figure in digest)


def _likeness(log: Log) -> tuple[str, int, int, int]:
    """Figures that two logs with the same rows share, and hardly any others do."""
    values = log.rate_bit_s if log.latency_us is None else log.latency_us
    assert values is not None
    return log.kind, len(log), int(log.t_us[-1]), int(values.sum())


def _same(one: Log, other: Log) -> bool:
    """Whether two logs hold the same values. Logs in which nothing arrived prove nothing: any two clients may have them."""
    if not (one.latency_us if one.rate_bit_s is None else one.rate_bit_s).max(initial=0) > 0:  # type: ignore[union-attr]
        return False
    if one.started is not None and other.started is not None and one.started != other.started:
        return False
    pairs = ((one.t_us, other.t_us), (one.rate_bit_s, other.rate_bit_s), (one.latency_us, other.latency_us))
    return all((a is None) == (b is None) and (a is None or np.array_equal(a, b)) for a, b in pairs)  # type: ignore[arg-type]


class _Rows:
    """The rows of its file that a log was read from."""

    def __init__(self, log: Log) -> None:
        self._log = log
        marks = np.ones(len(log), dtype=np.bool_)
        if log.places is not None:
            marks = np.zeros(int(log.places.max()) + 1, dtype=np.bool_)
            marks[log.places] = True
        self._marks = np.packbits(marks)

    def shared_with(self, other: _Rows) -> bool:
        """Whether another log of the file has some of the rows, and reads the same in them; other columns are other logs."""
        one, two = self._log, other._log
        most = min(len(self._marks), len(other._marks))
        if one.kind != two.kind or not np.bitwise_and(self._marks[:most], other._marks[:most]).any():
            return False
        places, others = (np.arange(len(log)) if log.places is None else log.places for log in (one, two))
        shared, here, there = np.intersect1d(places, others, assume_unique=True, return_indices=True)
        values, theirs = (log.rate_bit_s if log.latency_us is None else log.latency_us for log in (one, two))
        assert values is not None
        assert theirs is not None
        if len(shared) < min(LEAST_SHARED, len(one), len(two)) or not values[here].max(initial=0) > 0:
            return False
        return np.array_equal(values[here], theirs[there])
