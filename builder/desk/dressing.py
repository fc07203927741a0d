"""What a preview adds to a page of the site: the script that shows it anew, and a panel of what is wrong."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from html import escape

from builder.desk.batches import Trouble

# No address of the site begins with a tilde.
SCRIPT, LISTENING = "~preview/reload.js", "~preview/listening.js"
STYLE, EVENTS = "~preview/panel.css", "~preview/events"

_POLICY = 'content="default-src'
_MORE = "content=\"connect-src 'self'; default-src"  # the script listens to this preview and nothing else
_HEAD, _BANNER, _BODY = "</head>", '<p class="hidden-banner"', "<body"


def shown_as(page: bytes, panel: str) -> str:
    """What a browser says to be shown what it shows already."""
    return hashlib.sha256(page + b"\n" + panel.encode()).hexdigest()[:24]


def dressed(page: bytes, address: str, panel: str) -> bytes:
    """The page of the site at *address* as a preview serves it."""
    html = page.decode().replace(_POLICY, _MORE, 1)
    data = f'data-events="/{EVENTS}" data-page="{escape(address)}" data-shown="{shown_as(page, panel)}"'
    scripts = f'<script src="/{LISTENING}" defer></script>\n<script src="/{SCRIPT}" {data} defer></script>\n'
    head = f'<link rel="stylesheet" href="/{STYLE}">\n{scripts}'
    html = html.replace(_HEAD, head + _HEAD, 1)
    if not panel:
        return html.encode()
    start = html.find(_BANNER)
    place = html.find("</p>", start) + len("</p>") if start >= 0 else html.find(">", html.find(_BODY)) + 1
    return f"{html[:place]}\n{panel}{html[place:]}".encode()


def panel_of(troubles: Sequence[Trouble], remarks: Sequence[str] = ()) -> str:
    """What is wrong, as HTML; "" where nothing is.

    remarks  what the author of the page should look at
    """
    if not troubles and not remarks:
        return ""
    parts = [f"<p>{escape(trouble.title)}</p>\n<ul>\n{_lines(trouble)}</ul>\n" for trouble in troubles]
    if remarks:
        items = "".join(f"<li>{escape(remark)}</li>\n" for remark in remarks)
        parts.append(f"<details><summary>Look at: {len(remarks)}</summary>\n<ul>\n{items}</ul>\n</details>\n")
    return f'<aside class="desk-panel" aria-label="What to settle">\n{"".join(parts)}</aside>\n'


def _lines(trouble: Trouble) -> str:
    return "".join(
        f'<li><a href="{escape(place)}">{escape(line)}</a></li>\n' if place else f"<li>{escape(line)}</li>\n"
        for line, place in trouble.lines
    )


def bare_page(title: str, panel: str) -> bytes:
    """A page for where none of the site can be shown."""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; script-src 'self'; style-src 'self'\">\n"
        '<meta name="robots" content="noindex, nofollow">\n'
        f"<title>{escape(title)}</title>\n</head>\n<body>\n<main>\n<h1>{escape(title)}</h1>\n{panel}</main>\n</body>\n</html>\n"
    ).encode()
