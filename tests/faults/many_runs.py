"""A batch of as many runs as a test wants, for the small catalogue."""

from __future__ import annotations

from pathlib import Path

TOML = """
format = 1
id = "many"
title = "Many runs"
licence = "CC-BY-4.0"
[[session]]
id = "2025-08-01"
house = "house-a"
date = 2025-08-01
[defaults.runs]
device = "quillmast-sill"
unit = "A"
firmware = "1.0"
client = "wrenlet-u2"
driver = "3.11"
session = "2025-08-01"
band = "5"
width_mhz = 80
direction = "down"
outcome = "finished"
"""


def many_runs(folder: Path, rows: int) -> Path:
    """Make the batch "many" in *folder*, one run a second. Returns the folder."""
    folder.mkdir()
    (folder / "batch.toml").write_text(TOML, encoding="utf-8")
    runs = (
        f"2025-08-01T{8 + n // 3600:02}:{n // 60 % 60:02}:{n % 60:02}Z,{20 + n % 90},{n // 90 + 1},{400 + n % 9},\n"
        for n in range(rows)
    )
    (folder / "runs.csv").write_text("when,attenuation_db,repeat,Mbit/s,log\n" + "".join(runs), encoding="utf-8")
    return folder
