"""A reading map proposed from a sheet itself. A proposal is for a person to correct: it guesses, the map does not.

What the sheet does not tell is a question; where the map cannot be used before it is answered, "?" stands in its place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from catalog.beginning.sheet_draft import LOSSES_DB, PLACES, Draft, add_beside, name_of, quoted
from catalog.checking.cells import NOT_AVAILABLE
from catalog.checking.heading_words import HeadingWords, is_number
from catalog.checking.names import fold
from catalog.checking.sheet_looks import ColumnLook, SheetLook, look_at
from catalog.errors import InputRefused, Problem
from catalog.reading.folder import MAX_TABLE_BYTES, MAX_TEXT_BYTES
from catalog.reading.format import DIRECTION_WORDS, TABLES
from catalog.reading.grids import Grid, read_grids
from catalog.reading.map_proposal import UNKNOWN, Proposal
from catalog.reading.mapped_tables import read_mapped_table
from catalog.reading.rawtable import RawTable
from catalog.reading.sheet_headings import units_in
from catalog.reading.table_maps import folded, read_table_map
from catalog.row_numbers import place_text

SHOWN = 10
SHEETS = (".xlsx", ".ods")
TEXTS = (".csv", ".tsv")
_STATISTICS = {"mean": {"mean", "average", "avg", "mittel", "mittelwert"}, "median": {"median"}}
_PROPOSED = "maps/proposed.toml"


def propose_sheet(path: Path) -> Proposal | None:
    """Propose a map for a sheet; None for a text file that is rather a log, or a table that needs no map.

    Raises  InputRefused for a file that holds no sheet with a heading and values below it.
    """
    suffix = path.suffix.casefold()
    if suffix not in (*SHEETS, *TEXTS):
        return None
    if not path.is_file() or (suffix in TEXTS and path.stat().st_size > MAX_TEXT_BYTES):
        return None  # what is typed by hand is smaller
    if path.stat().st_size > MAX_TABLE_BYTES:
        raise InputRefused(f"{path} is larger than {MAX_TABLE_BYTES // 10**6} MB. Propose from a piece of it.")
    grids = read_grids(path.name, path.read_bytes())
    if isinstance(grids, Problem):
        if suffix in TEXTS:
            return None
        raise InputRefused(str(grids))
    looks = [found for grid in grids if grid.shows and (found := _look(grid)) is not None]
    if not looks:
        if suffix in TEXTS:
            return None
        raise InputRefused(f"{path.name} holds no sheet with a heading and numbers below it. Write the map by hand.")
    stem, look = max(looks, key=lambda one: one[1].crossed)
    if suffix in TEXTS and not _is_table(look):
        return None
    return _proposed(look, stem, grids)


def _look(grid: Grid) -> tuple[str, SheetLook] | None:
    """The sheet as the table whose columns its headings name most; results that stand across are runs."""
    runs = look_at(grid, "runs")
    if runs is None or not any(any(map(is_number, filter(None, column.texts))) for column in runs.columns):
        return None
    if runs.crossed or any(column.meaning and column.meaning.name == "throughput" for column in runs.columns):
        return "runs", runs
    looks = {stem: look for stem in TABLES if (look := look_at(grid, stem)) is not None}
    stem = max(looks, key=lambda name: len({c.meaning.name for c in looks[name].columns if c.meaning}))
    return stem, looks[stem]


def _is_table(look: SheetLook) -> bool:
    """Whether a text file is a table of results rather than a log: it says where, or with what, results were taken."""
    names = {column.meaning.name for column in look.columns if column.meaning}
    words = [words for column in look.results for words in column.words]
    told = sum(bool(one.direction or one.repeat or one.loss_db) for one in words) > 1
    return bool(names & (PLACES | {"client", "device", "session", "repeat", "face", "marking", "amount"})) or told


def _proposed(look: SheetLook, stem: str, grids: Sequence[Grid]) -> Proposal:
    draft = Draft(stem)
    filled = [grid for grid in grids if grid.rows]
    head = [f'kind = "{stem}"']
    if len(filled) > 1:
        head.append(f"sheet = {quoted(look.grid.sheet)}")
        others = ", ".join(grid.sheet for grid in filled if grid is not look.grid)
        draft.notes.append(f"Only the sheet {look.grid.sheet} is read; write a map for each of the others: {others}.")
    head.append(f"heading = [{', '.join(map(str, look.heading))}]")
    crossed = stem == "runs" and look.crossed
    named = _add_above(draft, look) if crossed else _titled(look)
    add_beside(draft, look)
    for offset, said in named:
        _add_names(draft, look.heading[offset], said, _titles(look) if look.titled and not offset else ())
    if crossed or (named and len(look.results) == 1):  # what stands in a title above belongs to each cell
        _add_results(draft, look, look.results, 'cells = "rest"')
    elif stem == "runs" and look.results:
        _add_results(draft, look, look.results[:1], f"from = {quoted(name_of(look, look.results[0]))}")
    if draft.left_out:
        head.append(f"leave_out = [{', '.join(map(quoted, draft.left_out))}]")
        draft.notes.append(f"Not read: {', '.join(draft.left_out)}.")
    if look.above:
        draft.notes.append(f"Above the heading, and not read: {', '.join(look.above[:5])}.")
    if look.again:
        draft.notes.append(
            f"A heading begins again in row {', '.join(map(str, look.again[:5]))}; it is read by its own order."
        )
    if not draft.has:
        raise InputRefused(f"No heading of {look.grid.file} names a column of a table. Write the map by hand.")
    if not (look.crossed or look.again or look.apart() or len(look.heading) > 1):
        draft.notes.append(f"The sheet is one row a result: called {stem} it may need no map.")
    _ask_for_missing(draft, look)
    text = "\n".join([*head, *draft.lines]) + "\n"
    table = _read(look.grid, text)
    for problem in table.problems[:3]:
        draft.questions.append(str(problem).replace(_PROPOSED, "the map"))
    return Proposal(text, _first_rows(table), tuple(draft.notes), tuple(draft.questions), stem)


# --- What stands above the results ------------------------------------------------------------------------------


def _add_above(draft: Draft, look: SheetLook) -> list[tuple[int, list[tuple[str, HeadingWords]]]]:
    """Directions, repeats and losses above the results. Returns the rows, by offset, that may say names, too."""
    named = []
    results = [column for column in look.results if not any(words.total for words in column.words)]
    for offset, row in enumerate(look.heading):
        said = [(column.above[offset], column.words[offset]) for column in results]
        if not any(text for text, _ in said):
            continue
        _add_words(draft, row, said, "direction", lambda words: words.direction, DIRECTION_WORDS)
        _add_words(draft, row, said, "repeat", lambda words: words.repeat, {})
        _add_words(draft, row, said, "attenuation_db", lambda words: words.loss_db, {})
        if all(text and is_number(text) and not words.loss_db for text, words in said):
            small = all(text.isdigit() and int(text) < LOSSES_DB[0] for text, _ in said)
            name = "repeat" if small else "attenuation_db"
            if name not in draft.has:
                draft.add(name, f"heading_row = {row}")
                draft.questions.append(
                    f"Are {said[0][0]} and {said[-1][0]} in row {row} {'repeats' if small else 'losses in dB'}?"
                )
            continue
        named.append((offset, said))
    return named


def _titled(look: SheetLook) -> list[tuple[int, list[tuple[str, HeadingWords]]]]:
    """The titles of tables that stand below each other, as `_add_above` returns them."""
    return [(0, [(column.above[0], column.words[0]) for column in look.results])] if look.titled else []


def _titles(look: SheetLook) -> list[str]:
    """The titles of tables that stand below each other."""
    tops = [look.heading[1], *look.again]
    return [text for top in tops for text in look.grid.rows.get(top - 1, ()) if text]


def _add_words(
    draft: Draft,
    row: int,
    said: Sequence[tuple[str, HeadingWords]],
    name: str,
    taken: Callable[[HeadingWords], str | None],
    known: object,
) -> None:
    """A column whose value every text of the row says, with the words that are not the value itself."""
    meant = {text: value for text, words in said if (value := taken(words)) is not None}
    if name in draft.has or len([text for text, _ in said if text in meant]) < len(said):
        return
    lines = [f"heading_row = {row}"]
    if any(folded(text) not in known and text != value for text, value in meant.items()):  # type: ignore[operator]
        pairs = ", ".join(f"{quoted(text)} = {quoted(value)}" for text, value in meant.items())
        lines.append(f"words = {{ {pairs} }}")
    draft.add(name, *lines)


def _add_names(draft: Draft, row: int, said: Sequence[tuple[str, HeadingWords]], titles: Sequence[str] = ()) -> None:
    """What is left of the texts of the row names the client, or the spot where another column has the client.

    titles  the same texts of all tables, where one stands above each
    """
    names = {text: words.name for text, words in said}
    if not all(names.values()):
        return
    name = "client" if "client" not in draft.has else "spot"
    if name in draft.has or (name == "spot" and draft.has & PLACES):
        draft.questions.append(f"What do {' and '.join(list(names)[:2])} in row {row} say? Nothing is read from them.")
        return
    shown = ", ".join(list(dict.fromkeys([*titles, *names.values()]))[:6])
    lines = [f"heading_row = {row}"]
    if any(text != rest for text, rest in names.items()):
        pairs = ", ".join(f"{quoted(text)} = {quoted(rest)}" for text, rest in names.items())
        lines.append(f"words = {{ {pairs} }}")
    draft.add(name, *lines)
    draft.questions.append(
        f"Row {row} says {shown}. Is each the id of a {name}? If not, write words = {{ "
        f'{quoted(next(iter(names)))} = "its id" }} in [column.{name}].'
    )


def _add_results(draft: Draft, look: SheetLook, results: Sequence[ColumnLook], source: str) -> None:
    stated = {u.name: u for c in results for text in c.above for u in units_in(text, "rate")}
    stated = stated or {u.name: u for text in look.above for u in units_in(text, "rate")}
    lines = [source]
    if len(stated) == 1:
        lines.append(f'unit = "{next(iter(stated))}"')
    elif any(is_number(text) and text.strip()[-1:].isdigit() for column in results for text in column.texts if text):
        lines.append(f'unit = "{UNKNOWN}"')
        choice = " or ".join(sorted(stated)) or "Mbit/s, Gbit/s or MB/s"
        draft.questions.append(f"Nothing says the unit of the results. Write it in [column.throughput]: {choice}.")
    draft.add("throughput", *lines)
    odd = dict.fromkeys(t for c in results for t in c.texts if t and (fold(t) in NOT_AVAILABLE or t in ("0", "0.0")))
    for text in odd:
        ended = "did not finish" if text.startswith("0") else "not possible"
        draft.questions.append(
            f"What does {text!r} among the results mean? If it was not measured, write missing = [{quoted(text)}] in "
            f"[column.throughput]; else words = {{ {quoted(text)} = {quoted(ended)} }}."
        )


def _add_statistic(draft: Draft, look: SheetLook) -> None:
    """What results of several runs are, where their heading says it."""
    said = {folded(word) for column in look.results for text in column.own for word in text.split()}
    kinds = [kind for kind, words in _STATISTICS.items() if said & words]
    if "statistic" not in draft.has and len(kinds) == 1:
        draft.add("statistic", f"constant = {quoted(kinds[0])}")


def _ask_for_missing(draft: Draft, look: SheetLook) -> None:
    if "of_runs" in draft.has:
        _add_statistic(draft, look)
    elif draft.stem == "runs" and "repeat" not in draft.has:
        draft.add("repeat", "constant = 1")
        draft.notes.append("Nothing counts repeats: each result is taken for the first one.")
    missing = [c.name for c in TABLES[draft.stem].columns if c.required and not {c.name, c.unless} & draft.has]
    if draft.stem == "runs" and not draft.has & PLACES:
        draft.questions.append("Nothing says where the results were taken: a spot, attenuation_db or level_dbm.")
    if missing:
        listed = ", ".join(missing)
        draft.notes.append(
            f"Not in the sheet: {listed}. Give each under [defaults.{draft.stem}] of batch.toml, or as constant in the map."
        )


# --- The first rows ---------------------------------------------------------------------------------------------


def _read(grid: Grid, text: str) -> RawTable:
    usable = text.replace(f'unit = "{UNKNOWN}"', 'unit = "Mbit/s"')
    plan = read_table_map(_PROPOSED, usable.encode())
    if isinstance(plan, list):
        return RawTable(grid.file, "", problems=plan)
    return read_mapped_table([grid], plan)


def _first_rows(table: RawTable) -> tuple[str, ...]:
    if not table.rows:
        return ()
    names = [header.removesuffix(" Mbit/s") for header in table.headers]
    lines = [f"{len(table.rows)} rows read"]
    for row in table.rows[:SHOWN]:
        said = ", ".join(f"{name} {cell}" for name, cell in zip(names, row.cells, strict=True) if cell)
        lines.append(f"{place_text(row.number)}  {said}")
    return tuple(lines)
