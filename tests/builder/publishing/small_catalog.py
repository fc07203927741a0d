"""A small catalogue, put together row by row, that has one of everything a page shows.

Invented, like the demo. Attenuations 46 to 82 dB; rates fall by about 20 Mbit/s a dB. Names hold "<" and "&" on
purpose: whatever is not escaped would break a page.
"""

from __future__ import annotations

import hashlib
import zlib
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image
from sqlite_utils import Database

from catalog.connection import create_catalog

BATCH = "2025-05-first"
ORIGIN = {"batch_id": BATCH, "source_file": "batch.toml", "source_row": 3}
SPOTS = (("S1", 46.0, "none, same room"), ("S2", 55.0, "one open door"), ("S3", 64.0, "one brick wall"),
         ("S4", 73.0, "two brick walls"), ("S5", 82.0, "wooden floor, two walls"))  # fmt: skip
MARKDOWN = "# Quiet\n\nIt is <script>alert(1)</script> **quick**.\n\n![Its ports](../images/ports.png)\n"


def small_catalog(path: Path) -> Path:
    """Write the catalogue to *path* and return it."""
    db = create_catalog(path)
    picture = _picture()
    digests = {name: hashlib.sha256(content).hexdigest() for name, content in _FILES(picture).items()}
    _insert(db, "batch", {"batch_id": BATCH, "sequence": 1, "title": "First <bench> & more", "timezone": "Europe/Berlin",
                          "licence": "CC-BY-4.0", "entered_utc": "2025-06-01T00:00:00Z", "published_utc": None})  # fmt: skip
    for name, content in _FILES(picture).items():
        _insert(
            db, "raw_content", {"sha256": digests[name], "size_bytes": len(content), "deflated": zlib.compress(content)}
        )
        _insert(db, "raw_file", {"batch_id": BATCH, "path": name, "sha256": digests[name]})
    if not db["method"].count:
        _insert(db, "method", {"version": 1, "constants": "{}", "batch_id": BATCH})
    _insert(db, "site", {"only": 1, "title": "Test & bench", "author": "The desk", "contact": "desk@example.org",
                         "language": "en", "address": None, "licence": "CC-BY-4.0", "batch_id": BATCH})  # fmt: skip
    _things(db)
    _results(db)
    _publications(db, digests)
    db.close()
    return path


def _FILES(picture: bytes) -> dict[str, bytes]:
    return {
        "batch.toml": b"format = 1\n",
        "runs.csv": b"when\n",
        "articles/r.md": MARKDOWN.encode(),
        "images/ports.png": picture,
    }


def _insert(db: Database, table: str, row: dict[str, Any]) -> None:
    marks = ", ".join(f":{name}" for name in row)
    db.execute(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({marks})", row)


def _things(db: Database) -> None:
    for device, maker, model, fw, ports in (
        ("quillmast-sill", "Quillmast", "Sill", ("1.0",), 1000),
        ("quillmast-vane", "Quillmast", "Vane", ("2.9", "2.10"), 2500),
        ("tessarik-a-b", "Tessarik", "A<b", ("7.1",), 2500),
        ("tessarik-new", "Tessarik", "Untested & new", ("0.9",), 1000),
    ):
        _insert(db, "device", {"device_id": device, "maker": maker, "model": model, "kind": "ceiling access point",
                               "amendment": "802.11ax", "revision": "1.0", **ORIGIN})  # fmt: skip
        _insert(
            db,
            "device_radio",
            {"device_id": device, "band": "5", "streams": 4, "max_width_mhz": 160, "eirp_dbm": 26.0, **ORIGIN},
        )
        _insert(
            db,
            "device_port",
            {"device_id": device, "name": "LAN", "speed_mbit_s": ports, "power": "in", "power_class": 3, **ORIGIN},
        )
        returned = "2025-08-01" if device == "tessarik-a-b" else None
        _insert(db, "unit", {"device_id": device, "unit_id": "A", "origin": "loaned" if returned else "bought",
                             "given_by": "maker" if returned else "bench", "received": "2025-04-01", "returned": returned, **ORIGIN})  # fmt: skip
        for version in fw:
            _insert(
                db,
                "firmware",
                {
                    "device_id": device,
                    "version": version,
                    "released": f"2025-0{1 + fw.index(version)}-10",
                    "public": 1,
                    **ORIGIN,
                },
            )
    _insert(db, "device_alias", {"device_id": "tessarik-a-b", "alias": "A<b EU", **ORIGIN})
    for client, name in (("wrenlet-u2", "Wrenlet U2"), ("skarn-c3", "Skarn <C3>")):
        _insert(db, "client", {"client_id": client, "name": name, "machine": "laptop", "adapter": "two-stream card",
                               "amendment": "802.11ax", "bus": "PCIe", "series": client, "level_of": "data frames", **ORIGIN})  # fmt: skip
        _insert(db, "client_radio", {"client_id": client, "band": "5", "streams": 2, "max_width_mhz": 160, **ORIGIN})
        _insert(db, "client_driver", {"client_id": client, "version": "3.11", "series": client, **ORIGIN})
    _insert(
        db,
        "house",
        {
            "house_id": "house-a",
            "name": "House A",
            "reference_device": "quillmast-sill",
            "lab_limit_mbit_s": None,
            **ORIGIN,
        },
    )
    for number, (spot, loss, between) in enumerate(SPOTS, start=1):
        for reading in range(5):
            _insert(db, "spot_reading", {"house_id": "house-a", "spot": spot, "band": "5", "valid_from": "2025-01-01",
                "reading_number": reading + 1, "reference_eirp_dbm": 20.0, "reading_dbm": 20.0 - loss, "reference_source": "KS", "reference_receiver": "LR",
                "channel": 36, "distance_m": 2.0 * number, "obstacles": between, **ORIGIN})  # fmt: skip
        _insert(db, "epoch", {"house_id": "house-a", "spot": spot, "band": "5", "valid_from": "2025-01-01", "attenuation_db": loss,
                              "readings": 5, "readings_sd_db": 0.8, "kit": "KS and LR", "distance_m": 2.0 * number, "obstacles": between})  # fmt: skip
    for session, day in (("2025-05-12", "2025-05-12"), ("2025-06-20", "2025-06-20")):
        _insert(db, "session", {"session_id": session, "house_id": "house-a", "date": day, "note": None, **ORIGIN})


_RUNS = (  # device, firmware, client, direction, session, rate at 0 dB, spots
    ("quillmast-sill", "1.0", "wrenlet-u2", "down", "2025-05-12", 1700.0, "12345"),
    ("quillmast-sill", "1.0", "wrenlet-u2", "up", "2025-05-12", 1500.0, "12345"),
    ("quillmast-sill", "1.0", "skarn-c3", "down", "2025-05-12", 1600.0, "12"),
    ("quillmast-vane", "2.9", "wrenlet-u2", "down", "2025-05-12", 1740.0, "1234"),
    ("quillmast-vane", "2.10", "wrenlet-u2", "down", "2025-06-20", 1755.0, "12345"),
    ("tessarik-a-b", "7.1", "wrenlet-u2", "down", "2025-05-12", 1790.0, "2345"),
    ("tessarik-a-b", "7.1", "skarn-c3", "down", "2025-05-12", 1650.0, "45"),
)


def _results(db: Database) -> None:
    row = 1
    for device, firmware, client, direction, session, height, spots in _RUNS:
        for spot, loss, _ in (SPOTS[int(number) - 1] for number in spots):
            for repeat in (1, 2, 3):
                row += 1
                rate = round(max(4.0, min(930.0, height - 20.0 * loss)) + 3.0 * (repeat - 2), 1)
                collapsed = device == "tessarik-a-b" and spot == "S5" and repeat == 3
                _insert(db, "run", {
                    "at_utc": f"{session}T10:{row % 60:02d}:00Z", "at_typed": "10:00", "device_id": device, "unit_id": "A",
                    "firmware": firmware, "client_id": client, "driver": "3.11", "session_id": session, "band": "5", "channel": 36,
                    "width_mhz": 80, "direction": direction, "spot": spot, "spot_since": "2025-01-01",
                    "epoch_id": db.execute("SELECT epoch_id FROM epoch WHERE spot = ?", [spot]).fetchone()[0],
                    "level_dbm": 24.0 - loss, "repeat": repeat, "throughput_mbit_s": None if collapsed else rate,
                    "throughput_typed": "DNF" if collapsed else str(rate), "outcome": "did not finish" if collapsed else "finished",
                    "note": "=1+1" if row == 2 else None, "batch_id": BATCH, "source_file": "runs.csv", "source_row": row,
                })  # fmt: skip
    ceiling = db.execute(
        "SELECT run_id FROM run WHERE client_id = 'wrenlet-u2' ORDER BY throughput_mbit_s DESC LIMIT 1"
    ).fetchone()[0]
    _insert(
        db,
        "ceiling",
        {"client_id": "wrenlet-u2", "band": "5", "width_mhz": 80, "direction": "down", "run_id": ceiling, **ORIGIN},
    )
    _insert(
        db,
        "workload",
        {"workload_id": "five", "version": 1, "title": "Five people <Monday>", "duration_s": 600, **ORIGIN},
    )
    _insert(db, "workload_role", {"workload_id": "five", "version": 1, "role_id": "pages", "kind": "pages", "target_ms": 1000,
                                  "target_share": 0.95, "recipe": "{}"})  # fmt: skip
    for mix, outcome, ended in (("m1", "finished", 600), ("m2", "did not finish", 380)):
        _insert(db, "station", {"mix_id": mix, "workload_id": "five", "workload_version": 1, "role_id": "pages", "at_utc": "2025-05-12T14:00:00Z",
            "at_typed": "14:00", "device_id": "tessarik-a-b", "unit_id": "A", "firmware": "7.1", "client_id": "wrenlet-u2", "driver": "3.11",
            "session_id": "2025-05-12", "band": "5", "spot": "S3", "planned_s": 600, "outcome": outcome, "ended_at_s": ended,
            "ended_by": "manual reboot" if mix == "m2" else None, "log_path": None, **ORIGIN})  # fmt: skip
    _insert(db, "heat", {"device_id": "tessarik-a-b", "unit_id": "A", "face": "back", "material": "metal", "reading_c": 61.5, "ambient_c": 23.5,
                         "load": "full", "minutes": 60, "mount": "ceiling", **ORIGIN})  # fmt: skip
    _insert(db, "heat", {"device_id": "tessarik-a-b", "unit_id": "A", "face": "front", "material": "plastic", "reading_c": 48.5, "ambient_c": None,
                         "load": "full", "minutes": 60, "mount": None, **ORIGIN})  # fmt: skip
    _insert(
        db,
        "power",
        {
            "device_id": "tessarik-a-b",
            "unit_id": "A",
            "state": "full load",
            "watts": 19.5,
            "side": "supply",
            "cable_m": 10,
            **ORIGIN,
        },
    )
    _insert(db, "feature", {"device_id": "tessarik-a-b", "feature": "guest network", "step": "works", "firmware": "7.1", "date": "2025-05-13",
                            "licence": "none", "how": "two guests <kept apart>", **ORIGIN})  # fmt: skip
    _insert(
        db,
        "part",
        {"device_id": "tessarik-a-b", "block": "radio", "marking": "X<1>", "count": 2, "read": "read", **ORIGIN},
    )
    _insert(db, "price", {"device_id": "tessarik-a-b", "date": "2025-05-01", "amount": 199, "currency": "EUR", "region": "DE", "tax_included": 1,
                          "condition": "new", "licence_per_year": 39, **ORIGIN})  # fmt: skip
    sha256 = db.execute("SELECT sha256 FROM raw_file WHERE path = 'runs.csv'").fetchone()[0]
    _insert(db, "correction_file", {"number": 1, "name": "c.csv", "sha256": sha256, "after_batch": 1})
    _insert(db, "correction", {"file_number": 1, "file_row": 2, "table_name": "runs", "row_key": "device=tessarik-a-b; spot=S3",
                               "column_name": "throughput_mbit_s", "was": "812", "now": "712", "reason": "mistyped", "noticed_by": "a reader",
                               "date": "2025-06-02", "device_id": "tessarik-a-b", "run_id": 80, "batch_id": BATCH, "source_file": "runs.csv",
                               "source_row": 81})  # fmt: skip


def _publications(db: Database, digests: dict[str, str]) -> None:
    _insert(db, "dispute", {"device_id": "tessarik-a-b", "date": "2025-06-03", "raised_by": "the maker", "claim": "old <firmware>",
                            "state": "open", **ORIGIN})  # fmt: skip
    _insert(db, "article", {"article_id": "a-b-review", "title": "A<b: quiet", "published_utc": "2025-06-10T13:00:00Z", "path": "articles/r.md",
                            "text": MARKDOWN, **ORIGIN})  # fmt: skip
    for device in ("tessarik-a-b", "quillmast-sill"):
        _insert(db, "article_device", {"article_id": "a-b-review", "device_id": device})
    _insert(db, "image", {"path": "images/ports.png", "sha256": digests["images/ports.png"], "device_id": "tessarik-a-b", "kind": "ports",
                          "alt": "Two <ports>", "credit": "The desk", **ORIGIN})  # fmt: skip


def _picture() -> bytes:
    stream = BytesIO()
    exif = Image.Exif()
    exif[0x010F] = "SECRETMAKER"  # the tag Make of Exif 2.3
    Image.new("RGB", (40, 20), (120, 110, 90)).save(stream, "PNG", exif=exif)
    return stream.getvalue()
