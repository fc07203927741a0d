"""One bench day: the clock runs, clients walk the spots, every attempt becomes a row of runs.csv."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from random import Random

from making import clients, devices
from making.accidents import ACCIDENTS
from making.clients import Client
from making.conditions import lower_db
from making.devices import Device, Firmware, Unit
from making.diary import Block, Ceiling, Day, reference_check
from making.dice import around_one, dice
from making.houses import House, loss_db
from making.link_budget import (
    Link,
    below_cap,
    goodput_mbit_s,
    link_rate_mbit_s,
    older,
    port_limit_mbit_s,
)

Row = dict[str, object]
SESSION_SPREAD = 0.026
PLACEMENT_DB = 0.8
RUN_NOISE = 0.014
FAR_RUN_NOISE = 0.03
FAR_DBM = -65.0
MULTI_LINK_SHARE = 0.82  # what the sum of two links keeps when a client uses both at once
BENCH_TOP_DB = 40.0
UDP_GAIN = 1.10  # no acknowledgements on the air, one metre apart, nobody else in the house
WHEN = "%Y-%m-%d %H:%M:%S"


class Clock:
    """Local time of a bench day; only ever moves on."""

    def __init__(self, start: datetime, chance: Random) -> None:
        self.now = start
        self._chance = chance

    def pass_between(self, low_s: int, high_s: int) -> None:
        """Let some seconds pass."""
        self.now += timedelta(seconds=self._chance.randint(low_s, high_s))


@dataclass(frozen=True, kw_only=True)
class Setup:
    """Everything that decides one attempt, except chance."""

    device: Device
    firmware: Firmware
    unit: Unit
    client: Client
    driver: str
    band: str
    width_mhz: int
    direction: str
    loss_db: dict[str, float]  # by band
    settings: str = ""


# The newer driver of the be client does worse on wide channels: what the bridge test is to find.
DRIVER_GAIN = {("wrenlet-b2", "D-12", 160): 0.92, ("wrenlet-b2", "D-12", 80): 0.985}


def link_of(setup: Setup, band: str, *, shift_db: float) -> Link:
    """The link of one band of a setup, its level moved by *shift_db*."""
    device, client = setup.device, setup.client
    near, far = device.by_band[band], client.radio(band)
    amendment = older(device.amendment, client.amendment)
    if band == "2.4" and amendment == "802.11ac":
        amendment = "802.11n"  # 802.11ac is not defined at 2.4 GHz
    down = setup.direction == "down"
    sent_dbm = near.eirp_dbm - lower_db(setup.settings) if down else far.eirp_dbm
    return Link(
        amendment=amendment,
        streams=min(near.streams, far.streams),
        antennas=near.streams if down else far.streams,
        width_mhz=setup.width_mhz,
        level_dbm=sent_dbm - setup.loss_db[band] + shift_db,
        noise_figure_db=client.noise_figure_db if down else device.noise_figure_db,
    )


def mean_throughput(setup: Setup, *, shift_db: float, factor: float) -> float:
    """Throughput of a setup on a given day, before the noise of one attempt. [Mbit/s]

    shift_db  placement and fading [dB]
    factor    the day's and any other factor on the radio link [1]
    """
    bands = setup.band.split("+")
    radio = sum(goodput_mbit_s(link_of(setup, band, shift_db=shift_db), direction=setup.direction) for band in bands)
    if len(bands) > 1:
        radio *= MULTI_LINK_SHARE
    radio *= setup.device.skill * setup.firmware.gain * setup.unit.strength * setup.client.skill * factor
    radio *= DRIVER_GAIN.get((setup.client.id, setup.driver, setup.width_mhz), 1.0)
    return radio


def capped(rate_mbit_s: float, setup: Setup, chance: Random) -> float:
    """A rate after the device's wired port and the client's bus. [Mbit/s]"""
    port = port_limit_mbit_s(setup.device.fastest_port_mbit_s) * (1 - abs(chance.gauss(0, 0.001)))
    rate = below_cap(rate_mbit_s, port)
    if setup.client.cap_mbit_s is not None:
        rate = below_cap(rate, setup.client.cap_mbit_s * (1 - abs(chance.gauss(0, 0.006))))
    return rate


def session_factor(session: str) -> float:
    """How good a day it was, the same for every device measured on it. [1]"""
    return min(1.07, max(0.93, around_one(SESSION_SPREAD, "session", session)))


def setup_of(
    device_id: str,
    client_id: str,
    *,
    firmware: str,
    unit: str,
    driver: str,
    band: str,
    width_mhz: int,
    direction: str,
    losses: dict[str, float],
    settings: str = "",
) -> Setup:
    """The setup named by ids; an empty firmware or driver is the first one registered, empty settings are as always."""
    device, client = devices.BY_ID[device_id], clients.BY_ID[client_id]
    return Setup(
        device=device,
        firmware=next(f for f in device.firmware if f.version == (firmware or device.firmware[0].version)),
        unit=next(u for u in device.units if u.id == unit),
        client=client,
        driver=driver or client.driver,
        band=band,
        width_mhz=width_mhz,
        direction=direction,
        loss_db=losses,
        settings=settings,
    )


def losses_at(house: House, number: str, band: str, day: Day) -> dict[str, float]:
    """True attenuation of a spot for each band of "5+6" and the like. [dB]"""
    return {single: loss_db(house, number, single, on=day.date) for single in band.split("+")}


def _row(setup: Setup, day: Day, *, at: datetime, repeat: int) -> Row:
    single = setup.device.by_band.get(setup.band)
    return {
        "when": at.strftime(WHEN),
        "device": setup.device.id,
        "unit": setup.unit.id,
        "firmware": setup.firmware.version,
        "client": setup.client.id,
        "driver": setup.driver,
        "session": day.id,
        "settings": setup.settings,
        "band": setup.band,
        "channel": single.channel if single else "",
        "width_mhz": setup.width_mhz,
        "direction": setup.direction,
        "repeat": repeat,
    }


def attempt(setup: Setup, day: Day, *, spot: str, at: datetime, repeat: int) -> Row:
    """One attempt at a spot as a row; without a value when the link carries nothing."""
    cell = (day.id, setup.device.id, setup.unit.id, setup.firmware.version, setup.client.id, spot, setup.band)
    # The unit is put up again for each firmware, so renaming a version changes its placement.
    placement = dice("placement", *cell).gauss(0, PLACEMENT_DB)
    chance = dice("attempt", *cell, setup.width_mhz, setup.direction, repeat, *filter(None, [setup.settings]))
    shift = placement + chance.gauss(0, 0.4)
    row = _row(setup, day, at=at, repeat=repeat)
    row["spot"] = spot
    if setup.band in setup.device.by_band:
        sent_dbm = setup.device.by_band[setup.band].eirp_dbm - lower_db(setup.settings)
        heard = sent_dbm - setup.loss_db[setup.band] + shift
        row["level_dbm"] = round(heard + setup.client.level_bias_db)
        row["link_rate_mbit_s"] = f"{link_rate_mbit_s(link_of(setup, setup.band, shift_db=shift)):.1f}"
        noise = FAR_RUN_NOISE if heard < FAR_DBM else RUN_NOISE
    else:
        noise = RUN_NOISE
    # What flutters within a run moves the level reading; the rate over half a minute follows the placement.
    mean = mean_throughput(setup, shift_db=placement, factor=session_factor(day.id))
    rate = capped(mean * math.exp(chance.gauss(0, noise)), setup, chance)
    if rate < 3.0:
        return row | {"outcome": "did not finish", "link_rate_mbit_s": "", "note": "no traffic for a minute"}
    return row | {"throughput (Mbit/s)": f"{rate:.1f}", "outcome": "finished"}


def _walk(blocks: tuple[Block, ...], day: Day, clock: Clock) -> list[Row]:
    """One client's walk: at each spot everything planned there, then on to the next."""
    rows: list[Row] = []
    for number in sorted({number for block in blocks for number in block.spots}):
        spot = day.house.spot(number).id
        clock.pass_between(150, 330)
        for block in (block for block in blocks if number in block.spots):
            for letter in block.directions:
                direction = "down" if letter == "d" else "up"
                setup = setup_of(
                    block.device,
                    block.client,
                    firmware=block.firmware,
                    unit=block.unit,
                    driver="",
                    band=block.band,
                    width_mhz=block.width_mhz,
                    direction=direction,
                    losses=losses_at(day.house, number, block.band, day),
                    settings=block.settings,
                )
                repeats = list(range(1, block.repeats + 1))
                while repeats:
                    repeat = repeats.pop(0)
                    key = (day.id, block.device, block.client, block.band, direction, number, repeat)
                    accident = ACCIDENTS.get(key)
                    clock.pass_between(40, 65)
                    row = attempt(setup, day, spot=spot, at=clock.now, repeat=repeat)
                    if accident is not None:
                        row |= {
                            "outcome": accident.outcome,
                            "note": accident.note,
                            "throughput (Mbit/s)": "",
                            "link_rate_mbit_s": "",
                            "dfs_event": "yes" if accident.radar else "",
                        }
                        if accident.outcome == "not possible":
                            row["level_dbm"] = ""
                        if accident.again:
                            repeats.append(block.repeats + 1)
                        if accident.radar:
                            clock.pass_between(1800, 2100)  # the channel stays closed that long
                    rows.append(row)
    return rows


def bench_top(ceiling: Ceiling, day: Day, clock: Clock) -> tuple[Row, list[float]]:
    """A ceiling run on the bench top over UDP, with its thirty one-second values. [Mbit/s]"""
    clock.pass_between(90, 200)
    setup = setup_of(
        ceiling.device,
        ceiling.client,
        firmware="",
        unit="A",
        driver="",
        band=ceiling.band,
        width_mhz=ceiling.width_mhz,
        direction=ceiling.direction,
        losses={ceiling.band: BENCH_TOP_DB},
    )
    chance = dice("bench top", day.id, ceiling.device, ceiling.client, ceiling.band, ceiling.width_mhz)
    mean = mean_throughput(setup, shift_db=0.0, factor=session_factor(day.id) * UDP_GAIN)
    seconds = [round(capped(mean * math.exp(chance.gauss(0, 0.012)), setup, chance), 1) for _ in range(30)]
    if ceiling.foreign_log:
        seconds[:3] = [round(value * share, 1) for value, share in zip(seconds, (0.31, 0.72, 0.93), strict=False)]
    row = _row(setup, day, at=clock.now, repeat=1)
    row |= {
        "protocol": "udp",
        "attenuation_db": f"{BENCH_TOP_DB:.1f}",
        "outcome": "finished",
        "level_dbm": round(setup.device.by_band[ceiling.band].eirp_dbm - BENCH_TOP_DB + setup.client.level_bias_db),
        "note": "bench top, one metre",
    }
    return row, seconds


def day_rows(day: Day) -> tuple[list[Row], list[tuple[Ceiling, Row, list[float]]], Clock]:
    """All rows of runs.csv of one day in the order they were made, its ceiling runs, and the clock after them."""
    clock = Clock(datetime.combine(day.date, time(8, 40)), dice("clock", day.id))
    rows: list[Row] = []
    if day.reference_first:
        rows += _walk(reference_check(day.house), day, clock)
    evidence = []
    for ceiling in day.ceilings:
        row, seconds = bench_top(ceiling, day, clock)
        rows.append(row)
        evidence.append((ceiling, row, seconds))
    walkers = dict.fromkeys((block.client, block.unit, block.firmware) for block in day.blocks)
    for client, unit, firmware in walkers:
        clock.pass_between(300, 600)
        blocks = tuple(b for b in day.blocks if (b.client, b.unit, b.firmware) == (client, unit, firmware))
        rows += _walk(blocks, day, clock)
    return rows, evidence, clock
