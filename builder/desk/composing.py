"""Every file of a site by its address, made when it is asked for from the material in memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from jinja2 import Environment

from builder import addresses
from builder.charts.face import rules_for
from builder.desk.material import Downloads, Material
from builder.desk.places import (
    ALWAYS_THERE,
    AnyTask,
    data_task,
    is_of_downloads,
    likely_tasks,
    page_tasks,
    short_links,
)
from builder.desk.recent import Recent
from builder.pages.contents import Contents
from builder.pages.rendering import page_templates
from builder.publishing.files.assets import Asset, icon, libraries, style_sheet
from builder.publishing.files.feeds import atom_feed, json_feed
from builder.publishing.files.preview_images import preview_image
from builder.publishing.files.scripts import page_scripts, site_script
from builder.publishing.making.made import Made, MadePage, inventory_of, shared_files
from builder.publishing.making.making import BuildContext, made
from builder.publishing.making.page_list import Task


@dataclass(frozen=True)
class Look:
    """What all pages look like: templates, and the files that go with them. Kept while the templates are the same.

    weight  of what every page fetches beside itself [B]
    """

    templates: Path
    environment: Environment
    assets: tuple[Asset, Asset, Asset]
    scripts: Mapping[str, Asset]
    files: Mapping[str, bytes]

    @property
    def weight(self) -> int:
        return sum(len(asset.content) for asset in self.assets)


def look_of(templates: Path) -> Look:
    """The look of a folder of templates. Raises BuildRefused where something is missing or cannot be joined."""
    assets = style_sheet(templates), icon(templates), site_script(templates)
    scripts = page_scripts(templates)
    files = {asset.address: asset.content for asset in (*assets, *scripts.values(), *libraries(templates))}
    return Look(templates, page_templates(templates), assets, scripts, files)


def first_look(templates: Path) -> Look:
    """The same, with everything at hand that the first page and the first chart take half a second to load."""
    import scipy.special  # noqa: F401

    look = look_of(templates)
    with suppress(Exception):  # what is wrong with a template is told by the page that needs it
        look.environment.get_template("base.html")
        look.environment.get_template("pages/start.html")
        rules_for("<text>a</text>")
    return look


@dataclass
class Composer:
    """The files of one material in one look. Not for several threads at once.

    downloads  makes all of them, which takes its time
    known      address -> the task that made it before, also from other material; grows
    """

    material: Material
    look: Look
    downloads: Callable[[], Downloads]
    known: dict[str, AnyTask] = field(default_factory=dict)

    def __post_init__(self) -> None:
        contents = self.material.contents
        style, symbol, script = (asset.address for asset in self.look.assets)
        self._context = BuildContext(
            inventory_of(contents),
            self.look.templates,
            (style, symbol, script),
            self.look.weight,
            self.material.marks,
            {page: asset.address for page, asset in self.look.scripts.items()},
        )
        self._made: Recent[str, Made] = Recent()
        self._downloads: Downloads | Exception | None = None

    @cached_property
    def _tasks(self) -> dict[str, Task]:
        return page_tasks(self.contents)

    @cached_property
    def _shorts(self) -> dict[str, list[Task]]:
        return short_links(self._tasks)

    @property
    def contents(self) -> Contents:
        """What is shown."""
        return self.material.contents

    @property
    def addresses(self) -> list[str]:
        """Of all pages but leaves and those that only lead on."""
        return [*self._tasks, addresses.DATA]

    def warnings(self, address: str) -> tuple[str, ...]:
        """What an author should look at on a page that was made."""
        of_page = self._made.beside(address)
        return next((page.warnings for page in (of_page.pages if of_page else ()) if page.address == address), ())

    def waits_for_downloads(self, address: str) -> bool:
        """Whether the file at an address can only be had once all downloads are made (`load`)."""
        return self._downloads is None and is_of_downloads(address)

    def load(self) -> None:
        """Make all downloads, in a thread that nobody waits for; what goes wrong is told when one is asked for."""
        if self._downloads is None:
            try:
                self._downloads = self.downloads()
            except Exception as failure:
                self._downloads = failure

    def file(self, address: str) -> bytes | None:
        """The file at an address as a build would write it; None where there is none.

        Raises  BuildRefused: what is wrong with a template, a picture or an article.
        """
        if address in self.look.files:
            return self.look.files[address]
        if (kept := self._made.file(address)) is not None:
            return kept
        if is_of_downloads(address):
            return self._download(address)
        if (content := self._by_itself(address)) is not None:
            return content
        if address.startswith(addresses.ZOOM_FILES):
            sharing = [self._make(task) for page, task in self._tasks.items() if address == addresses.zoom_file(page)]
            return {asset.address: asset.content for asset in shared_files(sharing)}.get(address)
        for task in self._makers(address):
            self._make(task)
            if (content := self._made.file(address)) is not None:
                return content
        return None

    def _makers(self, address: str) -> Iterator[AnyTask]:
        """Tasks that may make the file, the likeliest first."""
        if address in ALWAYS_THERE:
            yield ALWAYS_THERE[address]
        elif address in self._tasks:
            yield self._tasks[address]
        elif address in self._shorts:
            yield self._short(address)
        elif (task := data_task(self.contents.results, address)) is not None:
            yield task
        else:
            before = self.known.get(address)
            if isinstance(before, Task) and self._tasks.get(before.address) == before:
                yield before
            yield from likely_tasks(self._tasks, address)

    def _make(self, task: AnyTask) -> Made:
        """What a task made; that of the last one is kept whatever its size."""
        if (kept := self._made.get(task.key)) is not None:
            return kept
        result = made(self._context, self.look.environment, task)
        self.known |= {address: task for address, _ in result.files}
        self._made.keep(task.key, dict(result.files), result)
        return result

    def _short(self, address: str) -> Task:
        pages: list[MadePage] = []
        for task in self._shorts[address]:
            pages += [page for page in self._make(task).pages if page.address == task.address]
        return Task("short", (address, tuple((page.title, page.address) for page in pages)))

    def _by_itself(self, address: str) -> bytes | None:
        """What is no page and comes with none: feeds, pictures."""
        contents = self.contents
        if address == addresses.ATOM_FEED:
            return atom_feed(contents)
        if address == addresses.JSON_FEED:
            return json_feed(contents)
        if (picture := self.material.pictures.published(address)) is not None:
            return picture
        for article in contents.catalogue.articles if contents.site.address else ():
            if address == addresses.preview_image(article.article_id):
                return preview_image(contents.results, contents.site, article)
        return None

    def _download(self, address: str) -> bytes | None:
        self.load()
        loaded = self._downloads
        if isinstance(loaded, Exception):
            self._downloads = None  # it may go well the next time
            raise loaded
        assert loaded is not None
        if address in loaded.files:
            return loaded.files[address]
        return dict(self._make(Task("data", loaded.page)).files).get(address)
