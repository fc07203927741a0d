"""The glossary: what the words on these pages mean."""

from __future__ import annotations

from builder import addresses, wording
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Section
from builder.pages.parts.provenance import provenance
from builder.pages.parts.sectioned import SectionedPage
from builder.pages.parts.terms import TERMS, term_key


def glossary_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SectionedPage:
    """Every word, in a section of its own."""
    here = addresses.GLOSSARY
    return SectionedPage(
        address=here,
        title="Glossary",
        question="What does that word mean here?",
        verdict=f"{wording.capital(wording.count(len(TERMS), 'word'))}, as they are used on these pages; the method "
        "page says how the figures behind them are made.",
        sections=tuple(
            Section(term_key(term), wording.capital(term), (meaning,))
            for term, meaning in sorted(TERMS.items(), key=lambda item: item[0].casefold())
        ),
        provenance=provenance(catalogue, results, site, here),
    )
