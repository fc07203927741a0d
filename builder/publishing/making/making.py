"""From tasks to finished pages: composed, their charts drawn, filled into HTML, in several processes where that helps.

What a page looked at is noted while it is made (builder/observed.py), so that a later build knows whether to keep it.
"""

from __future__ import annotations

import ctypes
import gc
import json
import os
import signal
import sys
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from jinja2 import Environment

from builder import addresses
from builder.charts.rendering import render_many, render_svg
from builder.charts.standing_alone import chart_file
from builder.observed import Inventory, Look, Observed
from builder.pages.chart_frame import chart_frame
from builder.pages.contents import Contents
from builder.pages.parts.blocks import Page
from builder.pages.parts.frame import frame
from builder.pages.parts.heads import with_head
from builder.pages.parts.leaves import rests_of, with_leaves
from builder.pages.rendering import page_templates, render
from builder.pages.review import ReviewPage
from builder.publishing.checking.links import page_links
from builder.publishing.files.row_data import row_data
from builder.publishing.files.scripts import data_script
from builder.publishing.files.stills import source_stamp
from builder.publishing.keeping.kept_pages import MadePage
from builder.publishing.making.marking import Mark, banner
from builder.publishing.making.page_list import Task
from catalog.errors import BuildRefused

# Below this many a second process costs more than it brings.
FEWEST_FOR_PROCESSES = 24
CHUNK = 8
_PR_SET_PDEATHSIG = 1  # linux/prctl.h


@dataclass(frozen=True, slots=True)
class Shop:
    """What every page is made with. *assets* are the addresses of style sheet, icon and script.

    charts  folder of charts drawn before; None draws all anew
    marks   what a preview says is hidden; None in a site for the public
    """

    inventory: Inventory
    looks: Path
    assets: tuple[str, str, str]
    charts: Path | None
    marks: tuple[Mark, ...] | None


def inventory_of(contents: Contents) -> Inventory:
    """The contents, with their parts and the bench opened, too."""
    return Inventory(contents, opened=("catalogue", "results", "results.bench", "site"))


def observed(inventory: Inventory, looks: set[Look]) -> Contents:
    """The contents of an inventory, for one who looks at them and whose *looks* are noted."""
    watched: Any = Observed(inventory, looks)
    return Contents(watched.catalogue, watched.results, watched.site)


def make_pages(shop: Shop, tasks: Sequence[Task], *, jobs: int) -> Iterator[tuple[MadePage, ...]]:
    """The page of each of *tasks*, in their order, and behind it its leaves.

    jobs    processes, at least 1; with 1, or where this process cannot be forked, all is done here
    Raises  BuildRefused as Task.page and rendering.render say.
    """
    if jobs > 1 and len(tasks) >= FEWEST_FOR_PROCESSES and _may_fork():
        gc.freeze()  # so that collecting garbage in a worker does not copy what all share
        chunks = [tasks[start : start + CHUNK] for start in range(0, len(tasks), CHUNK)]
        # Forked, not spawned: the contents are large, and what is forked has them already.
        forked = get_context("fork")
        begun = shop, os.getpid()
        with ProcessPoolExecutor(jobs, mp_context=forked, initializer=_take, initargs=begun) as workers:
            try:
                for made in workers.map(_made_by_worker, chunks):
                    yield from made
            except BrokenProcessPool as failure:
                raise BuildRefused(
                    "A process that made pages was ended from outside, perhaps for want of memory. Try --jobs 1."
                ) from failure
        return
    environment = page_templates(shop.looks)
    composed = [_composed(shop, task) for task in tasks]
    figures = [drawing.figure for one in composed for drawing in one.page.drawings]
    drawn = dict(zip((f.key for f in figures), render_many(figures, cache=shop.charts, jobs=jobs), strict=True))
    for one in composed:
        yield _finished(shop, environment, one, drawn)


def _may_fork() -> bool:
    """Whether a copy of this process would work: the chart renderer has threads, which a copy would not have."""
    return sys.platform == "linux" and "vl_convert" not in sys.modules


_worker: tuple[Shop, Environment] | None = None


def _take(shop: Shop, parent: int) -> None:
    """What a worker begins with. It dies with its parent: otherwise a killed build would hold its folder for ever."""
    global _worker
    ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
    if os.getppid() != parent:  # it was killed before the line above
        os._exit(1)
    _worker = shop, page_templates(shop.looks)


def _made_by_worker(tasks: Iterable[Task]) -> list[tuple[MadePage, ...]]:
    assert _worker is not None
    shop, environment = _worker
    made = []
    for task in tasks:
        one = _composed(shop, task)
        drawn = {d.figure.key: render_svg(d.figure, cache=shop.charts) for d in one.page.drawings}
        made.append(_finished(shop, environment, one, drawn))
    return made


@dataclass(frozen=True, slots=True)
class _Composed:
    page: Page
    leaves: tuple[Page, ...]
    contents: Contents
    looks: set[Look]


def _composed(shop: Shop, task: Task) -> _Composed:
    looks: set[Look] = set()
    contents = observed(shop.inventory, looks)
    page, leaves = with_leaves(task.page(contents))
    return _Composed(page, leaves, contents, looks)


def _finished(shop: Shop, environment: Environment, one: _Composed, drawn: dict[str, str]) -> tuple[MadePage, ...]:
    """In two steps, because what the frame of a page looks at counts for all pages of its task."""
    pages = (one.page, *one.leaves)
    html = [_html(shop, environment, page, one.contents, drawn) for page in pages]
    alone = [_alone(shop, environment, page, one.contents, drawn) for page in pages]
    looks = frozenset(one.looks)
    return tuple(
        MadePage(
            address=page.address,
            title=page.title,
            own=page.canonical,
            files=((page.address, text.encode()), *_beside(page), *charts),
            charts=len(page.drawings),
            links=page_links(text, page.address, home=one.contents.site.address or ""),
            warnings=page.warnings if isinstance(page, ReviewPage) else (),
            looks=looks,
        )
        for page, text, charts in zip(pages, html, alone, strict=True)
    )


def _html(shop: Shop, environment: Environment, page: Page, contents: Contents, drawn: dict[str, str]) -> str:
    style, icon, script = shop.assets
    around = with_head(frame(contents.site, page.address, style=style, icon=icon, script=script), contents.site, page)
    own = {drawing.figure.key: drawn[drawing.figure.key] for drawing in page.drawings}
    html = render(environment, page, around, own)
    if shop.marks is None:
        return html
    return render(environment, page, replace(around, banner=banner(shop.marks, html)), own)


def _alone(
    shop: Shop, environment: Environment, page: Page, contents: Contents, drawn: dict[str, str]
) -> list[tuple[str, bytes]]:
    """Each chart of a page as a picture that stands alone, and on a small page for frames elsewhere."""
    files: list[tuple[str, bytes]] = []
    for figure in (drawing.figure for drawing in page.drawings):
        picture = chart_file(figure, drawn[figure.key], source=source_stamp(contents.site))
        files.append((addresses.chart_picture(figure.key), picture.encode()))
        framed = chart_frame(*contents, page, figure)
        files.append((framed.address, _html(shop, environment, framed, contents, drawn).encode()))
    return files


def _beside(page: Page) -> list[tuple[str, bytes]]:
    """The specification of each chart of a page, and the rows it had no room for."""
    specifications = [
        file
        for drawing in page.drawings
        for file in (
            (
                addresses.specification(drawing.figure.key),
                json.dumps(drawing.figure.spec, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode(),
            ),
            (
                addresses.specification_script(drawing.figure.key),
                data_script(drawing.script_key, drawing.figure.spec),
            ),
        )
    ]
    return specifications + [(asset.address, asset.content) for asset in row_data(rests_of(page))]
