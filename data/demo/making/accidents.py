"""What went wrong, planted on purpose: each entry says where and what the bench wrote down."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Accident:
    """An attempt without a value. *again*: one more repeat was made at the end of the cell."""

    outcome: str
    note: str
    again: bool = False
    radar: bool = False


# (session, device, client, band, direction, spot number, repeat)
Key = tuple[str, str, str, str, str, str, int]

_NO_LINK = Accident("did not finish", "link lost within seconds, three tries")
_NO_40 = Accident("not possible", "stays at 20 MHz while it hears a neighbour")

_AT_THE_EDGE: dict[Key, Accident] = {
    (session, device, client, band, direction, spot, repeat): _NO_LINK
    for session, device, client, band, direction, spot in (
        ("birchgate-2022-04-05", "fjeldrun-ingle", "wrenlet-u2", "5", "down", "8"),
        ("birchgate-2022-04-05", "fjeldrun-ingle", "wrenlet-u2", "5", "up", "8"),
        ("saltmarsh-2022-11-22", "tessarik-trio", "wrenlet-u2", "5", "down", "8"),
        ("saltmarsh-2022-11-22", "tessarik-trio", "wrenlet-u2", "5", "up", "8"),
        ("saltmarsh-2025-07-08", "hollendry-bobbin", "wrenlet-b2", "6", "up", "8"),
    )
    for repeat in (1, 2, 3)
}
_REFUSED_WIDTH: dict[Key, Accident] = {
    ("birchgate-2023-03-08", "hollendry-faceplate", "wrenlet-u2", "2.4", "down", spot, 1): _NO_40
    for spot in ("2", "4", "6")
}
_SINGLE: dict[Key, Accident] = {
    ("birchgate-2023-07-11", "quillmast-ridge", "wrenlet-u2", "5", "down", "2", 2): Accident(
        "aborted", "radar event, channel left for half an hour", again=True, radar=True
    ),
    ("saltmarsh-2022-11-22", "tessarik-trio", "skarn-c3", "5", "down", "8", 3): Accident(
        "did not finish", "box restarted by itself"
    ),
    ("birchgate-2025-02-12", "fjeldrun-skerry", "skarn-r2b", "5", "down", "5", 1): Accident(
        "client fault", "USB plug worked loose", again=True
    ),
}
ACCIDENTS: dict[Key, Accident] = {**_AT_THE_EDGE, **_REFUSED_WIDTH, **_SINGLE}
