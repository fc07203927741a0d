"""The logs that came: which planned row each is of, how it is read, and the row of the desk that it makes.

A log is tied to its planned row by its name, whatever its ending. Where its plain form cannot be read and exactly one
reading map of the batch reads it, it is read through that one.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import PurePosixPath
from zoneinfo import ZoneInfo

from builder import wording
from builder.watching.day_rows import Row, name_of, path_of
from builder.watching.jobs import FileState
from builder.watching.states import Place
from catalog.beginning.planned_batches import LOGS
from catalog.checking.logfiles import KeptLogs, LogReader, map_file, nothing_more
from catalog.checking.times import zone_called
from catalog.digesting.digests import throughput_digest
from catalog.digesting.logs import Log
from catalog.errors import InputRefused, Problem
from catalog.reading.folder import MAX_TEXT_BYTES, Folder
from catalog.reading.format import FINISHED
from catalog.reading.maps import ReadingMap, read_map
from catalog.reading.progress import silent

MOST_OTHERS = 40  # logs without a row that are shown
_ENDINGS = frozenset({".csv", ".tsv", ".txt", ".log", ".json", ".jsonl", ".ndjson"})  # of a log that no row names
_BY_THE_WAY = (".", "~$", "#")
_UNFINISHED = ("~", ".swp", ".swx", ".tmp", ".part", ".crdownload")
# What is wrong inside of a plain log: a map would not be about it.
_INSIDE = frozenset({"not-a-number", "not-a-time", "column-twice", "too-large"})
_KINDS: Mapping[str, tuple[str, ...]] = {"throughput": ("runs", "longruns"), "requests": ("stations", "longruns")}


@dataclass(frozen=True, slots=True)
class Landed:
    """A log that came.

    path    in the batch
    cell    as a row names it: "path", or "MAP:path"
    kind    throughput or requests; "" where it cannot be read
    started, ended  by its own clock, where it states instants
    digest  of a throughput, as it is before any answer
    wrong   what is to be said beside what `check` says: (code, sentence, remedy)
    left_alone  it is not to be read, nor to be noted
    """

    path: str
    cell: str
    kind: str = ""
    started: datetime | None = None
    ended: datetime | None = None
    digest: Mapping[str, float] = field(default_factory=dict)
    wrong: tuple[tuple[str, str, str], ...] = ()
    left_alone: bool = False


Heads = MutableMapping[tuple[object, ...], Landed]
"""What came of each file: kept by who looks again and again, so that logs are not unpacked only to see when they began."""


@dataclass(frozen=True)
class _OpenedOnce(Folder):
    """A folder that keeps what it read last: several maps are tried on one log."""

    last: dict[str, bytes] = field(default_factory=dict)

    def read(self, path: str, *, limit: int) -> bytes:
        """As any folder does it."""
        if path not in self.last:
            self.last.clear()
            self.last[path] = super().read(path, limit=limit)
        return self.last[path]


class Reading:
    """Reads logs of a batch, by themselves or through its maps, each once.

    zone  of the batch, for times without one
    """

    def __init__(self, folder: Folder, zone: str | None, kept: KeptLogs, heads: Heads) -> None:
        self.folder, self.zone, self.kept, self.heads = _OpenedOnce(folder.root), zone, kept, heads
        self.maps: dict[str, tuple[ReadingMap, str]] = {}
        if self.zone is not None and not isinstance(zone_called(self.zone), ZoneInfo):
            self.zone = None
        place = self.folder.root / "maps"
        names = sorted(one.stem for one in place.glob("*.toml")) if place.is_dir() else []
        for name in names:
            path = map_file(name)
            if self.folder.refusal(path) is not None:
                continue
            try:
                content = self.folder.read(path, limit=MAX_TEXT_BYTES)
            except InputRefused:
                continue
            if isinstance(plan := read_map(path, content), ReadingMap):  # others are maps of tables
                self.maps[name] = plan, hashlib.sha256(content).hexdigest()

    def read(self, path: str, map_name: str | None) -> Log | Sequence[Problem]:
        """The log at *path*, or what is wrong with it; of a map that is none, `check` says so."""
        reader = LogReader(self.folder, progress=silent, log_read=nothing_more, kept_logs=self.kept)
        reader.zone = self.zone
        if map_name is None:
            return reader.read_at(path, None, "")
        plan, sha256 = self.maps.get(map_name, (None, ""))
        return () if plan is None else reader.read_at(path, plan, sha256)

    def landed(self, path: str, map_name: str | None, state: FileState) -> Landed:
        """The log at *path*, through the map that its row names, or through the only one that reads it."""
        maps = tuple((name, sha256) for name, (_, sha256) in self.maps.items())
        key = (self.folder.root, path, map_name, state, maps, self.zone)
        if key not in self.heads:
            self.heads[key] = self._landed(path, map_name)
            self.folder.last.clear()
        return self.heads[key]

    def _landed(self, path: str, map_name: str | None) -> Landed:
        plain = self.read(path, map_name)
        if map_name is not None:
            return _head(path, f"{map_name}:{path}", plain)
        if isinstance(plain, Log) or {problem.code for problem in plain} & _INSIDE:
            return _head(path, path, plain)
        through = {name: log for name in self.maps if isinstance(log := self.read(path, name), Log)}
        if len(through) == 1:
            ((name, log),) = through.items()
            return _head(path, f"{name}:{path}", log)
        if not through:
            return Landed(path, path)
        which = (
            "which-map",
            f"{path} can be read through the maps {wording.listing(list(through))}.",
            f"Name one of them in the row's log: {next(iter(through))}:{path}.",
        )
        return Landed(path, path, wrong=(which,))


def _head(path: str, cell: str, log: Log | Sequence[Problem]) -> Landed:
    if not isinstance(log, Log) or not len(log):
        return Landed(path, cell)
    digest = throughput_digest(log) if log.kind == "throughput" else {}
    if log.started is None:
        return Landed(path, cell, log.kind, digest=digest)
    last = log.spans_us[-1] if log.latency_us is None else max(log.latency_us[-1], 0)
    ended = log.started + timedelta(microseconds=int(log.t_us[-1]) + int(last))
    return Landed(path, cell, log.kind, log.started, ended, digest)


def log_folders(rows: Iterable[Row]) -> list[str]:
    """The folders of a batch in which its logs land, "" for the batch itself."""
    cells = {text for row in rows if (text := row.row.texts.get("log", ""))}
    return sorted({folder_of(path_of(cell)) for cell in cells} | {LOGS})


def folder_of(path: str) -> str:
    """The folder of a path in the batch; "" for the batch itself."""
    parent = str(PurePosixPath(path).parent)
    return "" if parent == "." else parent


def files_in(folder: Folder, folders: Iterable[str]) -> dict[str, FileState]:
    """The files in these folders that a log may be, by their paths in the batch."""
    files: dict[str, FileState] = {}
    for path, entry in _entries(folder, folders):
        try:
            if not _is_text(path) or (entry.is_symlink() and folder.refusal(path) is not None):
                continue
            status = entry.stat()
        except OSError:
            continue
        files[path] = FileState(status.st_size, status.st_mtime_ns, status.st_ctime_ns, status.st_ino)
    return files


def names_that_are_no_text(folder: Folder, folders: Iterable[str]) -> list[str]:
    """The paths of what may be a log and that no row can name, with what is no text in them as numbers: "logs/\\xe4.csv"."""
    paths = [path for path, _ in _entries(folder, folders) if not _is_text(path) and folder_of(path)]
    logs = [path for path in paths if PurePosixPath(path).suffix.casefold() in _ENDINGS]
    return [os.fsencode(path).decode(errors="backslashreplace") for path in logs[:MOST_OTHERS]]


def _entries(folder: Folder, folders: Iterable[str]) -> Iterator[tuple[str, os.DirEntry[str]]]:
    """What lies in these folders and is not there by the way, by its path in the batch."""
    for inside in folders:
        place = folder.root / inside
        if ".." in PurePosixPath(inside).parts or not place.resolve().is_relative_to(folder.root):
            continue
        try:
            entries = sorted(os.scandir(place), key=lambda entry: entry.name)
        except OSError:
            continue
        for entry in entries:
            by_the_way = entry.name.startswith(_BY_THE_WAY) or entry.name.endswith(_UNFINISHED)
            if not by_the_way and entry.is_file():
                yield f"{inside}/{entry.name}" if inside else entry.name, entry


def _is_text(path: str) -> bool:
    try:
        path.encode()
    except UnicodeEncodeError:
        return False
    return True


def tied(rows: Sequence[Row], files: Iterable[str]) -> dict[Place, str]:
    """The log of each open row by its name: the file it names, else the only one that has its name and another ending.

    Where there are several, the first by name; the others are left to be asked about.
    """
    named = {row.log for row in rows if row.filled is not None and row.log}
    by_name: dict[str, list[str]] = {}
    for path in files:
        if path not in named:
            by_name.setdefault(name_of(path), []).append(path)
    result: dict[Place, str] = {}
    for row in rows:
        if row.filled is not None or not row.log:
            continue
        alike = by_name.get(name_of(row.log), [])
        if alike:
            result[row.place] = row.log if row.log in alike else min(alike)
            alike.remove(result[row.place])
    return result


def beside(rows: Sequence[Row], files: Iterable[str]) -> dict[Place, str]:
    """The logs that have the name of a planned row which was noted without any."""
    named = {name_of(path_of(log)): row for row in rows if not row.log and (log := row.row.texts.get("log", ""))}
    return {row.place: path for path in files if (row := named.get(name_of(path))) is not None}


def others_among(rows: Sequence[Row], files: Iterable[str], used: Iterable[str]) -> list[str]:
    """The logs that no row has, the oldest names first. Of a batch without planned rows those count in its folders, too."""
    taken = {*used, *(row.log for row in rows if row.log), *beside(rows, files).values()}
    strays = [path for path in files if path not in taken and PurePosixPath(path).suffix.casefold() in _ENDINGS]
    return [path for path in strays if folder_of(path)][:MOST_OTHERS]


def may_be_of(kind: str, open_rows: Sequence[Row]) -> tuple[Row, ...]:
    """The open rows that a log of a kind may be of, in running order; all of them where it cannot be read."""
    return tuple(row for row in open_rows if not kind or (row.stem in _KINDS[kind] and _of_kind(row, kind)))


def _of_kind(row: Row, kind: str) -> bool:
    """Whether a long run is of what a log has; throughput where its row does not say."""
    return row.stem != "longruns" or (row.row.texts.get("kind", "") or "throughput").casefold() == kind


def desk_texts(row: Row, landed: Landed, typed: Mapping[str, str], zone: str | None) -> dict[str, str]:
    """The row of the desk that a log makes of its planned row, by column.

    typed  what was typed on the page
    """
    texts = {name: text for name, text in row.row.texts.items() if name != "outcome"}
    texts["log"] = landed.cell
    if row.stem != "runs":  # of a run the log says whether it finished
        texts["outcome"] = FINISHED
    if landed.started is not None:
        texts["when"] = when_text(landed.started, zone)
    return texts | {name: text.strip() for name, text in typed.items() if text.strip() or name in texts}


def when_text(instant: datetime, zone: str | None) -> str:
    """An instant as a table has it: in the time of the batch, with its distance from UTC."""
    place = None if zone is None else zone_called(zone)
    local = instant.astimezone(place) if isinstance(place, ZoneInfo) else instant
    return local.isoformat(" ", timespec="milliseconds" if local.microsecond else "seconds")
