"""A stored log read back as it was digested, without the instant it started at."""

from __future__ import annotations

import numpy as np
from sqlite_utils import Database

from catalog.digesting.logs import Log
from catalog.queries.known import samples_of


def stored_log(db: Database, owner: str, owner_id: int, *, within: str = "main") -> Log | None:
    """The raw samples of a run, station or long run; None where none are kept.

    within  the attached catalogue to look in
    """
    arrays = samples_of(db, owner, owner_id, within=within)
    if "t" not in arrays:
        return None
    outcome = arrays.get("outcome")
    return Log(
        kind="requests" if "latency" in arrays else "throughput",
        t_us=arrays["t"],
        rate_bit_s=arrays.get("rate"),
        span_us=arrays.get("span"),
        latency_us=arrays.get("latency"),
        outcome=None if outcome is None else outcome.astype(np.int8),
        amount_b=arrays.get("amount"),
    )
