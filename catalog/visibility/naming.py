"""What withdrawals and corrections are about, in the words of the copy: never a batch, row or name that it does not hold.

shown_withdrawal   withdrawals that go in, with the id to show
shown_correction   corrections that go in, with the key to show
tainted            grows by files of withdrawals that are shown otherwise than they were typed
left_out           grows by those that could not be shown without a hidden name
"""

from __future__ import annotations

import re
from collections import Counter

from sqlite_utils import Database

from catalog.records.origins import row_id, source_name
from catalog.row_numbers import place_text, typed_place
from catalog.visibility.hiding import kept, leave_out
from catalog.visibility.origins import part_of_a_file

_SHORTEST = 4  # a name of fewer letters is everybody's


def name_withdrawals(db: Database) -> None:
    """Of a stained batch, "batch" and "batch/table/row" by its shown id and without the row's number: a gap would tell."""
    db.conn.create_function("source_name", 1, source_name, deterministic=True)
    db.execute("CREATE TEMP TABLE shown_withdrawal (row_id INTEGER PRIMARY KEY, id TEXT NOT NULL)")
    shown = dict(db.execute("SELECT batch_id, shown_id FROM temp.kept_batch").fetchall())
    stained = {batch for (batch,) in db.execute("SELECT batch_id FROM temp.stained")}
    moved = {
        act: row_id(*place)
        for act, *place in db.execute(
            """SELECT s.act, m.batch_id, m.source_file, m.source_row
               FROM temp.subject AS s JOIN temp.moved AS m USING (tbl, row_id) ORDER BY s.act DESC"""
        ).fetchall()
    }
    rows = db.execute(
        f"""SELECT x.rowid, x.what, x.id, x.batch_id, x.source_file FROM src.withdrawal AS x
            WHERE {kept("withdrawal", "x")} ORDER BY x.what, x.id"""
    ).fetchall()
    numbers: Counter[str] = Counter()
    shown_withdrawals: set[tuple[str, str]] = set()
    for act, what, thing, *origin in rows:
        batch, *place = thing.split("/")
        if batch not in stained or not (what == "batch" or (len(place) >= 2 and typed_place(place[-1]) is not None)):
            name = thing
        elif act in moved:
            name = moved[act]
        elif batch not in shown:
            leave_out(db, "withdrawal", f"x.rowid = {act}", why="hidden")
            continue
        elif what == "batch":
            name = shown[batch]
        else:
            numbers[batch] += 1
            name = f"{shown[batch]}/{place[0]}/withdrawn-{numbers[batch]}"
        if (what, name) in shown_withdrawals:  # the same row by both batches that brought it
            leave_out(db, "withdrawal", f"x.rowid = {act}", why="unused")
            continue
        shown_withdrawals.add((what, name))
        if name != thing:  # its file names what the copy does not
            db.execute("INSERT OR IGNORE INTO temp.tainted VALUES (?, ?)", origin)
        db.execute("INSERT INTO temp.shown_withdrawal VALUES (?, ?)", [act, name])


def name_corrections(db: Database) -> None:
    """The key of a row as the copy says where it stands, of a withdrawal by the id the copy shows."""
    db.execute("CREATE TEMP TABLE shown_correction (row_id INTEGER PRIMARY KEY, row_key TEXT NOT NULL)")
    hidden = _hidden_names(db)
    rows = db.execute(
        f"""SELECT x.rowid, x.row_key, coalesce(m.batch_id, k.shown_id),
                   coalesce(m.source_file, CASE WHEN t.batch_id IS NOT NULL AND {part_of_a_file("x")}
                       THEN source_name(x.source_file) ELSE x.source_file END),
                   CASE WHEN m.batch_id IS NOT NULL THEN m.source_row
                        WHEN t.batch_id IS NULL THEN x.source_row END,
                   w.id, x.was || char(10) || x.now || char(10) || x.reason
            FROM src.correction AS x
            LEFT JOIN temp.moved AS m ON m.tbl = 'correction' AND m.row_id = x.rowid
            LEFT JOIN temp.kept_batch AS k ON k.batch_id = x.batch_id
            LEFT JOIN temp.tainted AS t ON t.batch_id = x.batch_id AND t.source_file = x.source_file
            LEFT JOIN temp.corrected AS c ON c.row_id = x.rowid AND c.tbl = 'withdrawal'
            LEFT JOIN temp.shown_withdrawal AS w ON w.row_id = c.corrected
            WHERE {kept("correction", "x")} ORDER BY x.rowid"""
    ).fetchall()
    for number, key, batch, file, row, withdrawal, texts in rows:
        shown = _shown_key(
            key,
            {"batch": batch, "file": file, "row": None if row is None else place_text(row)}
            | ({"id": withdrawal} if withdrawal else {}),
        )
        if hidden is not None and hidden.search(f"{shown}\n{texts}"):
            leave_out(db, "correction", f"x.rowid = {number}", why="hidden")
        else:
            db.execute("INSERT INTO temp.shown_correction VALUES (?, ?)", [number, shown])


def _shown_key(key: str, instead: dict[str, str | int | None]) -> str:
    """A key as typed, with other values where it says the same otherwise; a part without a value is left out."""
    parts: list[str] = []
    same = True
    for part in key.split(";"):
        name, equals, value = part.partition("=")
        column = name.strip().casefold().replace(" ", "_")
        if column not in instead or str(instead[column]) == value.strip():
            parts.append(part)
            continue
        same = False
        if instead[column] is not None:
            parts.append(f"{name}{equals}{instead[column]}")
    return key if same else ";".join(parts).strip()


def _hidden_names(db: Database) -> re.Pattern[str] | None:
    """Names that no free text of a correction may hold; None where there are none.

    Ids, and batch ids and titles that the copy does not name, in any case, but for batches called by one plain word;
    models and aliases as they are written, because many are everyday words.
    """
    things = db.execute(
        """SELECT device_id FROM temp.hidden_device
           UNION SELECT unit_id FROM temp.hidden_unit WHERE unit_id NOT IN (
               SELECT unit_id FROM src.unit WHERE (device_id, unit_id) NOT IN (
                   SELECT device_id, unit_id FROM temp.hidden_unit))
           UNION SELECT version FROM temp.hidden_firmware WHERE version NOT IN (
               SELECT version FROM src.firmware WHERE (device_id, version) NOT IN (
                   SELECT device_id, version FROM temp.hidden_firmware)) ORDER BY 1"""
    ).fetchall()
    batches = db.execute(
        """SELECT batch_id FROM src.batch WHERE batch_id NOT IN (SELECT shown_id FROM temp.kept_batch)
           UNION SELECT title FROM src.batch WHERE title NOT IN (SELECT shown_title FROM temp.kept_batch) ORDER BY 1"""
    ).fetchall()
    models = db.execute(
        """SELECT model FROM src.device JOIN temp.hidden_device USING (device_id)
           UNION SELECT alias FROM src.device_alias JOIN temp.hidden_device USING (device_id) ORDER BY 1"""
    ).fetchall()
    anyhow = [name for (name,) in things] + [name for (name,) in batches if not name.isalpha()]
    patterns = [f"(?i:{_whole(name)})" for name in anyhow if _is_a_name(name)]
    patterns += [_whole(name) for (name,) in models if _is_a_name(name)]
    return re.compile("|".join(patterns)) if patterns else None


def _is_a_name(text: str) -> bool:
    return len(text) >= _SHORTEST and not re.fullmatch(r"\d+(?:\.\d+)?", text)


def _whole(name: str) -> str:
    """A name as a whole word, also in "one--other", but not one that is part of a longer id or number."""
    return rf"(?:(?<![\w-])|(?<=--)){re.escape(name)}(?!\w)(?!-(?!-))(?!\.\d)"
