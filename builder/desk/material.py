"""What pages are composed from: the contents of a full copy, kept in memory, and made anew after a change.

Of the material before, the runs and cells of all devices that did not change are taken over, and rankings are made when
a page shows them: so an edit costs what it touches.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlite_utils import Database

from builder import addresses
from builder.bench.bench import Bench
from builder.bench.cells import Group
from builder.desk.batches import Entered
from builder.desk.first_copy import Spread
from builder.desk.pictures import Pictures
from builder.desk.taken_over import Measured, TakingOver
from builder.pages.contents import Contents, Ways, load_contents
from builder.publishing.files.database import DATABASE
from builder.publishing.files.dictionary import dictionary
from builder.publishing.files.downloads import write_downloads
from builder.publishing.files.script_data import rows_tasks
from builder.publishing.files.views import add_views
from builder.publishing.making.marking import Mark, marks_of
from builder.windows.ranking import Ranking, rank
from catalog import queries
from catalog.method import WINDOW_NAMES
from catalog.visibility import full_copy

Key = tuple[Group, str]


class RankedWhenAsked(Mapping[Key, Ranking]):
    """The rankings of these groups over all windows, each made when it is first asked for."""

    def __init__(self, bench: Bench, groups: Sequence[Group]) -> None:
        self._bench = bench
        self._keys = dict.fromkeys((group, window) for group in groups for window in WINDOW_NAMES)
        self._made: dict[Key, Ranking] = {}

    def __getitem__(self, key: Key) -> Ranking:
        if key not in self._made:
            if key not in self._keys:
                raise KeyError(key)
            self._made[key] = rank(self._bench, *key)
        return self._made[key]

    def __contains__(self, key: object) -> bool:
        return key in self._keys

    def __iter__(self) -> Iterator[Key]:
        return iter(self._keys)

    def __len__(self) -> int:
        return len(self._keys)


@dataclass(frozen=True)
class Material:
    """What pages are composed from.

    marks     what is hidden at the instant
    measured  the runs and cells in it, for the material after
    """

    contents: Contents
    marks: tuple[Mark, ...]
    measured: Measured
    pictures: Pictures


def material_of(
    catalog: Path,
    batches: Entered,
    *,
    as_of: datetime,
    spread: Spread,
    before: Material | None,
    copy: Database | None = None,
) -> Material:
    """The material of a catalogue with *batches* in it, at the instant *as_of*.

    spread  the same for all materials of a preview
    copy    the copy with them, where it was made before
    Raises  CatalogUnusable.
    """
    if copy is None:
        copy = full_copy(batches.whole if batches.whole is not None else catalog, as_of=as_of, blocks=spread)
    pictures = Pictures(queries.images(copy), catalog=catalog, folders=batches.folders)
    taking = TakingOver(None if before is None else before.measured)
    ways = Ways(runs=taking.runs, cells=taking.cells, rankings=RankedWhenAsked)
    contents = load_contents(copy, as_of=as_of, sizes=pictures, ways=ways)
    assert taking.measured is not None
    return Material(contents, tuple(marks_of(copy)), taking.measured, pictures)


@dataclass(frozen=True, slots=True)
class Downloads:
    """Every file for readers to take away, by its address, and the arguments of the page that lists them."""

    files: Mapping[str, bytes]
    page: tuple[Any, ...]


def downloads_of(catalog: Path, whole: Database | None, material: Material) -> Downloads:
    """All downloads, as a build would write them: runs are counted, not spread.

    Written to a folder that only this user may read, and that is gone at once.
    """
    site = material.contents.site
    with TemporaryDirectory(prefix="likeloss-") as name:
        folder = Path(name)
        database = folder / DATABASE
        with closing(full_copy(catalog if whole is None else whole, as_of=site.as_of, to=database)) as copy:
            loaded = load_contents(copy, as_of=site.as_of, sizes={}, ways=Ways(rankings=RankedWhenAsked))
            contents = loaded._replace(site=replace(loaded.site, sizes=material.pictures))
            meanings = dictionary(copy)
        meanings = add_views(database) | meanings
        tasks = rows_tasks(contents.catalogue, contents.results)
        rows = [{part.address: part.content for part in task.files(contents)} for task in tasks]
        listed = write_downloads(contents, database, folder, rows=rows, more={})
        files = {addresses.download(path.name): path.read_bytes() for path in sorted(folder.iterdir())}
    return Downloads(files, (listed, meanings))
