"""Makes the demo of Likeloss: an invented bench, its devices and four and a half years of results.

    python data/demo/make_demo.py [--out FOLDER]

Writes batches/, corrections/ and demo.toml below FOLDER (this folder when left out), the same bytes each
time. What is planted where is told in README.md.
"""

from __future__ import annotations

import argparse
import json
import shutil
from pathlib import Path

from making import findings
from making.articles import ARTICLES
from making.batch_folder import BatchFolder, csv_text, toml_text
from making.bench import Clock, Row, day_rows
from making.bridge_tests import bridge_rows
from making.corrections import COLUMNS, correction_files, mistype
from making.devices import BY_ID, DEVICES, GANTRY_EMBARGO
from making.diary import ALL, DAYS, Ceiling, Day
from making.dice import dice
from making.drawings import drawing
from making.houses import BIRCHGATE, CUPBOARD_DAY, CUPBOARD_SPOT, HOUSES, reading_rows
from making.mixes import day_mixes
from making.nights import night_row
from making.registers import Table, register

BUILD_INSTANT = "2026-06-30T12:00:00Z"
LICENCE = "CC-BY-4.0"
SITE = {
    "title": "Kettle Lane Bench",
    "author": "The desk of the Kettle Lane Bench",
    "contact": "desk@example.org",
    "language": "en",
    "address": "https://example.org/bench/",
    "licence": LICENCE,
}
TITLES = {
    "2022-01-houses": "Two houses, five clients, two reference devices",
    "2022-04-ingle": "Fjeldrun Ingle",
    "2022-09-rondel-4": "Polmerre Rondel 4",
    "2022-11-trio": "Tessarik Trio, one box of three",
    "2023-03-faceplate": "Hollendry Faceplate",
    "2023-07-ridge": "Quillmast Ridge, indoors",
    "2023-11-rondel-6": "Polmerre Rondel 6",
    "2024-02-cupboard": "Birchgate re-read after a cupboard arrived",
    "2024-04-rondel-6-again": "Rondel 6 again: new firmware, second unit",
    "2024-05-wrenlet-b2": "A new client meets the reference devices",
    "2024-06-cupola": "Tessarik Cupola",
    "2024-10-bridges": "Old and new adapter, old and new driver",
    "2025-02-skerry": "Fjeldrun Skerry",
    "2025-06-full-house": "Five machines at once",
    "2025-07-bobbin": "Hollendry Bobbin",
    "2025-11-desk": "From the desk: prices, a dispute, a withdrawal",
    "2026-02-tarn": "Veltrisk Tarn",
    "2026-03-full-house": "Five machines at once, the newest device",
    "2026-05-gantry": "Quillmast Gantry",
    "2026-06-saltmarsh": "Saltmarsh, a day in June",
}
# What `likeloss demo` says at its end; {out} is the site's folder, {catalog} the catalogue.
TRY = """\
Look at
  {out}/devices/polmerre-rondel-6/index.html    two firmwares, two units, a spot that moved, a dispute
  {out}/devices/tessarik-cupola/index.html    three bands, a hot back plate, a review
  {out}/devices/tessarik-trio/index.html      withdrawn, and why
  {out}/workloads/full-house/index.html     five machines at once, and who copes
Try
  likeloss --catalog {catalog} rank --band 5 --width 80 --client wrenlet-u2 --window middle
  likeloss --catalog {catalog} compare tessarik-cupola polmerre-rondel-4
  likeloss --catalog {catalog} compare tessarik-cupola polmerre-rondel-4 --match level
  likeloss --catalog {catalog} compare polmerre-rondel-6@6.1.0 polmerre-rondel-6@6.0.4 --match spot
  likeloss --catalog {catalog} compare fjeldrun-ingle hollendry-bobbin
  likeloss --catalog {catalog} compare tessarik-cupola+links-on tessarik-cupola+links-off --match spot
  likeloss --catalog {catalog} roles tessarik-cupola --against fjeldrun-skerry
  likeloss --catalog {catalog} reach veltrisk-tarn --at 300
"""
# Which drawings each batch holds: device, view, number of sockets.
IMAGES = {
    "2022-01-houses": (("quillmast-lantern", "case", 3), ("tessarik-plinth", "ports", 2)),
    "2022-11-trio": (("tessarik-trio", "case", 2),),
    "2023-11-rondel-6": (("polmerre-rondel-6", "teardown", 1),),
    "2024-04-rondel-6-again": (("polmerre-rondel-6", "ports", 1),),
    "2024-06-cupola": (("tessarik-cupola", "case", 2), ("tessarik-cupola", "teardown", 2)),
    "2025-02-skerry": (("fjeldrun-skerry", "ports", 1),),
}
ALT = {
    "case": "{name}, line drawing of the case as it was tested, seen from the front",
    "ports": "{name}, line drawing of the side with the wired sockets",
    "teardown": "{name}, line drawing of the open case: main board, chips under shields, four antenna leads",
}
FOREIGN_MAP = """\
# The bench top's own program writes JSON: milliseconds since its start, and kilobits a second.
kind = "throughput"
format = "json"
rows = "$.samples[*]"
skip_first_s = 3

[column.t_s]
from = "$.begin"
unit = "ms"

[column.rate]
from = "$.rx_kbit"
unit = "kbit/s"

[column.seconds]
constant = 1
"""


def _ceiling_logs(folder: BatchFolder, evidence: list[tuple[Ceiling, Row, list[float]]]) -> None:
    """Give each ceiling run its log and the mean of that log."""
    for ceiling, row, seconds in evidence:
        stem = f"ceiling-{ceiling.client}-{row['session']}-{ceiling.band}-{ceiling.width_mhz}"
        if ceiling.foreign_log:
            samples = [{"begin": 1000 * t, "rx_kbit": round(value * 1000)} for t, value in enumerate(seconds)]
            folder.files[f"logs/{stem}.json"] = json.dumps({"program": "bench top 2", "samples": samples}) + "\n"
            folder.files["maps/benchtop.toml"] = FOREIGN_MAP
            row["log"] = f"benchtop:logs/{stem}.json"
            counted = seconds[3:]
        else:
            lines = ["t_s,mbit_s", *(f"{t},{value:.1f}" for t, value in enumerate(seconds))]
            folder.files[f"logs/{stem}.csv"] = "\n".join(lines) + "\n"
            row["log"] = f"logs/{stem}.csv"
            counted = seconds
        row["throughput (Mbit/s)"] = f"{sum(counted) / len(counted):.1f}"


def _measure(folder: BatchFolder, days: tuple[Day, ...]) -> dict[str, list[Table]]:
    """All tables of the batch's days; returns the ceilings, client id -> tables, with their row numbers."""
    evidence: list[tuple[Ceiling, Row]] = []
    for day in days:
        rows, ceilings, clock = day_rows(day)
        _ceiling_logs(folder, ceilings)
        evidence += [(ceiling, row) for ceiling, row, _ in ceilings]
        folder.add("runs", rows)
        stations, logs = day_mixes(day, after=clock.now)
        folder.add("stations", stations)
        folder.files |= logs
        if day.night is not None:
            row, path, text = night_row(day.night, day)
            folder.add("longruns", [row])
            folder.files[path] = text
        if folder.id == "2024-10-bridges":
            folder.add("bridges", bridge_rows(day, Clock(clock.now, dice("clock", "bridges"))))
    tables: dict[str, list[Table]] = {}
    runs = folder.tables.get("runs", [])
    for ceiling, row in evidence:
        number = next(i for i, other in enumerate(runs) if other is row) + 2  # the header is row 1
        tables.setdefault(ceiling.client, []).append(
            {
                "band": ceiling.band,
                "width_mhz": ceiling.width_mhz,
                "direction": ceiling.direction,
                "run": f"{folder.id}/runs/{number}",
            }
        )
    return tables


def _pictures(folder: BatchFolder) -> list[Table]:
    tables: list[Table] = []
    for device, view, sockets in IMAGES.get(folder.id, ()):
        path = f"images/{device}-{view}.png"
        fed_by_cable = any(port.power == "in" for port in BY_ID[device].ports)
        folder.files[path] = drawing(device, view, kind=BY_ID[device].kind, sockets=sockets, jack=not fed_by_cable)
        name = f"{BY_ID[device].maker} {BY_ID[device].model}"
        tables.append(
            {
                "file": path,
                "device": device,
                "kind": view,
                "alt": ALT[view].format(name=name),
                "credit": "Bench desk, own drawing",
            }
        )
    return tables


def _articles(folder: BatchFolder) -> list[Table]:
    tables: list[Table] = []
    for article in ARTICLES:
        if article.batch == folder.id:
            path = f"articles/{article.id}.md"
            folder.files[path] = article.text
            tables.append(
                {
                    "id": article.id,
                    "title": article.title,
                    "published": article.published,
                    "file": path,
                    "devices": list(article.devices),
                }
            )
    return tables


def batch(batch_id: str) -> BatchFolder:
    """One batch as the bench measured it, without its slip of the hand."""
    folder = BatchFolder(
        {
            "format": 1,
            "id": batch_id,
            "title": TITLES[batch_id],
            "timezone": "Europe/Berlin",
            "licence": LICENCE,
        }
    )
    if batch_id == "2022-01-houses":
        folder.settings["site"] = SITE
        for house in HOUSES:
            folder.add("spots", reading_rows(house, numbers=ALL, valid_from=house.walked))
    if batch_id == "2024-02-cupboard":
        folder.add("spots", reading_rows(BIRCHGATE, numbers=CUPBOARD_SPOT[1:], valid_from=CUPBOARD_DAY))
    if batch_id == "2026-05-gantry":
        folder.settings["embargo"] = {
            "until": GANTRY_EMBARGO.until,
            "timezone": GANTRY_EMBARGO.timezone,
            "covers": "results",
        }
    ceilings = _measure(folder, DAYS.get(batch_id, ()))
    if folder.tables.get("runs"):
        folder.settings["defaults"] = {
            "runs": {"protocol": "tcp", "flows": 8, "security": "WPA3-Personal", "seconds": 30}
        }
        for row in folder.tables["runs"]:
            if any(other.get("protocol") for other in folder.tables["runs"]):
                row.setdefault("protocol", "tcp")
    folder.settings |= register(batch_id, ceilings)
    for device in DEVICES:
        if device.batch == batch_id:
            for stem, rows in findings.device_rows(device.id).items():
                folder.add(stem, rows)
    for stem, rows in findings.batch_rows(batch_id).items():
        folder.add(stem, rows)
    for name, tables in (("article", _articles(folder)), ("image", _pictures(folder))):
        if tables:
            folder.settings[name] = tables
    return folder


def make(out: Path) -> None:
    """Write the whole demo below *out*; earlier output there is replaced."""
    for name in ("batches", "corrections"):
        if (out / name).exists():
            shutil.rmtree(out / name)
    right = None
    for batch_id in TITLES:
        folder = batch(batch_id)
        right = mistype(folder.tables.get("runs", [])) or right
        folder.write(out / "batches")
    assert right is not None
    (out / "corrections").mkdir(parents=True)
    names = []
    for name, rows in correction_files(right).items():
        names.append(f"corrections/{name}")
        (out / names[-1]).write_text(csv_text(COLUMNS, rows), encoding="utf-8", newline="\n")
    settings = {"build_instant": BUILD_INSTANT, "order": list(TITLES), "corrections": names, "try": TRY}
    (out / "demo.toml").write_text(toml_text(settings), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    parser.add_argument("--out", type=Path, default=Path(__file__).parent, help="where to write (this folder)")
    make(parser.parse_args().out)
