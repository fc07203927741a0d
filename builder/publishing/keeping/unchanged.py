"""Whether anything changed at all since a site was built: seen from outside, before anything is read or composed.

What a build is made from is one digest; what it left is the names, sizes and times of its files. Where both are as they
were noted, the site is what this build would make. The note is a cache: without it, or with a damaged one, all is
looked at. Nothing heavy is imported here, because that alone would take longer than the answer.
"""

from __future__ import annotations

import hashlib
import json
import sys
from contextlib import suppress
from dataclasses import asdict
from datetime import datetime
from functools import cache as once
from glob import escape
from importlib.metadata import distributions
from pathlib import Path

import builder
import catalog as catalog_package
from builder import shipped
from builder.publishing.checking.reports import BuildReport

_AT_ONCE = 1 << 20  # bytes read in one piece


def built_before(
    catalog: Path, *, out: Path, as_of: datetime, cache: Path | None, stills: bool = False
) -> BuildReport | None:
    """The report of the build that left the site at *out*, where the same build would leave the same files again.

    cache  where builds note what they were made from; otherwise as building.build_site has them
    """
    note = note_of(cache, out)
    try:
        if note is None or not note.is_file():
            return None
        found = json.loads(note.read_text(encoding="utf-8"))
        inputs = inputs_of(catalog, as_of=as_of, looks=shipped.templates_folder(), stills=stills)
        if not inputs or found["inputs"] != inputs or found["files"] != files_of(out):
            return None
        report = found["report"]
        return BuildReport(**(report | {"warnings": tuple(report["warnings"])}))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def note_of(cache: Path | None, out: Path) -> Path | None:
    """Where it is noted what the site at *out* was made from; None without a cache."""
    return cache and cache / f"built-{hashlib.sha256(str(out.resolve()).encode()).hexdigest()[:16]}.json"


def inputs_of(catalog: Path, *, as_of: datetime, looks: Path, stills: bool) -> str:
    """SHA-256 of everything that decides a site; *looks* are the templates. "" where the catalogue cannot be read."""
    digest = hashlib.sha256(f"{as_of.isoformat()} {surroundings(looks)} {stills}".encode())
    try:
        # A journal beside it is of a writer who was killed: what is in the file is then not yet what is read.
        for path in (catalog, *sorted(catalog.parent.glob(f"{escape(catalog.name)}-*"))):
            digest.update(f"\n{path.name} {path.stat().st_size}\n".encode())
            with path.open("rb") as file:
                while piece := file.read(_AT_ONCE):
                    digest.update(piece)
    except OSError:
        return ""
    return digest.hexdigest()


def note_built(note: Path, inputs: str, files: str, report: BuildReport) -> None:
    """Note what a site was made from, and `files_of` it. What cannot be noted is looked at again by the next build."""
    if not inputs:
        return
    try:
        note.parent.mkdir(parents=True, exist_ok=True)
        text = json.dumps({"inputs": inputs, "files": files, "report": asdict(report)})
        part = note.with_suffix(".part")
        part.write_text(text, encoding="utf-8")
        part.replace(note)
    except OSError:
        with suppress(OSError):  # an older note stays, and tells of other inputs
            note.unlink(missing_ok=True)


def surroundings(looks: Path) -> str:
    """Digest of templates, our own code, and every library that is installed beside it."""
    return hashlib.sha256(f"{_folders(looks)} {_program()}".encode()).hexdigest()


@once
def _program() -> str:
    """Of a process: what it runs does not change under it, as templates may."""
    own = _folders(*(Path(package.__path__[0]) for package in (builder, catalog_package)))
    names = sorted({f"{found.name} {found.version}" for found in distributions()} | {sys.version})
    return hashlib.sha256("\n".join((own, *names)).encode()).hexdigest()


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
    for path in sorted(out.rglob("*")):
        state = path.stat()
        if not path.is_dir():
            digest.update(f"{path.relative_to(out)} {state.st_size} {state.st_mtime_ns}\n".encode())
    return digest.hexdigest()
