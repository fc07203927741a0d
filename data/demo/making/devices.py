"""The invented makers' devices: what the register says, and what the link budget needs to know.

The register part (radios, ports, units, firmware) is written to batch.toml. The rest is never
written: it is the truth behind the demo that the measurements then show with noise.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True)
class Radio:
    """One radio: band name, streams, widest channel [MHz], EIRP [dBm], primary channel used in the tests."""

    band: str
    streams: int
    max_width_mhz: int
    eirp_dbm: float
    channel: int


@dataclass(frozen=True)
class Port:
    """One wired port: speed [Mbit/s], power "in", "out" or "none", and the promised 802.3 class."""

    name: str
    speed_mbit_s: int
    power: str = "none"
    power_class: int | None = None


@dataclass(frozen=True)
class Unit:
    """One physical piece. *strength* is its own factor on throughput: small, and never written."""

    id: str
    origin: str
    by: str
    received: date
    returned: date | None = None
    strength: float = 1.0
    batch: str = ""  # the batch that registers it; empty: the device's own


@dataclass(frozen=True)
class Embargo:
    """Until when (local time and zone) and what it covers."""

    until: str
    timezone: str
    covers: str


@dataclass(frozen=True)
class Firmware:
    """One version. *gain* is its factor on throughput below its caps: the truth behind a retest."""

    version: str
    released: date
    public: bool = True
    gain: float = 1.0
    embargo: Embargo | None = None
    batch: str = ""  # the batch that registers it; empty: the device's own


@dataclass(frozen=True, kw_only=True)
class Device:
    """One model.

    skill            factor of its radios on the budget's throughput, truth behind the demo [1]
    noise_figure_db  of its receivers, for uploads [dB]
    queueing         share of the others' waiting airtime that a small packet sits behind [0..1]
    """

    id: str
    maker: str
    model: str
    kind: str
    amendment: str
    revision: str
    batch: str
    radios: tuple[Radio, ...]
    ports: tuple[Port, ...]
    units: tuple[Unit, ...]
    firmware: tuple[Firmware, ...]
    aliases: tuple[str, ...] = ()
    embargo: Embargo | None = None
    skill: float = 1.0
    noise_figure_db: float = 6.5
    queueing: float = 0.3
    by_band: dict[str, Radio] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_band", {radio.band: radio for radio in self.radios})

    @property
    def fastest_port_mbit_s(self) -> int:
        """Speed of the port the bench uses. [Mbit/s]"""
        return max(port.speed_mbit_s for port in self.ports)


GANTRY_EMBARGO = Embargo("2026-07-21T09:00", "America/New_York", "existence")
GANTRY_MOVED_TO = "2026-09-15T09:00"  # the maker asked for it; corrections.py
CUPOLA_EMBARGO = Embargo("2026-08-20T15:00", "Europe/Berlin", "results")
HOUSES = "2022-01-houses"

DEVICES = (
    Device(
        id="quillmast-lantern",
        maker="Quillmast",
        model="Lantern",
        kind="desk unit",
        amendment="802.11ax",
        revision="1.1",
        batch=HOUSES,
        aliases=("Lantern EU",),
        radios=(Radio("2.4", 2, 40, 19.5, 6), Radio("5", 4, 160, 24.5, 100)),
        ports=(Port("WAN", 2500), Port("LAN 1", 1000), Port("LAN 2", 1000)),
        units=(Unit("A", "bought", "bench", date(2021, 12, 2)),),
        firmware=(Firmware("4.08", date(2021, 11, 9)),),
        skill=0.92,
        queueing=0.22,
    ),
    Device(
        id="tessarik-plinth",
        maker="Tessarik",
        model="Plinth",
        kind="desk unit",
        amendment="802.11ax",
        revision="A2",
        batch=HOUSES,
        radios=(Radio("2.4", 2, 40, 19.0, 6), Radio("5", 4, 160, 25.5, 100)),
        ports=(Port("WAN", 2500), Port("LAN", 1000)),
        units=(Unit("A", "bought", "bench", date(2021, 12, 9)),),
        firmware=(Firmware("2.30", date(2021, 10, 21)),),
        skill=0.885,
        noise_figure_db=6.0,
        queueing=0.35,
    ),
    Device(
        id="fjeldrun-ingle",
        maker="Fjeldrun",
        model="Ingle",
        kind="desk unit",
        amendment="802.11ac",
        revision="3",
        batch="2022-04-ingle",
        aliases=("Ingle Desk",),
        radios=(Radio("2.4", 3, 40, 18.5, 6), Radio("5", 3, 80, 21.5, 100)),
        ports=(Port("uplink", 1000), Port("LAN 1", 1000), Port("LAN 2", 1000)),
        units=(Unit("A", "loaned", "maker", date(2022, 3, 21), date(2022, 5, 2)),),
        firmware=(Firmware("1.14.2", date(2022, 2, 14)),),
        skill=0.95,
        noise_figure_db=7.5,
        queueing=0.7,
    ),
    Device(
        id="polmerre-rondel-4",
        maker="Polmerre",
        model="Rondel 4",
        kind="ceiling access point",
        amendment="802.11ax",
        revision="1.0",
        batch="2022-09-rondel-4",
        aliases=("Rondel-4 EU", "PR-4"),
        radios=(Radio("2.4", 2, 40, 19.5, 6), Radio("5", 4, 160, 26.5, 100)),
        ports=(Port("LAN", 1000, "in", 4),),
        units=(Unit("A", "loaned", "maker", date(2022, 8, 29), date(2022, 12, 16)),),
        firmware=(Firmware("5.10", date(2022, 8, 8)),),
        skill=0.94,
        noise_figure_db=5.5,
        queueing=0.25,
    ),
    Device(
        id="tessarik-trio",
        maker="Tessarik",
        model="Trio",
        kind="mesh desk unit (set of three)",
        amendment="802.11ax",
        revision="B1",
        batch="2022-11-trio",
        radios=(Radio("2.4", 2, 20, 18.0, 6), Radio("5", 2, 80, 21.5, 36)),
        ports=(Port("port 1", 1000), Port("port 2", 1000)),
        units=(Unit("A", "bought", "bench", date(2022, 11, 3)),),
        firmware=(Firmware("1.2.7", date(2022, 10, 11)),),
        skill=0.86,
        noise_figure_db=7.5,
        queueing=0.85,
    ),
    Device(
        id="hollendry-faceplate",
        maker="Hollendry",
        model="Faceplate",
        kind="wall plate",
        amendment="802.11ax",
        revision="2",
        batch="2023-03-faceplate",
        aliases=("Faceplate Flush",),
        radios=(Radio("2.4", 2, 40, 17.5, 1), Radio("5", 2, 80, 19.5, 36)),
        ports=(Port("rear", 1000, "in", 4), Port("front 1", 1000), Port("front 2", 1000, "out", 3)),
        units=(Unit("A", "loaned", "distributor", date(2023, 2, 20), date(2023, 4, 28)),),
        firmware=(Firmware("2.4c", date(2023, 1, 26)),),
        skill=0.87,
        noise_figure_db=7.0,
        queueing=0.4,
    ),
    Device(
        id="quillmast-ridge",
        maker="Quillmast",
        model="Ridge",
        kind="outdoor access point",
        amendment="802.11ax",
        revision="1.0",
        batch="2023-07-ridge",
        radios=(Radio("2.4", 2, 20, 19.8, 11), Radio("5", 4, 80, 28.5, 100)),
        ports=(Port("LAN", 1000, "in", 4),),
        units=(Unit("A", "loaned", "maker", date(2023, 6, 19), date(2023, 9, 1)),),
        firmware=(Firmware("4.21", date(2023, 5, 30)),),
        skill=0.91,
        noise_figure_db=5.0,
        queueing=0.22,
    ),
    Device(
        id="polmerre-rondel-6",
        maker="Polmerre",
        model="Rondel 6",
        kind="ceiling access point",
        amendment="802.11ax",
        revision="1.2",
        batch="2023-11-rondel-6",
        aliases=("Rondel-6 EU", "PR-6"),
        radios=(Radio("2.4", 2, 40, 19.5, 6), Radio("5", 4, 160, 26.0, 100), Radio("6", 2, 160, 22.5, 37)),
        ports=(Port("LAN", 2500, "in", 4),),
        units=(
            Unit("A", "loaned", "maker", date(2023, 10, 30)),
            Unit("B", "bought", "bench", date(2024, 4, 2), strength=0.985, batch="2024-04-rondel-6-again"),
        ),
        firmware=(
            Firmware("6.0.4", date(2023, 10, 12), gain=0.95),
            Firmware("6.1.0", date(2024, 3, 19), gain=1.04, batch="2024-04-rondel-6-again"),
        ),
        skill=0.97,
        noise_figure_db=5.5,
        queueing=0.2,
    ),
    Device(
        id="tessarik-cupola",
        maker="Tessarik",
        model="Cupola",
        kind="ceiling access point",
        amendment="802.11be",
        revision="A1",
        batch="2024-06-cupola",
        aliases=("Cupola EU",),
        radios=(Radio("2.4", 2, 40, 19.8, 6), Radio("5", 4, 160, 27.5, 100), Radio("6", 4, 320, 22.8, 37)),
        ports=(Port("LAN 1", 5000, "in", 6), Port("LAN 2", 1000)),
        units=(Unit("A", "bought", "bench", date(2024, 5, 27)),),
        firmware=(
            Firmware("3.0.2", date(2024, 5, 14)),
            Firmware(
                "3.2.0", date(2026, 6, 2), public=False, gain=1.06, embargo=CUPOLA_EMBARGO, batch="2026-06-saltmarsh"
            ),
        ),
        skill=1.05,
        noise_figure_db=5.5,
        queueing=0.15,
    ),
    Device(
        id="fjeldrun-skerry",
        maker="Fjeldrun",
        model="Skerry",
        kind="ceiling access point",
        amendment="802.11be",
        revision="1",
        batch="2025-02-skerry",
        radios=(Radio("2.4", 2, 20, 18.5, 6), Radio("5", 2, 160, 24.5, 100), Radio("6", 2, 320, 22.0, 37)),
        ports=(Port("LAN", 2500, "in", 3),),
        units=(Unit("A", "loaned", "maker", date(2025, 1, 27), date(2025, 6, 30)),),
        firmware=(Firmware("1.4.0", date(2025, 1, 9)),),
        skill=0.94,
        noise_figure_db=6.5,
        queueing=0.45,
    ),
    Device(
        id="hollendry-bobbin",
        maker="Hollendry",
        model="Bobbin",
        kind="mesh desk unit",
        amendment="802.11be",
        revision="1",
        batch="2025-07-bobbin",
        radios=(Radio("2.4", 2, 20, 18.5, 1), Radio("5", 2, 160, 22.5, 36), Radio("6", 2, 320, 22.5, 37)),
        ports=(Port("WAN", 2500), Port("LAN", 2500)),
        units=(Unit("A", "given", "reader", date(2025, 6, 23)),),
        firmware=(Firmware("8.1.3", date(2025, 6, 5)),),
        skill=0.91,
        noise_figure_db=7.0,
        queueing=0.5,
    ),
    Device(
        id="veltrisk-tarn",
        maker="Veltrisk",
        model="Tarn",
        kind="ceiling access point",
        amendment="802.11be",
        revision="1.0",
        batch="2026-02-tarn",
        aliases=("Tarn W",),
        radios=(Radio("2.4", 2, 40, 19.0, 6), Radio("5", 2, 160, 25.5, 100), Radio("6", 2, 320, 22.8, 37)),
        ports=(Port("LAN", 2500, "in", 4),),
        units=(Unit("A", "bought", "bench", date(2026, 1, 19)),),
        firmware=(Firmware("1.0.10", date(2026, 1, 8)),),
        skill=1.02,
        noise_figure_db=6.0,
        queueing=0.28,
    ),
    Device(
        id="quillmast-gantry",
        maker="Quillmast",
        model="Gantry",
        kind="ceiling access point",
        amendment="802.11be",
        revision="1.0",
        batch="2026-05-gantry",
        embargo=GANTRY_EMBARGO,
        radios=(Radio("2.4", 2, 40, 19.8, 6), Radio("5", 4, 160, 27.0, 100), Radio("6", 4, 320, 23.0, 37)),
        ports=(Port("LAN 1", 10000, "in", 6), Port("LAN 2", 2500)),
        units=(Unit("A", "loaned", "maker", date(2026, 4, 27)),),
        firmware=(Firmware("9.0.1", date(2026, 4, 20)),),
        skill=1.13,
        noise_figure_db=5.0,
        queueing=0.15,
    ),
)
BY_ID = {device.id: device for device in DEVICES}
