"""Two invented houses, their marked spots, and what the reference kit read there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from making.dice import dice

# Channel of the reference source and how far a band lies from the 5 GHz attenuation, spread over the spots.
BANDS = {"2.4": (6, -7.0, 0.7), "5": (100, 0.0, 0.0), "6": (37, 1.1, 0.4)}
KITS = {
    "2.4": ("comb source KS-1", "log receiver LR-2"),
    "5": ("comb source KS-1", "log receiver LR-2"),
    "6": ("comb source KS-6", "log receiver LR-6"),
}
REFERENCE_EIRP_DBM = {"2.4": 20.0, "5": 20.0, "6": 18.0}
READINGS = 6


@dataclass(frozen=True)
class Spot:
    """A marked place: attenuation at 5 GHz [dB], distance [m] and what stands between."""

    id: str
    loss_5_db: float
    distance_m: float
    obstacles: str


@dataclass(frozen=True)
class House:
    """A house with spots "1" to "8", nearest first."""

    id: str
    name: str
    letter: str
    reference_device: str
    spots: tuple[Spot, ...]
    walked: date

    def spot(self, number: str) -> Spot:
        """The spot with the given number, e.g. "3"."""
        return self.spots[int(number) - 1]


BIRCHGATE = House(
    "birchgate",
    "Birchgate, two-floor brick house",
    "B",
    "quillmast-lantern",
    (
        Spot("B1", 46.0, 1.8, "none, same room"),
        Spot("B2", 52.0, 3.6, "none, far side of the room"),
        Spot("B3", 58.0, 5.2, "one open door"),
        Spot("B4", 64.5, 6.5, "one plasterboard wall"),
        Spot("B5", 70.5, 8.1, "one brick wall"),
        Spot("B6", 77.0, 10.4, "one brick wall, one door"),
        Spot("B7", 84.0, 12.0, "wooden floor, one brick wall"),
        Spot("B8", 91.5, 15.5, "wooden floor, two brick walls"),
    ),
    date(2022, 1, 10),
)
SALTMARSH = House(
    "saltmarsh",
    "Saltmarsh, timber bungalow",
    "S",
    "tessarik-plinth",
    (
        Spot("S1", 48.5, 2.4, "none, same room"),
        Spot("S2", 54.5, 4.8, "none, along the hall"),
        Spot("S3", 60.5, 7.0, "one timber wall"),
        Spot("S4", 67.0, 9.5, "two timber walls"),
        Spot("S5", 72.5, 11.8, "two timber walls, one bookcase"),
        Spot("S6", 79.0, 14.0, "chimney breast"),
        Spot("S7", 85.0, 17.2, "chimney breast, one timber wall"),
        Spot("S8", 92.0, 21.0, "chimney breast, foil-backed outer wall"),
    ),
    date(2022, 1, 12),
)
HOUSES = (BIRCHGATE, SALTMARSH)
BY_ID = {house.id: house for house in HOUSES}

# A metal cupboard arrived beside spot B6: a new epoch from this day, by band [dB].
CUPBOARD_DAY = date(2024, 2, 12)
CUPBOARD_SPOT = "B6"
CUPBOARD_DB = {"2.4": 2.8, "5": 4.2, "6": 4.6}
CUPBOARD_TEXT = "one brick wall, one door, metal cupboard"


def loss_db(house: House, number: str, band: str, *, on: date) -> float:
    """True attenuation of a spot in a band on a day. [dB]"""
    spot = house.spot(number)
    _, offset, spread = BANDS[band]
    loss = spot.loss_5_db + offset + spread * dice("band offset", spot.id, band).uniform(-1, 1)
    if spot.id == CUPBOARD_SPOT and on >= CUPBOARD_DAY:
        loss += CUPBOARD_DB[band]
    return loss


def reading_rows(house: House, *, numbers: str, valid_from: date) -> list[dict[str, object]]:
    """Rows of spots.csv: READINGS readings for each spot and band, one decimal."""
    rows: list[dict[str, object]] = []
    for number in numbers:
        spot = house.spot(number)
        moved = spot.id == CUPBOARD_SPOT and valid_from >= CUPBOARD_DAY
        for band, (channel, _, _) in BANDS.items():
            chance = dice("reading", spot.id, band, valid_from)
            eirp = REFERENCE_EIRP_DBM[band]
            loss = loss_db(house, number, band, on=valid_from)
            source, receiver = KITS[band]
            for _ in range(READINGS):
                rows.append(
                    {
                        "house": house.id,
                        "spot": spot.id,
                        "band": band,
                        "valid_from": valid_from.isoformat(),
                        "reference_eirp_dbm": f"{eirp:.1f}",
                        "reading_dbm": f"{eirp - loss + chance.gauss(0, 0.7):.1f}",
                        "reference_source": source,
                        "reference_receiver": receiver,
                        "channel": channel,
                        "distance_m": spot.distance_m,
                        "obstacles": CUPBOARD_TEXT if moved else spot.obstacles,
                    }
                )
    return rows
