"""What batch.toml and answers.toml say, as rows of the sheets of a workbook."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from catalog.books.cells import NoCell, list_text, plain_text
from catalog.reading.documents import TomlFile
from catalog.reading.thing_sheets import ANSWER_COLUMNS, THING_SHEETS, ThingSheet
from catalog.reading.toml_lines import Path

Row = dict[str, Any]
"""Name of a column -> value of TOML."""

_LISTS = frozenset(sheet.path[0] for sheet in THING_SHEETS.values())
_NOT_IN_A_ROW = frozenset({"radio", "port", "unit", "firmware", "embargo", "driver", "ceiling", "role", "seats"})


def batch_rows(values: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """Names and values of the sheet Batch, in the order of batch.toml."""
    return [row for key, value in values.items() if key not in _LISTS for row in _flat(key, value)]


def _flat(name: str, value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, inside in value.items():
            yield from _flat(f"{name}.{key}", inside)
    else:
        yield name, value


def thing_rows(values: Mapping[str, Any], sheet: ThingSheet) -> list[tuple[Path, Row]]:
    """The rows of a sheet of things, each with its path in batch.toml. Raises NoCell."""
    match sheet.title:
        case "Embargoes":
            return list(_embargoes(values))
        case "Seats":
            return [
                (("workload", place, "seats"), {**_version(workload), "seat": number, "roles": roles})
                for place, workload in enumerate(_list(values, "workload"))
                for number, roles in enumerate(workload.get("seats", ()), start=1)
            ]
        case "Roles":
            own: list[tuple[Path, Row]] = [
                (
                    ("workload", place, "role", number),
                    {"workload": workload["id"], "workload_version": workload.get("version", 1), **role},
                )
                for place, workload in enumerate(_list(values, "workload"))
                for number, role in enumerate(_list(workload, "role"))
            ]
            return [*((("role", place), dict(role)) for place, role in enumerate(_list(values, "role"))), *own]
    kind, *inside = sheet.path
    things = enumerate(_list(values, kind))
    if not inside:
        return [((kind, place), _own_keys(thing, sheet)) for place, thing in things]
    return [
        ((kind, place, inside[0], number), {kind: thing["id"], **_own_keys(part, sheet)})
        for place, thing in things
        for number, part in enumerate(_list(thing, inside[0]))
    ]


def answer_rows(documents: Sequence[TomlFile], moved: Mapping[tuple[int, str], tuple[str, int]]) -> list[Row]:
    """The rows of the sheet Answers.

    moved  line and key of batch.toml -> the sheet and row where it stands now. Raises NoCell
    """
    rows: list[Row] = []
    for document in documents:
        for entry in document.values.get("answer", ()):
            row = dict(entry)
            if row.get("table") == "batch.toml" and "row" in row:
                place = moved.get((row["row"], str(row.get("column", ""))))
                if place is None:
                    raise NoCell("an answer is about a line of batch.toml")
                row["table"], row["row"] = place
            if not row.keys() <= ANSWER_COLUMNS.keys() or row.get("means") == "":
                raise NoCell("an answer does not fit into a row")
            rows.append(row)
    return rows


def cell_of(value: Any) -> str | int | float:
    """A value as a cell holds it: numbers as numbers, all else as text. Raises NoCell."""
    if isinstance(value, list):
        return list_text(value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    return plain_text(value)


def _own_keys(thing: Mapping[str, Any], sheet: ThingSheet) -> Row:
    return {key: value for key, value in thing.items() if key in sheet.columns or key not in _NOT_IN_A_ROW}


def _embargoes(values: Mapping[str, Any]) -> Iterator[tuple[Path, Row]]:
    if "embargo" in values:
        yield ("embargo",), dict(values["embargo"])
    for place, device in enumerate(_list(values, "device")):
        owner = {"device": device["id"]}
        if "embargo" in device:
            yield ("device", place, "embargo"), {**owner, **device["embargo"]}
        for kind, key in (("unit", "id"), ("firmware", "version")):
            for number, part in enumerate(_list(device, kind)):
                if "embargo" in part:
                    yield ("device", place, kind, number, "embargo"), {**owner, kind: part[key], **part["embargo"]}


def _version(workload: Mapping[str, Any]) -> Row:
    return {"workload": workload["id"], "version": workload.get("version", 1)}


def _list(values: Mapping[str, Any], key: str) -> list[dict[str, Any]]:
    return list(values.get(key, ()))
