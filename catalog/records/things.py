"""What tests are made of: devices, client setups, houses with their spots, sessions, workloads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from catalog.records.origins import Sourced


@dataclass(frozen=True, slots=True)
class Radio:
    """One band of a device or a client setup; only a device's has an EIRP."""

    band: str
    streams: int
    max_width_mhz: int
    eirp_dbm: float | None = None


@dataclass(frozen=True, slots=True)
class Port:
    """A wired port; power_class is that of IEEE 802.3."""

    name: str
    speed_mbit_s: float
    power: str
    power_class: int | None


@dataclass(frozen=True, slots=True)
class Unit(Sourced):
    """One physical piece of a device."""

    unit_id: str
    origin: str
    given_by: str | None
    received: str | None
    returned: str | None


@dataclass(frozen=True, slots=True)
class Firmware(Sourced):
    """One version, always text. One that is not public may have results but is never the current one."""

    version: str
    released: str | None
    public: bool


@dataclass(frozen=True, slots=True)
class Device(Sourced):
    """A model in one hardware revision, with all that is registered of it, each part in order of its key."""

    device_id: str
    maker: str
    model: str
    kind: str | None
    amendment: str
    revision: str | None
    aliases: tuple[str, ...] = ()
    radios: tuple[Radio, ...] = ()
    ports: tuple[Port, ...] = ()
    units: tuple[Unit, ...] = ()
    firmware: tuple[Firmware, ...] = ()


@dataclass(frozen=True, slots=True)
class ClientDriver(Sourced):
    """A driver of a client setup; setups of one series may be compared."""

    version: str
    series: str


@dataclass(frozen=True, slots=True)
class Client(Sourced):
    """Machine, adapter and settings that tests are made with."""

    client_id: str
    name: str
    machine: str | None
    adapter: str | None
    amendment: str
    bus: str | None
    series: str
    level_of: str | None
    radios: tuple[Radio, ...] = ()
    drivers: tuple[ClientDriver, ...] = ()


@dataclass(frozen=True, slots=True)
class House(Sourced):
    """A place with spots; lab_limit_mbit_s is what its server and switch carry, where that is little."""

    house_id: str
    name: str
    reference_device: str | None
    lab_limit_mbit_s: float | None


@dataclass(frozen=True, slots=True)
class SpotReading(Sourced):
    """One reading of the reference receiver at a spot; neither EIRP nor reading where the row only names the spot."""

    house: str
    spot: str
    band: str
    valid_from: str
    reading_number: int
    reference_eirp_dbm: float | None
    reading_dbm: float | None
    reference_source: str | None
    reference_receiver: str | None
    channel: int | None
    distance_m: float | None
    obstacles: str | None


@dataclass(frozen=True, slots=True)
class Epoch:
    """The attenuation of a spot in a band from valid_from on, until the next epoch begins.

    valid_until     start of the next epoch; None for the latest
    readings_sd_db  None for a single reading
    """

    epoch_id: int
    house: str
    spot: str
    band: str
    valid_from: str
    valid_until: str | None
    attenuation_db: float
    readings: int
    readings_sd_db: float | None
    kit: str
    distance_m: float | None
    obstacles: str | None


@dataclass(frozen=True, slots=True)
class Session(Sourced):
    """One bench day with one arrangement; decision is what a correction says of an odd one: in force, or set aside."""

    session_id: str
    house: str
    date: str
    note: str | None
    decision: str | None = None


@dataclass(frozen=True, slots=True)
class Settings(Sourced):
    """Conditions that differ from those a bench always tests under; None where nothing was said.

    links          bands that the client's links were held to, "5+6"
    power          full, low, or in words
    punctured_mhz  how much, or from where to where, as typed
    """

    settings_id: str
    title: str | None
    standard: str | None
    multi_link: str | None
    links: str | None
    power: str | None
    power_dbm: float | None
    country: str | None
    backhaul: str | None
    hops: int | None
    punctured_mhz: str | None
    airtime: str | None
    queueing: str | None

    @property
    def conditions(self) -> tuple[tuple[str, str | float | int], ...]:
        """Key and value of everything it sets; ids and titles do not count."""
        stated = ((name, getattr(self, name)) for name in CONDITIONS)
        return tuple((name, value) for name, value in stated if value is not None)


_NOT_SET = {*(one.name for one in fields(Sourced)), "settings_id", "title"}
CONDITIONS = tuple(one.name for one in fields(Settings) if one.name not in _NOT_SET)
"""What settings may set. Two that set the same are equal, whatever they are called."""


@dataclass(frozen=True, slots=True)
class Role:
    """What one client does in a workload.

    role_id     as the workload calls it
    recipe      the keys of its kind as batch.toml names them
    definition  its id in the catalogue: another one where the workload defines it for itself
    marks_by    the batch that set its marks; None where it has none
    brought_by  the batch that defined it
    """

    role_id: str
    kind: str
    target_ms: float | None
    target_share: float | None
    recipe: Mapping[str, Any] = field(hash=False)
    good_ms: float | None = None
    good_share: float | None = None
    definition: str = ""
    marks_by: str | None = None
    brought_by: str | None = None


@dataclass(frozen=True, slots=True)
class Workload(Sourced):
    """A version of a task for several clients at once.

    roles  by id
    seats  the roles that each machine plays at the same time
    """

    workload_id: str
    version: int
    title: str
    duration_s: float
    roles: tuple[Role, ...] = ()
    seats: tuple[tuple[str, ...], ...] = ()
