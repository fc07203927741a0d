"""What is around every page: the site's name, the ways through it, and who publishes."""

from __future__ import annotations

from builder import addresses, wording
from builder.pages.blocks import Frame, Link
from builder.pages.glossary import words_of
from builder.pages.material import DEFAULT_LICENCE, Material

WAYS = (
    ("My room", addresses.MY_ROOM),
    ("Devices", addresses.DEVICES),
    ("Compare", addresses.CHOOSER),
    ("Pairs", addresses.PAIRS),
    ("Rankings", addresses.RANKINGS),
    ("Workloads", addresses.WORKLOADS),
    ("Clients", addresses.CLIENTS),
    ("Houses", addresses.HOUSES),
    ("Reviews", addresses.REVIEWS),
    ("Method", addresses.METHOD),
    ("Data", addresses.DATA),
    ("What is new", addresses.CHANGES),
    ("Glossary", addresses.GLOSSARY),
    ("Search", addresses.SEARCH),
)


def frame(material: Material, here: str, *, style: str, icon: str, script: str) -> Frame:
    """The frame of the page at *here*; style, icon and script are addresses."""
    site = material.site
    folder = here.split("/")[0]
    return Frame(
        site_title=site.title,
        language=site.language or "en",
        style=addresses.link(here, style),
        icon=addresses.link(here, icon),
        script=addresses.link(here, script),
        home=addresses.link(here, addresses.START),
        ways=tuple(Link(text, addresses.link(here, target)) for text, target in WAYS),
        current=next((text for text, target in WAYS if target.split("/")[0] == folder), ""),
        as_of=wording.instant(material.as_of),
        licence=site.licence or DEFAULT_LICENCE,
        words=words_of(here),
        author=site.author or "",
        contact=site.contact or "",
    )
