"""Building a site: from a catalogue at an instant to a folder, all of it or nothing.

No clock and no chance: the same catalogue and instant give the same bytes on every machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import closing
from datetime import datetime
from itertools import chain
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from builder import shipped, wording
from builder.pages.as_published import DatedValue
from builder.pages.contents import Contents, load_contents
from builder.pages.parts.blocks import INSTANT
from builder.pages.review import article_page, bound_articles
from builder.publishing.changing.figures import NAME as RECORD_NAME
from builder.publishing.changing.figures import Record, record_bytes
from builder.publishing.changing.history import dated_values
from builder.publishing.changing.site_folder import staged
from builder.publishing.checking.links import broken_among, files_below
from builder.publishing.checking.reports import BuildReport, Progress, refuse
from builder.publishing.files.assets import icon, libraries, style_sheet
from builder.publishing.files.dictionary import dictionary
from builder.publishing.files.downloads import DATABASE, write_downloads
from builder.publishing.files.machine_files import machine_files
from builder.publishing.files.pictures import write_pictures
from builder.publishing.files.scripts import site_script
from builder.publishing.files.stills import Stills, write_stills
from builder.publishing.files.views import add_views
from builder.publishing.keeping.kept_pages import MadePage, fresh_pages, keep_pages, store_of
from builder.publishing.keeping.kept_scripts import script_files
from builder.publishing.keeping.unchanged import files_of, inputs_of, note_built, note_of, surroundings
from builder.publishing.making.making import Shop, inventory_of, make_pages, observed
from builder.publishing.making.marking import marks_of
from builder.publishing.making.page_list import Task, all_pages, former_pages, short_pages
from builder.publishing.making.weights import require_light_pages
from catalog import queries
from catalog.errors import BuildRefused
from catalog.visibility import full_copy, public_copy
from catalog.whole_files import require_apart

RECORD_WHAT = "Every figure as it was published, by its id; the next publication says what changed and why"
Recorded = Callable[[Database, Contents], Record]


def build_site(
    catalog: Path,
    *,
    out: Path,
    as_of: datetime,
    jobs: int,
    cache: Path | None,
    progress: Progress,
    templates: Path | None = None,
    stills: bool = False,
) -> BuildReport:
    """Build the public site of *catalog* into the folder *out*.

    as_of      the build instant: what may be seen then is in the site, and nothing else
    jobs       worker processes for charts
    cache      folder of charts drawn before; None draws all anew
    progress   told in a few words what is being done
    templates  other page templates than the shipped ones
    stills     also the pictures for video, of every figure that stands in an article
    Raises     BuildRefused, CatalogUnusable; then *out* is as it was before.
    """
    require_apart(out, catalog=catalog)
    note, inputs = note_of(cache, out), ""
    if note is not None:
        inputs = inputs_of(catalog, as_of=as_of, looks=templates or shipped.templates_folder(), stills=stills)
    with staged(out) as stage:
        report = compose_site(
            catalog,
            stage,
            as_of=as_of,
            jobs=jobs,
            cache=cache,
            progress=progress,
            templates=templates,
            stills=stills,
            store=store_of(cache, out),
        )
        files = "" if note is None else files_of(stage)  # here, where no other build can come in between
    if note is not None:
        note_built(note, inputs, files, report)
    return report


def compose_site(
    catalog: Path,
    stage: Path,
    *,
    as_of: datetime,
    jobs: int,
    cache: Path | None,
    progress: Progress,
    templates: Path | None = None,
    preview: bool = False,
    stills: bool = False,
    formerly: Iterable[str] = (),
    recorded: Recorded | None = None,
    store: Path | None = None,
) -> BuildReport:
    """Write the public site of *catalog* into the empty folder *stage*, as build_site says.

    preview   hidden things come in, too, and every page says so
    store     pages kept from the build before, which need not be made again; None keeps none
    formerly  addresses of pages that an earlier build had; they go on leading somewhere. Asked for after *recorded*
    recorded  gives the record of figures that goes into a published site, from its copy and what it is made of; asked
              before anything is drawn, so that what stops a publication stops it early
    """
    looks = templates or shipped.templates_folder()
    setting = surroundings(looks)
    data = stage / "data"
    data.mkdir()
    progress("Reading everything, hidden or not …" if preview else "Reading what is public …")
    copied = full_copy if preview else public_copy
    with closing(copied(catalog, as_of=as_of, to=data / DATABASE)) as copy:
        marks = tuple(marks_of(copy)) if preview else None
        sizes = write_pictures(catalog, queries.images(copy), stage)
        inventory = inventory_of(load_contents(copy, as_of=as_of, sizes=sizes))
        contents = observed(inventory, set())  # what is not asked for a page need not be noted
        meanings = dictionary(copy)
        record = None if recorded is None else recorded(copy, contents)
    dated = {} if record is None else dated_values(record, contents.results)
    more = {} if record is None else {RECORD_NAME: (RECORD_WHAT, record_bytes(record))}
    meanings = add_views(data / DATABASE) | meanings
    downloads = write_downloads(contents, data / DATABASE, data, more=more)
    assets = style_sheet(looks), icon(looks), site_script(looks)
    for asset in (*assets, *libraries(looks), *script_files(contents, pages=store, setting=setting)):
        _write(stage, asset.address, asset.content)
    style, symbol, script = (asset.address for asset in assets)
    shop = Shop(inventory, looks, (style, symbol, script), cache, marks)
    pages = _made(
        shop,
        contents,
        (downloads, meanings),
        dated,
        formerly,
        store=store,
        setting=setting,
        jobs=jobs,
        progress=progress,
    )
    instant = wording.instant(as_of).encode()
    for page in pages:
        for address, content in page.files:
            _write(stage, address, content.replace(INSTANT.encode(), instant))
    for asset in machine_files(contents, [page.address for page in pages if page.own]):
        _write(stage, asset.address, asset.content)
    progress("Checking links …")
    files = files_below(stage)
    broken = broken_among({page.address: page.links for page in pages}, files)
    refuse("Links of the new site lead nowhere", broken)
    require_light_pages(stage, around=sum(len(asset.content) for asset in assets))
    made = Stills(0, ())
    if stills:
        told = [
            d.figure
            for article in contents.catalogue.articles
            for d in article_page(*contents, article.article_id).drawings
        ]
        progress(f"Drawing stills of {len(told)} figures …")
        made = write_stills(told, site=contents.site, folder=stage, jobs=jobs)
    return BuildReport(
        pages=len(pages),
        charts=sum(page.charts for page in pages),
        files=len(files_below(stage)) if stills else len(files),
        warnings=(*(warning for page in pages for warning in page.warnings), *made.left_out),
        stills=made.pictures,
    )


def _made(
    shop: Shop,
    contents: Contents,
    data: tuple[Any, ...],
    dated: Mapping[tuple[str, str], tuple[DatedValue, ...]],
    formerly: Iterable[str],
    *,
    store: Path | None,
    setting: str,
    jobs: int,
    progress: Progress,
) -> list[MadePage]:
    """Every page: those of which nothing changed from the build before, all others anew."""
    fresh = {} if store is None else fresh_pages(store, setting=setting, inventory=shop.inventory)
    found: dict[str, tuple[MadePage, ...]] = {}

    def make(tasks: Sequence[Task]) -> None:
        stale = [task for task in tasks if task.key not in fresh]
        if stale:
            progress(f"Composing {len(stale)} of {len(tasks)} pages …")
        made = zip(stale, make_pages(shop, stale, jobs=jobs), strict=True)
        new = {task.key: pages for task, pages in made}
        found.update((task.key, new.get(task.key) or fresh[task.key]) for task in tasks)

    try:
        make(all_pages(contents.catalogue, contents.results, data=data, dated=dated))
    except BuildRefused:
        bound_articles(*contents)  # names the problems of all articles, not only of the first
        raise
    there = {address for page in chain(*found.values()) for address, _ in page.files}
    make(former_pages(contents, there, formerly))
    make(short_pages(chain(*found.values())))
    if store is not None:
        keep_pages(store, found, fresh=fresh.keys(), setting=setting, inventory=shop.inventory)
    return list(chain(*found.values()))


def _write(stage: Path, address: str, content: bytes) -> None:
    target = stage / address
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(content)
