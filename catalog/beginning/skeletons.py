"""A new batch: a folder with a commented batch.toml and, where wished, a sheet of every cell to measure."""

from __future__ import annotations

import re
import shlex
from datetime import date
from pathlib import Path

from sqlite_utils import Database

from catalog import queries
from catalog.beginning.cells_to_measure import REPEATS, planned_cells, reference_device
from catalog.beginning.planned_batches import log_name, table_text
from catalog.errors import InputRefused
from catalog.reading.format import PLANNED
from catalog.whole_files import whole_folder

SKELETON = """\
# A batch: things and settings here, measurements in tables beside it (runs.csv and others).
# Lines that begin with # are examples: take away the # of what you need. Check it with: likeloss check {folder}
format = 1
id = "{id}"
title = "Say in a few words what was tested"
timezone = "Europe/Berlin"        # of times without an offset; write your own
licence = "CC-BY-4.0"

# [site]                          # who publishes: once in a catalogue, needed before `publish`
# title = "My bench"
# author = "The desk"
# contact = "desk@bench.example"
# address = "https://bench.example/"

[[device]]                        # a device that is in the catalogue already is named by its id in the tables instead
id = "{device}"
maker = "Maker"
model = "Model"
amendment = "802.11ax"            # 802.11n, 802.11ac, 802.11ax or 802.11be
# kind = "ceiling access point"
# aliases = ["Model EU"]
# revision = "1.0"
{radios}#   [[device.port]]
#   name = "LAN"
#   speed_mbit_s = 2500
#   power = "in"                  # in, out or none
#   power_class = 4               # IEEE 802.3
  [[device.unit]]
  id = "A"
  origin = "loaned"               # bought, loaned or given
  by = "maker"
  received = {today}
#  returned = {today}             # when it goes back: coverage counts the days
  [[device.firmware]]
  version = "1.0"                 # always text
#  released = {today}
#  [device.embargo]
#  until = "{today}T09:00"
#  timezone = "America/New_York"  # an embargo without a zone or an offset is refused
#  covers = "existence"           # existence or results
{things}
[[session]]
id = "{today}"
house = "{house}"
date = {today}
# note = "windows closed"

# [[client]]                      # known already: its id is enough
# id = "my-laptop"
# [[client.ceiling]]              # what it can do at most, and the run that shows it: batch, table and row
# band = "5"
# width_mhz = 80
# direction = "down"
# run = "{id}/runs/2"
# [[image]]
# file = "images/inside.jpg"
# device = "{device}"
# kind = "teardown"               # case, ports, teardown, thermal or other
# alt = "Main board with four antenna leads"
# credit = "Who took it"
# Spots are a table beside this file, spots.csv:
# house,spot,band,valid_from,reference_eirp_dbm,reading_dbm

# [[settings]]                    # what was set otherwise than always; a column settings in runs.csv names it
# id = "links-off"
# title = "One link at a time"
# multi_link = "off"              # on or off

# [[role]]                        # several clients at once: a kind of work, defined once in the catalogue
# id = "film"
# kind = "stream"                 # stream, pages, voice, game, fetch or upload
# rate_mbit_s = 8
# segment_s = 2
# start_buffer_s = 6
# target_ms = 200                 # enough: this share of the planned requests within this time
# target_share = 0.95
# good_ms = 40
# good_share = 0.95
# [[workload]]
# id = "evening"
# version = 1
# title = "An evening at home"
# duration_s = 900
# seats = [["film"], ["film"]]    # a list for each machine, of the roles that it plays at the same time

[defaults.runs]                   # a column that is the same in every row
device = "{device}"
firmware = "1.0"
session = "{today}"
"""

FIRST_THINGS = """
[[client]]
id = "my-laptop"
name = "My laptop"
amendment = "802.11ax"
  [[client.radio]]
  band = "5"
  streams = 2
  max_width_mhz = 80

[[house]]
id = "home"
name = "Home"
# reference_device = "{device}"   # the device that is measured again on every bench day
"""

HEADER = (
    "when",
    "client",
    "driver",
    "band",
    "width_mhz",
    "direction",
    "protocol",
    "flows",
    "security",
    "spot",
    "level_dbm",
    "repeat",
    "throughput_mbit_s",
    "outcome",
    "log",
    "note",
)


def begin_batch(
    folder: Path, *, catalog: Database | None, like: str | None, plan: bool, today: date
) -> tuple[list[str], int]:
    """Make *folder* with a batch.toml and a runs.csv. Returns the files and the planned rows.

    catalog  None for a first batch: then a client and a house are in the skeleton, too
    like     the device whose radios and cells are taken over; for a plan the reference device where None
    plan     runs.csv holds a row for every repeat of every cell; else its header
    Raises   InputRefused for a folder that holds something; UnknownName for a device that is not in the catalogue.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputRefused(f"{folder} holds something already. A new batch wants a folder of its own.")
    if plan and catalog is None:
        raise InputRefused("A plan is made from what was measured before, and there is no catalogue yet.")
    if plan and catalog is not None:
        like = like or reference_device(catalog)
    device = slug_of(folder.name)
    rows = planned_rows(catalog, like) if plan and catalog is not None and like is not None else []
    text = SKELETON.format(
        folder=shlex.quote(str(folder)),
        id=batch_id_of(device, today),
        device=device,
        today=today.isoformat(),
        radios=_radios(catalog, like),
        house=house_of(catalog, like),
        things="" if catalog is not None else FIRST_THINGS.format(device=device),
    )
    with whole_folder(folder) as made:
        (made / "batch.toml").write_text(text, encoding="utf-8")
        (made / "runs.csv").write_text(table_text(HEADER, rows), encoding="utf-8", newline="")
    return ["batch.toml", "runs.csv"], len(rows)


def planned_rows(db: Database, like: str) -> list[tuple[str, ...]]:
    """A row for every repeat of every cell of *like*, in the columns of HEADER."""
    every = [(cell, repeat) for cell in planned_cells(db, like) for repeat in range(1, REPEATS + 1)]
    return [
        (
            "",
            cell.client,
            cell.driver or "",
            cell.band,
            str(cell.width_mhz),
            cell.direction,
            cell.protocol or "",
            "" if cell.flows is None else str(cell.flows),
            cell.security or "",
            cell.spot,
            "",
            str(repeat),
            "",
            PLANNED,
            log_name(order, len(every), cell.spot, cell.direction, str(repeat)),
            "",
        )
        for order, (cell, repeat) in enumerate(every, start=1)
    ]


def _radios(db: Database | None, like: str | None) -> str:
    """The radios of the device to be like, as examples to correct; a commented one without it."""
    device = next((d for d in queries.devices(db) if d.device_id == like), None) if db is not None else None
    if device is None or not device.radios:
        return '#   [[device.radio]]\n#   band = "5"                    # 2.4, 5 or 6\n#   streams = 2\n#   max_width_mhz = 160\n'
    return "".join(
        f'  [[device.radio]]\n  band = "{r.band}"\n  streams = {r.streams}\n  max_width_mhz = {r.max_width_mhz}\n'
        for r in device.radios
    )


def house_of(db: Database | None, like: str | None) -> str:
    """Where the device to be like was tested last; the first house without it; "home" in a first batch."""
    if db is None:
        return "home"
    tested = sorted((r.at_utc, r.house) for r in queries.runs(db, devices=[like or ""]))
    houses = [h.house_id for h in queries.houses(db)]
    return tested[-1][1] if tested else houses[0] if houses else "home"


def batch_id_of(device: str, today: date) -> str:
    """The id of a batch about a device: with the month, unless its name begins with one."""
    return f"{today:%Y-%m}-{device}" if not re.match(r"\d{4}-\d{2}", device) else device


def slug_of(name: str) -> str:
    """A name as an id: small letters, digits and dashes."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "my-access-point"
