"""A preview on this machine: pages by their addresses, and word to the pages in view when they change."""

from __future__ import annotations

import asyncio
import mimetypes
import socket
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from builder.desk.answering import Answering
from builder.desk.desk import Desk
from builder.desk.dressing import EVENTS
from builder.desk.following import watch
from builder.desk.guarding import Guard
from builder.desk.hosting import host
from builder.desk.listening import News

Result = TypeVar("Result")
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
        self.news = News()

    async def _page(self, request: Request) -> Response:
        answer = await self._from(self.answering.answer, request.url.path)
        if answer.status == 307:
            return RedirectResponse(answer.address)
        suffix = Path(answer.address).suffix
        kind = _SUFFIXES.get(suffix) or mimetypes.types_map.get(suffix, "application/octet-stream")
        return Response(answer.content, answer.status, media_type=kind)

    async def _events(self, request: Request) -> Response:
        """Word to a page in view whenever it would be another now."""
        address, shown = request.query_params.get("page", ""), request.query_params.get("shown", "")

        async def now() -> str:
            return await self._from(self.answering.shown, address)

        return StreamingResponse(self.news.changes(shown, now), media_type="text/event-stream")

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
                loop.call_soon_threadsafe(self.news.tell)

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
                stop=self.news.stop,
                changed=changed.put_nowait,
                since=self.desk.since,
            )
        finally:
            making.cancel()
            going_on.cancel()


def serve(desk: Desk, on: socket.socket, *, ready: Callable[[], None]) -> None:
    """Serve a desk until SIGINT or SIGTERM.

    ready   called when the first page can be asked for
    Raises  KeyboardInterrupt once all is let go.
    """
    asyncio.run(_serve(desk, on, ready))
    raise KeyboardInterrupt


async def _serve(desk: Desk, on: socket.socket, ready: Callable[[], None]) -> None:
    preview = Preview(desk, port=on.getsockname()[1])
    await host(preview.app, on, follow=preview.follow, stop=preview.news.stop, ready=ready, end=desk.end)
