"""What a page says of a withdrawal: the page stays, the figures are gone, and the reason is given."""

from __future__ import annotations

from builder import wording
from builder.pages.contents import Catalogue


def withdrawal_notes(catalogue: Catalogue, what: tuple[str, ...], thing: str, name: str) -> tuple[str, ...]:
    """A sentence for each withdrawal of *thing* or of a part of it ("device/unit", "device@version").

    what  the kinds of thing to look for, because ids of different kinds may be the same
    name  of the thing, as people call it
    """
    return tuple(
        f"{name}{_part(w.id.removeprefix(thing))} was withdrawn on {wording.date(w.from_date)}: {w.reason.rstrip('.')}."
        for w in catalogue.withdrawals
        if w.what in what and (w.id == thing or w.id.startswith((f"{thing}/", f"{thing}@")))
    )


def _part(rest: str) -> str:
    """ ", unit B" or ", firmware 1.4" of what stands behind the id of a device."""
    return f", {'unit' if rest[0] == '/' else 'firmware'} {rest[1:]}," if rest else ""


def device_withdrawn(catalogue: Catalogue, device_id: str) -> bool:
    """Whether a device as a whole was withdrawn, so that having no results does not mean that it was not tested."""
    return any(w.what == "device" and w.id == device_id for w in catalogue.withdrawals)
