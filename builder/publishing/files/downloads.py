"""The files readers may take away: results as CSV and JSON, the whole public copy as SQLite, and their checksums."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from builder import addresses, wording
from builder.pages.contents import Contents
from builder.pages.data import CHECKSUMS, Download
from builder.publishing.files.datapackage import NAME as PACKAGE
from builder.publishing.files.datapackage import Written, data_package
from builder.publishing.files.device_rows import CELLS, IN_PART, RUNS, columns_of, heads, left_out
from builder.publishing.files.longrun_table import longrun_rows, longrun_table
from builder.publishing.files.packing import SUFFIX, zipped
from builder.publishing.files.table_texts import csv_head, csv_rows, json_text

_SAME = "The same with decimal commas, semicolons between"
_WHAT = {
    "runs.csv": "Every run as it was entered, decimal point, commas between",
    "runs-semicolon.csv": _SAME,
    "runs.json.zip": "The same as JSON, full precision, in a zip file",
    "cells.csv": "Every cell, in the digits of the pages",
    "cells-semicolon.csv": _SAME,
    "cells.json.zip": "Every cell as JSON, full precision, in a zip file",
    "longruns.csv": "Every run over hours, in the digits of the pages",
    "longruns-semicolon.csv": _SAME,
    "longruns.json.zip": "Every run over hours as JSON, hour by hour, in a zip file",
}


def write_downloads(
    contents: Contents,
    database: Path,
    folder: Path,
    *,
    rows: Sequence[Mapping[str, bytes]],
    more: Mapping[str, tuple[str, bytes]],
) -> list[Download]:
    """Write every download except the database, which is in *folder* already, and the checksums of all.

    rows  of each device what each download has of it, by the download's name, and what is IN_PART (device_rows.py)
    more  further files: name -> what it holds, and its bytes
    """
    without = left_out(contents.results)
    first = heads(without)
    head = {"licence": contents.site.licence}
    columns = {table: columns_of(table, without) for table in (RUNS, CELLS)}
    texts: dict[str, Iterable[bytes]] = {}
    for name in _WHAT:
        plain = name.removesuffix(SUFFIX)
        parts = [of_device[plain] for of_device in rows if plain in of_device]
        if name in first:
            texts[name] = [first[name], *parts]
        elif name.startswith((RUNS, CELLS)):
            texts[name] = [zipped(plain, json_text(head, parts))]
    if long := contents.results.longrun_results:
        table = longrun_table(long)
        columns["longruns"] = list(table)
        lines = zip(csv_head(table), csv_rows(table), strict=True)
        texts["longruns.csv"], texts["longruns-semicolon.csv"] = lines
        texts["longruns.json.zip"] = [zipped("longruns.json", json_text(head, [longrun_rows(long)]))]
    files = [_written(folder, name, _WHAT[name], parts) for name, parts in texts.items()]
    files += [_written(folder, name, what, [content]) for name, (what, content) in more.items()]
    whole = _read(database, "The whole public copy as one SQLite file; its views are named below")
    tables = {f"{name}{twin}.csv": names for name, names in columns.items() for twin in ("", "-semicolon")}
    in_part = frozenset(name for of_device in rows for name in of_device[IN_PART].decode().split())
    package = data_package(contents.site, [*files, whole], tables, in_part=in_part)
    files.append(_written(folder, PACKAGE, "What these files are, for programs: a Data Package descriptor", [package]))
    sums = "".join(f"{file.sha256}  {file.name}\n" for file in sorted([*files, whole], key=lambda file: file.name))
    (folder / CHECKSUMS).write_text(sums, encoding="utf-8")
    return [
        Download(file.name, file.what, f"{wording.number(file.size / 1000, 0)} kB", file.sha256)
        for file in [*files, whole]
    ]


def former_downloads(addresses_before: Iterable[str], names: Sequence[str]) -> list[tuple[str, bytes]]:
    """What lies where an earlier build had a download plainly that is packed now: which one is meant, for programs."""
    packed = {addresses.download(name.removesuffix(SUFFIX)): name for name in names if name.endswith(SUFFIX)}
    return [
        (address, (json.dumps({"moved_to": packed[address]}, indent=1) + "\n").encode())
        for address in addresses_before
        if address in packed
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
