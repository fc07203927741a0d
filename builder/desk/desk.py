"""The state of a preview: what is shown now, what is wrong, and how both follow the files they are made of.

Two threads work for it, so that what is shown stays at hand while new material is made: one makes material, the other
composes pages of what is there. Nothing of a state is ever changed: a new one takes its place as a whole.
"""

from __future__ import annotations

import gc
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from builder import wording
from builder.desk.batches import Entered, Trouble, entered, folder_of, watched_folders
from builder.desk.composing import Composer, Look, first_look, look_of
from builder.desk.drafts import place_of_problem, problems_of
from builder.desk.first_copy import FirstCopy
from builder.desk.material import Downloads, Material, downloads_of, material_of, stored_copy
from builder.desk.texts import article_files, with_texts
from builder.desk.watched import States, states
from builder.pages.contents import Contents
from builder.pages.parts.looked_up import look_up_one
from catalog.connection import not_written
from catalog.errors import CatalogError
from catalog.records import Article


@dataclass(frozen=True)
class State:
    """What is shown.

    plain     the material, its articles as they were read with their batches
    composer  of the same with articles as their files say now
    troubles  everything that is wrong; *others* are those of them that are neither of a batch nor of an article
    """

    plain: Material
    composer: Composer
    batches: Entered
    troubles: tuple[Trouble, ...]
    others: tuple[Trouble, ...]


@dataclass
class Desk:
    """A preview of a catalogue with batches in it as if they were entered, from where *first* has begun it.

    changed  called after each change, in the maker's thread
    settled  called there once all was read and each article of the batches was held against it
    """

    first: FirstCopy
    templates: Path
    changed: Callable[[], None] = lambda: None
    settled: Callable[[], None] = lambda: None
    pages: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1, "pages"))
    loader: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1, "downloads"))
    since: States = field(default_factory=dict)  # what the files were before any of them was read
    _state: State | None = None
    _going_on: bool = False
    _ended: bool = False

    @property
    def maker(self) -> ThreadPoolExecutor:
        """The thread that makes material, and alone uses its databases."""
        return self.first.maker

    @property
    def catalog(self) -> Path:
        """The file that is shown."""
        return self.first.catalog

    @property
    def state(self) -> State:
        """What is shown now."""
        assert self._state is not None, "begun first"
        return self._state

    @property
    def watched(self) -> dict[Path, bool]:
        """The folders of templates and batches, each with whether what lies deeper counts."""
        return {self.templates.resolve(): True} | watched_folders(self.first.batches)

    def begin(self) -> None:
        """Make the first state, in which no article is held against the rest.

        Raises  CatalogUnusable, BuildRefused; InputRefused where there is no such batch.
        """
        catalog = self.catalog.resolve()
        self.since = {**self.first.since, **states({self.templates.resolve(): True}, catalog=catalog)}
        look = self.pages.submit(first_look, self.templates)  # while SQLite reads, which needs no Python
        self.maker.submit(self._begin, look).result()

    def go_on(self) -> Future[None] | None:
        """Work out what the first page did not need, once that was shown. None where that was begun before."""
        if self._going_on:
            return None
        self._going_on = True
        return self.maker.submit(self._go_on)

    def load(self) -> None:
        """Make the downloads of what is shown now. For the thread of downloads."""
        self.state.composer.load()

    # The rest runs in the maker's thread.

    def _begin(self, look: Future[Look]) -> None:
        with _without_collecting():
            begun = self.first.begun.result()
            material = material_of(self.first, begun.batches, before=None, copy=begun.copy)
            self._put(material, look.result(), begun.batches, (), checked=False)
            gc.freeze()  # what all pages share would be looked through again and again

    def _go_on(self) -> None:
        """One part, and then whatever a page waits for before the next one."""
        with _without_collecting():
            state = self.state
            try:
                if self._ended:
                    return
                if (part := state.plain.results.next_part()) is not None:
                    getattr(state.plain.results, part)
                    self.maker.submit(self._go_on)
                    return
                self._put(state.plain, state.composer.look, state.batches, state.others)
            except Exception as failure:
                if self._ended:
                    return
                wrong = Trouble("Not everything could be worked out", _lines(failure))
                self._put(state.plain, state.composer.look, state.batches, [*state.others, wrong], checked=False)
            gc.freeze()
        self.settled()

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
        batches = _below(paths, map(folder_of, self.first.batches))
        texts = batches & article_files(state.composer.contents, state.batches.folders).keys()
        if texts or troubles or look is not state.composer.look:  # seen before the batch is read again
            self._put(state.plain, look, state.batches, troubles)
        if batches or self.catalog.resolve() in paths:
            self._read_again(look, troubles, only_texts=bool(texts) and paths == texts)

    def _read_again(self, look: Look, troubles: Sequence[Trouble], *, only_texts: bool) -> None:
        """Of a batch that is refused now, what was sound before is shown, as long as it still fits the catalogue."""
        state = self.state
        first = self.first
        batches = entered(first.batches, catalog=first.catalog, now=first.as_of, kept_logs=first.kept_logs)
        before = state.batches
        if batches.file == before.file and (
            not before.sound <= batches.sound or (only_texts and before.sound == batches.sound)
        ):
            kept = replace(before, refused=batches.refused, folders={**before.folders, **batches.folders})
            self._put(state.plain, look, kept, troubles)
            return
        self._put(material_of(first, batches, before=state.plain), look, batches, troubles)
        # A page that is being composed may still ask for something of the copy.
        self.pages.submit(self.maker.submit, state.plain.measured.copy.close)

    def _put(
        self,
        plain: Material,
        look: Look,
        batches: Entered,
        troubles: Sequence[Trouble],
        *,
        checked: bool = True,
    ) -> None:
        """Show this from now on; *checked* holds the batches' articles against it, for which much has to be there."""
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
            if checked
            and article.batch_id in batches.folders
            and (trouble := trouble_of(contents, article)) is not None
        ]
        every = (*troubles, *batches.refused, *unread, *of_articles)
        self._state = State(plain, composer, batches, every, tuple(troubles))
        self.changed()

    def _downloads(self, batches: Entered, material: Material) -> Downloads:
        """Asked for by the thread of downloads; only who makes material may copy what batches are in."""
        copied = partial(stored_copy, self.catalog, batches.whole, as_of=self.first.as_of)
        return downloads_of(lambda database: self.maker.submit(copied, database).result(), material)

    def end(self) -> None:
        """Let all threads go."""
        self._ended = True
        for thread in (self.maker, self.pages, self.loader):
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
