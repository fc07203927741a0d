"""Who may read a preview or a watch, and write by it: a browser on this machine, from its own pages.

It holds what nobody may see yet, and any site that is open in the same browser may send requests here. So besides the
loopback address, a request has to name this host and port (a hostile DNS entry could lead here), and must not come from
a page of elsewhere, be it for a script or a picture that such a page would take in. A form has to say that it comes
from here; pages that have forms put a token into them as well, which only who may read the page can know.
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
    """Passes on what comes from this machine for what is served at *port*, and says with every answer what it is.

    what    "preview"
    forms   whether its own pages may send forms; otherwise it can only be looked at
    added   headers of every answer beside, or instead of, `ADDED`
    """

    def __init__(
        self, app: ASGIApp, port: int, *, what: str = "preview", forms: bool = False, added: Mapping[str, str] = ADDED
    ) -> None:
        self.app = app
        self.what = what
        self.forms = forms
        self.added = {**ADDED, **added}
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
                for name, value in self.added.items():
                    headers[name] = value
            await send(message)

        refusal = self.refusal(Headers(scope=scope), scope["method"])
        answer = self.app if refusal is None else PlainTextResponse(refusal, status_code=403)
        await answer(scope, receive, marked)

    def refusal(self, headers: Mapping[str, str], method: str) -> str | None:
        """Why a request is refused, as a sentence; None where it is not."""
        if headers.get("host", "").lower() not in self.hosts:
            return f"This {self.what} answers only to this machine, under 127.0.0.1 or localhost and its own port."
        site, origin = headers.get("sec-fetch-site", "none"), headers.get("origin")
        elsewhere = f"This {self.what} answers only to its own pages."
        if origin is not None and origin not in [f"http://{host}" for host in self.hosts]:
            return elsewhere
        if method == "POST" and self.forms:
            # Every browser sends the origin with a form; some old ones send nothing of Fetch Metadata.
            from_here = origin == f"http://{headers['host'].lower()}"
            return None if from_here and headers.get("sec-fetch-site", "same-origin") == "same-origin" else elsewhere
        # Fetch Metadata (W3C): a link that a person followed from elsewhere may open a page; nothing else may be taken.
        opens_a_page = headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") == "document"
        if site not in ("none", "same-origin") and not opens_a_page:
            return elsewhere
        if method not in ("GET", "HEAD"):
            return f"A {self.what} can only be looked at."
        return None
