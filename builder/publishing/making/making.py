"""From tasks to files: pages composed, their charts drawn, filled into HTML, and data, in several processes if that helps.

What a task looks at is noted while it works (builder/observed.py), so that a later build knows whether to do it again.
"""

from __future__ import annotations

import ctypes
import gc
import os
import posixpath
import signal
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any
from urllib.parse import urljoin

import orjson
from jinja2 import Environment

from builder import addresses
from builder.charts.drawer import Drawing
from builder.charts.linking import with_links
from builder.charts.rendering import drawn_wide, packed_to_zoom, render_file, render_svg
from builder.observed import Inventory, Look
from builder.pages.contents import Contents, SiteContext
from builder.pages.parts.blocks import Entry, Page, Rest, Row
from builder.pages.parts.frame import frame
from builder.pages.parts.heads import with_head
from builder.pages.parts.leaves import FEWEST_ROWS, PAGE_LIMIT_BYTES, rests_of, room_for_tables, with_leaves
from builder.pages.parts.provenance import BRIEF
from builder.pages.rendering import compile_all, page_templates, render
from builder.pages.review import ReviewPage
from builder.publishing.checking.links import page_links
from builder.publishing.files.assets import Asset
from builder.publishing.files.packing import SUFFIX, zipped
from builder.publishing.files.script_data import DataTask
from builder.publishing.files.scripts import data_script
from builder.publishing.files.stills import source_stamp
from builder.publishing.making.made import Made, MadePage, observed
from builder.publishing.making.marking import Mark, banner
from builder.publishing.making.page_list import Task
from catalog.errors import BuildRefused

# Below this many tasks a second process costs more than it brings.
FEWEST_FOR_PROCESSES = 24
CHUNK = 8
FEWEST_CHUNKS = 8  # a process, so that none is left with all the work
_STEP_BYTES = 1000  # rows are cut whole, so a smaller step might cut none
_ROOM_OF_LIGHT_TABLES = 24_000  # of a page whose heavy tables have left it, as `leaves.weight_of` counts [B]
_PR_SET_PDEATHSIG = 1  # linux/prctl.h


@dataclass(frozen=True, slots=True)
class BuildContext:
    """What every page is made with. *assets* are the addresses of style sheet, icon and script.

    around how much these three weigh [B]
    marks  what a preview says is hidden; None in a site for the public
    scripts the script of each page that has another one, by the page's address
    """

    inventory: Inventory
    templates: Path
    assets: tuple[str, str, str]
    around: int
    marks: tuple[Mark, ...] | None
    scripts: Mapping[str, str]


def make(
    context: BuildContext,
    tasks: Sequence[Task | DataTask],
    *,
    jobs: int,
    meanwhile: Callable[[], object] = lambda: None,
) -> Iterator[Made]:
    """What each of *tasks* puts into the site, in their order.

    jobs       processes, at least 1; with 1, or where this process cannot be forked, all is done here
    meanwhile  called once here, while the processes work
    Raises  BuildRefused as Task.page and rendering.render say.
    """
    environment = page_templates(context.templates)
    if jobs > 1 and len(tasks) >= FEWEST_FOR_PROCESSES and _may_fork():
        compile_all(environment)  # so that not every process does it
        gc.freeze()  # so that collecting garbage in a worker does not copy what all share
        size = min(CHUNK, max(1, len(tasks) // (FEWEST_CHUNKS * jobs)))  # few tasks differ too much to go by eights
        chunks = [tasks[start : start + size] for start in range(0, len(tasks), size)]
        # Forked, not spawned: the contents are large, and a forked process has them already.
        forked = get_context("fork")
        begun = context, environment, os.getpid()
        with ProcessPoolExecutor(jobs, mp_context=forked, initializer=_begin_worker, initargs=begun) as workers:
            try:
                of_chunks = workers.map(_made_by_worker, chunks)
                meanwhile()
                for of_chunk in of_chunks:
                    yield from of_chunk
            except BrokenProcessPool as failure:
                raise BuildRefused(
                    "A process that made pages was ended from outside, perhaps for want of memory. Try --jobs 1."
                ) from failure
            finally:
                workers.shutdown(cancel_futures=True)  # what failed is said now, and not once all pages are made
        return
    meanwhile()
    for task in tasks:
        yield made(context, environment, task)


def _may_fork() -> bool:
    """Whether a copy of this process would work: the chart renderer has threads, which a copy would not have."""
    return sys.platform == "linux" and "vl_convert" not in sys.modules


_worker: tuple[BuildContext, Environment] | None = None


def _begin_worker(context: BuildContext, environment: Environment, parent: int) -> None:
    """A worker dies with its parent: otherwise a killed build would hold its folder for ever."""
    global _worker
    ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
    if os.getppid() != parent:  # it was killed before the line above
        os._exit(1)
    _worker = context, environment


def _made_by_worker(tasks: Iterable[Task | DataTask]) -> list[Made]:
    assert _worker is not None
    return [made(*_worker, task) for task in tasks]


def made(context: BuildContext, environment: Environment, task: Task | DataTask) -> Made:
    """What one task puts into the site, made here. Raises BuildRefused as `make` does."""
    if isinstance(task, DataTask):
        return _data(context, task)
    one = _composed(context, task)
    return _finished(context, environment, one, {d.figure.key: drawn_wide(d.figure) for d in one.page.drawings})


def _data(context: BuildContext, task: DataTask) -> Made:
    looks: set[Look] = set()
    files = task.files(observed(context.inventory, looks))
    return Made(tuple((file.address, file.content) for file in files), frozenset(looks))


@dataclass(frozen=True, slots=True)
class _Composed:
    """A page before its tables are cut to what there is room for."""

    page: Page
    contents: Contents
    looks: set[Look]


def _composed(context: BuildContext, task: Task) -> _Composed:
    looks: set[Look] = set()
    contents = observed(context.inventory, looks)
    return _Composed(task.page(contents), contents, looks)


def _finished(context: BuildContext, environment: Environment, one: _Composed, wide: Mapping[str, Drawing]) -> Made:
    """The looks are taken last, because filling the frames of a task's pages adds to them.

    wide  drawing of each figure that its page and its file share
    """
    drawn = {d.figure.key: render_svg(d.figure, wide[d.figure.key]) for d in one.page.drawings}
    files: list[tuple[str, bytes]] = []
    pages: list[MadePage] = []
    for page, html in _cut(context, environment, one, drawn):
        files += [(page.address, html.encode()), *_beside(page)]
        files += _alone(page, wide, one.contents.site)
        pages.append(
            MadePage(
                address=page.address,
                title=page.title,
                newest=page.newest,
                indexed=page.canonical,
                charts=sum(not drawing.borrowed for drawing in page.drawings),
                links=page_links(html, page.address, home=one.contents.site.address or ""),
                warnings=page.warnings if isinstance(page, ReviewPage) else (),
            )
        )
    return Made(tuple(files), frozenset(one.looks), tuple(pages), tuple(_to_zoom(one.page)))


def _to_zoom(page: Page) -> Iterator[tuple[str, str, str]]:
    """What scripts draw when a reader zooms one of a page's charts: parts of a file that it shares with other pages."""
    for figure in (drawing.figure for drawing in page.drawings):
        if figure.zooms:
            yield addresses.zoom_key(page.address), figure.key, packed_to_zoom(figure)


def _cut(
    context: BuildContext, environment: Environment, one: _Composed, drawn: Mapping[str, str]
) -> list[tuple[Page, str]]:
    """The page and its leaves with their HTML; one that came out too heavy leaves more of its tables to them."""
    room, fewest = room_for_tables(one.page), FEWEST_ROWS
    page, leaves = with_leaves(one.page)
    html = _html(context, environment, page, one.contents, drawn)
    while (
        (excess := len(html.encode()) + context.around - PAGE_LIMIT_BYTES) > 0
        and page.grows
        and (room, fewest) > (0, 0)
    ):
        if room > 0:
            room = max(0, room - max(excess, _STEP_BYTES))
        else:  # many tables, and three rows of each are too many; in the end only light ones stay
            fewest -= 1
            room = 0 if fewest else _ROOM_OF_LIGHT_TABLES
        page, leaves = with_leaves(one.page, room=room, fewest=fewest)
        html = _html(context, environment, page, one.contents, drawn)
    return [(page, html), *((leaf, _html(context, environment, leaf, one.contents, drawn)) for leaf in leaves)]


def _html(
    context: BuildContext, environment: Environment, page: Page, contents: Contents, drawn: Mapping[str, str]
) -> str:
    style, icon, usual = context.assets
    script = context.scripts.get(page.address, usual)
    around = with_head(frame(contents.site, page.address, style=style, icon=icon, script=script), contents.site, page)
    if any(drawing.figure.zooms for drawing in page.drawings):
        around = replace(around, charts=addresses.link(page.address, addresses.zoom_file(page.address)))
    charts = {d.figure.key: _linked(drawn[d.figure.key], d.figure.key, page.address) for d in page.drawings}
    html = render(environment, page, around, charts)
    if context.marks is None:
        return html
    return render(environment, page, replace(around, banner=banner(context.marks, html)), charts)


def _linked(svg: str, key: str, here: str) -> str:
    """A drawing for the page at *here*. Its links are written as from its specification, whichever page it is on."""
    return with_links(svg, lambda link: addresses.link_from_elsewhere(link, addresses.specification(key), here))


def _alone(page: Page, wide: Mapping[str, Drawing], site: SiteContext) -> list[tuple[str, bytes]]:
    """Each chart of a page as a picture that stands alone: to be taken away, and in a frame of another page."""
    files: list[tuple[str, bytes]] = []
    brief = "; ".join(f"{fact.term}: {fact.text}" for fact in page.provenance if fact.term in BRIEF)
    source = " ".join(part for part in (f"{brief}." if brief else "", source_stamp(site)) if part)
    for figure in (drawing.figure for drawing in page.drawings if not drawing.borrowed):
        here = addresses.chart_picture(figure.key)
        link = addresses.link(here, page.address, figure.key)
        # With the site's own address the link still leads there once the file was taken away.
        home = f"{page.title} · {site.title}", urljoin(f"{site.address}{here}", link) if site.address else link
        files.append((here, render_file(figure, wide[figure.key], source=source, home=home).encode()))
    return files


def _beside(page: Page) -> list[tuple[str, bytes]]:
    """The specification of each chart of a page, and the rows it had no room for."""
    files: list[tuple[str, bytes]] = []
    for drawing in (drawing for drawing in page.drawings if not drawing.borrowed):
        here, spec = addresses.specification(drawing.figure.key), drawing.figure.spec
        text = orjson.dumps(spec, option=orjson.OPT_SORT_KEYS)
        files.append((here, zipped(posixpath.basename(here).removesuffix(SUFFIX), [text])))
    return files + [(asset.address, asset.content) for asset in row_data(rests_of(page))]


def row_data(rests: Iterable[Rest]) -> list[Asset]:
    """The rows of tables that their pages had no room for: a script for each (site_templates/js/whole_table.mjs)."""
    return [
        Asset(addresses.script_data(rest.key), data_script(rest.key, [_row(row) for row in rest.rows]))
        for rest in rests
    ]


def _row(row: Row) -> dict[str, Any]:
    parts = {"cells": [_cell(entry) for entry in (row.head, *row.entries)], "facets": row.facets, "id": row.key}
    return {name: part for name, part in parts.items() if part}


def _cell(entry: Entry) -> dict[str, Any]:
    """The cell's non-empty fields."""
    parts = {
        "text": entry.text,
        "href": entry.href,
        "unit": entry.unit,
        "interval": entry.interval,
        "note": entry.note,
        "missing": entry.why_missing,
        "sort": entry.sort_key,
        "marks": [{"text": mark.text, "href": mark.href, "note": mark.note} for mark in entry.marks],
    }
    return {name: part for name, part in parts.items() if part}
