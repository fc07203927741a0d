"""A long run of requests in a batch of its own: 26 hours with a busy time, an outage and a gap, as a fixture makes it."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.batches import article, batch_at, batch_toml
from tests.builder.under_load.test_longruns import NIGHTS

HOURS = 26
OUTAGE = range(50_000, 50_047)  # none answered
GAP = range(70_000, 72_500)  # not logged
MARK_MS = 100
ARTICLE = "# Waits\n\nA night.\n\n(=longrun porch, kind requests: Does the porch answer all night?=)\n"


def waits() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Second, wait [ms] and whether it was answered, of every request that was logged."""
    rng = np.random.default_rng(5)
    t = np.arange(HOURS * 3600)
    busy = np.exp(-(((t / 3600 - 13) / 2) ** 2))
    ms = rng.lognormal(np.log(9 + 6 * busy), 0.35)
    late = rng.random(len(t)) < 0.004 * (1 + 8 * busy)
    ms = np.where(late, ms * rng.uniform(5, 60, len(t)), ms).round(2)
    answered = (rng.random(len(t)) >= 0.0005) & ~np.isin(t, OUTAGE)
    logged = ~np.isin(t, GAP)
    return t[logged], ms[logged], answered[logged]


def log_text(t: np.ndarray, ms: np.ndarray, answered: np.ndarray) -> str:
    rows = [
        f"{second},{wait if came else ''},{'finished' if came else 'failed'}"
        for second, wait, came in zip(t.tolist(), ms.tolist(), answered.tolist(), strict=True)
    ]
    return "\n".join(["t_s,ms,outcome", *rows]) + "\n"


def night_batch(folder: Path, *, log: str | None = None, row: str = "", written: bool = True) -> Path:
    """The batch; row: of longruns.csv, kind, mark_ms, direction, outcome."""
    text = batch_toml(
        "night",
        house=[{"id": "h", "name": "House"}],
        site={"title": "Bench desk", "author": "Bench desk"},
        article=[article("waits", "waits.md", published="2025-07-02T00:00:00Z", devices=["porch"])] if written else [],
        **NIGHTS,
    )
    table = (
        f"when,kind,mark_ms,direction,outcome,log\n2025-07-01 10:00,{row or f'requests,{MARK_MS},,finished'},ping.csv\n"
    )
    files = {"longruns.csv": table, "ping.csv": log_text(*waits()) if log is None else log}
    return batch_at(folder, text, files | ({"waits.md": ARTICLE} if written else {}))
