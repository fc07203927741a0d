"""A site, from a catalogue at an instant to a folder.

No clock and no randomness: the same catalogue and instant give the same bytes on every machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any
from urllib.parse import quote, urljoin
from xml.etree import ElementTree as Xml

from sqlite_utils import Database

from builder import addresses, shipped
from builder.pages.as_published import DatedValue
from builder.pages.contents import Contents, load_contents
from builder.pages.parts.leaves import PAGE_LIMIT_BYTES
from builder.pages.parts.looked_up import bound_articles
from builder.pages.review import article_page
from builder.publishing.changing.figures import NAME as RECORD_NAME
from builder.publishing.changing.figures import Record, record_bytes
from builder.publishing.changing.history import dated_values
from builder.publishing.checking.links import broken_among, files_below
from builder.publishing.checking.reports import BuildReport, Progress, refuse
from builder.publishing.checking.walking import entries_below
from builder.publishing.files.assets import icon, libraries, style_sheet
from builder.publishing.files.database import database_in
from builder.publishing.files.dictionary import dictionary
from builder.publishing.files.downloads import write_downloads
from builder.publishing.files.linking import Stage
from builder.publishing.files.packing import pointers, zip_database
from builder.publishing.files.pictures import write_pictures
from builder.publishing.files.script_data import DataTask, data_tasks, program_tasks, rows_tasks
from builder.publishing.files.scripts import page_scripts, site_script
from builder.publishing.files.stills import Stills, write_stills
from builder.publishing.files.views import add_views
from builder.publishing.keeping.keeper import Keeper, Stored, stored_in
from builder.publishing.keeping.kept_ways import BENCH, KeptWays
from builder.publishing.keeping.unchanged import surroundings
from builder.publishing.making.made import Made, MadePage, inventory_of, observed, packed, shared_files, unpacked
from builder.publishing.making.making import BuildContext, make
from builder.publishing.making.marking import marks_of
from builder.publishing.making.page_list import Task, all_pages, former_pages, short_pages
from catalog import queries
from catalog.connection import open_catalog
from catalog.errors import BuildRefused
from catalog.visibility import full_copy, public_copy

RECORD_WHAT = "Every figure as it was published, by its id; the next publication says what changed and why"
SITEMAP = "http://www.sitemaps.org/schemas/sitemap/0.9"
Recorded = Callable[[Database, Contents], Record]


def compose_site(
    catalog: Path,
    stage: Path,
    *,
    as_of: datetime,
    jobs: int,
    progress: Progress,
    templates: Path | None = None,
    preview: bool = False,
    stills: bool = False,
    formerly: Iterable[str] = (),
    moved: Sequence[str] = (),
    recorded: Recorded | None = None,
    store: Path | None = None,
    before: Path | None = None,
    copied: bool = False,
) -> BuildReport:
    """Write the public site of *catalog* into the empty folder *stage*, as build_site (build.py) says.

    preview   hidden things come in, too, and every page says so
    store     what the build before kept for this one (`store_of`); None keeps nothing
    formerly  addresses of pages that an earlier build had; they go on leading somewhere. Asked for after *recorded*
    before    the site that this one takes the place of; files that are just so there are taken over (files/linking.py)
    recorded  gives the record of figures that goes into a published site, from its copy and its contents; called
              before anything is drawn, so that what stops a publication stops it early
    copied    the copy lies in *stage* already (`database_in`)
    """
    templates = templates or shipped.templates_folder()
    site = Stage.of(stage, before)
    database = database_in(stage)
    progress("Reading everything, hidden or not …" if preview else "Reading what is public …")
    if not copied:
        (full_copy if preview else public_copy)(catalog, as_of=as_of, to=database).close()
    views = add_views(database)
    # Meanwhile it is packed and what was kept is read, mostly without Python. Both have ended before anything is forked.
    with ThreadPoolExecutor(2) as beside, closing(open_catalog(database, readonly=True)) as copy:
        packing, reading = beside.submit(zip_database, database), beside.submit(stored_in, store)
        marks = tuple(marks_of(copy)) if preview else None
        sizes = write_pictures(catalog, queries.images(copy), stage)
        inventory = inventory_of(None)
        kept_ways = KeptWays(Keeper(store, surroundings(templates), inventory), inventory)
        loaded = load_contents(copy, as_of=as_of, sizes=sizes, ways=kept_ways.ways)
        inventory.complete(loaded, there=BENCH)
        contents = observed(inventory, set())  # looks outside of a task need not be noted
        meanings = views | dictionary(copy)
        record = None if recorded is None else recorded(copy, contents)
    packed_copy = packing.result()
    database.unlink()
    dated = {} if record is None else dated_values(record, contents.results)
    more = {} if record is None else {RECORD_NAME: (RECORD_WHAT, record_bytes(record))}
    assets = style_sheet(templates), icon(templates), site_script(templates)
    scripts = page_scripts(templates)
    own_scripts = {page: asset.address for page, asset in scripts.items()}
    for asset in (*assets, *scripts.values(), *libraries(templates)):
        site.write(asset.address, asset.content)
    style, symbol, script = (asset.address for asset in assets)
    around = sum(len(asset.content) for asset in assets)
    making = _Making(
        BuildContext(inventory, templates, (style, symbol, script), around, marks, own_scripts),
        kept_ways,
        reading.result(),
        jobs,
        progress,
    )
    rows = [dict(made.files) for made in making.made(rows_tasks(contents.catalogue, contents.results))]

    def data() -> tuple[Any, ...]:
        return write_downloads(contents, packed_copy, rows=rows, more=more), meanings

    pages = _pages(site, making, contents, data, dated, formerly, moved)
    for address, content in pointers(moved, files_below(stage) if moved else ()):
        site.write(address, content)
    if home := contents.site.address:
        days = {page.address: page.newest for page in pages if page.indexed}
        site.write(addresses.SITEMAP, sitemap(days, home=home))
    progress("Checking links …")
    heavier = {page: len(asset.content) - len(assets[-1].content) for page, asset in scripts.items()}
    files = files_below(stage)
    broken = broken_among({page.address: page.links for page in pages}, files)
    refuse("Links of the new site lead nowhere", broken)
    refuse("Pages of the new site are too heavy for a phone", heavy_pages(stage, around=around, more=heavier))
    drawn = Stills(0, ())
    if stills:
        figures = [
            d.figure
            for article in contents.catalogue.articles
            for d in article_page(*contents, article.article_id).drawings
        ]
        progress(f"Drawing stills of {len(figures)} figures …")
        drawn = write_stills(figures, site=contents.site, folder=stage, jobs=jobs)
    site.settle()
    return BuildReport(
        pages=len(pages),
        charts=sum(page.charts for page in pages),
        files=len(files_below(stage)) if stills else len(files),
        warnings=(*(warning for page in pages for warning in page.warnings), *drawn.left_out),
        stills=drawn.pictures,
    )


class _Making:
    """The tasks of one build: done again, or as the build before did them if nothing they looked at changed."""

    def __init__(
        self, context: BuildContext, kept_ways: KeptWays, stored: Mapping[str, Stored], jobs: int, progress: Progress
    ) -> None:
        self._context, self._keeper, self._jobs, self._progress = context, kept_ways.keeper, jobs, progress
        self._fresh = self._keeper.fresh(stored=stored)
        self._entries = kept_ways.entries

    def made(
        self, tasks: Sequence[Task | DataTask], *, meanwhile: Callable[[], object] = lambda: None
    ) -> Iterator[Made]:
        """What each task puts into the site, in their order. Calls *meanwhile* once, while other processes work."""
        keyed = [(task.key, task) for task in tasks]
        stale = [task for key, task in keyed if key not in self._fresh]
        composed = sum(isinstance(task, Task) for task in stale)
        if composed:
            self._progress(f"Composing {composed} of {sum(isinstance(task, Task) for task in tasks)} pages …")
        if not stale:
            meanwhile()
        new = make(self._context, stale, jobs=self._jobs, meanwhile=meanwhile)
        for key, _ in keyed:
            if (kept := self._fresh.get(key)) is not None:
                self._entries[key] = kept
                yield unpacked(kept.content)
            else:
                made = next(new)
                self._entries[key] = self._keeper.entry(key, packed(made), made.looks)
                yield made

    def keep(self) -> None:
        """Keep what this build made, and nothing else, for the next."""
        self._keeper.keep(self._entries, instead=True)


def _pages(
    site: Stage,
    making: _Making,
    contents: Contents,
    data: Callable[[], tuple[Any, ...]],
    dated: Mapping[tuple[str, str], tuple[DatedValue, ...]],
    formerly: Iterable[str],
    moved: Sequence[str],
) -> list[MadePage]:
    """Write all pages, and the data that scripts read.

    data  writes the downloads, and gives the arguments of the page that lists them
    """
    pages: list[MadePage] = []
    written: set[str] = set()
    of_data: list[tuple[Any, ...]] = []

    def write(tasks: Sequence[Task | DataTask], *, meanwhile: Callable[[], object] = lambda: None) -> None:
        shared: list[Made] = []
        for made in making.made(tasks, meanwhile=meanwhile):
            for address, content in made.files:
                site.write(address, content)
                written.add(address)
            pages.extend(made.pages)
            if made.parts:
                shared.append(replace(made, files=()))
        for asset in shared_files(shared):
            site.write(asset.address, asset.content)

    try:
        write(
            [
                *all_pages(contents.catalogue, contents.results, dated=dated),
                *data_tasks(contents.results, dated),
                *program_tasks(contents),
            ],
            meanwhile=lambda: of_data.append(data()),
        )
    except BuildRefused:
        bound_articles(*contents)  # names the problems of all articles, not only of the first
        raise
    write([Task("data", arguments) for arguments in of_data])
    write(former_pages(contents, written, formerly, moved))
    write(short_pages(pages))
    making.keep()
    return pages


def sitemap(pages: Mapping[str, str], *, home: str) -> bytes:
    """A sitemap of a site with an address on the web.

    pages  address of each page for it -> the day of the newest data on it, "" for none
    home   address of the site, ending in a slash
    """
    Xml.register_namespace("", SITEMAP)
    urls = Xml.Element(f"{{{SITEMAP}}}urlset")
    for page, day in pages.items():
        entry = Xml.SubElement(urls, f"{{{SITEMAP}}}url")
        Xml.SubElement(entry, f"{{{SITEMAP}}}loc").text = urljoin(home, quote(page))
        if day:
            Xml.SubElement(entry, f"{{{SITEMAP}}}lastmod").text = day
    Xml.indent(urls)
    document: bytes = Xml.tostring(urls, encoding="utf-8", xml_declaration=True)
    return document + b"\n"


@dataclass(frozen=True, slots=True)
class HeavyPage:
    """A page over the limit, with what is fetched beside it. [B]"""

    page: str
    weight: int

    def __str__(self) -> str:
        return f"{self.page} weighs {self.weight / 1000:.0f} kB, and {PAGE_LIMIT_BYTES / 1000:.0f} kB is the most"


def heavy_pages(folder: Path, *, around: int, more: Mapping[str, int] = MappingProxyType({})) -> list[HeavyPage]:
    """The pages of a site over PAGE_LIMIT_BYTES, the heaviest first.

    What counts is what a browser fetches before it can show a page: no photos, and nothing that is asked for later.

    around  what every page fetches: style sheet with the face, icon, script. [B]
    """
    # *more* is what single pages fetch beyond that, by their addresses. [B]
    pages = {page: entry.stat().st_size for page, entry in entries_below(folder) if page.endswith(".html")}
    weighed = [HeavyPage(page, size + around + more.get(page, 0)) for page, size in pages.items()]
    heavy = [page for page in weighed if page.weight > PAGE_LIMIT_BYTES]
    return sorted(heavy, key=lambda page: (-page.weight, page.page))
