"""What was corrected after entry: a value typed wrongly, a model that its maker renamed, an embargo that moved."""

from __future__ import annotations

from making.batch_folder import Row
from making.devices import BY_ID, GANTRY_EMBARGO, GANTRY_MOVED_TO

COLUMNS = ("table", "key", "column", "was", "now", "reason", "noticed_by", "date")
# A typed number with two digits swapped, found years later.
TYPO = {
    "device": "polmerre-rondel-4",
    "client": "wrenlet-u2",
    "session": "saltmarsh-2022-09-13",
    "band": "5",
    "width_mhz": 80,
    "direction": "down",
    "spot": "S5",
    "repeat": 2,
}
RATE = "throughput (Mbit/s)"


def swapped_digits(text: str) -> str:
    """The second and third character changed over: 782.6 -> 728.6."""
    assert text[1] != text[2], f"{text} has nothing to swap"
    return text[0] + text[2] + text[1] + text[3:]


def mistype(runs: list[Row]) -> str | None:
    """Type the one value wrongly if its run is among *runs*; returns what it should have been."""
    for row in runs:
        if all(row.get(name) == value for name, value in TYPO.items()):
            right = str(row[RATE])
            row[RATE] = swapped_digits(right)
            return right
    return None


def correction_files(right: str) -> dict[str, list[Row]]:
    """Rows of each corrections file by its name, in the order in which they are applied.

    right  what `mistype` returned
    """
    bobbin, gantry = BY_ID["hollendry-bobbin"], BY_ID["quillmast-gantry"]
    zone = GANTRY_EMBARGO.timezone
    moved: Row = {
        "table": "embargo",
        "column": "until",
        "was": f"{GANTRY_EMBARGO.until} {zone}",
        "now": f"{GANTRY_MOVED_TO} {zone}",
        "reason": "the maker moved its launch",
        "noticed_by": "the maker",
        "date": "2026-06-12",
    }
    return {
        "2025-12-corrections.csv": [
            {
                "table": "runs",
                "key": "; ".join(f"{name}={value}" for name, value in TYPO.items()),
                "column": "throughput",
                "was": swapped_digits(right),
                "now": right,
                "reason": "two digits changed over when typed from the bench sheet",
                "noticed_by": "a reader",
                "date": "2025-12-04",
            },
            {
                "table": "device",
                "key": f"id={bobbin.id}",
                "column": "model",
                "was": bobbin.model,
                "now": "Bobbin Home",
                "reason": "the maker renamed it",
                "noticed_by": "the desk",
                "date": "2025-12-04",
            },
        ],
        "2026-06-embargo.csv": [
            moved | {"key": f"device={gantry.id}"},
            moved | {"key": f"batch={gantry.batch}; covers=results"},
        ],
    }
