"""datapackage.json: what the downloads are, for programs (Frictionless Data Package, version 1).

Source  specs.frictionlessdata.io: Data Package, Data Resource, Tabular Data Resource, Table Schema, CSV Dialect.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builder.pages.contents import DEFAULT_LICENCE, SiteContext

NAME = "datapackage.json"
_MEDIA = {"csv": "text/csv", "json": "application/json", "db": "application/vnd.sqlite3", "zip": "application/zip"}
_WHOLE = frozenset(
    {
        "channel",
        "width_mhz",
        "flows",
        "method",
        "repeat",
        "of_runs",
        "n",
        "did_not_finish",
        "source_row",
        "requests",
        "finished",
        "late",
    }
)  # counts and numbers of things
_YES_NO = frozenset({"dfs_event", "at_least"})
_MEASURED = re.compile(r".*_(?:db|dbm|mbit_s|ms|s)|seconds")


@dataclass(frozen=True, slots=True)
class Written:
    """A file as it was written: its name, what it holds, its bytes and their hash."""

    name: str
    what: str
    size: int
    sha256: str


def data_package(
    site: SiteContext,
    files: Sequence[Written],
    columns: Mapping[str, Sequence[str]],
    *,
    in_part: frozenset[str] = frozenset(),
) -> bytes:
    """The descriptor.

    columns  file name -> headings, for those that are tables
    in_part  headings of times and days of which some are not known to the end, so that they are texts
    """
    licence = site.licence or DEFAULT_LICENCE
    document: dict[str, Any] = {
        "profile": "data-package",
        "name": package_name(site.title),
        "title": f"Results of {site.title}",
        "created": site.as_of.isoformat().replace("+00:00", "Z"),
        "licenses": [{"name": licence, "path": f"https://spdx.org/licenses/{licence}.html"}],
        "resources": [_resource(file, columns.get(file.name), in_part) for file in files],
    }
    if site.address:
        document["homepage"] = site.address
    if site.author:
        document["contributors"] = [{"title": site.author, "role": "publisher"}]
    return (json.dumps(document, ensure_ascii=False, indent=1) + "\n").encode()


def package_name(title: str) -> str:
    """The package's name for programs: the title's letters and digits in lower case, words joined by "-".

    Accents are dropped. A title without a Latin letter or a digit gives "likeloss".
    """
    plain = "".join(c for c in unicodedata.normalize("NFKD", title.lower()) if not unicodedata.combining(c))
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "likeloss"


def _resource(file: Written, columns: Sequence[str] | None, in_part: frozenset[str]) -> dict[str, Any]:
    kind = file.name.rpartition(".")[2]
    resource: dict[str, Any] = {
        "profile": "data-resource" if columns is None else "tabular-data-resource",
        "name": re.sub(r"[^a-z0-9]+", "-", file.name.lower()),
        "path": file.name,
        "title": file.what,
        "format": kind,
        "mediatype": _MEDIA[kind],
        "bytes": file.size,
        "hash": f"sha256:{file.sha256}",
    }
    if kind == "zip":  # a pattern of the same source, "compression of resources"
        resource |= {"format": file.name.split(".")[-2], "compression": kind}
    if resource["format"] != "db":
        resource["encoding"] = "utf-8"
    if columns is not None:
        comma = "semicolon" in file.name
        resource["dialect"] = {"delimiter": ";" if comma else ",", "lineTerminator": "\r\n", "header": True}
        resource["schema"] = {
            "fields": [
                {"name": column, "type": "string"} if column in in_part else _field(column, comma=comma)
                for column in columns
            ],
            "missingValues": [""],
        }
    return resource


def _field(column: str, *, comma: bool) -> dict[str, Any]:
    if column in _WHOLE:
        return {"name": column, "type": "integer"}
    if column in _YES_NO:
        return {"name": column, "type": "boolean", "trueValues": ["yes"], "falseValues": ["no"]}
    if _MEASURED.fullmatch(column):
        return {"name": column, "type": "number"} | ({"decimalChar": ","} if comma else {})
    if column == "at_utc":
        return {"name": column, "type": "datetime"}
    return {"name": column, "type": "date" if column == "date" else "string"}
