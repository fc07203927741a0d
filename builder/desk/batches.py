"""The batches that a preview shows as if they were entered: read again after each change, never written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from builder import wording
from catalog.checking.batches import Checked, check
from catalog.checking.logfiles import KeptLogs
from catalog.connection import open_catalog
from catalog.entering import as_if_entered
from catalog.errors import MOST_LINES, CatalogError
from catalog.problems import causes_of, listing
from catalog.reading.batch import read_batch
from catalog.reading.sources import DESK

_BESIDE_BOOKS = ("logs", "images", "articles", "maps")


@dataclass(frozen=True, slots=True)
class Trouble:
    """What is wrong with one thing that a preview is made of, in the words of `check` and `build`.

    lines   one sentence each; (text, address of the place it is about, "" for none)
    """

    title: str
    lines: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Entered:
    """Batches as if they were entered.

    whole     the catalogue with them, in memory; None where nothing was added to the file
    file      what tells that file from what it was before
    sound     the batches that are in it
    folders   batch -> the folder it lies in, also of one that was entered before
    refused   what `check` says of the others
    """

    whole: Database | None
    file: tuple[int, ...]
    sound: frozenset[Path]
    folders: Mapping[str, Path]
    refused: tuple[Trouble, ...]


def folder_of(batch: Path) -> Path:
    """Where the files of a batch lie: in it, or beside it where it is a workbook."""
    return (batch if batch.is_dir() else batch.parent).resolve()


def watched_folders(batches: Sequence[Path]) -> dict[Path, bool]:
    """The folders whose changes may change a batch, each with whether what lies deeper counts.

    A workbook may lie among much else, so beside it only folders of the usual names are looked into.
    """
    places: dict[Path, bool] = {}
    for batch in batches:
        folder = folder_of(batch)
        if batch.is_dir():
            places[folder] = True
            continue
        places.setdefault(folder, False)
        beside = (folder / name for name in (*_BESIDE_BOOKS, f"{batch.stem}.{DESK}"))
        places |= {place: True for place in beside if place.is_dir()}
    return places


def entered(batches: Sequence[Path], *, catalog: Path, now: datetime, kept_logs: KeptLogs) -> Entered:
    """The catalogue as it would be with every one of *batches* in it that is sound.

    kept_logs  what logs were read as before, and after it what they are read as now
    Raises  CatalogUnusable; a batch that cannot be read, half written for instance, is among the refused.
    """
    refused: list[Trouble] = []
    folders: dict[str, Path] = {}
    sound: set[Path] = set()
    whole: Database | None = None
    state = _state_of(catalog)
    file = open_catalog(catalog, readonly=True) if state and batches else None
    try:
        for path in batches:
            current = whole if whole is not None else file
            checked = _checked(path, current, kept_logs)
            if isinstance(checked, Trouble):
                refused.append(checked)
                continue
            if "batch_id" in checked.batch:
                folders[checked.batch["batch_id"]] = folder_of(path)
            if checked.problems:
                refused.append(_refusal(path, checked))
                continue
            sound.add(path)
            if checked.already_entered is None:
                whole = as_if_entered(checked, current, now=now)
    finally:
        if file is not None:
            file.close()
    return Entered(whole, state, frozenset(sound), folders, tuple(refused))


def _state_of(catalog: Path) -> tuple[int, ...]:
    """What changes when the file is written; empty where there is none."""
    try:
        status = catalog.stat()
    except OSError:
        return ()
    return status.st_ino, status.st_size, status.st_mtime_ns


def _checked(path: Path, db: Database | None, kept_logs: KeptLogs) -> Checked | Trouble:
    try:
        checked = check(read_batch(path), db, kept_logs=kept_logs)
    except CatalogError as refusal:
        return Trouble(f"{path} cannot be read", tuple((line, "") for line in str(refusal).splitlines()))
    except OSError as failure:  # a file that was there a moment ago
        return Trouble(f"{path} cannot be read", ((f"{failure.filename}: {failure.strerror or failure}.", ""),))
    if not checked.problems:  # of one that is half written they may be wanted in a moment
        _drop_unused(kept_logs, checked, folder_of(path))
    return checked


def _drop_unused(kept_logs: KeptLogs, checked: Checked, folder: Path) -> None:
    """Forget logs that no row names any more, or not by that map or in that time zone."""
    files, zone = checked.files, checked.batch.get("timezone")
    maps = {"", *files.values()}
    for key in list(kept_logs):
        place, path, of_map, in_zone = key
        if place == str(folder) and (path not in files or of_map not in maps or in_zone != zone):
            del kept_logs[key]


def _refusal(path: Path, checked: Checked) -> Trouble:
    held = wording.count(len(checked.problems), "problem")
    if (causes := len(causes_of(checked.problems))) < len(checked.problems):
        held += f" with {wording.count(causes, 'cause')}"
    lines = tuple((line, "") for line in listing(checked.problems, most=MOST_LINES))
    return Trouble(f"{checked.batch.get('batch_id', path.name)}: {held} to settle", lines)
