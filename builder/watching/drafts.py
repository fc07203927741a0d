"""The batch as it would be with what landed: rows and answers of the desk that a click would write, read as `check` reads them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from builder.watching.day_rows import Row
from builder.watching.jobs import Answer
from builder.watching.landed import Landed, desk_texts
from builder.watching.noting import Noted, desk_table, key_of, with_answers, with_rows
from builder.watching.states import Place, Writing
from catalog.checking.planned import PlannedRow
from catalog.errors import InputRefused
from catalog.reading.batch import RawBatch
from catalog.reading.delimited import read_delimited
from catalog.reading.documents import TomlFile
from catalog.reading.format import TABLES
from catalog.reading.sources import DESK, SourcePath, answered_as, file_of, place_of
from catalog.reading.toml_lines import index_lines, parse_toml

_STEMS = ("runs", "stations", "longruns")
_BESIDE = ("when", "level_dbm", "log", "note")  # columns that a row gets beside those of the plan

Chosen = Sequence[tuple[Row, Landed]]


@dataclass(frozen=True, slots=True)
class Draft:
    """What would be written, and the batch with it.

    rows     where each row stands then: (file or sheet as a problem names it, row) -> its place in the plan
    sources  the same by source and row, as a row of the catalogue has them
    refused  why rows of a table, or answers, cannot be noted
    """

    raw: RawBatch
    files: tuple[Noted, ...]
    rows: Mapping[tuple[str, str, int], Place]
    sources: Mapping[tuple[str, int], Place]
    key: str
    refused: tuple[str, ...] = ()

    def writing(self, chosen: Chosen) -> Writing:
        """The same for a page."""
        written = [row.place for row, _ in chosen if self._is_noted(row)]
        if not any(noted.lines for noted in self.files):
            return Writing()
        return Writing(
            key=self.key,
            texts={noted.path: noted.text for noted in self.files},
            added={noted.path: noted.lines for noted in self.files},
            rows=tuple(written),
        )

    def _is_noted(self, row: Row) -> bool:
        return any(Path(noted.path).stem.casefold() == row.stem for noted in self.files)


def desk_of(batch: Path, raw: RawBatch) -> str:
    """The folder of the desk in the batch."""
    if not raw.things:
        return DESK
    return f"{Path(file_of(raw.things[0].file)).stem}.{DESK}"


def draft_of(
    raw: RawBatch,
    desk: str,
    day: Sequence[Row],
    chosen: Chosen,
    *,
    typed: Mapping[Place, Mapping[str, str]],
    answers: Sequence[Answer],
    zone: str | None,
) -> Draft:
    """The batch with a row of the desk for each of the *chosen*, and with *answers*."""
    files: list[Noted] = []
    refused: list[str] = []
    rows, sources = _where(day)
    told: list[object] = []
    for stem in _STEMS:
        of_table = [(row, landed) for row, landed in chosen if row.stem == stem]
        if not of_table:
            continue
        texts = [desk_texts(row, landed, typed.get(row.place, {}), zone) for row, landed in of_table]
        bare = [desk_texts(row, landed, {}, zone) for row, landed in of_table]
        try:
            path = desk_table(raw.folder, desk, stem)
            noted = with_rows(raw.folder, path, stem, texts, _header(of_table[0][0].row))
        except InputRefused as refusal:
            refused.append(str(refusal))
            continue
        files.append(noted)
        told += [path, _digest(noted.before), bare]
        source = SourcePath(path, f"desk-{stem}")
        for (row, _), number in zip(of_table, noted.numbers, strict=True):
            rows[_as_told(source, number)] = row.place
            sources[str(source), number] = row.place
        raw = _with_table(raw, noted, source, stem)
    if answers:
        try:
            entries = _entries(answers, day, sources)
            noted = with_answers(raw.folder, desk, entries)
            files.append(noted)
            told += [noted.path, _digest(noted.before), entries]
            raw = _with_answers(raw, noted)
        except InputRefused as refusal:
            refused.append(str(refusal))
    return Draft(raw, tuple(files), rows, sources, key_of(told), tuple(refused))


def _header(row: PlannedRow) -> dict[str, str]:
    """Columns of a new table of the desk, as they are called in the plan; what is typed beside goes last."""
    known = {column.name for column in TABLES[row.stem].columns}
    named = {name: row.headings[name].text if name in row.headings else name for name in (*_BESIDE, *row.headings)}
    names = ["when", *(name for name in row.headings if name not in _BESIDE), *_BESIDE[1:]]
    return {name: named[name] for name in names if name in known}


def _where(day: Sequence[Row]) -> tuple[dict[tuple[str, str, int], Place], dict[tuple[str, int], Place]]:
    """Where the rows of the day stand now, planned ones and those that fill them."""
    rows: dict[tuple[str, str, int], Place] = {}
    sources: dict[tuple[str, int], Place] = {}
    for one in day:
        for row in (one.row, one.filled):
            if row is not None:
                rows[_as_told(row.source, int(row.number))] = one.place
                if row is one.filled:
                    sources[str(row.source), int(row.number)] = one.place
    return rows, sources


def _as_told(source: str, number: int) -> tuple[str, str, int]:
    """As a problem names a row: file, table, row."""
    place = place_of(source)
    return place.file, place.table, number


def _with_table(raw: RawBatch, noted: Noted, source: SourcePath, stem: str) -> RawBatch:
    """The batch with a table of the desk as it would be."""
    table = replace(read_delimited(noted.path, noted.after), file=source, stem=stem)
    tables = [table if one.file == source else one for one in raw.tables]
    if table not in tables:
        tables.append(table)
    return replace(raw, tables=tables, hashes={**raw.hashes, noted.path: _digest(noted.after)})


def _with_answers(raw: RawBatch, noted: Noted) -> RawBatch:
    document = TomlFile(parse_toml(noted.text), index_lines(noted.text), noted.path)
    others = [one for one in raw.answers if file_of(one.place()[0]) != noted.path]
    return replace(raw, answers=[*others, document], hashes={**raw.hashes, noted.path: _digest(noted.after)})


def _entries(
    answers: Sequence[Answer], day: Sequence[Row], sources: Mapping[tuple[str, int], Place]
) -> list[dict[str, object]]:
    """Answers as the desk has them, each by the place where its row stands then."""
    rows: dict[Place, tuple[str, int]] = {}
    stems = {row.place: row.stem for row in day}
    for (source, number), place in sources.items():
        rows[place] = source, number
    named = {str(row.source): row.source for one in day for row in (one.row, one.filled) if row is not None}
    entries: list[dict[str, object]] = []
    for answer in answers:
        place = answer.asked.place
        if place not in rows:  # nothing has come of it any more
            continue
        source, number = rows[place]
        stem = stems[place]
        entry: dict[str, object] = {} if answer.typed is not None else {"cause": answer.code}
        entry |= {"table": answered_as(named[source], stem) if source in named else f"desk-{stem}", "row": number}
        if answer.asked.column:
            entry["column"] = answer.asked.column
        if answer.typed is not None:
            entry["typed"] = answer.typed
        entries.append({**entry, "means": answer.means})
    return entries


def _digest(content: bytes | None) -> str:
    return "" if content is None else hashlib.sha256(content).hexdigest()
