"""The page a host shows for a missing address. It may be shown at any depth, so it needs no other file.

Its links begin at the root of whatever host serves it, with the path of the site's own address: a reader of a preview on
another host stays there. Where the site lies elsewhere on that host, the last link leads to the host's own start.
"""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from typing import ClassVar
from urllib.parse import urlsplit

from builder import addresses
from builder.pages.contents import SiteContext
from builder.pages.parts.blocks import Link, Page

# A style sheet may be out of reach, so the few colours of css/tokens.css that it needs are repeated here.
STYLE = """
:root { color-scheme: light dark; background: #FAF7F0; color: #26221C }
body { font: 1.0625rem/1.5 Georgia, serif; max-width: 40rem; margin: 3rem auto; padding: 0 1rem }
a { display: inline-flex; align-items: center; min-height: 2.75rem; color: #24527A }
@media (prefers-color-scheme: dark) { :root { background: #1A1815; color: #ECE5D8 } a { color: #9CC3E6 } }
"""

HOST = "/"


@dataclass(frozen=True, kw_only=True)
class NotFoundPage(Page):
    """Where to go instead. The style is inline, allowed by its hash."""

    template: ClassVar[str] = "not_found"
    canonical: ClassVar[bool] = False

    style: str
    policy: str
    ways: tuple[Link, ...]


def not_found_page(site: SiteContext) -> NotFoundPage:
    """The page for missing addresses; without an address of the site its links work beside the start only."""
    here = addresses.NOT_FOUND
    digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
    base = urlsplit(site.address).path if site.address else ""
    ways = (
        ("The start", addresses.START),
        ("All devices", addresses.DEVICES),
        ("All pairs", addresses.PAIRS),
        ("All rankings", addresses.RANKINGS),
        ("All reviews", addresses.REVIEWS),
    )
    return NotFoundPage(
        address=here,
        title="Not here",
        question="Where is it?",
        verdict="There is no page at this address. Addresses are never reused, so it may have been mistyped.",
        style=STYLE,
        policy=f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'",
        ways=(
            *(Link(text, base + target if base else addresses.link(here, target)) for text, target in ways),
            *(() if base == HOST else (Link("The start of this host", HOST),)),
        ),
    )
