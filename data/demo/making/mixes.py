"""Runs with several clients at once: rows of stations.csv and their request logs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from making import workloads
from making.airtime import Request, request_logs
from making.bench import WHEN, Row, losses_at, mean_throughput, session_factor, setup_of
from making.diary import Day, Mix
from making.dice import dice


@dataclass(frozen=True)
class Fate:
    """What befell one run: a collapse [s], a client's own fault [s], or a log that was lost."""

    collapse_s: float | None = None
    client_fault: tuple[str, float] | None = None  # role, when
    lost_log: str | None = None  # role


# (device, workload, number of the run)
FATES = {
    ("tessarik-trio", "after-supper", 2): Fate(collapse_s=412.0),
    ("quillmast-ridge", "desk-row", 1): Fate(client_fault=("pages-door", 233.0)),
    ("hollendry-faceplate", "calls-over-backup", 2): Fate(lost_log="call-hall"),
}


def log_text(requests: list[Request]) -> str:
    """A request log: start from the run's own start, duration, outcome."""
    lines = ["t_s,ms,outcome"]
    for request in requests:
        took = "" if request.ms is None else f"{request.ms:.1f}"
        lines.append(f"{request.t_s:.2f},{took},{'failed' if request.ms is None else 'finished'}")
    return "\n".join(lines) + "\n"


def mix_rows(mix: Mix, day: Day, *, number: int, at: datetime) -> tuple[list[Row], dict[str, str]]:
    """Rows of one run and its logs, path -> text."""
    workload = workloads.BY_ID[mix.workload]
    fate = FATES.get((mix.device, mix.workload, number), Fate())
    mix_id = f"{mix.device}-{mix.workload}-{day.date.isoformat()}-{number}"
    setups = {
        role.id: setup_of(
            mix.device,
            role.client,
            firmware=mix.firmware,
            unit="A",
            driver="",
            band=role.band,
            width_mhz=20 if role.band == "2.4" else 80,
            direction="down",
            losses=losses_at(day.house, role.spot, role.band, day),
        )
        for role in workload.roles
    }
    rates = {
        role: mean_throughput(setup, shift_db=0.0, factor=session_factor(day.id)) for role, setup in setups.items()
    }
    device = next(iter(setups.values())).device
    requests = request_logs(
        workload.roles,
        rates,
        duration_s=workload.duration_s,
        queueing=device.queueing,
        collapse_s=fate.collapse_s,
        purpose=mix_id,
    )
    rows: list[Row] = []
    logs: dict[str, str] = {}
    for role in workload.roles:
        setup = setups[role.id]
        path = f"logs/{mix_id}-{role.id}.csv"
        heard = setup.device.by_band[role.band].eirp_dbm - setup.loss_db[role.band] + setup.client.level_bias_db
        log = requests[role.id]
        row: Row = {
            "mix": mix_id,
            "workload": workload.id,
            "workload_version": 1,
            "when": at.strftime(WHEN),
            "device": mix.device,
            "unit": "A",
            "firmware": setup.firmware.version,
            "client": role.client,
            "driver": setup.driver,
            "session": day.id,
            "role": role.id,
            "band": role.band,
            "spot": day.house.spot(role.spot).id,
            "level_dbm": round(heard + dice("mix level", mix_id, role.id).gauss(0, 0.7)),
            "planned_s": workload.duration_s,
            "planned_requests": role.planned_requests(workload.duration_s) or "",
            "outcome": "finished",
            "log": path,
        }
        if fate.collapse_s is not None:
            row |= {
                "outcome": "did not finish",
                "ended_at_s": fate.collapse_s,
                "ended_by": "power cycle",
                "note": "no beacon any more, lights still on",
            }
        if fate.client_fault is not None and fate.client_fault[0] == role.id:
            ended = fate.client_fault[1]
            log = [r for r in log if r.ms is not None and r.t_s + r.ms / 1000 < ended]
            row |= {
                "outcome": "client fault",
                "ended_at_s": ended,
                "ended_by": "client fault",
                "note": "laptop shut itself down, battery",
            }
        if fate.lost_log == role.id:
            row |= {"log": "", "note": "log lost with the memory card"}
        else:
            logs[path] = log_text(log)
        rows.append(row)
    return rows, logs


def day_mixes(day: Day, *, after: datetime) -> tuple[list[Row], dict[str, str]]:
    """All runs with several clients of one day, one after the other."""
    rows: list[Row] = []
    logs: dict[str, str] = {}
    at = after
    for mix in day.mixes:
        for number in range(1, mix.times + 1):
            at += timedelta(seconds=dice("mix pause", day.id, mix.device, mix.workload, number).randint(240, 500))
            more, texts = mix_rows(mix, day, number=number, at=at)
            rows += more
            logs |= texts
            at += timedelta(seconds=workloads.BY_ID[mix.workload].duration_s)
    return rows, logs
