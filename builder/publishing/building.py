"""Building a site: from a catalogue at an instant to a folder, all of it or nothing.

No clock and no chance: the same catalogue and instant give the same bytes on every machine.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from builder import addresses, shipped
from builder.articles.bound_article import BoundArticle
from builder.charts.figures import Figure
from builder.charts.rendering import render_many
from builder.pages.blocks import Page
from builder.pages.changes import changes_page
from builder.pages.chooser import chooser_page
from builder.pages.client import client_page
from builder.pages.collapses import collapses_page
from builder.pages.data import data_page
from builder.pages.device import device_page
from builder.pages.features import features_page
from builder.pages.frame import frame
from builder.pages.glossary import glossary_page
from builder.pages.heads import with_head
from builder.pages.house import house_page
from builder.pages.insides import insides_page
from builder.pages.leaves import rests_of, with_leaves
from builder.pages.listing import (
    clients_page,
    devices_page,
    houses_page,
    pairs_page,
    rankings_page,
    recipes_page,
    reviews_page,
)
from builder.pages.material import Material, load_material
from builder.pages.method import method_page
from builder.pages.my_room import my_room_page
from builder.pages.not_found import not_found_page
from builder.pages.pair import pair_page
from builder.pages.pointer import moved_pages, short_pages
from builder.pages.power import power_page
from builder.pages.prices import prices_page
from builder.pages.ranking import ranking_page
from builder.pages.recipe import recipe_keys, recipe_page
from builder.pages.rendering import page_templates, render
from builder.pages.review import ReviewPage, bound_articles, review_page
from builder.pages.search import search_page
from builder.pages.start import start_page
from builder.pages.workload import role_keys, role_page, workload_page, workloads_page
from builder.publishing.assets import icon, style_sheet
from builder.publishing.dictionary import dictionary
from builder.publishing.downloads import DATABASE, write_downloads
from builder.publishing.figures import NAME as RECORD_NAME
from builder.publishing.figures import Record, record_bytes
from builder.publishing.links import broken_links
from builder.publishing.machine_files import machine_files
from builder.publishing.marking import Mark, banner, marks_of
from builder.publishing.pictures import write_pictures
from builder.publishing.row_data import row_data
from builder.publishing.script_data import script_data
from builder.publishing.scripts import site_script
from builder.publishing.site_folder import staged
from builder.publishing.stills import Stills, write_stills
from builder.publishing.views import add_views
from builder.publishing.weights import require_light_pages
from catalog import queries
from catalog.errors import BuildRefused
from catalog.visibility import full_copy, public_copy

MOST_NAMED = 10
RECORD_WHAT = "Every figure as it was published, by its id; the next publication says what changed and why"
Progress = Callable[[str], None]
Recorded = Callable[[Database, Material], Record]


@dataclass(frozen=True, slots=True)
class BuildReport:
    """What a build wrote: pages, charts drawn on them, and files in all.

    warnings  what an author should look at: numbers typed into articles, with the bindings that would replace them
    stills    pictures for video that were written
    """

    pages: int
    charts: int
    files: int
    warnings: tuple[str, ...] = ()
    stills: int = 0


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
    with staged(out) as stage:
        return compose_site(
            catalog, stage, as_of=as_of, jobs=jobs, cache=cache, progress=progress, templates=templates, stills=stills
        )


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
    formerly: Sequence[str] = (),
    recorded: Recorded | None = None,
) -> BuildReport:
    """Write the public site of *catalog* into the empty folder *stage*, as build_site says.

    preview   hidden things come in, too, and every page says so
    formerly  addresses of pages that an earlier build had; they go on leading somewhere
    recorded  gives the record of figures that goes into a published site, from its copy and what it is made of; asked
              before anything is drawn, so that what stops a publication stops it early
    """
    looks = templates or shipped.templates_folder()
    data = stage / "data"
    data.mkdir()
    progress("Reading everything, hidden or not …" if preview else "Reading what is public …")
    copied = full_copy if preview else public_copy
    with closing(copied(catalog, as_of=as_of, to=data / DATABASE)) as copy:
        marks = marks_of(copy) if preview else None
        sizes = write_pictures(catalog, queries.images(copy), stage)
        material = load_material(copy, as_of=as_of, sizes=sizes)
        meanings = dictionary(copy)
        record = {} if recorded is None else {RECORD_NAME: (RECORD_WHAT, record_bytes(recorded(copy, material)))}
    meanings = add_views(data / DATABASE) | meanings
    downloads = write_downloads(material, data / DATABASE, data, more=record)
    progress("Composing pages …")
    articles = bound_articles(material)
    whole = [*_pages(material, articles), data_page(material, downloads, meanings)]
    pages: list[Page] = []
    for page, leaves in map(with_leaves, whole):
        pages += [page, *leaves]
    pages += moved_pages(material, pages, formerly)
    pages += short_pages(material, pages)
    around = sum(len(asset.content) for asset in (style_sheet(looks), icon(looks), site_script(looks)))
    charts = _write_pages(material, pages, stage, looks=looks, jobs=jobs, cache=cache, progress=progress, marks=marks)
    progress("Checking links …")
    _require_sound_links(stage, home=material.site.address or "")
    require_light_pages(stage, around=around)
    made = Stills(0, ())
    if stills:
        told = [d.figure for page in pages if isinstance(page, ReviewPage) for d in page.drawings]
        progress(f"Drawing stills of {len(told)} figures …")
        made = write_stills(told, site=material.site, folder=stage, jobs=jobs)
    files = sum(1 for path in stage.rglob("*") if path.is_file())
    warnings = (*(warning for article in articles for warning in article.warnings), *made.left_out)
    return BuildReport(pages=len(pages), charts=charts, files=files, warnings=warnings, stills=made.pictures)


def _pages(material: Material, articles: Sequence[BoundArticle]) -> list[Page]:
    """Every page but the data page, which needs the downloads first."""
    bench = material.bench
    return [
        start_page(material),
        devices_page(material),
        *(device_page(material, device) for device in bench.devices),
        pairs_page(material),
        *(pair_page(material, a, b) for a, b in material.pairs),
        rankings_page(material),
        *(ranking_page(material, group) for group in material.groups),
        recipes_page(material),
        *(recipe_page(material, *key) for key in recipe_keys(material)),
        collapses_page(material),
        features_page(material),
        power_page(material),
        insides_page(material),
        prices_page(material),
        workloads_page(material),
        *(workload_page(material, *version) for version in sorted(material.workloads)),
        *(role_page(material, *key) for key in role_keys(material)),
        clients_page(material),
        *(client_page(material, client) for client in bench.clients),
        houses_page(material),
        *(house_page(material, house) for house in bench.houses),
        reviews_page(material),
        *(review_page(material, article) for article in articles),
        my_room_page(material),
        chooser_page(material),
        search_page(material),
        method_page(material),
        glossary_page(material),
        changes_page(material),
        not_found_page(material),
    ]


def _write_pages(
    material: Material,
    pages: Sequence[Page],
    stage: Path,
    *,
    looks: Path,
    jobs: int,
    cache: Path | None,
    progress: Progress,
    marks: Sequence[Mark] | None = None,
) -> int:
    assets = style_sheet(looks), icon(looks), site_script(looks)
    for asset in (
        *assets,
        *script_data(material),
        *machine_files(material, pages),
        *row_data(r for p in pages for r in rests_of(p)),
    ):
        _write(stage, asset.address, asset.content)
    figures: list[Figure] = [drawing.figure for page in pages for drawing in page.drawings]
    progress(f"Drawing {len(figures)} charts …")
    drawn = dict(zip((f.key for f in figures), render_many(figures, cache=cache, jobs=jobs), strict=True))
    for figure in figures:
        text = json.dumps(figure.spec, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
        _write(stage, addresses.specification(figure.key), text.encode())
    progress(f"Writing {len(pages)} pages …")
    environment = page_templates(looks)
    for page in pages:
        around = frame(
            material, page.address, style=assets[0].address, icon=assets[1].address, script=assets[2].address
        )
        around = with_head(around, material, page)
        own = {drawing.figure.key: drawn[drawing.figure.key] for drawing in page.drawings}
        html = render(environment, page, around, own)
        if marks is not None:
            html = render(environment, page, replace(around, banner=banner(marks, html)), own)
        _write(stage, page.address, html.encode())
    return len(figures)


def _write(stage: Path, address: str, content: bytes) -> None:
    target = stage / address
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(content)


def _require_sound_links(stage: Path, *, home: str) -> None:
    broken = broken_links(stage, home=home)
    if broken:
        named = "\n".join(str(link) for link in broken[:MOST_NAMED])
        more = f"\n… and {len(broken) - MOST_NAMED} more" if len(broken) > MOST_NAMED else ""
        raise BuildRefused(f"Links of the new site lead nowhere, so it was not put in place:\n{named}{more}")
