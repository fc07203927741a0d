"""A preview on this machine: pages by their addresses, and word to the pages in view when they change."""

from __future__ import annotations

import asyncio
import mimetypes
import socket
from collections.abc import AsyncIterator, Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from types import FrameType
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
from builder.desk.guarding import LOOPBACK, Guard
from catalog.errors import InputRefused

Result = TypeVar("Result")
_ALIVE_S = 15.0  # between signs of life, by which a closed page is noticed
_SUFFIXES = {
    ".js": "text/javascript",
    ".db": "application/vnd.sqlite3",
    ".xml": "application/xml",
    ".json": "application/json",
}


def socket_of(port: int) -> socket.socket:
    """A socket on the loopback address; port 0 takes any that is free.

    Raises  InputRefused when the port is taken or needs more rights.
    """
    taken = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        taken.bind((LOOPBACK, port))
        taken.listen()
    except OSError as failure:
        taken.close()
        reason = (failure.strerror or str(failure)).lower()
        raise InputRefused(f"Port {port} cannot be used: {reason}. Name another with --port.") from failure
    return taken


class Preview:
    """A desk as a site. Everything but the work itself runs in one event loop."""

    def __init__(self, desk: Desk, *, port: int) -> None:
        self.desk = desk
        self.answering = Answering(desk)
        routes = [Route(f"/{EVENTS}", self._events), Route("/{path:path}", self._page)]
        self.app = Guard(Starlette(routes=routes), port)
        self.stop = asyncio.Event()
        self._news = asyncio.Condition()
        self._version = 0

    async def _page(self, request: Request) -> Response:
        answer = await self._in(self.desk.pages, self.answering.answer, request.url.path)
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
                now = await self._in(self.desk.pages, self.answering.shown, address)
                if now != shown:
                    shown = now
                    yield "event: changed\ndata:\n\n"
            await self._news_or_a_while(seen)

    async def _news_or_a_while(self, seen: int) -> None:
        with suppress(TimeoutError):
            async with asyncio.timeout(_ALIVE_S), self._news:
                await self._news.wait_for(lambda: self._version != seen or self.stop.is_set())

    async def _in(self, threads: ThreadPoolExecutor, work: Callable[..., Result], *about: object) -> Result:
        return await asyncio.get_running_loop().run_in_executor(threads, work, *about)

    async def follow(self) -> None:
        """Follow the desk's files until stop."""
        changed: asyncio.Queue[set[Path]] = asyncio.Queue()
        loop = asyncio.get_running_loop()

        def tell() -> None:
            loop.call_soon_threadsafe(lambda: loop.create_task(self._tell()))

        async def remake() -> None:
            while True:
                paths = await changed.get()
                while not changed.empty():  # what changed while others were made is made at once
                    paths |= changed.get_nowait()
                await self._in(self.desk.maker, self.desk.follow, paths)

        self.desk.changed = tell
        making = loop.create_task(remake())
        catalog = self.desk.catalog.resolve()
        try:
            await watch(self.desk.watched, catalog=catalog, stop=self.stop, told=changed.put_nowait)
        finally:
            making.cancel()

    async def _tell(self) -> None:
        async with self._news:
            self._version += 1
            self._news.notify_all()

    async def end(self) -> None:
        """Let the pages in view and the watching go."""
        self.stop.set()
        await self._tell()


class _Server(uvicorn.Server):
    """A server that lets open pages go when it is told to end."""

    def __init__(self, config: uvicorn.Config, preview: Preview, loop: asyncio.AbstractEventLoop) -> None:
        super().__init__(config)
        self._preview = preview
        self._loop = loop

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        self._loop.call_soon_threadsafe(lambda: self._loop.create_task(self._preview.end()))
        super().handle_exit(sig, frame)


def serve(desk: Desk, on: socket.socket, *, ready: Callable[[], None]) -> None:
    """Serve a desk until SIGINT or SIGTERM, which is raised again once all is let go.

    ready  called when the first page can be asked for
    """
    asyncio.run(_serve(desk, on, ready))


async def _serve(desk: Desk, on: socket.socket, ready: Callable[[], None]) -> None:
    preview = Preview(desk, port=on.getsockname()[1])
    config = uvicorn.Config(
        preview.app, log_config=None, access_log=False, server_header=False, timeout_graceful_shutdown=2
    )
    server = _Server(config, preview, asyncio.get_running_loop())
    following = asyncio.create_task(preview.follow())
    ready()
    try:
        await server.serve(sockets=[on])
    finally:
        await preview.end()
        desk.end()
        with suppress(asyncio.CancelledError):
            await following
