"""A preview on this machine: pages by their addresses, and word to the pages in view when they change."""

from __future__ import annotations

import asyncio
import mimetypes
import signal
import socket
from collections.abc import AsyncIterator, Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeVar

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from builder.desk.answering import Answering
from builder.desk.desk import Desk
from builder.desk.dressing import EVENTS
from builder.desk.following import watch
from builder.desk.guarding import Guard

Result = TypeVar("Result")
_ALIVE_S = 15.0  # between signs of life, by which a closed page is noticed
_LOOKED_AT_S = 2.0  # by then the first page has been asked for, if somebody is there
_SUFFIXES = {
    ".js": "text/javascript",
    ".db": "application/vnd.sqlite3",
    ".xml": "application/xml",
    ".json": "application/json",
}


class Preview:
    """A desk as a site. Everything but the work itself runs in one event loop."""

    def __init__(self, desk: Desk, *, port: int) -> None:
        self.desk = desk
        self.answering = Answering(desk)
        routes = [Route(f"/{EVENTS}", self._events), Route("/{path:path}", self._page)]
        self.app = Guard(Starlette(routes=routes), port)
        self.stop = asyncio.Event()
        self._news = asyncio.Event()
        self._version = 0

    async def _page(self, request: Request) -> Response:
        answer = await self._from(self.answering.answer, request.url.path)
        if answer.status == 307:
            return RedirectResponse(answer.address)
        suffix = Path(answer.address).suffix
        kind = _SUFFIXES.get(suffix) or mimetypes.types_map.get(suffix, "application/octet-stream")
        return Response(answer.content, answer.status, media_type=kind)

    async def _events(self, request: Request) -> Response:
        """Server-sent events (WHATWG HTML, 9.2): "changed" when the page in view would be another now."""
        address, shown = request.query_params.get("page", ""), request.query_params.get("shown", "")
        return StreamingResponse(self._changes(address, shown), media_type="text/event-stream")

    async def _changes(self, address: str, shown: str) -> AsyncIterator[str]:
        seen = -1
        while not self.stop.is_set():
            if seen == self._version:
                yield ":\n\n"  # a sign of life
            else:
                seen = self._version
                now = await self._from(self.answering.shown, address)
                if now != shown:
                    shown = now
                    yield "event: changed\ndata:\n\n"
            await self._news_or_a_while(seen)

    async def _news_or_a_while(self, seen: int) -> None:
        """Until something else may be shown, or stop, or for a while."""
        if self._version == seen:
            news, stopped = asyncio.create_task(self._news.wait()), asyncio.create_task(self.stop.wait())
            _, waiting = await asyncio.wait({news, stopped}, timeout=_ALIVE_S, return_when=asyncio.FIRST_COMPLETED)
            for task in waiting:
                task.cancel()

    async def _from(self, answering: Callable[..., Result | None], *about: object) -> Result:
        """The answer of who composes pages, who is not kept waiting for downloads."""
        while (answer := await self._in(self.desk.pages, answering, *about)) is None:
            await self._in(self.desk.loader, self.desk.load)
        return answer

    async def _in(self, threads: ThreadPoolExecutor, work: Callable[..., Result], *about: object) -> Result:
        return await asyncio.get_running_loop().run_in_executor(threads, work, *about)

    async def follow(self) -> None:
        """Follow the desk's files until stop."""
        changed: asyncio.Queue[set[Path]] = asyncio.Queue()
        loop = asyncio.get_running_loop()

        def tell() -> None:
            with suppress(RuntimeError):  # the loop has ended, and nobody looks any more
                loop.call_soon_threadsafe(self._tell)

        async def remake() -> None:
            while True:
                paths = await changed.get()
                while not changed.empty():  # what changed while others were made is made at once
                    paths |= changed.get_nowait()
                await self._in(self.desk.maker, self.desk.follow, paths)

        self.desk.changed = tell
        making = loop.create_task(remake())
        going_on = loop.call_later(_LOOKED_AT_S, self.desk.go_on)
        catalog = self.desk.catalog.resolve()
        try:
            await watch(
                lambda: self.desk.watched,
                catalog=catalog,
                stop=self.stop,
                changed=changed.put_nowait,
                since=self.desk.since,
            )
        finally:
            making.cancel()
            going_on.cancel()

    def _tell(self) -> None:
        """Wake all who wait for news, and have others wait for the next."""
        self._version += 1
        self._news.set()
        self._news = asyncio.Event()


class _Server(uvicorn.Server):
    """A server that leaves signals to `_serve`, which has pages in view to let go first."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


def serve(desk: Desk, on: socket.socket, *, ready: Callable[[], None]) -> None:
    """Serve a desk until SIGINT or SIGTERM.

    ready   called when the first page can be asked for
    Raises  KeyboardInterrupt once all is let go.
    """
    asyncio.run(_serve(desk, on, ready))
    raise KeyboardInterrupt


async def _serve(desk: Desk, on: socket.socket, ready: Callable[[], None]) -> None:
    preview = Preview(desk, port=on.getsockname()[1])
    config = uvicorn.Config(
        preview.app, log_config=None, access_log=False, server_header=False, timeout_graceful_shutdown=2
    )
    server = _Server(config)

    def leave() -> None:
        server.should_exit = True
        preview.stop.set()

    for sign in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(sign, leave)
    following = asyncio.create_task(preview.follow())
    ready()
    try:
        await server.serve(sockets=[on])
    finally:
        preview.stop.set()
        desk.end()
        await following
