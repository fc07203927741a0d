"""The committed demo is what its script makes, and holds what its README promises."""

from __future__ import annotations

import csv
import importlib
import re
import statistics
import sys
import tomllib
from collections import defaultdict
from datetime import UTC, date, datetime
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from PIL import Image, ImageChops, ImageStat

DEMO = Path(__file__).parents[2] / "data" / "demo"
PUBLISHED = Path(__file__).parents[1] / "published"
RATE = "throughput (Mbit/s)"
# method.md, section 5: the windows at 5 GHz; section 2: the longest gap a line may cross. [dB]
NEAR, MIDDLE, FAR = (50.0, 60.0), (60.0, 75.0), (75.0, 90.0)
LONGEST_GAP = 12.0


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def table(stem: str) -> list[dict[str, str]]:
    """All rows of a table over all batches; batch and row number added."""
    return [
        row | {"batch": path.parent.name, "row": str(number)}
        for path in sorted((DEMO / "batches").glob(f"*/{stem}.csv"))
        for number, row in enumerate(rows_of(path), start=2)
    ]


def settings(batch: str) -> dict:
    return tomllib.loads((DEMO / "batches" / batch / "batch.toml").read_text(encoding="utf-8"))


ORDER = tomllib.loads((DEMO / "demo.toml").read_text(encoding="utf-8"))["order"]
BUILT = datetime(2026, 6, 30, 12, tzinfo=UTC)
SETTINGS = {batch: settings(batch) for batch in ORDER}
RUNS = table("runs")
FINISHED = [run for run in RUNS if run["outcome"] == "finished"]


def things(kind: str) -> dict[str, dict]:
    """All things of one kind by id, as first registered."""
    found: dict[str, dict] = {}
    for batch in ORDER:
        for thing in SETTINGS[batch].get(kind, []):
            found.setdefault(thing["id"], thing)
    return found


DEVICES, CLIENTS, SESSIONS = things("device"), things("client"), things("session")


def attenuations(band: str) -> dict[str, list[tuple[date, float]]]:
    """Spot -> (valid from, reference EIRP less the mean reading), oldest first. [dB]"""
    readings = defaultdict(list)
    for row in table("spots"):
        if row["band"] == band:
            loss = float(row["reference_eirp_dbm"]) - float(row["reading_dbm"])
            readings[row["spot"], date.fromisoformat(row["valid_from"])].append(loss)
    found = defaultdict(list)
    for (spot, since), losses in sorted(readings.items()):
        found[spot].append((since, statistics.fmean(losses)))
    return found


def knots(device: str, client: str) -> list[float]:
    """Attenuations at which a device has a finished 5 GHz, 80 MHz, down value with a client, sorted. [dB]"""
    epochs = attenuations("5")
    group = ("5", "80", "down")
    found = set()
    for run in FINISHED:
        if (run["device"], run["client"]) == (device, client) and run.get("spot"):
            if (run["band"], run["width_mhz"], run["direction"]) != group:
                continue
            day = SESSIONS[run["session"]]["date"]
            found.add([loss for since, loss in epochs[run["spot"]] if since <= day][-1])
    return sorted(found)


# What the script makes


def differences(made: Path, committed: Path) -> list[str]:
    """What differs between two demo folders. Text byte for byte, drawings by their grey values:
    another version of the drawing or packing library may place a pixel or pack bytes in its own way."""
    names = {
        folder: {
            path.relative_to(folder).as_posix()
            for part in ("batches", "corrections")
            for path in (folder / part).rglob("*")
            if path.is_file()
        }
        | {"demo.toml"}
        for folder in (made, committed)
    }
    found = [f"{name} is on one side only" for name in names[made] ^ names[committed]]
    for name in sorted(names[made] & names[committed]):
        if name.endswith(".png"):
            with Image.open(made / name) as left, Image.open(committed / name) as right:
                same = left.size == right.size and left.mode == right.mode
                if not same or ImageStat.Stat(ImageChops.difference(left, right)).mean[0] > 1.0:
                    found.append(f"{name} shows something else")
        elif (made / name).read_bytes() != (committed / name).read_bytes():
            found.append(f"{name} has other bytes")
    return found


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    sys.path.insert(0, str(DEMO))
    try:
        make = importlib.import_module("make_demo").make
    finally:
        sys.path.remove(str(DEMO))
    folder = tmp_path_factory.mktemp("demo")
    make(folder)
    return folder


def test_the_script_makes_what_is_committed(made):
    assert differences(made, DEMO) == []


def test_a_changed_a_missing_and_a_redrawn_file_would_be_noticed(made):
    runs = made / "batches" / "2022-04-ingle" / "runs.csv"
    drawing = made / "batches" / "2022-11-trio" / "images" / "tessarik-trio-case.png"
    log = next((made / "batches" / "2022-04-ingle" / "logs").iterdir())
    kept = {path: path.read_bytes() for path in (runs, drawing, log)}
    runs.write_bytes(kept[runs].replace(b"wrenlet-u2", b"wrenlet-u3", 1))
    Image.new("L", (960, 640), 0).save(drawing)
    log.unlink()
    found = differences(made, DEMO)
    for path, content in kept.items():
        path.write_bytes(content)
    assert len(found) == 3
    assert differences(made, DEMO) == []


def test_it_is_small_and_described():
    size = sum(path.stat().st_size for part in ("batches", "corrections") for path in (DEMO / part).rglob("*"))
    assert size < 8_000_000
    readme = (DEMO / "README.md").read_text(encoding="utf-8")
    assert [batch for batch in ORDER if f"`{batch}`" not in readme] == []
    assert sorted(ORDER) == sorted(path.name for path in (DEMO / "batches").iterdir())
    assert [batch for batch in ORDER if SETTINGS[batch]["id"] != batch] == []


def test_what_to_try_names_devices_of_the_demo():
    text = tomllib.loads((DEMO / "demo.toml").read_text(encoding="utf-8"))["try"]
    shown = text.format(out="site", catalog="demo.db")
    named = re.findall(r"(?<!\+)\b[a-z]+-[a-z]+(?:-[0-9])?\b", re.sub(r"workloads/\S+", "", shown))
    assert len(named) >= 8
    assert set(named) <= set(DEVICES) - {"quillmast-gantry"}
    assert set(re.findall(r"\+([a-z-]+)", shown)) <= set(things("settings"))
    assert set(re.findall(r"workloads/([a-z-]+)", shown)) <= set(things("workload"))


# Who and where


def test_devices_clients_and_years():
    shown = [device for device in DEVICES.values() if "embargo" not in device]
    assert len(shown) >= 10
    days = [session["date"] for session in SESSIONS.values()]
    assert (max(days) - min(days)).days >= 4 * 365
    assert {client["amendment"] for client in CLIENTS.values()} == {"802.11n", "802.11ac", "802.11ax", "802.11be"}
    assert len({client["series"] for client in CLIENTS.values()}) == 6
    streams = {radio["streams"] for client in CLIENTS.values() for radio in client["radio"]}
    assert {1, 4} <= streams <= {1, 2, 3, 4}


def test_drivers_are_numbered_as_no_real_ones_are():
    # A real driver is numbered in digits and points; a letter in each of ours keeps it from being taken for one.
    versions = [
        driver["version"]
        for batch in ORDER
        for client in SETTINGS[batch].get("client", [])
        for driver in client.get("driver", [])
    ]
    assert len(versions) == len(CLIENTS) + 1  # one of them has a second driver
    assert [version for version in versions if not any(letter.isalpha() for letter in version)] == []


def test_spots_are_calibrated_and_one_moved():
    groups = defaultdict(list)
    for row in table("spots"):
        groups[row["house"], row["spot"], row["band"], row["valid_from"]].append(row)
        assert row["reference_source"]
        assert row["reference_receiver"]
        assert row["obstacles"]
        assert float(row["distance_m"]) > 0
    assert min(len(readings) for readings in groups.values()) >= 5
    assert len({house for house, *_ in groups}) == 2
    for band in ("2.4", "5", "6"):
        epochs = attenuations(band)
        moved = {spot for spot, known in epochs.items() if len(known) > 1}
        assert moved == {"B6"}
        before, after = (loss for _, loss in epochs["B6"])
        assert after - before > 2
    losses = [loss for known in attenuations("5").values() for _, loss in known]
    assert 44 < min(losses) < 48
    assert 90 < max(losses) < 94


def test_reference_devices_show_the_spread_of_days():
    # method.md, section 3, term 2: at least 8 sessions of the house reference device.
    for house, reference in (("birchgate", "quillmast-lantern"), ("saltmarsh", "tessarik-plinth")):
        means = defaultdict(list)
        for run in FINISHED:
            if (run["device"], run["client"], run["band"], run["direction"]) == (reference, "wrenlet-u2", "5", "down"):
                means[run["spot"], run["session"]].append(float(run[RATE]))
        for spot in (house[0].upper() + number for number in "24"):
            days = [statistics.fmean(values) for (where, _), values in means.items() if where == spot]
            assert len(days) >= 8
            assert 0.015 < statistics.stdev(days) / statistics.fmean(days) < 0.06


# Runs


def test_values_are_possible():
    # Fastest rate of each PHY, width and stream count. Source: IEEE 802.11, tests/published/SOURCES.md.
    fastest: dict[tuple[str, str, str], float] = defaultdict(float)
    for row in rows_of(PUBLISHED / "phy_rates_full.csv"):
        key = (row["phy"], row["width_mhz"], row["nss"])
        fastest[key] = max(fastest[key], float(row["expected_mbit_s"]))
    phys = {"802.11n": "HT", "802.11ac": "VHT", "802.11ax": "HE", "802.11be": "EHT"}
    oldest_first = list(phys)
    radios = {
        thing["id"]: {radio["band"]: radio for radio in thing["radio"]}
        for thing in (*DEVICES.values(), *CLIENTS.values())
    }
    for run in FINISHED:
        both = [DEVICES[run["device"]], CLIENTS[run["client"]]]
        amendment = min((thing["amendment"] for thing in both), key=oldest_first.index)
        if run["band"] == "2.4" and amendment == "802.11ac":
            amendment = "802.11n"
        limit = 0.0
        for band in run["band"].split("+"):
            mine = [radios[thing["id"]][band] for thing in both]
            assert int(run["width_mhz"]) <= min(radio["max_width_mhz"] for radio in mine)
            limit += fastest[phys[amendment], run["width_mhz"], str(min(radio["streams"] for radio in mine))]
        assert 0 < float(run[RATE]) < limit
    levels = [int(run["level_dbm"]) for run in RUNS if run["level_dbm"]]
    assert -85 <= min(levels) <= -65
    assert max(levels) < -10


def test_no_value_passes_the_wired_port():
    # 1448 bytes of payload in 1538 on the wire (RFC 6349, section 4; Ethernet framing), 1 Gbit/s: 941.48 Mbit/s.
    reached = 0.0
    for run in FINISHED:
        limit = max(port["speed_mbit_s"] for port in DEVICES[run["device"]]["port"]) * 1448 / 1538
        assert float(run[RATE]) <= limit + 0.05  # one decimal is typed
        if run["device"] == "polmerre-rondel-4" and run["client"] == "wrenlet-r4":
            reached = max(reached, float(run[RATE]) / limit)
    assert reached > 0.995


def test_repeats_belong_together():
    cells = defaultdict(list)
    keys = [
        column
        for column in dict.fromkeys(column for run in RUNS for column in run)
        if column not in {"batch", "row", "repeat", "when", "level_dbm", "note", "log"}
    ]
    keys = [column for column in keys if column not in {RATE, "outcome", "dfs_event", "link_rate_mbit_s"}]
    for run in FINISHED:
        cells[tuple(run.get(column, "") for column in keys)].append(float(run[RATE]))
    odd = {key for key, values in cells.items() if max(values) / min(values) > 1.25}
    assert odd == set()
    assert sum(len(values) == 3 for values in cells.values()) / len(cells) > 0.9
    assert any(len(values) == 1 for values in cells.values())
    seen = [tuple(value for name, value in run.items() if name != "row") for run in RUNS]
    assert len(seen) == len(set(seen))


def test_times_lie_on_the_session_and_never_twice():
    taken = set()
    for run in RUNS:
        assert run["when"][:10] == SESSIONS[run["session"]]["date"].isoformat()
        assert (run["client"], run["when"]) not in taken
        taken.add((run["client"], run["when"]))


def covers(device: str, client: str, window: tuple[float, float]) -> bool:
    inside = [knot for knot in knots(device, client) if window[0] - LONGEST_GAP < knot < window[1] + LONGEST_GAP]
    gaps = [high - low for low, high in pairwise(inside)]
    return bool(inside) and inside[0] <= window[0] and inside[-1] >= window[1] and max(gaps) <= LONGEST_GAP


def test_windows_are_covered_by_most_but_not_all():
    best = {device: max(("wrenlet-u2", "wrenlet-b2"), key=lambda c, d=device: len(knots(d, c))) for device in DEVICES}
    for window, missing in (
        (NEAR, {"hollendry-faceplate"}),
        (MIDDLE, {"quillmast-ridge"}),
        (FAR, {"hollendry-faceplate", "fjeldrun-ingle", "tessarik-trio"}),
    ):
        short = {device for device in DEVICES if not covers(device, best[device], window)}
        assert missing <= short <= missing | {"quillmast-ridge"}
    ridge = knots("quillmast-ridge", "wrenlet-u2")
    assert max(high - low for low, high in pairwise(ridge)) > LONGEST_GAP


def ceilings(client: str) -> list[dict]:
    """Ceiling entries of a client over all batches that hold no hidden thing, with their evidence run."""
    return [
        entry | {"value": float(rows_of(DEMO / "batches" / batch / f"{stem}.csv")[int(number) - 2][RATE])}
        for named in ORDER
        if "embargo" not in SETTINGS[named]
        for thing in SETTINGS[named].get("client", [])
        if thing["id"] == client
        for entry in thing.get("ceiling", [])
        for batch, stem, number in [entry["run"].split("/")]
    ]


def test_one_client_is_capped_with_evidence():
    (ceiling,) = ceilings("skarn-r2")
    assert (ceiling["band"], ceiling["width_mhz"], ceiling["direction"]) == ("5", 160, "down")
    bounds = {
        run["device"]
        for run in FINISHED
        if run["client"] == "skarn-r2" and run["width_mhz"] == "160" and run.get("spot")
        if float(run[RATE]) >= 0.97 * ceiling["value"]
    }
    assert len(bounds) >= 4
    # A two-stream link of that width could carry twice as much (802.11ax, MCS 11: 2402 Mbit/s).
    assert ceiling["value"] < 2402 * 0.5


def test_evidence_is_the_run_it_names_and_not_the_port():
    for batch in ORDER:
        for client in SETTINGS[batch].get("client", []):
            for ceiling in client.get("ceiling", []):
                named, stem, number = ceiling["run"].split("/")
                run = rows_of(DEMO / "batches" / named / f"{stem}.csv")[int(number) - 2]
                assert run["client"] == client["id"]
                assert (run["band"], int(run["width_mhz"]), run["direction"]) == (
                    ceiling["band"],
                    ceiling["width_mhz"],
                    ceiling["direction"],
                )
                port = max(port["speed_mbit_s"] for port in DEVICES[run["device"]]["port"]) * 1448 / 1538
                assert float(run[RATE]) < 0.97 * port


def test_the_hidden_device_would_raise_ceilings():
    hidden = [thing for thing in SETTINGS["2026-05-gantry"]["client"] if "ceiling" in thing]
    assert len(hidden) == 2
    for client in hidden:
        for entry in client["ceiling"]:
            number = int(entry["run"].split("/")[2])
            value = float(rows_of(DEMO / "batches" / "2026-05-gantry" / "runs.csv")[number - 2][RATE])
            same = [
                public["value"]
                for public in ceilings(client["id"])
                if (public["band"], public["width_mhz"]) == (entry["band"], entry["width_mhz"])
            ]
            assert value > max(same)


def test_two_devices_meet_only_over_bridges():
    def clients_of(device: str) -> set[str]:
        return {CLIENTS[run["client"]]["series"] for run in FINISHED if run["device"] == device}

    early, late = clients_of("fjeldrun-ingle"), clients_of("hollendry-bobbin")
    assert not early & late
    for reference in ("quillmast-lantern", "tessarik-plinth"):
        assert early & clients_of(reference)
        assert late & clients_of(reference)


def test_accidents_are_there():
    outcomes = {run["outcome"] for run in RUNS}
    assert outcomes == {"finished", "did not finish", "client fault", "aborted", "not possible"}
    assert any(run["outcome"] == "did not finish" and run["spot"] == "B8" for run in RUNS)
    assert all(run["note"] for run in RUNS if run["outcome"] != "finished")
    assert any(run.get("dfs_event") == "yes" for run in RUNS)


def test_firmwares_on_both_sides_of_the_cupboard():
    (first, _), (second, _) = attenuations("5")["B6"]
    starts = {
        (run["firmware"], second <= SESSIONS[run["session"]]["date"])
        for run in FINISHED
        if run["device"] == "polmerre-rondel-6" and run["spot"] == "B6"
    }
    assert first < second
    assert starts == {("6.0.4", False), ("6.0.4", True), ("6.1.0", True)}
    assert {run["unit"] for run in FINISHED if run["device"] == "polmerre-rondel-6"} == {"A", "B"}


def test_bridge_tests_have_both_sides_and_repeats():
    cells = defaultdict(list)
    for row in table("bridges"):
        key = (row["new_client"], row["new_driver"], row["width_mhz"], row["direction"], row["spot"])
        cells[key, row["side"]].append(float(row[RATE]))
    assert min(len(values) for values in cells.values()) >= 3
    share = defaultdict(list)
    for (key, side), values in cells.items():
        if side == "new":
            share[key[:3]].append(statistics.fmean(values) / statistics.fmean(cells[key, "old"]) - 1)
    # method.md, section 8: inside 5 % is the same series.
    assert all(abs(change) < 0.05 for key, changes in share.items() if key[0] == "skarn-r2b" for change in changes)
    assert statistics.fmean(share["wrenlet-b2", "D-12", "160"]) < -0.05


# Several clients, nights


def test_workloads_have_collapse_fault_and_lost_log():
    stations, roles = table("stations"), roles_of_workloads()
    assert {row["workload"] for row in stations} == set(things("workload"))
    assert len(things("workload")) == 5
    assert {row["kind"] for row in roles.values()} == {"stream", "pages", "voice", "fetch", "upload", "game"}
    pages = [role for role in roles.values() if role["kind"] == "pages"]
    assert {(role["resources"], role["resource_kib"]) for role in pages} == {(27, 44)}  # job analysis, role targets
    runs = defaultdict(set)
    for row in stations:
        runs[row["device"], row["workload"]].add((row["mix"], row["outcome"]))
        assert (row["workload"], row["role"]) in roles
    collapsed = {mix for found in runs.values() for mix, outcome in found if outcome == "did not finish"}
    assert sorted(mix.partition("-20")[0] for mix in collapsed) == [
        "fjeldrun-skerry-update-day",
        "hollendry-bobbin-update-day",
        "tessarik-trio-after-supper",
    ]
    assert any(len({mix for mix, _ in found}) >= 3 for found in runs.values())
    assert sum(row["outcome"] == "client fault" for row in stations) == 1
    assert sum(row["log"] == "" for row in stations) == 1


def roles_of_workloads() -> dict[tuple[str, str], dict]:
    """(workload, role) -> what the role is, be it written inside the workload or once for all."""
    shared = things("role")
    return {
        (name, role["id"]): role
        for name, workload in things("workload").items()
        for role in (*workload.get("role", ()), *(shared[one] for seat in workload.get("seats", ()) for one in seat))
    }


def requests_of(row: dict[str, str]) -> list[dict[str, str]]:
    """The log of a station as t_s, ms, outcome, whichever program wrote it."""
    program, _, path = row["log"].rpartition(":")
    requests = rows_of(DEMO / "batches" / row["batch"] / path)
    if not program:
        return requests
    ends = {"+": "finished", "-": "failed"}
    return [{"t_s": str(int(r["sent"]) / 1000), "ms": r["took"], "outcome": ends[r["back"]]} for r in requests]


def test_request_logs_stay_inside_their_run():
    for row in table("stations"):
        if not row["log"]:
            continue
        end = float(row.get("ended_at_s") or row["planned_s"])
        requests = requests_of(row)
        assert requests
        for request in requests:
            assert 0 <= float(request["t_s"]) <= end
            assert (request["outcome"] == "finished") == (request["ms"] != "")
            assert request["ms"] == "" or float(request["ms"]) > 0
        if row["planned_requests"] and row["outcome"] == "finished":
            planned = int(row["planned_requests"])
            assert min(0.99 * planned, planned - 1) <= len(requests) <= planned


def autocorrelation(values: list[float], lag: int) -> float:
    mean = statistics.fmean(values)
    centred = [value - mean for value in values]
    return sum(a * b for a, b in zip(centred, centred[lag:], strict=False)) / sum(a * a for a in centred)


def test_nights_are_long_and_one_has_a_wave():
    nights = {}
    for row in table("longruns"):
        log = rows_of(DEMO / "batches" / row["batch"] / row["log"])
        steps = {int(b["t_s"]) - int(a["t_s"]) for a, b in pairwise(log)}
        assert steps == {10}
        assert 8 <= len(log) * 10 / 3600 <= 12
        nights[row["device"]] = [float(sample["mbit_s"]) for sample in log]
    wave, steady = nights["polmerre-rondel-4"], nights["quillmast-lantern"]
    # The README's 25 minutes are 150 samples: alike a whole wave later, unlike half a wave later.
    assert autocorrelation(wave, 150) > 0.5
    assert autocorrelation(wave, 75) < -0.5
    assert abs(autocorrelation(steady, 150)) < 0.15
    assert abs(autocorrelation(steady, 75)) < 0.15
    assert min(nights["fjeldrun-skerry"]) < 5


# Hidden things, corrections, findings, articles


def test_embargoes_lie_after_the_build_instant():
    assert tomllib.loads((DEMO / "demo.toml").read_text())["build_instant"] == "2026-06-30T12:00:00Z"
    found = {}
    for batch in ORDER:
        for device in SETTINGS[batch].get("device", []):
            for thing in (device, *device.get("unit", []), *device.get("firmware", [])):
                if "embargo" in thing:
                    embargo = thing["embargo"]
                    local = datetime.fromisoformat(embargo["until"]).replace(tzinfo=ZoneInfo(embargo["timezone"]))
                    assert local > BUILT
                    found[device["id"], embargo["covers"]] = batch
    assert found == {
        ("quillmast-gantry", "existence"): "2026-05-gantry",
        ("tessarik-cupola", "results"): "2026-06-saltmarsh",
    }


def test_no_public_batch_names_the_hidden_device():
    for batch in ORDER:
        if batch == "2026-05-gantry":
            continue
        for path in (DEMO / "batches" / batch).rglob("*"):
            if path.is_file() and path.suffix != ".png":
                assert "gantry" not in path.read_text(encoding="utf-8").casefold(), path


def corrections() -> list[dict[str, str]]:
    names = tomllib.loads((DEMO / "demo.toml").read_text(encoding="utf-8"))["corrections"]
    return [row for name in names for row in rows_of(DEMO / name)]


def test_what_was_corrected_stood_there():
    (renamed,) = [row for row in corrections() if row["table"] == "device"]
    assert DEVICES[renamed["key"].removeprefix("id=")]["model"] == renamed["was"]
    moved = [row for row in corrections() if row["table"] == "embargo"]
    batch = SETTINGS["2026-05-gantry"]
    for row, embargo in zip(moved, (batch["device"][0]["embargo"], batch["embargo"]), strict=True):
        assert row["was"] == f"{embargo['until']} {embargo['timezone']}"
        assert row["was"] < row["now"]


def test_the_corrected_value_meets_one_row():
    (correction,) = [row for row in corrections() if row["table"] == "runs"]
    key = dict(pair.strip().split("=") for pair in correction["key"].split(";"))
    (row,) = [run for run in RUNS if all(run[column] == value for column, value in key.items())]
    assert float(row[RATE]) == float(correction["was"]) != float(correction["now"])
    siblings = [
        float(run[RATE])
        for run in FINISHED
        if all(run[column] == value for column, value in key.items() if column != "repeat") and run is not row
    ]
    median = statistics.median(siblings)
    assert abs(float(correction["now"]) - median) < abs(float(correction["was"]) - median)


def test_what_a_review_froze_is_what_had_been_typed_by_then():
    (correction,) = [row for row in corrections() if row["table"] == "runs"]
    key = dict(pair.strip().split("=") for pair in correction["key"].split(";"))
    cell = [run for run in FINISHED if all(run[c] == value for c, value in key.items() if c != "repeat")]
    (frozen,) = re.findall(
        r'value polmerre-rondel-4, spot S5.*?frozen "(\d+) Mbit/s"',
        (DEMO / "batches" / "2024-06-cupola" / "articles" / "cupola-review.md").read_text(encoding="utf-8"),
    )
    assert int(frozen) == round(statistics.fmean(float(run[RATE]) for run in cell))


def test_findings_hold_a_contradiction_licences_and_dates():
    # IEEE 802.3: a class 3 source gives at least 15.4 W; tests/published/poe.csv.
    (class_3,) = [row for row in rows_of(PUBLISHED / "poe.csv") if row["class"] == "3"]
    over = {
        row["device"]
        for row in table("power")
        if row["side"] == "supply" and float(row["watts"]) > float(class_3["pse_min_output_w"])
        if any(port.get("power_class") == 3 and port["power"] == "in" for port in DEVICES[row["device"]]["port"])
    }
    assert over == {"fjeldrun-skerry"}
    features = table("features")
    assert {"promised", "present", "switchable", "on from the box", "seen on air", "works", "fails", "not tested"} == {
        row["step"] for row in features
    }
    assert all(row["method"] and row["date"] for row in features if row["step"] == "works")
    assert any(row.get("licence") for row in features)
    assert {row["state"] for row in table("disputes")} == {"open", "partly"}
    assert [row["id"] for row in table("withdrawals")] == ["tessarik-trio"]
    assert all(row["currency"] == "EUR" and row["date"] for row in table("prices"))
    markings = defaultdict(set)
    for row in table("parts"):
        markings[row["marking"]].add(row["device"])
    assert any(len(devices) > 1 for devices in markings.values())


def test_articles_are_plain_and_images_bare():
    articles = [article | {"batch": batch} for batch in ORDER for article in SETTINGS[batch].get("article", [])]
    asked = {}
    for article in articles:
        text = (DEMO / "batches" / article["batch"] / article["file"]).read_text(encoding="utf-8")
        typed = re.sub(r"\(=.*?=\)|\]\(.*?\)", "", text, flags=re.DOTALL)  # without bindings and targets of pictures
        assert not any(letter.isdigit() for letter in typed.replace("Rondel 6", "").replace("Rondel 4", ""))
        asked[article["id"]] = set(re.findall(r"\(= (\w+)", text)) | ({"picture"} if "![" in text else set())
    assert list(asked) == [
        "rondel-6-review",
        "cupola-review",
        "second-link-note",
        "full-house-review",
        "full-house-script",
    ]
    assert {"difference", "claim", "lines", "picture"} <= asked["rondel-6-review"] & asked["cupola-review"]
    assert {"mix", "role", "share", "waits", "stalls", "coped", "brokeoff", "claim"} <= asked["full-house-review"]
    assert {"mix", "role"} <= asked["full-house-script"]
    images = [image | {"batch": batch} for batch in ORDER for image in SETTINGS[batch].get("image", [])]
    assert {image["kind"] for image in images} == {"case", "ports", "teardown"}
    for image in images:
        assert image["alt"]
        data = (DEMO / "batches" / image["batch"] / image["file"]).read_bytes()
        # PNG (ISO/IEC 15948): after the signature, chunks of length, name, data, check.
        place, names = 8, set()
        while place < len(data):
            length = int.from_bytes(data[place : place + 4])
            names.add(data[place + 4 : place + 8])
            place += 12 + length
        assert names == {b"IHDR", b"IDAT", b"IEND"}
        assert len(data) < 20_000
    photos = {(row["batch"], row["photo"]) for row in table("parts") if row.get("photo")}
    assert photos <= {(image["batch"], image["file"]) for image in images}
