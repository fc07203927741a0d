"""The logs that rows point to: located, read, and compared with the row."""

from __future__ import annotations

import datetime as dt
import hashlib
import time
from collections.abc import Callable, Iterator, Mapping, MutableMapping
from dataclasses import dataclass

from catalog.checking.known import Known, Row
from catalog.checking.results import Pairs, hold_above_phy
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.settled_logs import settled_answers, settled_rates, settled_requests
from catalog.checking.times import read_instant
from catalog.checking.troubles import Trouble
from catalog.digesting import latency
from catalog.digesting.answers import answers_digest
from catalog.digesting.digests import longrun_digest, request_digest, throughput_digest
from catalog.digesting.logs import NOT_MADE, Log
from catalog.errors import InputRefused, Problem
from catalog.reading.folder import MAX_LOG_BYTES, MAX_TEXT_BYTES, FileState, Folder
from catalog.reading.format import FINISHED, FROM_LOG
from catalog.reading.mapped_logs import read_mapped_log
from catalog.reading.maps import ReadingMap, read_map
from catalog.reading.plainlogs import read_plain_log
from catalog.reading.progress import Progress, told

LOG_DIFFERS = 0.01
CACHED_MS = 5.0
LONGRUN_KEY = (
    "device_id",
    "unit_id",
    "firmware",
    "client_id",
    "session_id",
    "band",
    "width_mhz",
    "direction",
    "at_utc",
)


FileRead = Callable[[str, str, bytes], None]
"""Takes the path in the batch, the SHA-256 and the bytes of a file that was just read."""


def nothing_more(path: str, sha256: str, content: bytes) -> None:
    """For callers that only check."""


@dataclass(frozen=True)
class OwnedLog:
    """A log with the row it belongs to, and its digest."""

    owner: str
    owner_id: int
    log: Log
    digest: Mapping[str, float]


@dataclass(frozen=True)
class KeptLog:
    """What a log was read as, for whoever checks its batch again.

    state   of its file before it was read; None where the file was so young that it could change once more and seem
            the same: then its bytes decide
    sha256  of its file
    result  the log, or what is wrong with it
    """

    state: FileState | None
    sha256: str
    result: Log | list[Problem]


KeptLogs = MutableMapping[tuple[str, str, str, str | None], KeptLog]
"""By the folder of the batch, the path in it, the SHA-256 of the map ("" without one) and the batch's time zone."""

SETTLED_NS = 2 * 10**9  # the coarsest step of a file's times in use (FAT)


class LogReader:
    """Reads each log once, and keeps the hashes of all files it opened.

    zone       the batch's time zone, None where it has none; set before the first log is read
    kept_logs  read before, by earlier checks; what is read now is put into it
    """

    def __init__(
        self, folder: Folder, *, progress: Progress, log_read: FileRead, kept_logs: KeptLogs | None = None
    ) -> None:
        self.files: dict[str, str] = {}
        self._kept: KeptLogs = {} if kept_logs is None else kept_logs
        self._folder = folder
        self.zone: str | None = None
        self._progress = progress
        self._log_read = log_read
        self._maps: dict[str, ReadingMap | list[Problem]] = {}
        self._logs: dict[tuple[str, str | None], Log | list[Problem]] = {}
        self.problems: list[Problem] = []

    def each(self, table: TypedTable, pairs: Pairs) -> Iterator[tuple[TypedRow, Row, Log]]:
        """The rows of a table that name a readable log, each with that log."""
        naming = [(typed, row) for typed, row in pairs if row["log_path"] is not None]
        for typed, row in told(naming, self._progress, f"Reading the logs of {table.file}"):
            if (log := self.read(table, typed, row["log_path"])) is not None:
                yield typed, row, log

    def read(self, table: TypedTable, row: TypedRow, cell: str) -> Log | None:
        """The log that a cell names, "path" or "MAP:path"; None once its problems are noted."""
        name, path = map_and_path(cell)
        plan: ReadingMap | None = None
        if name is not None:
            plan = self._map(table, row, name)
            if plan is None:
                return None
        if (sentence := self._folder.refusal(path)) is not None:
            table.hold(row, "log", Trouble(sentence, "", "file"))
            return None
        key = (path, name)
        if key not in self._logs:
            self._logs[key] = self.read_at(path, plan, "" if name is None else self.files[map_file(name)])
            if isinstance(read_log := self._logs[key], list):
                self.problems += read_log
        log = self._logs[key]
        if isinstance(log, list):
            row.held = True
            return None
        return log

    def read_at(self, path: str, plan: ReadingMap | None, map_sha256: str) -> Log | list[Problem]:
        """A log that may be read, through a map of that SHA-256 ("" without one); what is wrong with it otherwise."""
        key = (str(self._folder.root), path, map_sha256, self.zone)
        kept, state = self._kept.get(key), self._folder.state(path)
        if kept is not None and kept.state == state is not None and self._log_read is nothing_more:
            self.files[path] = kept.sha256
            return kept.result
        settled = state is not None and time.time_ns() - state.changed_ns > SETTLED_NS
        try:
            content = self._folder.read(path, limit=MAX_LOG_BYTES)
        except InputRefused as refusal:
            return [Trouble(str(refusal), "", "too-large").at(path, 1, "", path)]
        self.files[path] = sha256 = hashlib.sha256(content).hexdigest()
        self._log_read(path, sha256, content)
        if kept is not None and kept.sha256 == sha256:
            result = kept.result
        elif plan is None:
            result = read_plain_log(path, content, instant=self._instant)
        else:
            result = read_mapped_log(path, content, plan, instant=self._instant)
        self._kept[key] = KeptLog(state if settled else None, sha256, result)
        return result

    def _instant(self, text: str) -> dt.datetime | str:
        moment = read_instant(text, self.zone)
        return f"{moment.expected} {moment.remedy}" if isinstance(moment, Trouble) else moment

    def _map(self, table: TypedTable, row: TypedRow, name: str) -> ReadingMap | None:
        path = map_file(name)
        if name not in self._maps:
            if (sentence := self._folder.refusal(path)) is not None:
                table.hold(
                    row, "log", Trouble(sentence, f"What stands before the colon, {name}, names a reading map.", "file")
                )
                return None
            content = self._folder.read(path, limit=MAX_TEXT_BYTES)
            self.files[path] = hashlib.sha256(content).hexdigest()
            self._maps[name] = read_map(path, content)
            if isinstance(wrong := self._maps[name], list):
                self.problems += wrong
        plan = self._maps[name]
        if isinstance(plan, list):
            row.held = True
            return None
        return plan


def map_file(name: str) -> str:
    """Where a map lies in its batch."""
    return f"maps/{name}.toml"


def map_and_path(cell: str) -> tuple[str | None, str]:
    name, colon, path = cell.partition(":")
    return (name.strip(), path.strip()) if colon and "/" not in name else (None, cell)


@dataclass(frozen=True)
class ReadLog:
    """The log of one row.

    written  as the file states it, through its map
    log      as read after the answers of the batch
    digest   the results computed from it
    """

    written: Log
    log: Log
    digest: dict[str, float]


def read_run_logs(table: TypedTable, pairs: Pairs, reader: LogReader, known: Known) -> dict[int, ReadLog]:
    """Logs of runs by row number. A blank throughput takes the log's mean; a typed one 1 % off is listed."""
    logs = {}
    for typed, row, written in reader.each(table, pairs):
        if written.kind != "throughput":
            table.hold(typed, "log", _other_kind("A run"))
            continue
        _compare_link(table, typed, row, written)
        if (log := settled_rates(table, typed, row, written, stated_s=row["seconds"])) is None:
            continue
        digest = throughput_digest(log)
        mean = digest["mean_mbit_s"]
        if row["throughput_mbit_s"] is None and row["outcome"] in (None, FINISHED):
            hold_above_phy(table, typed, row, known, mean)
            if not typed.held:
                row |= {"throughput_mbit_s": mean, "outcome": FINISHED, "throughput_typed": FROM_LOG}
        elif (value := row["throughput_mbit_s"]) and abs(value - mean) > LOG_DIFFERS * mean:
            _warn_off(table, typed, value, mean)
        logs[typed.number] = ReadLog(written, log, digest)
    return logs


def _other_kind(what: str) -> Trouble:
    return Trouble(f"{what} points to a throughput log.", "This one logs requests.", "log-kind")


def _warn_off(table: TypedTable, typed: TypedRow, value: float, mean: float) -> None:
    side = "above" if value > mean else "below"
    how_far = f"{100 * abs(value / mean - 1):.1f} % {side}" if mean else side
    off = Trouble(
        f"{typed.typed['throughput']} is {how_far} {mean:.1f} Mbit/s, the mean of its log.",
        "Look at warm-up and direction.",
        "log-differs",
    )
    table.warn(typed, "throughput", off)


def _compare_link(table: TypedTable, typed: TypedRow, row: Row, log: Log) -> None:
    """A log that states its link and another width, band or channel than the row: the radio may have fallen back."""
    for name, texts in log.link.items():
        stated = {text.removesuffix(".0") for text in texts}
        if row[name] is not None and stated and stated != {str(row[name])}:
            other = Trouble(
                f"{name} is {row[name]} in the row, but {' and '.join(sorted(stated))} in its log.",
                "Did the radio fall back to another one?",
                "link-differs",
            )
            table.warn(typed, name, other)


def read_longrun_logs(table: TypedTable, pairs: Pairs, reader: LogReader, known: Known) -> dict[int, ReadLog]:
    """Logs of long runs by row number."""
    logs = {}
    digests: dict[tuple[str, ...], ReadLog] = {}
    for typed, row, written in reader.each(table, pairs):
        if written.kind != row["kind"]:
            table.hold(typed, "log", _other_than_its_kind(row["kind"]))
            continue
        if written.kind == "requests":
            if (log := settled_answers(table, typed, row, written)) is not None:
                logs[typed.number] = ReadLog(written, log, answers_digest(log, mark_ms=row["mark_ms"]))
            continue
        if (log := settled_rates(table, typed, row, written, stated_s=None)) is None:
            continue
        key = (row["log_path"], *(str(row[name]) for name in LONGRUN_KEY))
        if key not in digests:  # a repeated row is digested only once, because surrogates are slow
            digests[key] = ReadLog(written, log, longrun_digest(log, key=key[1:]))
        logs[typed.number] = digests[key]
        hold_above_phy(table, typed, row, known, digests[key].digest["mean_mbit_s"])
    return logs


def _other_than_its_kind(kind: str) -> Trouble:
    if kind == "requests":
        return Trouble("A long run of requests points to a log of requests.", "This one logs a throughput.", "log-kind")
    return Trouble(
        "A long run of throughput points to a throughput log, and this one logs requests.",
        'Write requests into the column "kind".',
        "log-kind",
    )


def read_station_logs(table: TypedTable, pairs: Pairs, reader: LogReader, known: Known) -> dict[int, ReadLog]:
    """Logs of stations by row number. A missing log is not a problem: that role is "not tested"."""
    logs = {}
    for typed, row, written in reader.each(table, pairs):
        if written.kind != "requests":
            rates = Trouble(
                "A role points to a log of requests, and this one logs a throughput.",
                "Give the log of its requests, or leave the cell empty: the role is not tested then.",
                "log-kind",
            )
            table.hold(typed, "log", rates)
            continue
        if (log := settled_requests(table, typed, row, written)) is None:
            continue
        role = known.roles.get((row["workload_id"], row["workload_version"]), {}).get(row["role_id"], {})
        digest = request_digest(log, planned=planned_requests(row, log), role=role)
        if role.get("kind") == "pages" and digest.get("min_ms", CACHED_MS) < CACHED_MS:
            cached = Trouble(
                f"The fastest page took {digest['min_ms']:g} ms, which no page over the air does.",
                "Was the cache left on?",
                "cached-pages",
            )
            table.warn(typed, "log", cached)
        logs[typed.number] = ReadLog(written, log, digest)
    return logs


def planned_requests(row: Row, log: Log) -> int:
    """Requests that were planned: as typed, else at the pace before the end, never fewer than were made."""
    assert log.outcome is not None
    made = int((log.outcome != NOT_MADE).sum())
    if row["planned_requests"] is not None:
        return max(int(row["planned_requests"]), made)
    ended = row["ended_at_s"]
    if ended and row["planned_s"]:
        before = int(((log.t_us <= ended * 1e6) & (log.outcome != NOT_MADE)).sum())
        return max(latency.planned_requests(before, ended_at_s=ended, planned_s=row["planned_s"]), made)
    return max(made, len(log))
