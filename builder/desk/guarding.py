"""Who may read a preview: a browser on this machine, for pages of this preview.

It holds what nobody may see yet, and any site that is open in the same browser may send requests here. So besides the
loopback address, a request has to name this host and port (a hostile DNS entry could lead here), and must not come from
a page of elsewhere, be it for a script or a picture that such a page would take in.
"""

from __future__ import annotations

import socket
from collections.abc import Mapping

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from catalog.errors import InputRefused

LOOPBACK = "127.0.0.1"
NAMES = (LOOPBACK, "localhost")

ADDED = {
    "X-Robots-Tag": "noindex, nofollow",
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Content-Security-Policy": "frame-ancestors 'self'",
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


class Guard:
    """Passes on what comes from this machine for the preview at *port*, and says with every answer that it is one."""

    def __init__(self, app: ASGIApp, port: int) -> None:
        self.app = app
        self.hosts = [f"{name}:{port}" for name in NAMES] + (list(NAMES) if port == 80 else [])

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def marked(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in ADDED.items():
                    headers[name] = value
            await send(message)

        refusal = self.refusal(Headers(scope=scope), scope["method"])
        answer = self.app if refusal is None else PlainTextResponse(refusal, status_code=403)
        await answer(scope, receive, marked)

    def refusal(self, headers: Mapping[str, str], method: str) -> str | None:
        """Why a request is refused, as a sentence; None where it is not."""
        if headers.get("host", "").lower() not in self.hosts:
            return "This preview answers only to this machine, under 127.0.0.1 or localhost and its own port."
        origin = headers.get("origin")
        if origin is not None and origin not in [f"http://{host}" for host in self.hosts]:
            return "This preview answers only to its own pages."
        # Fetch Metadata (W3C): a link that a person followed from elsewhere may open a page; nothing else may be taken.
        opens_a_page = headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") == "document"
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin") and not opens_a_page:
            return "This preview answers only to its own pages."
        if method not in ("GET", "HEAD"):
            return "A preview can only be looked at."
        return None
