"""Whether anything changed at all since a site was built: seen from outside, before anything is read or composed.

The report of a build is kept like its pages, as something made from the catalogue's bytes, the instant and the files of
the site it left. If none of these changed, the site is what this build would make. Nothing heavy is imported here,
because that alone would take longer than the answer.
"""

from __future__ import annotations

import hashlib
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from functools import cache as once
from glob import escape
from importlib.metadata import distributions
from operator import itemgetter
from pathlib import Path

import orjson

import builder
import catalog as catalog_package
from builder import shipped
from builder.observed import WHOLE, Inventory
from builder.publishing.checking.reports import BuildReport
from builder.publishing.checking.walking import entries_below
from builder.publishing.keeping.keeper import Keeper, store_of

_KEY = "report"
_LOOKS = (("inputs", WHOLE), ("files", WHOLE))
_AT_ONCE = 1 << 20  # bytes read in one piece


@dataclass(frozen=True, slots=True)
class SeenFromOutside:
    """A build before it begins or after it ended: digests of what goes into it, and of the files it left."""

    inputs: str
    files: str


def built_before(
    catalog: Path, *, out: Path, as_of: datetime, cache: Path | None, stills: bool = False
) -> BuildReport | None:
    """The report of the build that left the site at *out*, if this one would leave the same files again.

    cache  folder of what builds keep; the others are as build.build_site has them
    """
    store = store_of(cache, out)
    try:
        # Written since the last build ended, it will be another; a build takes its hash beside other work.
        if store is None or catalog.stat().st_mtime_ns > store.stat().st_mtime_ns:
            return None
        with ThreadPoolExecutor(1) as beside:  # bytes are read and hashed without Python
            taking = beside.submit(inputs_of, catalog, as_of=as_of, stills=stills)
            files, around = files_of(out), surroundings(shipped.templates_folder())
    except OSError:  # something is not there
        return None
    if inputs := taking.result():
        for entry in Keeper(store, around, Inventory(SeenFromOutside(inputs, files))).fresh(_KEY).values():
            report = orjson.loads(entry.content)
            return BuildReport(**(report | {"warnings": tuple(report["warnings"])}))
    return None


def keep_report(report: BuildReport, *, store: Path, templates: Path, inputs: str, files: str) -> None:
    """Keep the report of a build: its `inputs_of` from before it began, and `files_of` the site it left."""
    if inputs:
        keeper = Keeper(store, surroundings(templates), Inventory(SeenFromOutside(inputs, files)))
        keeper.keep({_KEY: keeper.entry(_KEY, orjson.dumps(report), _LOOKS)}, instead=False)


def inputs_of(catalog: Path, *, as_of: datetime, stills: bool) -> str:
    """SHA-256 of what a site is made from but for its surroundings; "" if the catalogue cannot be read."""
    digest = hashlib.sha256(f"{as_of.isoformat()} {stills}".encode())
    try:
        # A journal beside it is that of a killed writer: what the file holds is then not yet what will be read.
        for path in (catalog, *sorted(catalog.parent.glob(f"{escape(catalog.name)}-*"))):
            digest.update(f"\n{path.name} {path.stat().st_size}\n".encode())
            with path.open("rb") as file:
                while piece := file.read(_AT_ONCE):
                    digest.update(piece)
    except OSError:
        return ""
    return digest.hexdigest()


def surroundings(templates: Path) -> str:
    """Digest of the templates, of this program, and of every library installed beside it."""
    return hashlib.sha256(f"{_folders(templates)} {_program()}".encode()).hexdigest()


@once
def _program() -> str:
    """Once per process: unlike templates, the program it runs does not change."""
    code = _folders(*(Path(package.__path__[0]) for package in (builder, catalog_package)))
    names = sorted({f"{library.name} {library.version}" for library in distributions()} | {sys.version})
    return hashlib.sha256("\n".join((code, *names)).encode()).hexdigest()


def _folders(*folders: Path) -> str:
    """Digest of the names and contents of all files below folders."""
    digest = hashlib.sha256()
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            if path.is_file() and "__pycache__" not in path.parts:
                digest.update(f"{path.relative_to(folder)} {path.stat().st_size}\n".encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()


def files_of(out: Path) -> str:
    """Digest of the names, sizes and times of all files of a site."""
    digest = hashlib.sha256()
    for address, entry in sorted(entries_below(out), key=itemgetter(0)):
        state = entry.stat()
        digest.update(f"{address} {state.st_size} {state.st_mtime_ns}\n".encode())
    return digest.hexdigest()
