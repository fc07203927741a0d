"""What a page says of a withdrawal: the page stays, the figures are gone, and the reason is given."""

from __future__ import annotations

from builder import wording
from builder.pages.contents import Catalogue


def withdrawal_notes(catalogue: Catalogue, what: tuple[str, ...], thing: str) -> tuple[str, ...]:
    """A sentence for each withdrawal of *thing* or of a part of it ("device/unit", "device@version").

    what  the kinds of thing to look for, because ids of different kinds may be the same
    """
    return tuple(
        f"{wording.capital(w.what)} {w.id} was withdrawn on {wording.date(w.from_date)}: {w.reason.rstrip('.')}."
        for w in catalogue.withdrawals
        if w.what in what and (w.id == thing or w.id.startswith((f"{thing}/", f"{thing}@")))
    )
