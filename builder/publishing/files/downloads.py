"""The files readers may take away: results as CSV and JSON, the whole public copy as SQLite, and their checksums."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from builder import wording
from builder.pages.contents import Contents
from builder.pages.data import CHECKSUMS, Download
from builder.publishing.files.datapackage import NAME as PACKAGE
from builder.publishing.files.datapackage import Written, data_package
from builder.publishing.files.device_rows import CELLS, IN_PART, RUNS, columns_of, heads, left_out
from builder.publishing.files.longrun_table import longrun_rows, longrun_table
from builder.publishing.files.packing import SUFFIX, zipped
from builder.publishing.files.table_texts import csv_head, csv_rows, json_text

_SAME = "The same with decimal commas, semicolons between, in a zip file"
_WHOLE = "The whole public copy as one SQLite file, in a zip file; its views are named below"
_WHAT = {
    "runs.csv": "Every run as it was entered, decimal point, commas between",
    "runs-semicolon.csv.zip": _SAME,
    "runs.json.zip": "The same as JSON, full precision, in a zip file",
    "cells.csv": "Every cell, in the digits of the pages",
    "cells-semicolon.csv.zip": _SAME,
    "cells.json.zip": "Every cell as JSON, full precision, in a zip file",
    "longruns.csv": "Every run over hours, in the digits of the pages",
    "longruns-semicolon.csv.zip": _SAME,
    "longruns.json.zip": "Every run over hours as JSON, hour by hour, in a zip file",
}


def write_downloads(
    contents: Contents,
    copy: Path,
    *,
    rows: Sequence[Mapping[str, bytes]],
    more: Mapping[str, tuple[str, bytes]],
) -> list[Download]:
    """Write every download beside the public copy, and the checksums of all.

    copy  the packed copy
    rows  of each device what each download has of it, by the download's name, and what is IN_PART (device_rows.py)
    more  further files: name -> what it holds, and its bytes
    """
    folder, without = copy.parent, left_out(contents.results)
    first = heads(without)
    head = {"licence": contents.site.licence}
    columns = {table: columns_of(table, without) for table in (RUNS, CELLS)}
    texts: dict[str, Iterable[bytes]] = {}
    for name in _WHAT:
        plain = name.removesuffix(SUFFIX)
        whole: Iterable[bytes]
        parts = [of_device[plain] for of_device in rows if plain in of_device]
        if plain in first:
            whole = [first[plain], *parts]
        elif name.startswith((RUNS, CELLS)):
            whole = json_text(head, parts)
        else:
            continue
        texts[name] = whole if plain == name else [zipped(plain, whole)]
    if long := contents.results.longrun_results:
        table = longrun_table(long)
        columns["longruns"] = list(table)
        lines = zip(csv_head(table), csv_rows(table), strict=True)
        texts["longruns.csv"], twin = lines
        texts["longruns-semicolon.csv.zip"] = [zipped("longruns-semicolon.csv", twin)]
        texts["longruns.json.zip"] = [zipped("longruns.json", json_text(head, [longrun_rows(long)]))]
    files = [_written(folder, name, _WHAT[name], parts) for name, parts in texts.items()]
    files += [_written(folder, name, what, [content]) for name, (what, content) in more.items()]
    whole_copy = _read(copy, _WHOLE)
    tables = {f"{name}{twin}": names for name, names in columns.items() for twin in (".csv", "-semicolon.csv.zip")}
    in_part = frozenset(name for of_device in rows for name in of_device[IN_PART].decode().split())
    package = data_package(contents.site, [*files, whole_copy], tables, in_part=in_part)
    files.append(_written(folder, PACKAGE, "What these files are, for programs: a Data Package descriptor", [package]))
    sums = "".join(f"{file.sha256}  {file.name}\n" for file in sorted([*files, whole_copy], key=lambda file: file.name))
    (folder / CHECKSUMS).write_text(sums, encoding="utf-8")
    return [
        Download(file.name, file.what, f"{wording.number(file.size / 1000, 0)} kB", file.sha256)
        for file in [*files, whole_copy]
    ]


def as_published(folder: Path, name: str) -> bool:
    """Whether a download in *folder* is there and is what its checksums say."""
    file, sums = folder / name, folder / CHECKSUMS
    if not (file.is_file() and sums.is_file()):
        return False
    return f"{_read(file, '').sha256}  {name}".encode() in sums.read_bytes().splitlines()


def _written(folder: Path, name: str, what: str, parts: Iterable[bytes]) -> Written:
    digest, size = hashlib.sha256(), 0
    with (folder / name).open("wb") as file:
        for part in parts:
            file.write(part)
            digest.update(part)
            size += len(part)
    return Written(name, what, size, digest.hexdigest())


def _read(path: Path, what: str) -> Written:
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256")
    return Written(path.name, what, path.stat().st_size, digest.hexdigest())
