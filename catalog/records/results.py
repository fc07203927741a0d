"""What came out of tests."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import NamedTuple

from catalog.dates import has_clock
from catalog.records.origins import Sourced


@dataclass(frozen=True, slots=True)
class Run:
    """One attempt of one cell, with what its spot, session and client setup say about it.

    at_utc             an instant; a day or a month where no clock time is known
    series             of the driver where one is given, else of the client setup
    house, date        those of its session; the date of one may be a month
    spot_since         start of the spot's epoch; with several links at once, of the latest
    kit                reference source and receiver behind its attenuation; None without attenuation
    attenuation_db     the epoch's, else as typed, else None
    attenuation_typed  the attenuation was typed, so readings and readings_sd_db are None
    settings           conditions that differ from how the bench always tests, by the first of equal ones; None for none
    of_runs            how many runs the row is a summary of; None for one run
    spread_mbit_s      their standard deviation, where it was noted
    statistic          of a summary: "mean" or "median"
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
    settings: str | None = None
    of_runs: int | None = None
    spread_mbit_s: float | None = None
    statistic: str | None = None

    @property
    def clocked(self) -> bool:
        """Whether its clock time is known."""
        return has_clock(self.at_utc)


@dataclass(frozen=True, slots=True)
class Ceiling(Sourced):
    """One run that shows what a client setup can do at most; *device* is the one it ran against."""

    client: str
    band: str
    width_mhz: int
    direction: str
    run_id: int
    device: str
    throughput_mbit_s: float


Link = tuple[str, str, int, str]  # client setup, band, width, direction


class Whereabouts(NamedTuple):
    """Where the client stood in one run: what tells its visit to a place from the next. Attributes as those of a run."""

    run_id: int
    at_utc: str
    device: str
    unit: str
    client: str
    session: str
    house: str
    band: str
    spot: str | None
    attenuation_db: float | None
    level_dbm: float | None

    @property
    def clocked(self) -> bool:
        """Whether its clock time is known."""
        return has_clock(self.at_utc)


class TestedLink(NamedTuple):
    """A device with one client setup and driver over one kind of link.

    settings  that it was tested under, the first of equal ones; None: as always
    """

    device: str
    client: str
    driver: str | None
    settings: str | None
    band: str
    width_mhz: int
    direction: str
    protocol: str | None
    flows: int | None
    security: str | None
    method: int


@dataclass(frozen=True, slots=True)
class Station(Sourced):
    """One role of one client in one run with several clients at once. Without a log it is "not tested".

    attenuation_db  of the spot on that day, else as typed. [dB]
    spot_since      since when the spot is where it is, where it was ever read
    on_time_share   and the percentiles in ms: as its row states them, where there is no log
    mark_ms         for what mark that share was counted
    """

    station_id: int
    mix: str
    workload: str
    workload_version: int
    role: str
    kind: str
    at_utc: str
    at_typed: str
    device: str
    unit: str
    firmware: str
    client: str
    driver: str | None
    session: str
    house: str
    date: str
    band: str
    channel: int | None
    width_mhz: int | None
    spot: str | None
    spot_since: str | None
    attenuation_db: float | None
    level_dbm: float | None
    planned_s: float
    planned_requests: int | None
    outcome: str
    ended_at_s: float | None
    ended_by: str | None
    log_path: str | None
    note: str | None
    settings: str | None = None
    on_time_share: float | None = None
    mark_ms: float | None = None
    p50_ms: float | None = None
    p75_ms: float | None = None
    p90_ms: float | None = None
    p95_ms: float | None = None
    p99_ms: float | None = None


@dataclass(frozen=True, slots=True)
class LongRun(Sourced):
    """One run of hours.

    kind     "throughput" or "requests": what its log holds
    mark_ms  of requests: a later answer is late. [ms]
    """

    longrun_id: int
    at_utc: str
    at_typed: str
    device: str
    unit: str
    firmware: str
    client: str
    driver: str | None
    session: str
    house: str
    date: str
    kind: str
    band: str
    width_mhz: int
    direction: str | None
    spot: str | None
    mark_ms: float | None
    outcome: str
    log_path: str
    note: str | None
    settings: str | None = None


@dataclass(frozen=True, slots=True)
class Thinned:
    """Points of a log for a chart: *samples* in *unit*, at most 2,000 of *n*; *listed* is how they are stored."""

    owner: str
    owner_id: int
    quantity: str
    unit: str
    n: int
    listed: str

    @property
    def samples(self) -> tuple[int, ...]:
        return tuple(json.loads(self.listed))


@dataclass(frozen=True, slots=True)
class Feature(Sourced):
    """One piece of evidence for a step of a feature."""

    device: str
    feature: str
    step: str
    firmware: str
    date: str
    licence: str | None
    how: str | None
    evidence: str | None


@dataclass(frozen=True, slots=True)
class Heat(Sourced):
    """One surface temperature; without ambient_c there is no rise."""

    heat_id: int
    device: str
    unit: str
    face: str
    material: str
    reading_c: float
    ambient_c: float | None
    load: str
    minutes: float
    emissivity: float | None
    mount: str | None
    session: str | None
    settings: str | None = None


@dataclass(frozen=True, slots=True)
class Power(Sourced):
    """One power reading, taken at the supply or at the device."""

    power_id: int
    device: str
    unit: str
    state: str
    watts: float
    side: str
    source_class: int | None
    cable_m: float | None
    settings: str | None = None


@dataclass(frozen=True, slots=True)
class Part(Sourced):
    """One part found inside, its marking read or inferred."""

    part_id: int
    device: str
    revision: str | None
    block: str
    marking: str
    count: int | None
    read: str
    photo: str | None


@dataclass(frozen=True, slots=True)
class Price(Sourced):
    """One dated observation."""

    price_id: int
    device: str
    date: str
    amount: float
    currency: str
    region: str | None
    tax_included: bool | None
    condition: str | None
    licence_per_year: float | None


@dataclass(frozen=True, slots=True)
class BridgeValue(Sourced):
    """One value of a test that says whether a replaced client setup equals the old one."""

    old_client: str
    old_driver: str | None
    new_client: str
    new_driver: str | None
    device: str
    band: str
    width_mhz: int
    direction: str
    spot: str
    at_utc: str
    at_typed: str
    side: str
    repeat: int
    throughput_mbit_s: float
