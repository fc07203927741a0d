"""A batch of one evening with several clients at once, done on five devices."""

from __future__ import annotations

from pathlib import Path

from tests.batches import batch_at, batch_toml, client, device, session
from tests.builder.busy_house import in_time

FILM = {"kind": "stream", "target_ms": 100, "target_share": 0.95, "rate_mbit_s": 8, "segment_s": 2}
CALL = {"kind": "voice", "target_ms": 100, "target_share": 0.95, "packet_ms": 20}
EVENING = [
    {"id": "evening", "version": 1, "title": "An evening", "duration_s": 600, "role": [{"id": "film"} | FILM, {"id": "call"} | CALL]},
    {"id": "evening", "version": 2, "title": "An evening at home", "duration_s": 620, "role": [{"id": "movie"} | FILM, {"id": "call"} | CALL]},
]  # fmt: skip
DEVICES = ("alder-one", "birch-two", "cedar-three", "doum-four", "elm-five")
COLUMNS = (
    "mix,workload_version,when,device,firmware,client,role,attenuation_db,level_dbm,outcome,planned_requests,log\n"
)


def evening(folder: Path) -> Path:
    """A batch: alder and birch alike, in versions 1 and 2; cedar's tablet replaced, doum's laptop moved; elm not tested."""
    rows, logs = [COLUMNS], {}

    def run(mix, version, device, firmware, *seats, outcome="finished"):
        for client_id, role, loss, level, on_time, planned in seats:
            name = f"logs/{mix}-{role}.csv"
            rows.append(
                f"{mix},{version},2025-07-01T{9 + len(logs) // 2:02}:00:00Z,{device},{firmware},{client_id},{role},{loss},"
                f"{level},{outcome},{planned},{name}\n"
            )
            waits = enumerate(in_time(on_time, planned, seed=len(logs)))
            logs[name] = "t_s,ms,outcome\n" + "".join(f"{2 * n},{ms:.1f},finished\n" for n, ms in waits)

    laptop, tablet = "fir-laptop", "fir-tablet"
    run("a1", 1, DEVICES[0], "1.0", (laptop, "film", 48, -50, 300, 300), (tablet, "call", 60, -61, 300, 300))
    run("b1", 2, DEVICES[1], "1.0", (laptop, "movie", 49, -52, 200, 300), (tablet, "call", 60, -60, 286, 300))
    run("c1", 1, DEVICES[2], "1.0", (laptop, "film", 48, -51, 300, 300), ("fir-slate", "call", 60, -60, 200, 300))
    run("d1", 1, DEVICES[3], "1.0", (laptop, "film", 58, -60, 100, 300), (tablet, "call", 60, -60, 300, 300))
    two = [{"version": "1.0", "released": "2024-01-01"}, {"version": "2.0", "released": "2025-01-01"}]
    text = batch_toml(
        "evening",
        device=[device(name, firmware=two) if name == DEVICES[1] else device(name) for name in DEVICES],
        client=[client(laptop), client(tablet), client("fir-slate")],
        house=[{"id": "house-e", "name": "House E"}],
        session=[session("2025-07-01", house="house-e")],
        workload=EVENING,
        defaults={
            "stations": {"workload": "evening", "session": "2025-07-01", "band": "5", "width_mhz": 80, "planned_s": 600, "unit": "A"},
            "runs": {"client": laptop, "session": "2025-07-01", "band": "5", "width_mhz": 80, "direction": "down", "unit": "A", "repeat": 1},
        },
    )  # fmt: skip
    runs = "when,device,firmware,attenuation_db,throughput_mbit_s,outcome\n" + "".join(
        f"2025-07-01T20:{10 * i + j:02}:00Z,{name},{'2.0' if name == DEVICES[1] else '1.0'},{50 + 10 * j},{700 - 100 * j - 5 * i},finished\n"
        for i, name in enumerate(DEVICES[:4])
        for j in range(3)
    )
    return batch_at(folder / "evening", text, {"stations.csv": "".join(rows), "runs.csv": runs, **logs})
