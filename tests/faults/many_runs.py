"""A batch of as many runs as a test wants, for the small catalogue."""

from __future__ import annotations

from pathlib import Path

from tests.batches import LINK, batch_at, batch_toml, session

TOML = batch_toml(
    "many",
    session=[session("2025-08-01")],
    defaults={
        "runs": {
            "device": "quillmast-sill",
            "unit": "A",
            "firmware": "1.0",
            "client": "wrenlet-u2",
            "driver": "3.11",
            "session": "2025-08-01",
            **LINK,
            "outcome": "finished",
        },
    },
)


def many_runs(folder: Path, rows: int) -> Path:
    """Make the batch "many" in *folder*, one run a second. Returns the folder."""
    runs = (
        f"2025-08-01T{8 + n // 3600:02}:{n // 60 % 60:02}:{n % 60:02}Z,{20 + n % 90},{n // 90 + 1},{400 + n % 9},\n"
        for n in range(rows)
    )
    return batch_at(folder, TOML, {"runs.csv": "when,attenuation_db,repeat,Mbit/s,log\n" + "".join(runs)})
