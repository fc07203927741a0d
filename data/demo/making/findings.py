"""What the bench noted beside throughput: features, heat, power, parts, prices, disputes, withdrawals.

All invented, part markings too. Rows are short tuples; the functions below give them their columns.
"""

from __future__ import annotations

from making.devices import BY_ID

Row = dict[str, object]
_FIRST = {device_id: device.firmware[0].version for device_id, device in BY_ID.items()}

GUEST = "joined as a guest, tried to reach the house network"
UNPLUGGED = "uplink pulled, then a setting changed"
TAPED = "under the ceiling, tape on metal"

# device -> (feature, step, date, licence, method, evidence)
FEATURES: dict[str, tuple[tuple[str, str, str, str, str, str], ...]] = {
    "quillmast-lantern": (
        ("guest network", "works", "2022-01-18", "none", GUEST, "bench note 3"),
        ("beamforming", "seen on air", "2022-01-18", "none", "sounding frames in a capture", "bench note 4"),
        ("radar channels", "on from the box", "2022-01-18", "none", "channel plan after reset", "bench note 4"),
        ("schedule for the lights", "promised", "2022-01-10", "none", "", "box text"),
    ),
    "tessarik-plinth": (
        ("guest network", "works", "2022-01-25", "none", GUEST, "bench note 6"),
        ("own name server", "switchable", "2022-01-25", "none", "menu", "bench note 6"),
        ("beamforming", "not tested", "2022-01-25", "none", "", ""),
    ),
    "fjeldrun-ingle": (
        ("guest network", "present", "2022-04-06", "none", "menu", "bench note 9"),
        ("fair sharing of the air", "promised", "2022-03-21", "none", "", "data sheet"),
        ("fair sharing of the air", "not tested", "2022-04-06", "none", "", ""),
    ),
    "polmerre-rondel-4": (
        ("guest network", "works", "2022-09-14", "none", GUEST, "bench note 12"),
        ("site map with heat", "present", "2022-09-14", "Polmerre Sight", "menu after login", "bench note 12"),
        ("local management", "works", "2022-09-14", "none", UNPLUGGED, "bench note 13"),
    ),
    "tessarik-trio": (
        ("wired mesh link", "works", "2022-11-23", "none", "two boxes on one cable, radio link gone", "bench note 16"),
        ("guest network", "fails", "2022-11-23", "none", "guests reach the house printer", "bench note 16"),
        ("parental rules", "present", "2022-11-23", "Tessarik Hearth", "menu", "bench note 17"),
    ),
    "hollendry-faceplate": (
        ("power for a phone", "works", "2023-03-08", "none", "class 3 load on the front socket", "bench note 20"),
        ("local management", "fails", "2023-03-08", "Hollendry Desk", UNPLUGGED, "bench note 20"),
        ("fast roaming", "promised", "2023-02-20", "Hollendry Desk", "", "data sheet"),
    ),
    "quillmast-ridge": (
        ("radar channels", "works", "2023-07-11", "none", "channel left within a second", "bench note 22"),
        ("mesh uplink", "switchable", "2023-07-12", "none", "menu", "bench note 22"),
    ),
    "polmerre-rondel-6": (
        ("guest network", "works", "2023-11-15", "none", GUEST, "bench note 25"),
        ("fair sharing of the air", "on from the box", "2023-11-15", "none", "setting after reset", "bench note 25"),
        ("fair sharing of the air", "works", "2023-11-15", "none", "calls beside a fetch", "bench note 26"),
        ("site map with heat", "present", "2023-11-15", "Polmerre Sight", "menu after login", "bench note 26"),
        ("fast roaming", "promised", "2023-10-30", "none", "", "data sheet"),
    ),
    "tessarik-cupola": (
        ("several links at once", "seen on air", "2024-06-18", "none", "both radios carry one client", "bench note 31"),
        ("several links at once", "works", "2024-06-18", "none", "throughput above either link alone", "bench note 31"),
        ("punctured channels", "promised", "2024-05-27", "none", "", "data sheet"),
        ("punctured channels", "not tested", "2024-06-19", "none", "", ""),
        ("local management", "works", "2024-06-19", "none", UNPLUGGED, "bench note 32"),
    ),
    "fjeldrun-skerry": (
        ("several links at once", "promised", "2025-01-27", "none", "", "box text"),
        ("several links at once", "fails", "2025-02-11", "none", "second radio stays silent", "bench note 36"),
        ("guest network", "works", "2025-02-12", "none", GUEST, "bench note 36"),
    ),
    "hollendry-bobbin": (
        ("wired mesh link", "present", "2025-07-09", "none", "menu", "bench note 39"),
        ("local management", "works", "2025-07-09", "none", UNPLUGGED, "bench note 39"),
    ),
    "veltrisk-tarn": (
        ("several links at once", "works", "2026-02-10", "none", "throughput above either link alone", "bench note 43"),
        ("guest network", "works", "2026-02-11", "none", GUEST, "bench note 43"),
        ("fast roaming", "switchable", "2026-02-11", "none", "menu", "bench note 44"),
    ),
    "quillmast-gantry": (
        ("several links at once", "works", "2026-05-12", "none", "throughput above either link alone", "bench note 47"),
    ),
}

# device -> (face, material, reading C, ambient C, minutes, emissivity, mount, session)
HEAT: dict[str, tuple[tuple[str, str, float, float, int, float, str, str], ...]] = {
    "quillmast-lantern": (("top", "plastic", 38.5, 21.0, 60, 0.95, "on a desk", "birchgate-2022-01-18"),),
    "polmerre-rondel-4": (("cover", "plastic", 41.0, 20.5, 60, 0.95, "under the ceiling", "saltmarsh-2022-09-14"),),
    "quillmast-ridge": (("back plate", "metal", 58.5, 27.0, 60, 0.95, "stand, tape on metal", "birchgate-2023-07-12"),),
    "polmerre-rondel-6": (
        ("cover", "plastic", 44.5, 21.5, 60, 0.95, "under the ceiling", "birchgate-2023-11-15"),
        ("back plate", "metal", 52.0, 21.5, 60, 0.95, TAPED, "birchgate-2023-11-15"),
    ),
    "tessarik-cupola": (
        ("cover", "glass", 49.0, 24.5, 60, 0.92, "under the ceiling", "saltmarsh-2024-06-19"),
        ("back plate", "metal", 61.5, 24.5, 60, 0.95, TAPED, "saltmarsh-2024-06-19"),
    ),
    "fjeldrun-skerry": (("cover", "plastic", 45.0, 20.0, 60, 0.95, "under the ceiling", "birchgate-2025-02-12"),),
    "veltrisk-tarn": (("cover", "plastic", 44.0, 20.5, 60, 0.95, "under the ceiling", "saltmarsh-2026-02-11"),),
}

# device -> (state, watts, source class, cable m), all at the supply.
# Class 3 stands for 15.4 W there: the Skerry, sold as class 3, takes more.
POWER: dict[str, tuple[tuple[str, float, int | str, int | str], ...]] = {
    "quillmast-lantern": (("idle", 7.2, "", ""), ("all radios loaded", 11.9, "", "")),
    "polmerre-rondel-4": (("idle", 6.8, 4, 20), ("all radios loaded", 12.6, 4, 20), ("starting", 14.1, 4, 20)),
    "hollendry-faceplate": (("idle", 4.9, 4, 20), ("all radios loaded", 8.3, 4, 20), ("feeding a phone", 14.6, 4, 20)),
    "quillmast-ridge": (("idle", 8.0, 4, 50), ("all radios loaded", 15.8, 4, 50)),
    "polmerre-rondel-6": (("idle", 9.1, 4, 20), ("all radios loaded", 18.4, 4, 20), ("starting", 16.0, 4, 20)),
    "tessarik-cupola": (("idle", 14.3, 6, 20), ("all radios loaded", 29.7, 6, 20)),
    "fjeldrun-skerry": (("idle", 8.6, 4, 20), ("all radios loaded", 17.1, 4, 20)),
    "veltrisk-tarn": (("idle", 9.4, 4, 20), ("all radios loaded", 19.2, 4, 20)),
    "quillmast-gantry": (("idle", 13.1, 6, 20), ("all radios loaded", 27.4, 6, 20)),
}

# device -> (block, marking, count, read or inferred); markings are nobody's.
PARTS: dict[str, tuple[tuple[str, str, int, str], ...]] = {
    "quillmast-lantern": (
        ("main processor", "Ombrel OX-771", 1, "read"),
        ("5 GHz radio", "Castrane CR4-18", 1, "read"),
        ("memory", "Transom M4-512", 1, "read"),
        ("antennas", "stamped, four", 4, "read"),
    ),
    "quillmast-ridge": (
        ("main processor", "Ombrel OX-771", 1, "read"),
        ("5 GHz radio", "Castrane CR4-18H", 1, "inferred"),
    ),
    "polmerre-rondel-6": (
        ("main processor", "Ombrel OX-902", 1, "read"),
        ("5 GHz radio", "Castrane CR5-40", 1, "read"),
        ("6 GHz radio", "Castrane CR5-42", 1, "read"),
        ("memory", "Transom M8-1024", 1, "read"),
        ("power converter", "under a shield", 1, "inferred"),
    ),
    "tessarik-cupola": (
        ("main processor", "Ferrule FQ-12", 1, "read"),
        ("5 GHz radio", "Ferrule FR-5B", 1, "read"),
        ("6 GHz radio", "Ferrule FR-6B", 1, "read"),
        ("memory", "Transom M8-2048", 2, "read"),
        ("wired socket", "Quoin Q5T", 1, "read"),
    ),
    "fjeldrun-skerry": (
        ("main processor", "Ombrel OX-902", 1, "read"),
        ("6 GHz radio", "Castrane CR5-42", 1, "inferred"),
        ("memory", "Transom M8-1024", 1, "read"),
    ),
    "veltrisk-tarn": (("main processor", "Ferrule FQ-8", 1, "read"), ("memory", "Transom M8-1024", 1, "read")),
}
PART_PHOTOS = {"polmerre-rondel-6", "tessarik-cupola"}

# batch -> (device, date, amount, condition, licence a year); EUR, Germany, tax included.
PRICES: dict[str, tuple[tuple[str, str, float, str, float], ...]] = {
    "2022-01-houses": (
        ("quillmast-lantern", "2022-01-14", 229.0, "new", 0),
        ("tessarik-plinth", "2022-01-14", 199.0, "new", 0),
    ),
    "2022-04-ingle": (("fjeldrun-ingle", "2022-04-08", 89.9, "new", 0),),
    "2022-09-rondel-4": (("polmerre-rondel-4", "2022-09-16", 179.0, "new", 39),),
    "2022-11-trio": (("tessarik-trio", "2022-11-25", 289.0, "new, set of three", 59),),
    "2023-03-faceplate": (("hollendry-faceplate", "2023-03-10", 139.0, "new", 45),),
    "2023-07-ridge": (("quillmast-ridge", "2023-07-14", 319.0, "new", 0),),
    "2023-11-rondel-6": (
        ("polmerre-rondel-6", "2023-11-17", 279.0, "new", 39),
        ("polmerre-rondel-4", "2023-11-17", 149.0, "new", 39),
    ),
    "2024-06-cupola": (
        ("tessarik-cupola", "2024-06-21", 619.0, "new", 0),
        ("polmerre-rondel-6", "2024-06-21", 249.0, "new", 39),
    ),
    "2025-02-skerry": (("fjeldrun-skerry", "2025-02-14", 169.0, "new", 0),),
    "2025-07-bobbin": (("hollendry-bobbin", "2025-07-11", 219.0, "new", 0),),
    "2025-11-desk": (
        ("quillmast-lantern", "2025-11-07", 119.0, "refurbished", 0),
        ("polmerre-rondel-4", "2025-11-07", 99.0, "refurbished", 39),
        ("polmerre-rondel-6", "2025-11-07", 219.0, "new", 49),
        ("tessarik-cupola", "2025-11-07", 529.0, "new", 0),
        ("fjeldrun-skerry", "2025-11-07", 145.0, "new", 0),
    ),
    "2026-02-tarn": (
        ("veltrisk-tarn", "2026-02-13", 239.0, "new", 0),
        ("hollendry-bobbin", "2026-02-13", 189.0, "new", 0),
    ),
}

# batch -> (device, date, by, claim, state, evidence, retest)
DISPUTES: dict[str, tuple[tuple[str, str, str, str, str, str, str], ...]] = {
    "2024-02-cupboard": (
        (
            "polmerre-rondel-6",
            "2024-02-06",
            "Polmerre",
            "middle distances too low, firmware at fault",
            "open",
            "letter of the maker",
            "",
        ),
    ),
    "2024-04-rondel-6-again": (
        (
            "polmerre-rondel-6",
            "2024-04-19",
            "Polmerre",
            "middle distances too low, firmware at fault",
            "partly",
            "both firmwares measured on one day",
            "2024-04-rondel-6-again",
        ),
    ),
    "2025-11-desk": (
        (
            "hollendry-faceplate",
            "2025-10-30",
            "Hollendry",
            "tested on a test box instead of in a wall",
            "open",
            "letter of the distributor, unit is back with them",
            "",
        ),
    ),
}
WITHDRAWALS: dict[str, tuple[tuple[str, str, str, str], ...]] = {
    "2025-11-desk": (
        (
            "device",
            "tessarik-trio",
            "2025-11-03",
            "the bench's set turned out to have a loose antenna lead; its results do not stand for the model",
        ),
    ),
}


def device_rows(device: str) -> dict[str, list[Row]]:
    """Rows of features, heat, power and parts of one device, with its first firmware and unit A."""
    features: list[Row] = [
        {
            "device": device,
            "feature": feature,
            "step": step,
            "firmware": _FIRST[device],
            "date": day,
            "licence": "" if licence == "none" else licence,
            "method": method,
            "evidence": evidence,
        }
        for feature, step, day, licence, method, evidence in FEATURES.get(device, ())
    ]
    heat: list[Row] = [
        {
            "device": device,
            "unit": "A",
            "face": face,
            "material": material,
            "reading_c": reading,
            "ambient_c": ambient,
            "load": "all radios loaded",
            "minutes": minutes,
            "emissivity": emissivity,
            "mount": mount,
            "session": session,
        }
        for face, material, reading, ambient, minutes, emissivity, mount, session in HEAT.get(device, ())
    ]
    power: list[Row] = [
        {
            "device": device,
            "unit": "A",
            "state": state,
            "watts": watts,
            "side": "supply",
            "source_class": source,
            "cable_m": cable,
        }
        for state, watts, source, cable in POWER.get(device, ())
    ]
    photo = f"images/{device}-teardown.png" if device in PART_PHOTOS else ""
    parts: list[Row] = [
        {
            "device": device,
            "revision": BY_ID[device].revision,
            "block": block,
            "marking": marking,
            "count": count,
            "read": read,
            "photo": photo if read == "read" else "",
        }
        for block, marking, count, read in PARTS.get(device, ())
    ]
    return {"features": features, "heat": heat, "power": power, "parts": parts}


def batch_rows(batch: str) -> dict[str, list[Row]]:
    """Rows of prices, disputes and withdrawals of one batch."""
    return {
        "prices": [
            {
                "device": device,
                "date": day,
                "amount": f"{amount:.2f}",
                "currency": "EUR",
                "region": "DE",
                "tax_included": "yes",
                "condition": condition,
                "licence_per_year": f"{licence:.2f}",
            }
            for device, day, amount, condition, licence in PRICES.get(batch, ())
        ],
        "disputes": [
            {
                "device": device,
                "date": day,
                "by": by,
                "claim": claim,
                "state": state,
                "evidence": evidence,
                "retest": retest,
            }
            for device, day, by, claim, state, evidence, retest in DISPUTES.get(batch, ())
        ],
        "withdrawals": [
            {"what": what, "id": thing, "from": day, "reason": reason}
            for what, thing, day, reason in WITHDRAWALS.get(batch, ())
        ],
    }
