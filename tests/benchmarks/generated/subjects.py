"""Who takes part in the generated bench: makers, devices, clients, houses, roles. All names are invented."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

FIRST_DAY = date(2016, 1, 11)
DAYS = 3_550  # of bench work; the newest test is of autumn 2025
BATCH = 10  # devices that are written up together
_HEADS = ("Bram", "Kel", "Ost", "Tov", "Ulv", "Quar", "Jent", "Pell", "Vark", "Zel")
_TAILS = ("morra", "duvik", "enthal", "askry")
_WORDS = ("Adit", "Burl", "Corm", "Dene", "Esker", "Firth", "Garth", "Hythe", "Inlet", "Knoll", "Linn", "Mere")
_KINDS = ("desk unit", "ceiling access point", "wall plate", "kit of two")
LANDS = ("EU", "US", "UK")

CONDITIONS = """
[defaults.runs]
protocol = "tcp"
flows = 8
security = "WPA3-Personal"
seconds = 30
"""


@dataclass(frozen=True)
class Link:
    """A client on one band and width.

    peak  what a good device brings to it in the same room. [Mbit/s]
    since, until  shares of the ten years in which the bench had it
    """

    client: str
    amendment: str
    band: str
    width_mhz: int
    peak: float
    since: float
    until: float


MAIN = Link("skarn-c3", "802.11ac", "5", 80, 640.0, 0.0, 1.0)
LINKS = (
    MAIN,
    Link("mottle-n1", "802.11n", "2.4", 20, 112.0, 0.0, 1.0),
    Link("corrie-n2", "802.11n", "5", 40, 230.0, 0.0, 0.3),
    Link("wrenlet-u2", "802.11ax", "5", 160, 1_330.0, 0.3, 1.0),
    Link("tarrow-b2", "802.11be", "6", 160, 1_790.0, 0.6, 1.0),
)
SPOTS = tuple(f"S{i}" for i in range(1, 9))
LOSSES = {
    "birch": (45.8, 52.4, 57.1, 63.9, 69.2, 76.6, 81.3, 88.4),
    "lime": (47.5, 50.1, 58.8, 62.7, 71.9, 74.4, 83.6, 90.2),
}
BAND_DB = {"2.4": -6.0, "5": 0.0, "6": 1.7}  # what a band loses beyond 5 GHz
MOVE = 0.55  # share of the ten years after which the bench moved to the second house


@dataclass(frozen=True)
class Device:
    """One device as it was tested.

    number    place in the order of tests
    share     of the ten years that had passed
    strength  what it brings, as a share of a link's peak
    fade_db   how slowly that falls with the loss
    versions  of its firmware that were tested, the older first
    """

    number: int
    share: float
    id: str
    maker: str
    model: str
    kind: str
    amendment: str
    day: date
    house: str
    links: tuple[Link, ...]
    strength: float
    fade_db: float
    port_mbit_s: int
    versions: tuple[str, ...]
    aliases: tuple[str, ...]
    hidden: str  # "" or what an embargo covers

    @property
    def sessions(self) -> tuple[str, ...]:
        """One a firmware, two days apart."""
        days = (self.day + timedelta(days=2 * i) for i in range(len(self.versions)))
        return tuple(f"{self.house}-{day}-{self.number}" for day in days)

    @property
    def name(self) -> str:
        return f"{self.maker} {self.model}"


def device(number: int, count: int, *, seed: int) -> Device:
    """The device at place *number* of *count*; one at or beyond *count* comes after all of them."""
    rng = np.random.default_rng([seed, number])
    share = min(number / count, 0.999)
    maker = _HEADS[(number * 7) % 10] + _TAILS[(number // 10 + number) % 4]
    model = f"{_WORDS[(number * 5) % 12]} {number + 2}"
    old, late = share < 0.3, share >= 0.6
    links = [link for link in LINKS if link.since <= share < link.until]
    if late:
        links.remove(LINKS[1] if number % 2 else LINKS[3])  # an evening is only so long
    strength = {0: 1.12, 3: 0.5}.get(number % 5, 0.86) * float(rng.uniform(0.93, 1.07))
    return Device(
        number=number,
        share=share,
        id=f"{maker}-{model}".lower().replace(" ", "-"),
        maker=maker,
        model=model,
        kind=_KINDS[number % 4],
        amendment="802.11ac" if old else "802.11be" if late else "802.11ax",
        day=FIRST_DAY + timedelta(days=int(share * DAYS) + max(0, number - count)),
        house="birch" if share < MOVE else "lime",
        links=tuple(links),
        strength=strength,
        fade_db=float(rng.uniform(8.5, 13.5)),
        port_mbit_s=1_000 if old or number % 3 == 0 else 2_500,
        versions=(f"{1 + number % 6}.{number % 10}", f"{2 + number % 6}.0")
        if number % 8 == 3
        else (f"{1 + number % 6}.{number % 10}",),
        aliases=tuple(f"{model} {land}" for land in LANDS[: number % 3 + 1]) if number % 5 == 1 else (),
        hidden=_hidden(number, count),
    )


def is_weak(device: Device) -> bool:
    return device.number % 5 == 3


def _hidden(number: int, count: int) -> str:
    """The newest device is not known of yet, and the one before it without figures."""
    return {count - 1: "existence", count - 2: "results"}.get(number, "")


def references(count: int) -> tuple[int, int]:
    """Places of the two devices that stay with the bench, one a house."""
    return 0, next((n for n in range(count) if n / count >= MOVE), count - 1)


def head(name: str, title: str) -> str:
    return f'format = 1\nid = "{name}"\ntitle = "{title}"\ntimezone = "Europe/Berlin"\nlicence = "CC-BY-4.0"\n'


def device_text(device: Device) -> str:
    """Its part of batch.toml."""
    aliases = f"aliases = {list(device.aliases)}\n".replace("'", '"') if device.aliases else ""
    text = (
        f'\n[[device]]\nid = "{device.id}"\nmaker = "{device.maker}"\nmodel = "{device.model}"\n'
        f'kind = "{device.kind}"\namendment = "{device.amendment}"\nrevision = "{1 + device.number % 3}.0"\n{aliases}'
    )
    for band, streams, width, eirp in (("2.4", 2, 40, 19.0), ("5", 4, 160, 24.5), ("6", 2, 160, 22.5)):
        if band != "6" or device.amendment == "802.11be":
            text += (
                f'  [[device.radio]]\n  band = "{band}"\n  streams = {streams}\n  max_width_mhz = {width}\n'
                f"  eirp_dbm = {eirp + device.number % 4 / 2}\n"
            )
    text += f'  [[device.port]]\n  name = "WAN"\n  speed_mbit_s = {device.port_mbit_s}\n  power = "none"\n'
    if device.kind == "ceiling access point":
        text += '  [[device.port]]\n  name = "LAN"\n  speed_mbit_s = 1000\n  power = "in"\n  power_class = 4\n'
    origin = "bought" if device.number % 3 else "loaned"
    text += f'  [[device.unit]]\n  id = "A"\n  origin = "{origin}"\n  received = {device.day - timedelta(days=9)}\n'
    for place, version in enumerate(device.versions):
        released = device.day - timedelta(days=30 - 31 * place)
        text += f'  [[device.firmware]]\n  version = "{version}"\n  released = {released}\n'
    if device.hidden:
        text += f'  [device.embargo]\n  until = "2026-03-01T09:00"\n  timezone = "Europe/Berlin"\n  covers = "{device.hidden}"\n'
    return text


def session_text(device: Device) -> str:
    return "".join(
        f'\n[[session]]\nid = "{session}"\nhouse = "{device.house}"\ndate = {device.day + timedelta(days=2 * place)}\n'
        for place, session in enumerate(device.sessions)
    )


def registers_text(referees: tuple[Device, Device]) -> str:
    """batch.toml of the batch that every other rests on: houses with their reference devices, clients, roles."""
    text = head("registers", "Houses, clients, workloads")
    text += '\n[site]\ntitle = "Ten years of a bench"\nauthor = "The bench"\naddress = "https://example.org/bench/"\n'
    text += "".join(device_text(referee) for referee in referees)
    for referee, house in zip(referees, LOSSES, strict=True):
        text += f'\n[[house]]\nid = "{house}"\nname = "House {house}"\nreference_device = "{referee.id}"\n'
    for link in LINKS:
        text += (
            f'\n[[client]]\nid = "{link.client}"\nname = "{link.client.title().replace("-", " ")}"\n'
            f'amendment = "{link.amendment}"\n  [[client.radio]]\n  band = "{link.band}"\n  streams = 2\n'
            f"  max_width_mhz = {link.width_mhz}\n"
        )
    return text


def spot_rows() -> list[tuple[object, ...]]:
    """Five readings of every spot and band; one spot of the first house was moved after three years."""
    rows: list[tuple[object, ...]] = [
        ("house", "spot", "band", "valid_from", "reference_eirp_dbm", "reading_dbm", "distance_m", "obstacles")
    ]
    for house, losses in LOSSES.items():
        for band, more in BAND_DB.items():
            spots = [(spot, loss, "2016-01-01") for spot, loss in zip(SPOTS, losses, strict=True)]
            if house == "birch":
                spots.append(("S4", 66.2, "2019-02-01"))
            for place, (spot, loss, since) in enumerate(spots):
                rows += [
                    (house, spot, band, since, 20, round(20 - loss - more - 0.5 + 0.25 * i, 2), 2 + 2 * place, "walls")
                    for i in range(5)
                ]
    return rows


def loss_at(house: str, band: str, spot: str, day: date) -> float:
    """The loss of a spot as it was on a day. [dB]"""
    loss = LOSSES[house][SPOTS.index(spot)]
    if house == "birch" and spot == "S4" and day >= date(2019, 2, 1):
        loss = 66.2
    return loss + BAND_DB[band]
