"""What surrounds every page: the site's name, the ways through it, and the publisher."""

from __future__ import annotations

from builder import addresses, wording
from builder.pages.contents import DEFAULT_LICENCE, SiteContext
from builder.pages.parts.blocks import Frame, Link, Section
from builder.pages.parts.terms import words_of

# The few ways that most readers go, in words short enough for a phone.
WAYS = (
    ("My room", addresses.MY_ROOM),
    ("Compare", addresses.CHOOSER),
    ("Rankings", addresses.RANKINGS),
    ("Devices", addresses.DEVICES),
    ("Search", addresses.SEARCH),
)
# All of them, by the reader's situation. A page type that no other list leads to belongs here.
QUESTIONS = (
    (
        "Where I sit",
        (
            ("What would I get here?", addresses.MY_ROOM),
            ("Which of these gives more?", addresses.CHOOSER),
            ("Which is fastest where I sit?", addresses.RANKINGS),
            ("Which pairs are compared already?", addresses.PAIRS),
            ("What is 70 dB in a house?", addresses.HOUSES),
        ),
    ),
    (
        "With several people at once",
        (
            ("Which devices cope?", addresses.WORKLOADS),
            ("What broke off, and when?", addresses.COLLAPSES),
            ("Which features work?", addresses.FEATURES),
        ),
    ),
    (
        "Before I buy or mount",
        (
            ("Which devices were tested?", addresses.DEVICES),
            ("Will my switch power it?", addresses.POWER),
            ("What does it cost over years?", addresses.PRICES),
            ("Which two are the same inside?", addresses.INSIDES),
            ("Which got better by firmware?", addresses.FIRMWARE),
            ("What did the tests find?", addresses.REVIEWS),
        ),
    ),
    (
        "Can I trust it?",
        (
            ("How are figures made?", addresses.METHOD),
            ("Which clients were used?", addresses.CLIENTS),
            ("Can I repeat a test?", addresses.RECIPES),
            ("Download the data", addresses.DATA),
            ("What is new, and why?", addresses.CHANGES),
            ("What do the words mean?", addresses.GLOSSARY),
            ("Where is it?", addresses.SEARCH),
        ),
    ),
)


# The pages that say the instant of the build. On any other it would change the page although nothing on it changed.
OF_THE_INSTANT = (addresses.START, addresses.DATA)


def frame(site: SiteContext, here: str, *, style: str, icon: str, script: str) -> Frame:
    """The frame of the page at *here*; style, icon and script are addresses."""
    return Frame(
        site_title=site.title,
        language=site.language or "en",
        style=addresses.link(here, style),
        icon=addresses.link(here, icon),
        script=addresses.link(here, script),
        home=addresses.link(here, addresses.START),
        ways=tuple(Link(text, addresses.link(here, target)) for text, target in WAYS),
        questions=tuple(
            Section(heading, heading, links=tuple(Link(text, addresses.link(here, target)) for text, target in ways))
            for heading, ways in QUESTIONS
        ),
        current=_current(here),
        as_of=wording.instant(site.as_of) if here in OF_THE_INSTANT else "",
        licence=site.licence or DEFAULT_LICENCE,
        words=words_of(here),
        author=site.author or "",
        contact=site.contact or "",
    )


def _current(here: str) -> tuple[str, ...]:
    """Texts of the ways that lead to the folder a page lies in, or to the page itself."""
    every = [*WAYS, *(way for _, ways in QUESTIONS for way in ways)]
    return tuple(text for text, target in every if target.split("/")[0] == here.split("/")[0])
