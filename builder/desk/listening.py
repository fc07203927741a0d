"""Word to the pages in view: server-sent events (WHATWG HTML, 9.2) about something that changes."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable

ALIVE_S = 15.0  # between signs of life, by which a closed page is noticed


class News:
    """That something may be shown otherwise now, told to all who wait for it. For one event loop."""

    def __init__(self) -> None:
        self.stop = asyncio.Event()
        self._version = 0
        self._news = asyncio.Event()

    def tell(self) -> None:
        """Wake all who wait for news, and have others wait for the next."""
        self._version += 1
        self._news.set()
        self._news = asyncio.Event()

    async def changes(self, shown: str, now: Callable[[], Awaitable[str]]) -> AsyncIterator[str]:
        """The events of one page in view until stop: "changed" whenever it would show something else.

        shown   what tells what it shows from what it showed before
        now     asks what it would show
        """
        seen = -1
        while not self.stop.is_set():
            if seen == self._version:
                yield ":\n\n"  # a sign of life
            else:
                seen = self._version
                latest = await now()
                if latest != shown:
                    shown = latest
                    yield "event: changed\ndata:\n\n"
            await self._news_or_a_while(seen)

    async def _news_or_a_while(self, seen: int) -> None:
        """Until something else may be shown, or stop, or for a while."""
        if self._version == seen:
            news, stopped = asyncio.create_task(self._news.wait()), asyncio.create_task(self.stop.wait())
            _, waiting = await asyncio.wait({news, stopped}, timeout=ALIVE_S, return_when=asyncio.FIRST_COMPLETED)
            for task in waiting:
                task.cancel()
