"""What the bench did on which day: the measured blocks, the runs with several clients, the nights.

A block is one line of a plan: a client walks the named spots and measures one band and width in one or
both directions. Spots are digits, "1" the nearest. What went wrong on a day is in accidents.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from making.houses import BIRCHGATE, SALTMARSH, House

ALL = "12345678"


@dataclass(frozen=True, kw_only=True)
class Block:
    """One client's walk: *directions* is "d", "u" or "du"."""

    device: str
    client: str
    band: str
    width_mhz: int
    directions: str
    spots: str = ALL
    firmware: str = ""  # empty: the device's first
    unit: str = "A"
    repeats: int = 3


@dataclass(frozen=True, kw_only=True)
class Ceiling:
    """A bench-top run, taken as evidence for what a client can do at most."""

    device: str
    client: str
    band: str
    width_mhz: int
    direction: str = "down"
    foreign_log: bool = False  # written by another program, read through a reading map


@dataclass(frozen=True, kw_only=True)
class Mix:
    """*times* runs of one workload on a device."""

    device: str
    workload: str
    times: int = 1
    firmware: str = ""


@dataclass(frozen=True, kw_only=True)
class Night:
    """One long run: *shape* is "steady", "wave", "fading" or "stalls"."""

    device: str
    client: str
    band: str
    width_mhz: int
    spot: str
    shape: str
    hours: float
    firmware: str = ""


@dataclass(frozen=True, kw_only=True)
class Day:
    """One session."""

    house: House
    date: date
    note: str
    blocks: tuple[Block, ...] = ()
    ceilings: tuple[Ceiling, ...] = ()
    mixes: tuple[Mix, ...] = ()
    night: Night | None = None
    reference_first: bool = True

    @property
    def id(self) -> str:
        """House and date: unique, because the bench works in one house at a time."""
        return f"{self.house.id}-{self.date.isoformat()}"


def walks(device: str, plan: str, *, firmware: str = "", unit: str = "A", repeats: int = 3) -> tuple[Block, ...]:
    """Blocks from lines such as ``wrenlet-u2 5/80 du 1357``; the spots may be left out for all."""
    blocks = []
    for line in filter(None, (line.strip() for line in plan.split(";"))):
        client, channel, directions, *spots = line.split()
        band, width = channel.split("/")
        blocks.append(
            Block(
                device=device,
                client=client,
                band=band,
                width_mhz=int(width),
                directions=directions,
                spots=spots[0] if spots else ALL,
                firmware=firmware,
                unit=unit,
                repeats=repeats,
            )
        )
    return tuple(blocks)


def reference_check(house: House) -> tuple[Block, ...]:
    """What every session starts with: the reference device at two spots that never moved."""
    return walks(house.reference_device, "wrenlet-u2 5/80 d 24")


def _house_days(house: House, device: str, first: date, second: date, third: tuple[Mix, ...]) -> tuple[Day, ...]:
    ceilings = (
        Ceiling(device=device, client="wrenlet-u2", band="5", width_mhz=80),
        Ceiling(device=device, client="skarn-c3", band="5", width_mhz=80),
        Ceiling(device=device, client="wrenlet-r4", band="5", width_mhz=80),
        Ceiling(device=device, client="skarn-r2", band="5", width_mhz=160, foreign_log=True),
    )
    return (
        Day(
            house=house,
            date=first,
            note="first bench day, windows closed",
            reference_first=False,
            blocks=walks(
                device,
                "wrenlet-u2 5/80 du; skarn-c3 5/80 d; wrenlet-r4 5/80 d; wrenlet-r4 5/80 u 2467; skarn-r2 5/160 d",
            ),
            ceilings=ceilings if house is BIRCHGATE else (),
        ),
        Day(
            house=house,
            date=second,
            note="windows closed",
            blocks=walks(
                device, "mottle-n1 2.4/20 d; wrenlet-u2 2.4/20 d; wrenlet-r4 5/160 d; wrenlet-u2 2.4/40 d 1357"
            ),
            mixes=third,
            night=Night(device=device, client="wrenlet-u2", band="5", width_mhz=80, spot="3", shape="steady", hours=10)
            if house is BIRCHGATE
            else None,
        ),
    )


DAYS: dict[str, tuple[Day, ...]] = {
    "2022-01-houses": (
        *_house_days(
            BIRCHGATE,
            "quillmast-lantern",
            date(2022, 1, 17),
            date(2022, 1, 18),
            (
                Mix(device="quillmast-lantern", workload="desk-row", times=3),
                Mix(device="quillmast-lantern", workload="calls-over-backup", times=3),
                Mix(device="quillmast-lantern", workload="after-supper"),
            ),
        ),
        *_house_days(
            SALTMARSH,
            "tessarik-plinth",
            date(2022, 1, 24),
            date(2022, 1, 25),
            (
                Mix(device="tessarik-plinth", workload="desk-row", times=3),
                Mix(device="tessarik-plinth", workload="after-supper", times=3),
            ),
        ),
    ),
    "2022-04-ingle": (
        Day(
            house=BIRCHGATE,
            date=date(2022, 4, 5),
            note="",
            blocks=walks("fjeldrun-ingle", "wrenlet-u2 5/80 du; skarn-c3 5/80 d; skarn-c3 5/80 u 2467"),
        ),
        Day(
            house=BIRCHGATE,
            date=date(2022, 4, 6),
            note="children at home in the afternoon",
            blocks=walks("fjeldrun-ingle", "mottle-n1 2.4/20 d; wrenlet-u2 2.4/20 d; skarn-c3 2.4/40 d 1234567"),
            mixes=(
                Mix(device="fjeldrun-ingle", workload="desk-row"),
                Mix(device="fjeldrun-ingle", workload="calls-over-backup"),
            ),
        ),
    ),
    "2022-09-rondel-4": (
        Day(
            house=SALTMARSH,
            date=date(2022, 9, 13),
            note="unit on a bracket under the ceiling",
            blocks=walks(
                "polmerre-rondel-4",
                "wrenlet-u2 5/80 du; skarn-c3 5/80 d; wrenlet-r4 5/80 d; wrenlet-r4 5/80 u 2467; skarn-r2 5/160 d",
            ),
        ),
        Day(
            house=SALTMARSH,
            date=date(2022, 9, 14),
            note="rain, windows closed",
            blocks=walks("polmerre-rondel-4", "mottle-n1 2.4/20 d; wrenlet-u2 2.4/20 d; wrenlet-r4 5/160 d"),
            mixes=(
                Mix(device="polmerre-rondel-4", workload="desk-row", times=2),
                Mix(device="polmerre-rondel-4", workload="after-supper"),
                Mix(device="polmerre-rondel-4", workload="calls-over-backup"),
            ),
            night=Night(
                device="polmerre-rondel-4",
                client="wrenlet-u2",
                band="5",
                width_mhz=80,
                spot="5",
                shape="wave",
                hours=12,
            ),
        ),
    ),
    "2022-11-trio": (
        Day(
            house=SALTMARSH,
            date=date(2022, 11, 22),
            note="one of the three boxes alone, no mesh link",
            blocks=walks("tessarik-trio", "wrenlet-u2 5/80 du; skarn-c3 5/80 d; wrenlet-r4 5/80 d; skarn-r2 5/80 d"),
        ),
        Day(
            house=SALTMARSH,
            date=date(2022, 11, 23),
            note="one of the three boxes alone, no mesh link",
            blocks=walks("tessarik-trio", "mottle-n1 2.4/20 d; wrenlet-u2 2.4/20 d"),
            mixes=(
                Mix(device="tessarik-trio", workload="after-supper", times=3),
                Mix(device="tessarik-trio", workload="desk-row"),
            ),
            night=Night(
                device="tessarik-trio", client="wrenlet-u2", band="5", width_mhz=80, spot="3", shape="fading", hours=8
            ),
        ),
    ),
    "2023-03-faceplate": (
        Day(
            house=BIRCHGATE,
            date=date(2023, 3, 7),
            note="plate on a test box at socket height",
            blocks=walks(
                "hollendry-faceplate",
                "wrenlet-u2 5/80 du 23456; skarn-c3 5/80 d 23456; wrenlet-r4 5/80 d 23456; skarn-r2 5/80 d 23456",
            ),
        ),
        Day(
            house=BIRCHGATE,
            date=date(2023, 3, 8),
            note="unit collected at five in the afternoon",
            blocks=(
                *walks("hollendry-faceplate", "mottle-n1 2.4/20 d 23456; wrenlet-u2 2.4/20 d 23456"),
                *walks("hollendry-faceplate", "wrenlet-u2 2.4/40 d 246; skarn-r2 5/80 u 246", repeats=1),
            ),
            mixes=(
                Mix(device="hollendry-faceplate", workload="calls-over-backup", times=2),
                Mix(device="hollendry-faceplate", workload="desk-row"),
            ),
        ),
    ),
    "2023-07-ridge": (
        Day(
            house=BIRCHGATE,
            date=date(2023, 7, 11),
            note="unit indoors on a stand; spots 4 and 5 taken by decorators",
            blocks=walks(
                "quillmast-ridge",
                "wrenlet-u2 5/80 du 123678; skarn-c3 5/80 d 123678; wrenlet-r4 5/80 d 123678; skarn-r2 5/80 d 123678",
            ),
        ),
        Day(
            house=BIRCHGATE,
            date=date(2023, 7, 12),
            note="spots 4 and 5 taken by decorators",
            blocks=walks("quillmast-ridge", "mottle-n1 2.4/20 d 123678; wrenlet-u2 2.4/20 d 123678"),
            mixes=(Mix(device="quillmast-ridge", workload="desk-row"),),
        ),
    ),
    "2023-11-rondel-6": (
        Day(
            house=BIRCHGATE,
            date=date(2023, 11, 14),
            note="unit on a bracket under the ceiling",
            blocks=walks(
                "polmerre-rondel-6",
                "wrenlet-u2 5/80 du; skarn-c3 5/80 d; wrenlet-r4 5/80 d; wrenlet-r4 5/160 d; skarn-r2 5/160 d",
            ),
        ),
        Day(
            house=BIRCHGATE,
            date=date(2023, 11, 15),
            note="unit on a bracket under the ceiling",
            blocks=walks("polmerre-rondel-6", "mottle-n1 2.4/20 d; wrenlet-u2 2.4/20 d; wrenlet-u2 6/160 du"),
            mixes=(
                Mix(device="polmerre-rondel-6", workload="desk-row", times=2),
                Mix(device="polmerre-rondel-6", workload="after-supper"),
                Mix(device="polmerre-rondel-6", workload="calls-over-backup"),
            ),
            night=Night(
                device="polmerre-rondel-6",
                client="wrenlet-u2",
                band="6",
                width_mhz=160,
                spot="4",
                shape="steady",
                hours=9,
            ),
        ),
    ),
    "2024-02-cupboard": (
        Day(
            house=BIRCHGATE,
            date=date(2024, 2, 12),
            note="new metal cupboard beside spot B6, all spots re-read",
            blocks=walks("quillmast-lantern", "wrenlet-u2 5/80 d"),
            reference_first=False,
        ),
    ),
    "2024-04-rondel-6-again": (
        Day(
            house=BIRCHGATE,
            date=date(2024, 4, 16),
            note="both firmwares and a second unit on one day",
            blocks=(
                *walks("polmerre-rondel-6", "wrenlet-u2 5/80 du; wrenlet-r4 5/160 d", firmware="6.1.0"),
                *walks("polmerre-rondel-6", "wrenlet-u2 5/80 d 2456", firmware="6.0.4"),
                *walks("polmerre-rondel-6", "wrenlet-u2 5/80 d 2468", firmware="6.1.0", unit="B"),
            ),
            mixes=(Mix(device="polmerre-rondel-6", workload="calls-over-backup", firmware="6.1.0"),),
        ),
    ),
    "2024-05-wrenlet-b2": (
        Day(
            house=BIRCHGATE,
            date=date(2024, 5, 14),
            note="reference device with the new client",
            blocks=walks("quillmast-lantern", "wrenlet-b2 5/80 du; wrenlet-b2 5/160 d"),
        ),
        Day(
            house=SALTMARSH,
            date=date(2024, 5, 21),
            note="reference device with the new client",
            blocks=walks("tessarik-plinth", "wrenlet-b2 5/80 du; wrenlet-b2 5/160 d"),
        ),
    ),
    "2024-06-cupola": (
        Day(
            house=SALTMARSH,
            date=date(2024, 6, 18),
            note="unit on a bracket under the ceiling",
            blocks=walks(
                "tessarik-cupola",
                "wrenlet-b2 5/80 du; wrenlet-b2 5/160 du; wrenlet-b2 6/160 d;"
                " wrenlet-b2 6/320 du; wrenlet-b2 5+6/160 d 246",
            ),
            # Only a device of the same amendment shows what the new client can do at most.
            ceilings=(
                Ceiling(device="tessarik-cupola", client="wrenlet-b2", band="5", width_mhz=80),
                Ceiling(device="tessarik-cupola", client="wrenlet-b2", band="5", width_mhz=160),
                Ceiling(device="tessarik-cupola", client="wrenlet-b2", band="6", width_mhz=320),
                Ceiling(device="tessarik-cupola", client="wrenlet-r4", band="5", width_mhz=160),
                Ceiling(device="tessarik-cupola", client="wrenlet-r4", band="5", width_mhz=80),
                Ceiling(device="tessarik-cupola", client="wrenlet-u2", band="5", width_mhz=80),
                Ceiling(device="tessarik-cupola", client="skarn-c3", band="5", width_mhz=80),
            ),
        ),
        Day(
            house=SALTMARSH,
            date=date(2024, 6, 19),
            note="warm day, terrace door closed",
            blocks=walks(
                "tessarik-cupola",
                "wrenlet-u2 5/80 du; wrenlet-u2 6/160 d; wrenlet-r4 5/160 d;"
                " skarn-c3 5/80 d; skarn-r2 5/160 d; mottle-n1 2.4/20 d",
            ),
            mixes=(
                Mix(device="tessarik-cupola", workload="desk-row", times=2),
                Mix(device="tessarik-cupola", workload="after-supper"),
                Mix(device="tessarik-cupola", workload="calls-over-backup"),
            ),
            night=Night(
                device="tessarik-cupola",
                client="wrenlet-b2",
                band="6",
                width_mhz=320,
                spot="3",
                shape="steady",
                hours=12,
            ),
        ),
    ),
    "2024-10-bridges": (
        Day(
            house=BIRCHGATE,
            date=date(2024, 10, 8),
            note="old and new adapter, old and new driver",
            ceilings=(Ceiling(device="quillmast-lantern", client="skarn-r2b", band="5", width_mhz=160),),
        ),
    ),
    "2025-02-skerry": (
        Day(
            house=BIRCHGATE,
            date=date(2025, 2, 11),
            note="",
            blocks=walks(
                "fjeldrun-skerry", "wrenlet-b2 5/80 du; wrenlet-b2 5/160 d; wrenlet-b2 6/160 d; wrenlet-b2 6/320 d"
            ),
        ),
        Day(
            house=BIRCHGATE,
            date=date(2025, 2, 12),
            note="snow on the roof",
            blocks=walks(
                "fjeldrun-skerry", "wrenlet-u2 5/80 du; wrenlet-r4 5/80 d; skarn-r2b 5/160 d; mottle-n1 2.4/20 d"
            ),
            mixes=(
                Mix(device="fjeldrun-skerry", workload="desk-row"),
                Mix(device="fjeldrun-skerry", workload="after-supper"),
                Mix(device="fjeldrun-skerry", workload="calls-over-backup"),
            ),
            night=Night(
                device="fjeldrun-skerry",
                client="wrenlet-b2",
                band="5",
                width_mhz=160,
                spot="4",
                shape="stalls",
                hours=9,
            ),
        ),
    ),
    "2025-07-bobbin": (
        Day(
            house=SALTMARSH,
            date=date(2025, 7, 8),
            note="",
            blocks=walks(
                "hollendry-bobbin", "wrenlet-b2 5/80 du; wrenlet-b2 5/160 du; wrenlet-b2 6/160 d; wrenlet-b2 6/320 du"
            ),
        ),
        Day(
            house=SALTMARSH,
            date=date(2025, 7, 9),
            note="",
            blocks=walks("hollendry-bobbin", "wrenlet-r4 5/80 d; wrenlet-r4 5/160 d; wrenlet-b2 2.4/20 d"),
        ),
    ),
    "2026-02-tarn": (
        Day(
            house=SALTMARSH,
            date=date(2026, 2, 10),
            note="",
            blocks=walks(
                "veltrisk-tarn",
                "wrenlet-b2 5/80 du; wrenlet-b2 5/160 d; wrenlet-b2 6/160 d;"
                " wrenlet-b2 6/320 du; wrenlet-b2 5+6/160 d 246",
            ),
        ),
        Day(
            house=SALTMARSH,
            date=date(2026, 2, 11),
            note="storm at noon, shutters closed all day",
            blocks=walks(
                "veltrisk-tarn",
                "wrenlet-u2 5/80 du; wrenlet-r4 5/80 d; skarn-r2b 5/160 d; mottle-n1 2.4/20 d; wrenlet-u2 2.4/20 d",
            ),
            mixes=(
                Mix(device="veltrisk-tarn", workload="desk-row", times=2),
                Mix(device="veltrisk-tarn", workload="after-supper"),
                Mix(device="veltrisk-tarn", workload="calls-over-backup"),
            ),
        ),
    ),
    "2026-05-gantry": (
        Day(
            house=BIRCHGATE,
            date=date(2026, 5, 12),
            note="shutters closed, maker's unit",
            blocks=walks(
                "quillmast-gantry", "wrenlet-b2 5/80 du; wrenlet-b2 5/160 d; wrenlet-b2 6/160 d; wrenlet-b2 6/320 du"
            ),
            ceilings=(
                Ceiling(device="quillmast-gantry", client="wrenlet-b2", band="6", width_mhz=320),
                Ceiling(device="quillmast-gantry", client="wrenlet-r4", band="5", width_mhz=160),
            ),
        ),
        Day(
            house=BIRCHGATE,
            date=date(2026, 5, 13),
            note="shutters closed, maker's unit",
            blocks=walks("quillmast-gantry", "wrenlet-u2 5/80 du; wrenlet-r4 5/160 d; mottle-n1 2.4/20 d"),
            mixes=(
                Mix(device="quillmast-gantry", workload="calls-over-backup"),
                Mix(device="quillmast-gantry", workload="desk-row"),
            ),
            night=Night(
                device="quillmast-gantry",
                client="wrenlet-b2",
                band="6",
                width_mhz=320,
                spot="3",
                shape="steady",
                hours=8,
            ),
        ),
    ),
    "2026-06-saltmarsh": (
        Day(
            house=SALTMARSH,
            date=date(2026, 6, 9),
            note="",
            blocks=(
                *walks(
                    "tessarik-cupola", "wrenlet-b2 5/160 d; wrenlet-b2 6/320 d; wrenlet-u2 5/80 d", firmware="3.2.0"
                ),
                *walks("tessarik-cupola", "wrenlet-b2 5/160 d 246", firmware="3.0.2"),
            ),
        ),
    ),
}
