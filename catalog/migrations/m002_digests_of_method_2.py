"""Version 2: digests of throughput logs by the definitions of Method 2.

Version 1 kept digests in which time that no row covers was filled, and periods that noise shows as well. The tables are
the same; the figures are taken again from the raw samples, which any catalogue holds of every log. A public copy holds
none, and a figure that nobody can take again goes: nothing is better than a false one. Digests of requests mean what
they meant.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

from catalog.errors import CatalogUnusable

# What only the file of a log tells, where its digest has it: a program between the versions told it already.
_OF_THE_FILE = frozenset({"first_row", "last_row"})
# These count time before the first value and after the last, if gaps were told at all.
_WITH_GAPS = frozenset({"duration_s", "longest_gap_s"})
# The surrogates of a period follow from these.
_LONGRUN_KEY = "device_id, unit_id, firmware, client_id, session_id, band, width_mhz, direction, at_utc"


def m002_digests_of_method_2(db: sqlite3.Connection) -> None:
    """Take the digests of runs and long runs again.

    Raises  CatalogUnusable where samples are damaged.
    """
    owners = db.execute(
        "SELECT DISTINCT owner, owner_id FROM digest WHERE owner IN ('run', 'longrun') ORDER BY owner, owner_id"
    ).fetchall()
    for owner, number in owners:
        before = dict(
            db.execute("SELECT figure, value FROM digest WHERE owner = ? AND owner_id = ?", [owner, number]).fetchall()
        )
        samples = dict(
            db.execute("SELECT quantity, samples FROM series WHERE owner = ? AND owner_id = ?", [owner, number])
        )
        key = db.execute(f"SELECT {_LONGRUN_KEY} FROM longrun WHERE longrun_id = ?", [number]).fetchone()
        try:
            figures = _taken_again(samples, key if owner == "longrun" else None)
        except (ArithmeticError, AssertionError, LookupError, TypeError, ValueError) as failure:
            raise CatalogUnusable(
                f"The raw samples of {owner} {number} are damaged, so the catalogue cannot be brought to version 2 "
                f"({failure}). Restore a copy, or load a dump."
            ) from failure
        if figures:
            kept = _OF_THE_FILE | _WITH_GAPS if "longest_gap_s" in before else _OF_THE_FILE
            figures |= {figure: value for figure, value in before.items() if figure in kept}
        db.execute("DELETE FROM digest WHERE owner = ? AND owner_id = ?", [owner, number])
        db.executemany(
            "INSERT INTO digest (owner, owner_id, figure, value) VALUES (?, ?, ?, ?)",
            [(owner, number, *figure) for figure in figures.items()],
        )


def _taken_again(samples: Mapping[str, str], longrun: tuple[object, ...] | None) -> dict[str, float]:
    """The digest of a log; of none where its samples are not kept. longrun: the key of the long run, if it is one's."""
    if not samples:
        return {}
    import numpy as np
    import orjson

    from catalog.digesting.digests import longrun_digest, throughput_digest
    from catalog.digesting.logs import Log

    arrays = {quantity: np.array(orjson.loads(text), dtype=np.int64) for quantity, text in samples.items()}
    log = Log("throughput", arrays["t"], rate_bit_s=arrays["rate"], span_us=arrays.get("span"))
    return throughput_digest(log) if longrun is None else longrun_digest(log, key=map(str, longrun))
