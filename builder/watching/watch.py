"""A watch as the page's server has it: the state now, and what a click does. The work is done in a process of its own.

The server imports this and nothing that reads a log: while nothing happens, it is all that is left in memory.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import os
import shutil
import signal
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from builder.desk.following import watch
from builder.desk.watched import States, states
from builder.watching.child import IN_HAND, begin, look, look_and_write
from builder.watching.jobs import QUIET_S, Answer, Asked, FileState, Job, Seen
from builder.watching.states import Place, State
from catalog.errors import CatalogError, CatalogUnusable, InputRefused
from catalog.reading.sources import DESK

Typed = Mapping[Place, Mapping[str, str]]
"""What the tester typed on the page: planned row -> column (level_dbm, note, when) -> text."""

IDLE_S = 25.0  # without a look, until the process that looks is let go
_BESIDE_BOOKS = ("logs", "maps")
_KEPT = "likeloss-watch-"
_DIED = "What reads the logs ended unexpectedly"


def _own_folder() -> Path:
    """A folder that only this user may read; those of watches that were killed are taken away."""
    for old in Path(tempfile.gettempdir()).glob(f"{_KEPT}*"):
        number = old.name.removeprefix(_KEPT).partition("-")[0]
        with suppress(OSError):
            if number.isdigit() and old.stat().st_uid == os.getuid() and not _lives(int(number)):
                shutil.rmtree(old, ignore_errors=True)
    return Path(tempfile.mkdtemp(prefix=f"{_KEPT}{os.getpid()}-"))


def _lives(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        pass
    return True


@dataclass
class Watch:
    """The watch of one batch, in one event loop.

    changed  called in the loop after each change of `state`, which is when `version` has gone up
    clock    what time it is on this machine, in UTC
    """

    batch: Path
    catalog: Path
    changed: Callable[[], None] = lambda: None
    clock: Callable[[], datetime] = lambda: datetime.now(UTC)
    state: State = field(default_factory=lambda: State(""))
    version: int = 0
    idle_s: float = IDLE_S
    _kept: Path = field(default_factory=_own_folder)
    _seen: Seen = field(default_factory=lambda: Seen(State("")))
    _since: dict[str, tuple[FileState, float]] = field(default_factory=dict)
    _shunned: dict[str, FileState] = field(default_factory=dict)
    _typed: dict[Place, dict[str, str]] = field(default_factory=dict)
    _given: dict[str, Place] = field(default_factory=dict)
    _answers: dict[Asked, Answer] = field(default_factory=dict)
    _pool: ProcessPoolExecutor | None = None
    _letting_go: asyncio.TimerHandle | None = None
    _one_at_a_time: asyncio.Lock = field(default_factory=asyncio.Lock)
    _news: asyncio.Event = field(default_factory=asyncio.Event)
    _due: bool = False
    _growing: dict[Path, float] = field(default_factory=dict)  # a log that changed -> when it did
    _came: dict[tuple[int, int], datetime] = field(default_factory=dict)  # as `Job.came`
    _is_folder: bool = True
    _before: States = field(default_factory=dict)  # what the files were before the first look
    _looked: float = 0.0
    _died_over: str = ""

    async def begin(self) -> None:
        """Look for the first time. Raises InputRefused where there is no batch, CatalogUnusable."""
        if not self.batch.exists():
            raise InputRefused(
                f"{self.batch} does not exist. A batch is a folder that holds batch.toml, or a workbook."
            )
        if not self.catalog.exists():
            raise CatalogUnusable(f"There is no catalogue at {self.catalog}.")
        async with self._one_at_a_time:
            self._is_folder = self.batch.is_dir()
            self._before = states(self._folders(), catalog=self.catalog.resolve())
            seen = await self._ask()
            if seen.no_batch:
                raise InputRefused("\n".join(seen.state.trouble))
            self._show(seen)

    async def follow(self, stop: asyncio.Event) -> None:
        """Look again at each change of a file, until *stop*."""

        following = asyncio.create_task(
            watch(self._folders, catalog=self.catalog.resolve(), stop=stop, changed=self._notice, since=self._before)
        )
        following.add_done_callback(lambda _: self._news.set())
        stopping = asyncio.create_task(stop.wait())
        try:
            while not stop.is_set() and not following.done():
                news = asyncio.create_task(self._news.wait())
                await asyncio.wait({news, stopping}, timeout=self._waits_s(), return_when=asyncio.FIRST_COMPLETED)
                news.cancel()
                self._news.clear()
                if stop.is_set() or not self._is_due():
                    continue
                async with self._one_at_a_time:
                    self._show(await self._ask_calmly())
        finally:
            ended = stop.is_set()
            stop.set()
            stopping.cancel()
            try:
                await following
            except Exception as failure:
                if ended:
                    raise
                reason = (isinstance(failure, OSError) and failure.strerror) or failure
                why = f"Changes cannot be followed any more: {reason}. End the watch and begin anew."
                self._show(Seen(State("", trouble=(why,))))

    def _notice(self, paths: set[Path]) -> None:
        """Note what changed: a log is looked at once it has been still for a while, all else at once."""
        for path in paths:
            if path.parent in self._seen.folders and path.is_file():
                self._growing[path] = time.monotonic()
                self._note_coming(path)
            else:
                self._growing.pop(path, None)
                self._due = True
        self._news.set()

    def _note_coming(self, path: Path) -> None:
        """Note when a log was written; of one that was only renamed, or touched otherwise, that is known already."""
        try:
            status = path.stat()
        except OSError:
            return
        writing = status.st_ino, status.st_mtime_ns
        if writing not in {(file.inode, file.written_ns) for file in self._seen.files.values()}:
            self._came.setdefault(writing, self.clock())

    def _waits_s(self) -> float | None:
        """Until a look may be due without any news; None for never. [s]"""
        if self._due:
            return 0.0
        still_at = self._still_at().values()
        return max(min(still_at) - time.monotonic(), 0.0) if still_at else None

    def _still_at(self) -> dict[Path, float]:
        """When each log that may be growing has been still for long enough, if nothing changes it any more."""
        young = {path: self._looked + still_s for path, still_s in self._seen.young.items()}
        return young | {path: at + QUIET_S for path, at in self._growing.items()}

    def _is_due(self) -> bool:
        now = time.monotonic()
        still = [path for path, at in self._still_at().items() if now >= at]
        for path in still:
            self._growing.pop(path, None)
        due, self._due = self._due or bool(still), False
        return due

    async def write(self, key: str, typed: Typed) -> list[str]:
        """Write what `state.writing` of this key showed, with what was typed beside it.

        Returns  why nothing was written, in sentences; none where it was.
        """
        async with self._one_at_a_time:
            self._take(typed)
            seen = await self._ask_calmly(key)
            if not seen.refused:
                self._forget_written(seen.state)
            self._show(seen)
            return list(seen.refused)

    async def settle(self, place: Place, code: str, answer: str, *, column: str = "") -> list[str]:
        """Answer the question of a sense (its place, code and column); returns sentences of refusal."""
        async with self._one_at_a_time:
            asked = Asked(place, code, column)
            question = self._seen.questions.get(asked)
            if question is None:
                return ["This is not asked any more."]
            if not answer or (not question.free and answer not in question.options):
                return ["This is none of its answers."]
            means = question.written.get(answer, answer)
            self._answers[asked] = Answer(asked, question.code, means, question.typed)
            return await self._look_again()

    async def take_back(self, place: Place, code: str, *, column: str = "") -> list[str]:
        """Forget an answer that is not written yet; returns sentences of refusal."""
        async with self._one_at_a_time:
            self._answers.pop(Asked(place, code, column), None)
            return await self._look_again()

    async def give(self, log: str, place: Place | None) -> list[str]:
        """Say which planned row another log is of, None to take that back; returns sentences of refusal."""
        async with self._one_at_a_time:
            if place is None:
                self._given.pop(log, None)
            elif log not in self._seen.files:
                return [f"{log} is not there any more."]
            elif place not in {row.place for row in self.state.rows if row.state != "noted"}:
                return ["This row is noted already, or not in the plan any more."]
            else:
                self._given = {other: of for other, of in self._given.items() if of != place} | {log: place}
            return await self._look_again()

    async def type_in(self, typed: Typed) -> list[str]:
        """Look again with what was typed on the page until now; it is kept until it is written."""
        async with self._one_at_a_time:
            self._take(typed)
            return await self._look_again()

    def close(self) -> None:
        """Let the process go, and take away what was kept of logs."""
        self._let_go()
        shutil.rmtree(self._kept, ignore_errors=True)

    # What is looked at.

    def _folders(self) -> dict[Path, bool]:
        """The folders whose changes may change what is shown, each with whether what lies deeper counts.

        Of one that is away the nearest that is there is watched, until it comes back.
        """
        place = (self.batch if self._is_folder else self.batch.parent).resolve()
        if not place.is_dir():
            return {next((above for above in place.parents if above.is_dir()), place): False}
        if self._is_folder:
            return {place: True}
        beside = {place / name for name in (*_BESIDE_BOOKS, f"{self.batch.stem}.{DESK}")}
        return {place: False} | {folder: True for folder in {*beside, *self._seen.folders} if folder != place}

    async def _look_again(self) -> list[str]:
        seen = await self._ask_calmly()
        self._show(seen)
        return list(seen.state.trouble)

    async def _ask_calmly(self, key: str | None = None) -> Seen:
        """A look; whatever stops it is shown, too, and the next change is looked at all the same."""
        try:
            return await self._ask(key)
        except (CatalogError, OSError) as refusal:
            lines = tuple(str(refusal).splitlines())
        except Exception as failure:
            lines = (f"This is the state before the last change, for a look at it failed: {failure!r}",)
        return Seen(State("", trouble=lines), refused=lines if key is not None else ())

    async def _ask(self, key: str | None = None) -> Seen:
        """A look, with writing where *key* says of what. A process that ends over a log is asked once more without it."""
        loop = asyncio.get_running_loop()
        for _ in range(len(self._seen.files) + 2):
            job = self._job()
            try:
                with _interrupts_held():  # a process begun here keeps them held: Ctrl-C is for this one
                    pool = self._hold()
                    work = partial(look, job) if key is None else partial(look_and_write, job, key)
                    result = loop.run_in_executor(pool, work)
                return await result
            except BrokenProcessPool:
                self._let_go()
                if not self._shun():
                    break
        log = f" over {self._died_over}" if self._died_over else ""
        lines = (f"{_DIED}{log}. It begins anew at the next change.",)
        return Seen(State("", trouble=lines), refused=lines if key is not None else ())

    def _shun(self) -> bool:
        """Leave the log alone over which the process ended; False where it was over none."""
        self._died_over = ""
        try:
            self._died_over = path = (self._kept / IN_HAND).read_text(encoding="utf-8", errors="surrogateescape")
            (self._kept / IN_HAND).unlink()
            root = self.batch if self.batch.is_dir() else self.batch.parent
            status = (root / path).stat()
        except OSError:
            return False
        state = FileState(status.st_size, status.st_mtime_ns, status.st_ctime_ns, status.st_ino)
        if self._shunned.get(path) == state:
            return False
        self._shunned[path] = state
        return True

    def _job(self) -> Job:
        now = time.monotonic()
        return Job(
            batch=self.batch,
            catalog=self.catalog,
            kept=self._kept,
            now=self.clock(),
            came=self._came,
            typed=self._typed,
            given=self._given,
            answers=tuple(self._answers.values()),
            seen={path: (state, now - since) for path, (state, since) in self._since.items()},
            shunned=self._shunned,
        )

    def _show(self, seen: Seen) -> None:
        """Have the page show what a look saw; what could not be read is said beside what was there before."""
        now = self._looked = time.monotonic()
        before = self.state
        if seen.state.trouble and not seen.state.rows:
            self._seen = replace(self._seen, young={})
            self.state = replace(before, title=before.title or self.batch.name, trouble=seen.state.trouble)
        else:
            self._seen = seen
            self._since = {
                path: (state, self._since[path][1] if self._since.get(path, (None,))[0] == state else now)
                for path, state in seen.files.items()
            }
            self.state = seen.state
        if self.state != before:
            self.version += 1
            self.changed()

    def _take(self, typed: Typed) -> None:
        for place, texts in typed.items():
            self._typed[place] = self._typed.get(place, {}) | dict(texts)

    def _forget_written(self, state: State) -> None:
        """What was typed and answered of rows that are noted now stands in the files of the desk."""
        noted = {row.place for row in state.rows if row.state == "noted"}
        self._typed = {place: texts for place, texts in self._typed.items() if place not in noted}
        self._answers = {asked: one for asked, one in self._answers.items() if asked.place not in noted}
        self._given = {log: place for log, place in self._given.items() if place not in noted}

    # The process that looks.

    def _hold(self) -> ProcessPoolExecutor:
        """The process, begun where it was let go; it is let go again a while after this."""
        loop = asyncio.get_running_loop()
        if self._letting_go is not None:
            self._letting_go.cancel()
        self._letting_go = loop.call_later(self.idle_s, self._let_go_when_idle)
        if self._pool is None:
            self._pool = ProcessPoolExecutor(1, multiprocessing.get_context("spawn"), initializer=begin)
        return self._pool

    def _let_go_when_idle(self) -> None:
        if self._one_at_a_time.locked() or self._seen.young:
            self._letting_go = asyncio.get_running_loop().call_later(self.idle_s, self._let_go_when_idle)
        else:
            self._let_go()

    def _let_go(self) -> None:
        pool, self._pool = self._pool, None
        if self._letting_go is not None:
            self._letting_go.cancel()
            self._letting_go = None
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)


@contextmanager
def _interrupts_held() -> Iterator[None]:
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
