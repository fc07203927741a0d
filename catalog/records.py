"""What the catalogue holds, as frozen records that the rest of the program passes around.

None means "not measured" or "not stated", never zero. Attributes that carry a unit end in it.
A record names other things by their text ids; integer ids only tell rows of one catalogue apart.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Run:
    """One attempt of one cell, with what its spot, session and client setup say about it.

    series             of the driver where one is given, else of the client setup
    house, date        those of its session
    spot_since         start of the spot's epoch; with several links at once, of the latest
    kit                reference source and receiver behind its attenuation; None without attenuation
    attenuation_db     the epoch's, else as typed, else None
    attenuation_typed  the attenuation was typed, so readings and readings_sd_db are None
    """

    run_id: int
    at_utc: str
    device: str
    unit: str
    firmware: str
    client: str
    driver: str | None
    series: str
    session: str
    house: str
    date: str
    band: str
    channel: int | None
    width_mhz: int
    direction: str
    protocol: str | None
    flows: int | None
    security: str | None
    method: int
    spot: str | None
    spot_since: str | None
    epoch_id: int | None
    kit: str | None
    attenuation_db: float | None
    attenuation_typed: bool
    readings: int | None
    readings_sd_db: float | None
    level_dbm: float | None
    repeat: int
    throughput_mbit_s: float | None
    outcome: str
    seconds: float | None
    link_rate_mbit_s: float | None
    batch_id: str
    source_file: str
    source_row: int | None
    at_typed: str
    throughput_typed: str
    dfs_event: bool | None
    log_path: str | None
    note: str | None
