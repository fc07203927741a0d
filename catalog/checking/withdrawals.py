"""A withdrawal must name something that exists, or else the results it is meant to hide stay in view."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from catalog.checking.known import Known
from catalog.checking.names import unknown
from catalog.checking.troubles import Trouble
from catalog.records.origins import names_row
from catalog.row_numbers import typed_place

_THINGS: Mapping[str, Callable[[Known], Iterable[str]]] = {
    "device": lambda known: known.devices,
    "unit": lambda known: (f"{name}/{unit}" for name, device in known.devices.items() for unit in device.units),
    "firmware": lambda known: (f"{name}@{text}" for name, device in known.devices.items() for text in device.firmware),
    "client": lambda known: known.clients,
    "session": lambda known: known.sessions,
    "article": lambda known: (row["article_id"] for row in known.of("article")),
    "batch": lambda known: (row["batch_id"] for row in known.of("batch")),
    "mix": lambda known: {row["mix_id"] for row in known.measured("station")},
    "image": lambda known: {row["path"] for row in known.measured("image")},
}
_ROWS = ("run", "station", "longrun", "feature", "heat", "power", "part", "price", "bridge", "dispute")
WHAT = (*_THINGS, *_ROWS)


def subject_trouble(what: str, subject: str, known: Known) -> Trouble | None:
    """Why a withdrawal of *subject* is not taken; None when there is such a thing or row in the catalogue."""
    if what in _THINGS:
        there = set(_THINGS[what](known))
        form = {"unit": "device/unit", "firmware": "device@version"}.get(what, "its id")
        register = f"Write {form}, as the catalogue has it."
        return None if subject in there else unknown(what, subject, there, register=register)
    if what not in _ROWS:
        return Trouble(f"{what!r} cannot be withdrawn.", f"What can is: {', '.join(WHAT)}.", "unknown-word")
    batch, _, rest = subject.partition("/")
    name, _, number = rest.rpartition("/")
    files: set[str] = set()
    if (place := typed_place(number)) is not None:
        rows = [*known.measured(what), *(row for row in known.measured("row_again") if row["table_name"] == what)]
        files = {
            row["source_file"]
            for row in rows
            if row["batch_id"] == batch and names_row(name, place, row["source_file"], row["source_row"])
        }
    if len(files) > 1:
        return Trouble(
            f"{subject!r} would be a row of {' and of '.join(sorted(files))}.",
            f"Name the file, such as {batch}/{min(files)}/{number}.",
            "two-sources",
        )
    if files:
        return None
    return Trouble(
        f"There is no {what} at {subject!r}.",
        "Write batch/table/row, such as 2025-05-shale-2/runs/14; the header is row 1.",
        "unknown-row",
    )
