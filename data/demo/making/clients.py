"""The six client setups of the bench, and the adapter that replaced one of them."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class ClientRadio:
    """One band of a client: streams, widest channel [MHz], and its EIRP for uploads [dBm]."""

    band: str
    streams: int
    max_width_mhz: int
    eirp_dbm: float


@dataclass(frozen=True, kw_only=True)
class Client:
    """Machine, adapter and driver.

    series         setups proven equal by a bridge test share it; the own id otherwise
    later_drivers  version -> series, registered after the first
    cap_mbit_s     what its bus lets through; None where the radio is the limit [Mbit/s]
    level_bias_db  what its readings add to the true level [dB]
    skill          factor on throughput [1]
    """

    id: str
    name: str
    machine: str
    adapter: str
    amendment: str
    bus: str
    batch: str
    driver: str
    radios: tuple[ClientRadio, ...]
    series: str = ""
    later_drivers: dict[str, tuple[str, str]] = field(default_factory=dict)  # version -> (series, batch)
    cap_mbit_s: float | None = None
    level_of: str = "data frames, all chains summed"
    level_bias_db: float = 0.0
    noise_figure_db: float = 7.0
    skill: float = 1.0

    @property
    def own_series(self) -> str:
        """Its series, the own id when none is named."""
        return self.series or self.id

    def radio(self, band: str) -> ClientRadio:
        """Its radio of *band*; raises KeyError without one."""
        return {radio.band: radio for radio in self.radios}[band]


HOUSES = "2022-01-houses"
USB_CAP_MBIT_S = 872.0

CLIENTS = (
    Client(
        id="mottle-n1",
        name="Mottle N1",
        machine="till",
        adapter="one-stream module",
        amendment="802.11n",
        bus="SDIO",
        batch=HOUSES,
        driver="N-18",
        radios=(ClientRadio("2.4", 1, 20, 14.0),),
        level_of="beacons, one chain",
        level_bias_db=-1.0,
        noise_figure_db=8.0,
    ),
    Client(
        id="skarn-c3",
        name="Skarn C3",
        machine="older laptop",
        adapter="three-stream internal card",
        amendment="802.11ac",
        bus="PCIe",
        batch=HOUSES,
        driver="2.9b",
        radios=(ClientRadio("2.4", 3, 40, 16.0), ClientRadio("5", 3, 80, 17.0)),
        level_bias_db=0.8,
    ),
    Client(
        id="wrenlet-u2",
        name="Wrenlet U2",
        machine="laptop",
        adapter="two-stream internal card",
        amendment="802.11ax",
        bus="PCIe",
        batch=HOUSES,
        driver="D-7",
        radios=(ClientRadio("2.4", 2, 40, 16.0), ClientRadio("5", 2, 160, 17.5), ClientRadio("6", 2, 160, 17.0)),
    ),
    Client(
        id="skarn-r2",
        name="Skarn R2",
        machine="laptop with a USB adapter",
        adapter="two-stream USB adapter",
        amendment="802.11ax",
        bus="USB 5 Gbit/s",
        batch=HOUSES,
        driver="4.2a",
        cap_mbit_s=USB_CAP_MBIT_S,
        radios=(ClientRadio("2.4", 2, 40, 15.0), ClientRadio("5", 2, 160, 16.0)),
        level_of="data frames, strongest chain",
        level_bias_db=-1.5,
        skill=0.98,
    ),
    Client(
        id="wrenlet-r4",
        name="Wrenlet R4",
        machine="desktop tower",
        adapter="four-stream card, antennas on a foot",
        amendment="802.11ax",
        bus="PCIe x4",
        batch=HOUSES,
        driver="D-4",
        radios=(ClientRadio("2.4", 4, 40, 18.0), ClientRadio("5", 4, 160, 20.0)),
        level_bias_db=0.5,
    ),
    Client(
        id="wrenlet-b2",
        name="Wrenlet B2",
        machine="newer laptop",
        adapter="two-stream internal card",
        amendment="802.11be",
        bus="PCIe",
        batch="2024-05-wrenlet-b2",
        driver="D-11",
        radios=(ClientRadio("2.4", 2, 40, 16.0), ClientRadio("5", 2, 160, 18.0), ClientRadio("6", 2, 320, 18.0)),
        later_drivers={"D-12": ("wrenlet-b2-d-12", "2024-10-bridges")},
        level_bias_db=0.3,
    ),
    Client(
        id="skarn-r2b",
        name="Skarn R2, second adapter",
        machine="laptop with a USB adapter",
        adapter="two-stream USB adapter",
        amendment="802.11ax",
        bus="USB 5 Gbit/s",
        batch="2024-10-bridges",
        driver="4.2a",
        series="skarn-r2",
        cap_mbit_s=USB_CAP_MBIT_S,
        radios=(ClientRadio("2.4", 2, 40, 15.0), ClientRadio("5", 2, 160, 16.0)),
        level_of="data frames, strongest chain",
        level_bias_db=-1.2,
        skill=0.985,
    ),
)
BY_ID = {client.id: client for client in CLIENTS}
