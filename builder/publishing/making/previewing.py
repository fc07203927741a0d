"""A preview: everything in the catalogue as pages, hidden things marked, in a folder that is never a public site's."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from http import HTTPStatus
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from builder.publishing.changing.site_folder import staged
from builder.publishing.checking.reports import BuildReport, Progress
from builder.publishing.making.building import compose_site
from catalog.errors import InputRefused
from catalog.whole_files import require_apart


def build_preview(
    catalog: Path,
    out: Path,
    *,
    as_of: datetime,
    jobs: int,
    progress: Progress,
    templates: Path | None = None,
) -> BuildReport:
    """Build a preview of *catalog* into the folder *out*; what is hidden at the instant *as_of* is marked as such.

    Raises  BuildRefused: *out* is a public site, or another folder that is not a preview; then it is as it was.
    """
    require_apart(out, catalog=catalog)
    with staged(out, preview=True) as stage:
        return compose_site(
            catalog, stage, as_of=as_of, jobs=jobs, progress=progress, templates=templates, preview=True
        )


LOOPBACK = "127.0.0.1"


class _Pages(SimpleHTTPRequestHandler):
    """Files of one folder. A request under any other host name is refused, because a hostile DNS entry could lead here."""

    def parse_request(self) -> bool:
        if not super().parse_request():
            return False
        host = (self.headers.get("Host") or "").rsplit(":", 1)[0]
        if host not in (LOOPBACK, "localhost"):
            self.send_error(HTTPStatus.FORBIDDEN, "This preview answers only to this machine.")
            return False
        return True

    def end_headers(self) -> None:
        self.send_header("X-Robots-Tag", "noindex, nofollow")
        self.send_header("Cache-Control", "no-store")
        super().end_headers()

    def log_message(self, format: str, *args: Any) -> None:
        """Log nothing: the person at the browser knows what was requested."""


def server_of(folder: Path, *, port: int) -> ThreadingHTTPServer:
    """A server of *folder* on the loopback address; port 0 takes any that is free. It serves once serve_forever is called.

    Raises  InputRefused when the port is taken or needs more rights.
    """
    try:
        return ThreadingHTTPServer((LOOPBACK, port), partial(_Pages, directory=str(folder)))
    except OSError as failure:
        reason = (failure.strerror or str(failure)).lower()
        raise InputRefused(f"Port {port} cannot be used: {reason}. Name another with --port.") from failure
