"""A page of this machine served until it is stopped."""

from __future__ import annotations

import asyncio
import signal
import socket
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager

import uvicorn
from starlette.types import ASGIApp


class _Server(uvicorn.Server):
    """A server that leaves signals to `host`, which has pages in view to let go first."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


async def host(
    app: ASGIApp,
    on: socket.socket,
    *,
    follow: Callable[[], Awaitable[None]],
    stop: asyncio.Event,
    ready: Callable[[], None],
    end: Callable[[], None],
) -> None:
    """Serve *app* until SIGINT or SIGTERM.

    follow  what goes on beside it until *stop*, which lets pages in view go
    ready   called when the first page can be asked for
    end     called when none is answered any more
    """
    config = uvicorn.Config(app, log_config=None, access_log=False, server_header=False, timeout_graceful_shutdown=2)
    server = _Server(config)

    def leave() -> None:
        server.should_exit = True
        stop.set()

    for sign in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(sign, leave)
    following = asyncio.ensure_future(follow())
    ready()
    try:
        await server.serve(sockets=[on])
    finally:
        stop.set()
        end()
        await following
