"""The state of a preview: what is shown now, what is wrong, and how both follow the files they are made of.

Two threads work for it, so that what is shown stays at hand while new material is made: one makes material, the other
composes pages of what is there. Nothing of a state is ever changed: a new one takes its place as a whole.
"""

from __future__ import annotations

import gc
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from builder import wording
from builder.desk.batches import Entered, Trouble, article_files, entered, folder_of, watched_folders, with_texts
from builder.desk.composing import Composer, Look, look_of, warm_up
from builder.desk.drafts import place_of_problem, problems_of
from builder.desk.first_copy import FirstCopy
from builder.desk.material import Downloads, Material, downloads_of, material_of
from builder.pages.contents import Contents
from builder.pages.parts.looked_up import look_up_one
from catalog.connection import not_written
from catalog.errors import CatalogError, InputRefused
from catalog.records import Article


@dataclass(frozen=True)
class State:
    """What is shown.

    plain     the material, its articles as they were read with their batches
    composer  of the same with articles as their files say now
    """

    plain: Material
    composer: Composer
    batches: Entered
    troubles: tuple[Trouble, ...]


@dataclass
class Desk:
    """A preview of *catalog* at the instant *as_of*, with *batches* in it as if they were entered.

    changed  called after each change, in the maker's thread
    """

    catalog: Path
    batches: Sequence[Path]
    as_of: datetime
    templates: Path
    changed: Callable[[], None] = lambda: None
    first: FirstCopy = field(default_factory=FirstCopy)
    pages: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1, "pages"))
    _state: State | None = None

    @property
    def maker(self) -> ThreadPoolExecutor:
        """The thread that makes material."""
        return self.first.maker

    @property
    def state(self) -> State:
        """What is shown now."""
        assert self._state is not None, "begun first"
        return self._state

    @property
    def watched(self) -> dict[Path, bool]:
        """The folders of templates and batches, each with whether what lies deeper counts."""
        return {self.templates.resolve(): True} | watched_folders(self.batches)

    def begin(self) -> None:
        """Make the first state. Raises CatalogUnusable, BuildRefused; InputRefused where there is no such batch."""
        self.pages.submit(warm_up, self.templates)  # while SQLite reads, which needs no Python
        self.maker.submit(self._begin).result()

    # The rest runs in the maker's thread.

    def _begin(self) -> None:
        for batch in self.batches:
            if not batch.exists():
                raise InputRefused(f"{batch} does not exist. A batch is a folder that holds batch.toml, or a workbook.")
        with _without_collecting():
            batches = entered(self.batches, catalog=self.catalog, now=self.as_of)
            copy = None if self.first.copy is None else self.first.copy.result()
            material = material_of(
                self.catalog, batches, as_of=self.as_of, spread=self.first.spread, before=None, copy=copy
            )
            self._put(material, look_of(self.templates), batches, ())
        gc.freeze()  # what all pages share would be looked through again and again
        gc.enable()

    def follow(self, changes: Iterable[Path]) -> None:
        """Make anew what these files touch. What goes wrong is shown beside what was there before."""
        with _without_collecting():
            try:
                self._follow({path.resolve() for path in changes})
            except Exception as failure:
                state = self.state
                wrong = Trouble("This is the state before the last change", _lines(failure))
                self._put(state.plain, state.composer.look, state.batches, [wrong])

    def _follow(self, paths: set[Path]) -> None:
        state, troubles = self.state, list[Trouble]()
        look = state.composer.look
        if _below(paths, [self.templates]):
            try:
                look = look_of(self.templates)
            except Exception as failure:
                troubles.append(Trouble("The templates are used as they were", _lines(failure)))
        batches = _below(paths, map(folder_of, self.batches))
        texts = batches & article_files(state.composer.contents, state.batches.folders).keys()
        if texts or troubles or look is not state.composer.look:  # seen before the batch is read again
            self._put(state.plain, look, state.batches, troubles)
        if batches or self.catalog.resolve() in paths:
            self._read_again(look, troubles, only_texts=bool(texts) and paths == texts)

    def _read_again(self, look: Look, troubles: Sequence[Trouble], *, only_texts: bool) -> None:
        """Of a batch that is refused now, what was sound before is shown, as long as it still fits the catalogue."""
        state = self.state
        batches = entered(self.batches, catalog=self.catalog, now=self.as_of)
        before = state.batches
        if batches.file == before.file and (
            not before.sound <= batches.sound or (only_texts and before.sound == batches.sound)
        ):
            kept = replace(before, refused=batches.refused, folders={**before.folders, **batches.folders})
            self._put(state.plain, look, kept, troubles)
            return
        material = material_of(self.catalog, batches, as_of=self.as_of, spread=self.first.spread, before=state.plain)
        self._put(material, look, batches, troubles)
        state.plain.measured.copy.close()

    def _put(self, plain: Material, look: Look, batches: Entered, troubles: Sequence[Trouble]) -> None:
        contents, unread = with_texts(plain.contents, batches.folders)
        material = replace(plain, contents=contents)
        before = self._state.composer if self._state else None
        if before is not None and before.look is look and _same(before.material, material):
            composer = before
        else:
            known = before.known if before is not None else {}
            composer = Composer(material, look, lambda: self._downloads(batches, material), known)
        of_articles = [
            trouble
            for article in contents.catalogue.articles
            if article.batch_id in batches.folders and (trouble := trouble_of(contents, article)) is not None
        ]
        self._state = State(plain, composer, batches, (*troubles, *batches.refused, *unread, *of_articles))
        self.changed()

    def _downloads(self, batches: Entered, material: Material) -> Downloads:
        """Asked for by who composes pages, made by who makes material."""
        return self.maker.submit(downloads_of, self.catalog, batches.whole, material).result()

    def end(self) -> None:
        """Let both threads go."""
        for thread in (self.maker, self.pages):
            thread.shutdown(wait=False, cancel_futures=True)


def trouble_of(contents: Contents, article: Article) -> Trouble | None:
    """What is wrong in an article, each at its place on the review's page; None where nothing is."""
    if not article.text:
        return None
    problems = problems_of(contents, look_up_one(*contents, article))
    if not problems:
        return None
    many = wording.count(len(problems), "problem")
    lines = tuple((str(problem), place_of_problem(article, problem)) for problem in problems)
    return Trouble(f"“{article.title}” cannot be published as it stands: {many}", lines)


def in_words(failure: Exception) -> str:
    """A failure as the command line would say it."""
    if isinstance(failure, CatalogError):
        return str(failure)
    if isinstance(failure, sqlite3.Error) and (refused := not_written(failure)) is not None:
        return str(refused)
    if isinstance(failure, OSError):
        return f"Could not use {failure.filename or 'a file'}: {(failure.strerror or str(failure)).lower()}."
    return f"Something went wrong inside Likeloss ({type(failure).__name__}: {failure})."


def _lines(failure: Exception) -> tuple[tuple[str, str], ...]:
    return tuple((line, "") for line in in_words(failure).splitlines())


def _below(paths: Iterable[Path], folders: Iterable[Path]) -> set[Path]:
    roots = [folder.resolve() for folder in folders]
    return {path for path in paths if any(path.is_relative_to(root) for root in roots)}


def _same(one: Material, other: Material) -> bool:
    """Whether pages of both would be the same: the articles are all that differs between materials of one copy."""
    return one.measured is other.measured and one.contents.catalogue.articles == other.contents.catalogue.articles


@contextmanager
def _without_collecting() -> Iterator[None]:
    """Half a million records are made at a time, and collecting garbage would look through them again and again."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
