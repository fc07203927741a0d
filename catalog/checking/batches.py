"""A whole batch against a catalogue: every problem in one pass, and the rows it would add."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from sqlite_utils import Database

from catalog.checking import logfiles, mixes, settings, smells
from catalog.checking.answers import read_answers
from catalog.checking.ceilings import read_ceilings
from catalog.checking.characters import odd_texts
from catalog.checking.days_and_months import hold_months, hold_months_of_bridges
from catalog.checking.earlier import changed_file, entered_in, holds_all_of, source_row
from catalog.checking.headers import table_of
from catalog.checking.hidden import settled, settled_things
from catalog.checking.idempotence import Sieve, sieve
from catalog.checking.known import Known, Row, came_again, known_from
from catalog.checking.places import in_files, with_origins
from catalog.checking.planned import PlannedRow, counted, held_planned, rows_of_desk, unfilled, without_planned
from catalog.checking.resolving import Resolver
from catalog.checking.results import BUILDERS, Pairs, built
from catalog.checking.rows import TypedTable, read_rows
from catalog.checking.seating import hold_misplaced, hold_twin_mixes
from catalog.checking.sheet_shapes import left_out, needs_map
from catalog.checking.sheet_words import in_words_of_sheets
from catalog.checking.siblings import check_siblings, hold_summaries_beside_runs
from catalog.checking.site import read_site
from catalog.checking.source_names import same_name, without_list
from catalog.checking.spots import check_epochs, reading_rows
from catalog.checking.things import Things
from catalog.checking.troubles import Trouble
from catalog.checking.used_logs import UsedLogs
from catalog.checking.varying import hold_varying_columns, is_ignored, unused_ignored
from catalog.errors import Problem
from catalog.marks import MARKS
from catalog.queries.marks import logs_by_marks
from catalog.reading.batch import RawBatch, read_table
from catalog.reading.format import TABLES, Table
from catalog.reading.progress import Progress, silent
from catalog.reading.rawtable import RawTable, table_stem
from catalog.reading.sources import file_of, place_of
from catalog.row_numbers import place_text

_LOGS = {"runs": logfiles.read_run_logs, "stations": logfiles.read_station_logs, "longruns": logfiles.read_longrun_logs}
NOTHING_NEW = frozenset({"row_again", "extra", "declaration", "role_declaration", "source"})


@dataclass
class Checked:
    """The outcome of checking a batch.

    batch            batch_id, title, timezone, licence as far as they are given
    rows             table of the catalogue -> new rows, complete with numbers and origin
    logs             of new rows
    by_new_marks     number of each station of the catalogue whose role is given other marks -> its MARK_FIGURES by them
    files            path in the folder -> SHA-256 of every file that was used
    rows_read        rows in table files, without the planned ones, which are left out and counted by themselves
    rows_new         of them, how many are good and not in the catalogue
    sheets           (file, title) of every sheet of a workbook that was read
    already_entered  the batch that holds everything of this one, if there is nothing new
    """

    batch: Row
    rows: dict[str, list[Row]] = field(default_factory=dict)
    logs: list[logfiles.OwnedLog] = field(default_factory=list)
    by_new_marks: list[tuple[int, Mapping[str, float]]] = field(default_factory=list)
    files: dict[str, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
    repairs: Counter[str] = field(default_factory=Counter)
    rows_read: int = 0
    rows_planned: int = 0
    rows_new: int = 0
    sheets: list[tuple[str, str]] = field(default_factory=list)
    already_entered: str | None = None


def check(
    raw: RawBatch,
    db: Database | None,
    *,
    progress: Progress = silent,
    log_read: logfiles.FileRead = logfiles.nothing_more,
    kept_logs: logfiles.KeptLogs | None = None,
) -> Checked:
    """Hold a batch against the catalogue *db*, None for none. Writes nothing.

    log_read   called for every log that was read
    kept_logs  logs as earlier checks read them, for who checks a batch after each edit: a file that is the same is not
               read again. Those read now are put into it, and only its owner takes any out
    """
    reader = logfiles.LogReader(raw.folder, progress=progress, log_read=log_read, kept_logs=kept_logs)
    checked = _Check(raw, db, progress, reader).run()
    if raw.things:
        checked.problems = [in_words_of_sheets(problem) for problem in checked.problems]
        checked.warnings = [in_words_of_sheets(warning) for warning in checked.warnings]
    return checked


class _Check:
    """The steps of one check, in the order in which they build on each other."""

    def __init__(self, raw: RawBatch, db: Database | None, progress: Progress, reader: logfiles.LogReader) -> None:
        self.answers, self.answer_problems = read_answers(*raw.answers)
        self.raw = raw = settled_things(raw, self.answers)
        self.reader = reader
        self.progress = progress
        self.known: Known = known_from(db)
        self.things = Things(raw.document, self.known, str(raw.document.values.get("id", "")))
        self.checked = Checked({})
        self.tables: dict[str, list[TypedTable]] = {}
        self.sieves: dict[str, Sieve] = {}
        self.sheets: dict[str, RawTable] = {}
        self.planned: list[PlannedRow] = []

    def run(self) -> Checked:
        checked, things, folder = self.checked, self.things, self.raw.folder
        checked.batch = settings.read_batch_keys(things)
        batch_id = checked.batch.get("batch_id")
        if batch_id is not None and holds_all_of(self.known.db, batch_id, self.raw):
            checked.rows_read, checked.rows_planned = counted(self.raw.tables, self.raw.document)
            checked.already_entered = batch_id
            return checked
        zone = checked.batch.get("timezone")
        checked.problems += [*self.raw.problems, *self.raw.thing_problems, *self.answer_problems]
        checked.warnings += self.raw.notices
        things.answers = self.answers
        if batch_id is not None and batch_id not in {row["batch_id"] for row in self.known.of("batch")}:
            things.judge("batch", {"batch_id": batch_id}, things.root)
        for document in (self.raw.document, *self.raw.answers):
            checked.problems += odd_texts(document, self.answers)
        things.read()
        settings.read_embargoes(things)
        settings.read_method(things)
        read_site(things)
        self.ignored = settings.ignored_columns(things)
        settings.read_articles(things, folder, zone, checked.files)
        settings.read_images(things, folder, checked.files)
        self.known.forget()
        self._see_new_marks()
        self.reader.zone = zone
        self.used_logs = UsedLogs(self.known.db, self.reader.files)
        self._read_tables(zone)
        self.resolver = Resolver(self.known)
        self._spots()
        for stem in BUILDERS:
            self._results(stem)
        self._collect()
        return checked

    def _see_new_marks(self) -> None:
        """Which roles of the catalogue have other marks by this batch. Its logs are read by the new ones anyway."""
        self.remarked = {
            row["role_id"]
            for row in self.known.of("role")
            if not self.things.brings("role", row)
            and {name: row[name] for name in MARKS} != self.known.marks[row["role_id"]].values()
        }

    def _read_tables(self, zone: str | None) -> None:
        defaults = self.raw.document.values.get("defaults", {})
        defaults = defaults if isinstance(defaults, dict) else {}
        self.strays: list[str] = []
        for raw in self.raw.tables:
            raw = settled(raw, self.answers)
            self._read_table(raw, TABLES[raw.stem], zone)
        logs = {cell for table in self._all_tables() for row in table.rows if (cell := row.values.get("log"))}
        for name in self.raw.strays:
            if name in logs:
                continue
            raw = settled(read_table(self.raw, name), self.answers)
            if (table := table_of(raw, defaults)) is not None:
                others = [other.file for other in self.tables.get(table.stem, ()) if other.headings]
                listed = table.stem in self.raw.listed
                if (apart := without_list(raw, table, others, listed=listed, answers=self.answers)) is not None:
                    self.checked.problems.append(apart)
                    continue
                self._read_table(raw, table, zone)
            else:
                self.strays.append(name)
        still_open = unfilled(self.planned, rows_of_desk(self._all_tables()))
        self.checked.rows_planned = len(still_open)
        self.checked.problems += held_planned(still_open, folder=self.raw.folder)

    def _read_table(self, raw: RawTable, table: Table, zone: str | None) -> None:
        document = self.raw.document
        measured, planned = without_planned(raw, table, document)
        typed = read_rows(measured, table, document=document, answers=self.answers, zone=zone, progress=self.progress)
        if (other := same_name(raw, self._all_tables(), self.things.batch_id)) is not None:
            self.checked.problems.append(other)
            return
        self.planned += planned
        self.sheets[raw.file] = raw
        if (file := file_of(raw.file)) in self.raw.hashes:
            typed.entered_in = entered_in(self.known.db, self.raw, raw, table.stem)
            self.checked.files[file] = self.raw.hashes[file]
        if raw.map_file in self.raw.hashes:
            self.checked.files[raw.map_file] = self.raw.hashes[raw.map_file]
            self.things.rows.setdefault("source", []).append(source_row(self.things.batch_id, raw))
        self.tables.setdefault(table.stem, []).append(typed)

    def _all_tables(self) -> Iterator[TypedTable]:
        for tables in self.tables.values():
            yield from tables

    def _spots(self) -> None:
        tables = self.tables.get("spots", [])
        if not tables:
            return
        strainer = self.sieves["spots"] = sieve("spot_reading", self.known.measured("spot_reading"), same_settings={})
        fresh = [(table, strainer.fresh(table, reading_rows(table, self.resolver))) for table in tables]
        epochs = check_epochs([(table, typed, row) for table, new in fresh for typed, row in new], self.known)
        for table, new in fresh:
            self._keep("spot_reading", table, [(typed, row) for typed, row in new if not typed.held])
            self._keep_notes(table, {typed.number for typed, _, _ in strainer.again if typed.file == table.file})
        self.things.rows.setdefault("epoch", []).extend(epochs)
        self.known.rows.setdefault("epoch", []).extend(epochs)
        self.known.forget()

    def _results(self, stem: str) -> None:
        tables = self.tables.get(stem, [])
        if not tables and stem != "runs":
            return
        db_table, builder, number = BUILDERS[stem]
        pairs = [(table, built(table, builder, self.resolver, self.known, progress=self.progress)) for table in tables]
        devices = {row["device_id"] for _, rows in pairs for _, row in rows if row.get("device_id")}
        known_rows = self.known.measured(db_table, devices=devices) if tables else []
        hold_months(pairs, self.known)
        if stem == "bridges":
            hold_months_of_bridges(pairs)
        logs = self._logs(stem, pairs)
        strainer = self.sieves[stem] = sieve(db_table, known_rows, same_settings=self.known.first_settings)
        if stem == "runs":
            hold_summaries_beside_runs(pairs, known_rows)
            check_siblings(pairs, known_rows)
            smells.hold_copied_rows(pairs, strainer.there)
            smells.hold_copied_blocks(pairs, self.known, strainer.there)
            smells.check_runs(pairs, self.known)
            hold_varying_columns(pairs, strainer.there, self.ignored)
        if stem == "stations":
            hold_twin_mixes(pairs, known_rows)
            hold_misplaced(pairs, known_rows, self.known)
            mixes.align(
                (table, typed, row, read[typed.number].log, read[typed.number].digest)
                for (table, rows), read in zip(pairs, logs, strict=True)
                for typed, row in rows
                if typed.number in read
            )
        runs: list[Row] = []
        for (table, rows), read in zip(pairs, logs, strict=True):
            new = self._with_logs_of_their_own(table, strainer.fresh(table, rows), read)
            for typed, row in new:
                if number is not None:
                    row[number] = self.known.new_id(db_table, number)
                if (one := read.get(typed.number)) is not None:
                    self.checked.logs.append(logfiles.OwnedLog(db_table, row[number or ""], one.log, one.digest))
            self._keep(db_table, table, new)
            self._keep_notes(table, {typed.number for typed, _, _ in strainer.again if typed.file == table.file})
            if stem == "runs":
                runs += [{**row, "source_file": typed.file, "source_row": typed.number} for typed, row in new]
        if stem == "runs":
            runs += [{**old, "source_file": typed.file, "source_row": typed.number} for typed, _, old in strainer.again]
            held = {
                (table_stem(table.file), place_text(typed.number)): ""
                for table, rows in pairs
                for typed, _ in rows
                if typed.held
            }
            read_ceilings(self.things, self.known, runs, held)

    def _logs(self, stem: str, pairs: list[tuple[TypedTable, Pairs]]) -> list[Mapping[int, logfiles.ReadLog]]:
        read = _LOGS.get(stem)
        return [read(table, rows, self.reader, self.known) if read else {} for table, rows in pairs]

    def _with_logs_of_their_own(self, table: TypedTable, new: Pairs, read: Mapping[int, logfiles.ReadLog]) -> Pairs:
        """The new rows whose log does not belong to another row; the others are held."""
        for typed, row in new:
            if typed.number in read:
                self.used_logs.hold_second(table, typed, row["log_path"], read[typed.number])
        return [(typed, row) for typed, row in new if not typed.held]

    def _keep(self, db_table: str, table: TypedTable, new: Pairs) -> None:
        """Give new rows their origin and store them, together with their notes."""
        numbers = set()
        kept = self.things.rows.setdefault(db_table, [])
        for typed, row in new:
            row |= {"batch_id": self.things.batch_id, "source_file": typed.file, "source_row": typed.number}
            kept.append(row)
            numbers.add(typed.number)
        self.checked.rows_new += len(new)
        self._keep_notes(table, numbers)

    def _keep_notes(self, table: TypedTable, numbers: set[int]) -> None:
        """Cells of unknown columns, as notes to the rows of these numbers."""
        self.things.rows.setdefault("extra", []).extend(
            {
                "batch_id": self.things.batch_id,
                "source_file": table.file,
                "source_row": number,
                "header": header,
                "typed": text,
            }
            for number, header, text in table.notes
            if number in numbers
        )

    def _collect(self) -> None:
        checked, things = self.checked, self.things
        checked.problems += things.problems
        checked.warnings += things.warnings
        checked.repairs += things.repairs
        for stem in TABLES:
            for table in self.tables.get(stem, []):
                checked.repairs += table.repairs
                checked.rows_read += table.rows_read
                if table.entered_in is not None:
                    again = Trouble(
                        f"The table was entered in batch {table.entered_in} already.", "It is left out.", "same-file"
                    )
                    checked.warnings.append(again.at(table.file, 1, "", table.file))
                    continue
                if table.problems and not table.map_file:
                    self._name_shape(table)
                # A cell that several rows were made of is told once.
                checked.problems += sorted(dict.fromkeys(table.problems), key=lambda problem: problem.row)
                warnings = [one for one in dict.fromkeys(table.warnings) if not is_ignored(one, self.ignored)]
                checked.warnings += sorted(warnings, key=lambda problem: problem.row)
            if stem in self.sieves:
                origin = {"batch_id": things.batch_id}
                things.again += [
                    came_again(
                        BUILDERS[stem][0] if stem in BUILDERS else "spot_reading",
                        old,
                        {**origin, "source_file": typed.file, "source_row": typed.number},
                        stated=row,
                    )
                    for typed, row, old in self.sieves[stem].again
                ]
        checked.problems += self.reader.problems
        checked.warnings += self.answers.unused()
        checked.warnings += unused_ignored(self._all_tables(), self.ignored, things.file)
        checked.files |= self.reader.files
        for file in self.strays:
            if file not in self.reader.files:  # not a log that a row names either
                checked.warnings.append(left_out(self.raw.folder, file).at(file, 1, "", file))
        for document in (self.raw.document, *self.raw.answers):
            name = file_of(document.place()[0])
            checked.files[name] = self.raw.hashes[name]
        for picture, known in things.pictures_again:
            if any(rows for table, rows in things.rows.items() if table not in NOTHING_NEW):
                things.rows.setdefault("image", []).append(picture)
            else:
                things.again.append(known)
        checked.rows = {table: rows for table, rows in things.rows.items() if rows}
        if things.again:
            places = {(row["source_file"], row["source_row"], row["table_name"]): row for row in things.again}
            checked.rows["row_again"] = list(places.values())
        if self.remarked and self.known.db is not None and not checked.problems:
            checked.by_new_marks = list(logs_by_marks(self.known.db, self.known.marks, self.remarked))
        self._already_entered()
        read = (*self.raw.things, *self.sheets.values())
        checked.problems = with_origins(in_files(checked.problems, read), things.file, self._all_tables())
        titles = [(file_of(raw.file), place_of(raw.file).sheet or raw.sheet) for raw in read]
        checked.sheets = [(file, title) for file, title in dict.fromkeys(titles) if title]
        checked.warnings = list(in_files(checked.warnings, read))

    def _name_shape(self, table: TypedTable) -> None:
        """Of a sheet that cannot be one row a run, all other problems only follow from that."""
        if (shape := needs_map(self.raw.folder, table.file, table.table.stem)) is not None:
            table.problems = [shape.at(table.file, table.header_row, "", table.file)]

    def _already_entered(self) -> None:
        """Nothing new: name the batch that holds it. Something new under a batch id that is taken: a problem."""
        checked = self.checked
        batch_id = checked.batch.get("batch_id")
        entered = {row["batch_id"] for row in self.known.of("batch")}
        new = bool(self.remarked) or any(table not in NOTHING_NEW for table in checked.rows)
        if not new and entered and not checked.problems:
            again = checked.rows.get("row_again", [])
            firsts = Counter(row["first_batch"] for row in again)
            if batch_id is not None and batch_id in entered:
                assert self.known.db is not None
                if (changed := changed_file(self.known.db, batch_id, self.raw)) is not None:
                    checked.problems.append(changed)
                    return
                checked.already_entered = batch_id
            elif firsts:
                checked.already_entered = firsts.most_common(1)[0][0]
        elif new and batch_id in entered:
            taken = Trouble(
                f"The batch {batch_id} is in the catalogue already, and this one holds something else.",
                "Give it an id of its own; a changed value needs a correction.",
                "batch-id-taken",
            )
            self.things.root.refuse("id", taken, batch_id)
            checked.problems.append(self.things.problems[-1])
