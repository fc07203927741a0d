"""What pages are composed from: the contents of a full copy, kept in memory, and made anew after a change.

Of the material before, the runs and cells of all devices that did not change are taken over, and what else is worked out
of them is worked out when a page shows it: so an edit costs what it touches, and a start what its first page shows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlite_utils import Database

from builder import addresses
from builder.desk.batches import Entered
from builder.desk.first_copy import FirstCopy
from builder.desk.pictures import Pictures
from builder.desk.taken_over import Measured, TakingOver
from builder.desk.when_asked import ResultsWhenAsked
from builder.pages.contents import Contents, Ways, load_contents
from builder.pages.parts.when_asked import ranked_when_asked
from builder.publishing.files.database import DATABASE
from builder.publishing.files.dictionary import dictionary
from builder.publishing.files.downloads import write_downloads
from builder.publishing.files.packing import zip_database
from builder.publishing.files.script_data import rows_tasks
from builder.publishing.files.views import add_views
from builder.publishing.making.marking import Mark, marks_of
from catalog import queries
from catalog.connection import open_catalog
from catalog.visibility import full_copy


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

    @property
    def results(self) -> ResultsWhenAsked:
        """The results, not all of which are there yet."""
        assert isinstance(self.contents.results, ResultsWhenAsked)
        return self.contents.results


def material_of(
    first: FirstCopy, batches: Entered, *, before: Material | None, copy: Database | None = None
) -> Material:
    """The material of a catalogue with *batches* in it. For the maker's thread.

    copy    the copy with them, where it was made before
    Raises  CatalogUnusable.
    """
    if copy is None:
        copy = full_copy(
            first.catalog if batches.whole is None else batches.whole, as_of=first.as_of, blocks=first.spread
        )
    pictures = Pictures(queries.images(copy), catalog=first.catalog, folders=batches.folders)
    taking = TakingOver(None if before is None else before.measured)
    ways = Ways(
        runs=taking.runs,
        cells=taking.cells,
        rankings=ranked_when_asked,
        results=lambda worked: ResultsWhenAsked(worked, first.maker),
    )
    contents = load_contents(copy, as_of=first.as_of, sizes=pictures, ways=ways)
    assert taking.measured is not None
    return Material(contents, tuple(marks_of(copy)), taking.measured, pictures)


@dataclass(frozen=True, slots=True)
class Downloads:
    """Every file for readers to take away, by its address, and the arguments of the page that lists them."""

    files: Mapping[str, bytes]
    page: tuple[Any, ...]


def stored_copy(catalog: Path, whole: Database | None, database: Path, *, as_of: datetime) -> None:
    """The copy that readers may take away, as a file: runs are counted, not spread. For the maker's thread."""
    full_copy(catalog if whole is None else whole, as_of=as_of, to=database).close()


def downloads_of(stored: Callable[[Path], None], material: Material) -> Downloads:
    """All downloads, as a build would write them, from the copy that *stored* puts to a path.

    Written to a folder that only this user may read, and that is gone at once.
    """
    site = material.contents.site
    with TemporaryDirectory(prefix="likeloss-") as name:
        folder = Path(name)
        database = folder / DATABASE
        stored(database)
        with closing(open_catalog(database, readonly=True)) as copy:
            loaded = load_contents(copy, as_of=site.as_of, sizes={}, ways=Ways(rankings=ranked_when_asked))
            contents = loaded._replace(site=replace(loaded.site, sizes=material.pictures))
            meanings = dictionary(copy)
        meanings = add_views(database) | meanings
        tasks = rows_tasks(contents.catalogue, contents.results)
        rows = [{part.address: part.content for part in task.files(contents)} for task in tasks]
        packed = zip_database(database)
        database.unlink()
        listed = write_downloads(contents, packed, rows=rows, more={})
        files = {addresses.download(path.name): path.read_bytes() for path in sorted(folder.iterdir())}
    return Downloads(files, (listed, meanings))
