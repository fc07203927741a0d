"""A small bench with one of everything a page shows, written as a batch and entered.

Invented, like the demo. Attenuations 46 to 82 dB; rates fall by 20 Mbit/s a dB, so that they can be worked out by
hand. Names hold "<" and "&" on purpose: whatever is not escaped would break a page.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image

from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch
from tests.batches import LINK, PAGES, article, batch_at, batch_toml, client, device, session

SPOTS = {
    "S1": (46.0, "same room"),
    "S2": (55.5, "one open door"),
    "S3": (64.0, "one brick wall"),
    "S4": (73.0, "two brick walls"),
    "S5": (82.0, "wooden floor and two walls"),
}
RUNS = (  # device, firmware, client, direction, session, Mbit/s at 0 dB, spots
    ("quillmast-sill", "1.0", "wrenlet-u2", "down", "2025-05-12", 1700.0, "12345"),
    ("quillmast-sill", "1.0", "wrenlet-u2", "up", "2025-05-12", 1660.0, "12345"),
    ("quillmast-sill", "1.0", "skarn-c3", "down", "2025-05-12", 1600.0, "12"),
    ("quillmast-vane", "2.9", "wrenlet-u2", "down", "2025-05-12", 1740.0, "1234"),
    ("quillmast-vane", "2.10", "wrenlet-u2", "down", "2025-06-20", 1755.0, "12345"),
    ("tessarik-a-b", "7.1", "wrenlet-u2", "down", "2025-05-12", 1790.0, "2345"),
    ("tessarik-a-b", "7.1", "skarn-c3", "down", "2025-05-12", 1650.0, "45"),
)
COLLAPSED = ("tessarik-a-b", "S5", 3)  # device, spot, repeat

LAPTOP = {
    "machine": "laptop",
    "adapter": "two-stream card",
    "bus": "PCIe",
    "level_of": "data frames",
    "driver": [{"version": "3.11"}],
}
REST = {
    "site": {"title": "Test & bench", "author": "The desk", "contact": "desk@example.org", "language": "en"},
    "house": [{"id": "house-a", "name": "House A", "reference_device": "quillmast-sill"}],
    "session": [session("2025-05-12"), session("2025-06-20")],
    "workload": [
        {"id": "five", "version": 1, "title": "Five people <Monday>", "duration_s": 600, "role": [PAGES]},
    ],
    "article": [
        article(
            "a-b-review",
            "articles/r.md",
            title="A<b: quiet",
            published="2025-06-10T15:00:00+02:00",
            devices=["tessarik-a-b", "quillmast-sill"],
        )
    ],
    "image": [
        {
            "file": "images/ports.png",
            "device": "tessarik-a-b",
            "kind": "ports",
            "alt": "Two <ports>",
            "credit": "The desk",
        }
    ],
}
ARTICLE = "# Quiet\n\nIt is <script>alert(1)</script> **quick**.\n\n![Its ports](../images/ports.png)\n"
TABLES = {
    "stations.csv": (
        "mix,workload,workload_version,when,device,unit,firmware,client,driver,session,role,band,spot,planned_s,outcome,"
        "ended_at_s,ended_by,log\n"
        "m1,five,1,2025-05-12T14:00:00Z,tessarik-a-b,A,7.1,wrenlet-u2,3.11,2025-05-12,pages,5,S3,600,finished,600,,\n"
        "m2,five,1,2025-05-12T15:00:00Z,tessarik-a-b,A,7.1,wrenlet-u2,3.11,2025-05-12,pages,5,S3,600,did not finish,"
        "380,power cycle,\n"
    ),
    "heat.csv": (
        "device,unit,face,material,reading_c,ambient_c,load,minutes,mount\n"
        "tessarik-a-b,A,back,metal,61.5,23.5,full,60,ceiling\n"
        "tessarik-a-b,A,front,plastic,48.5,,full,60,\n"
    ),
    "power.csv": "device,unit,state,watts,side,cable_m\ntessarik-a-b,A,full load,19.5,supply,10\n",
    "features.csv": (
        "device,feature,step,firmware,date,licence,method\n"
        "tessarik-a-b,guest network,works,7.1,2025-05-13,none,two guests <kept apart>\n"
    ),
    "parts.csv": "device,block,marking,count,read\ntessarik-a-b,radio,X<1>,2,read\n",
    "prices.csv": (
        "device,date,amount,currency,region,tax_included,condition,licence_per_year\n"
        "tessarik-a-b,2025-05-01,199,EUR,DE,yes,new,39\n"
    ),
    "disputes.csv": "device,date,by,claim,state\ntessarik-a-b,2025-06-03,the maker,old <firmware>,open\n",
}
CORRECTION = (
    "table,key,column,was,now,reason,noticed_by,date\n"
    "prices,device=tessarik-a-b;date=2025-05-01;region=DE;condition=new,amount,199,189,mistyped,a reader,2025-06-02\n"
)


def small_catalog(path: Path) -> Path:
    """Write the batch beside *path*, enter it into a new catalogue there, and return *path*."""
    batch = path.parent / "2025-05-first"
    rows = _runs()
    highest = max((row for row in rows if row[5] == "wrenlet-u2" and row[-2]), key=lambda row: float(row[-2]))
    files = {
        "runs.csv": _csv(RUN_COLUMNS, rows),
        "spots.csv": _csv(SPOT_COLUMNS, _spots()),
        **TABLES,
        "articles/r.md": ARTICLE,
        "images/ports.png": _picture(),
    }
    batch_at(batch, _toml(ceiling_row=rows.index(highest) + 2), files)
    enter_batch(batch, into=path, now=datetime(2025, 7, 1, tzinfo=UTC))
    corrections = path.parent / "corrections.csv"
    corrections.write_text(CORRECTION, encoding="utf-8")
    db = open_catalog(path, readonly=False)
    correct_file(corrections, catalog=db, now=datetime(2025, 7, 2, tzinfo=UTC))
    db.close()
    return path


def _toml(*, ceiling_row: int) -> str:
    evidence = LINK | {"run": f"2025-05-first/runs/{ceiling_row}"}
    return batch_toml(
        "2025-05-first",
        title="First <bench> & more",
        device=[
            _device("quillmast-sill", "1.0"),
            _device("quillmast-vane", "2.9", "2.10"),
            _device("tessarik-a-b", "7.1", model="A<b", aliases=["A<b EU"]),
            _device("tessarik-new", "0.9", model="Untested & new"),
        ],
        client=[client("wrenlet-u2", **LAPTOP, ceiling=[evidence]), client("skarn-c3", name="Skarn <C3>", **LAPTOP)],
        **REST,
    )


def _device(device_id: str, *versions: str, **others: Any) -> dict[str, Any]:
    origin: dict[str, Any] = {"origin": "bought", "by": "bench"}
    if device_id == "tessarik-a-b":
        origin = {"origin": "loaned", "by": "maker", "returned": date(2025, 8, 1)}
    return device(
        device_id,
        kind="ceiling access point",
        revision="1.0",
        port=[{"name": "LAN", "speed_mbit_s": 2500, "power": "in", "power_class": 3}],
        unit=[{"id": "A", **origin, "received": date(2025, 4, 1)}],
        firmware=[{"version": version, "released": date(2025, n, 10)} for n, version in enumerate(versions, start=1)],
        **others,
    )


RUN_COLUMNS = (
    "when,device,unit,firmware,driver,client,session,band,channel,width_mhz,direction,spot,level_dbm,repeat,note,"
    "throughput_mbit_s,outcome"
)


def _runs() -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for name, firmware, setup, direction, day, height, numbers in RUNS:
        for spot in (f"S{number}" for number in numbers):
            loss = SPOTS[spot][0]
            for repeat in (1, 2, 3):
                collapsed = (name, spot, repeat) == COLLAPSED
                rate = "" if collapsed else f"{height - 20 * loss + 3 * (repeat - 2):.1f}"
                when = f"{day}T{8 + len(rows) // 60:02d}:{len(rows) % 60:02d}:00Z"
                rows.append(
                    (
                        when,
                        name,
                        "A",
                        firmware,
                        "3.11",
                        setup,
                        day,
                        "5",
                        "36",
                        "80",
                        direction,
                        spot,
                        f"{24 - loss:.1f}",
                        str(repeat),
                        "" if rows else "=1+1",
                        rate,
                        "did not finish" if collapsed else "finished",
                    )
                )
    return rows


SPOT_COLUMNS = (
    "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm,reference_source,reference_receiver,distance_m,obstacles"
)


def _spots() -> list[tuple[str, ...]]:
    return [
        ("house-a", spot, "5", "2025-01-01", "20.0", f"{20 - loss + wobble:.1f}", "KS", "LR", f"{2 * n}", between)
        for n, (spot, (loss, between)) in enumerate(SPOTS.items(), start=1)
        for wobble in (-1.0, -0.5, 0.0, 0.5, 1.0)
    ]


def _csv(columns: str, rows: list[tuple[str, ...]]) -> str:
    return "\n".join([columns, *(",".join(row) for row in rows)]) + "\n"


def _picture() -> bytes:
    stream = BytesIO()
    exif = Image.Exif()
    exif[0x010F] = "SECRETMAKER"  # the tag Make of Exif 2.3
    Image.new("RGB", (40, 20), (120, 110, 90)).save(stream, "PNG", exif=exif)
    return stream.getvalue()
