"""Runs with several clients at once: rows of stations.csv and their request logs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from making import workloads
from making.airtime import Request, Work, request_logs
from making.bench import WHEN, Row, Setup, losses_at, mean_throughput, session_factor, setup_of
from making.devices import BY_ID
from making.diary import Day, Mix
from making.dice import dice
from making.workloads import Role, Seat


@dataclass(frozen=True)
class Fate:
    """What befell one run: a collapse [s] and how it ended, a client's own fault [s], or a log that was lost."""

    collapse_s: float | None = None
    ended_by: str = "power cycle"
    note: str = "no beacon any more, lights still on"
    client_fault: tuple[str, float] | None = None  # role, when
    lost_log: str | None = None  # role


# (device, workload, number of the run)
FATES = {
    ("tessarik-trio", "after-supper", 2): Fate(collapse_s=412.0),
    ("fjeldrun-skerry", "update-day", 1): Fate(
        collapse_s=22.0, ended_by="restart", note="lights out for two minutes, then back"
    ),
    ("hollendry-bobbin", "update-day", 1): Fate(collapse_s=37.0),
    ("quillmast-ridge", "desk-row", 1): Fate(client_fault=("pages-door", 233.0)),
    ("hollendry-faceplate", "calls-over-backup", 2): Fate(lost_log="call-hall"),
}


# Small packets are sent and counted by a program of its own, whose logs are read through this map.
PACKETS = "packets"
PACKET_MAP = """\
# The packet counter writes milliseconds from its start, and a sign for how each packet fared.
kind = "requests"
format = "csv"

[column.t_s]
from = "sent"
unit = "ms"

[column.ms]
from = "took"
unit = "ms"

[column.outcome]
from = "back"
words = {"+" = "finished", "-" = "failed"}
"""


def log_text(requests: list[Request]) -> str:
    """A request log: start from the run's own start, duration, outcome."""
    lines = ["t_s,ms,outcome"]
    for request in requests:
        took = "" if request.ms is None else f"{request.ms:.1f}"
        lines.append(f"{request.t_s:.2f},{took},{'failed' if request.ms is None else 'finished'}")
    return "\n".join(lines) + "\n"


def packet_text(requests: list[Request]) -> str:
    """The same as the packet counter writes it."""
    lines = ["sent,took,back"]
    for request in requests:
        took = "," if request.ms is None else f"{request.ms:.1f},"
        lines.append(f"{round(1000 * request.t_s)},{took}{'-' if request.ms is None else '+'}")
    return "\n".join(lines) + "\n"


def _seated(mix: Mix) -> list[Seat]:
    """The machines as they sat in this run."""
    return [
        replace(
            seat,
            client=mix.replaced.get(seat.client, seat.client),
            spot=mix.moved.get(seat.client, seat.spot),
        )
        for seat in workloads.BY_ID[mix.workload].seats
    ]


def _setup(mix: Mix, day: Day, seat: Seat, *, direction: str) -> Setup:
    return setup_of(
        mix.device,
        seat.client,
        firmware=mix.firmware,
        unit=mix.unit,
        driver="",
        band=seat.band,
        width_mhz=20 if seat.band == "2.4" else 80,
        direction=direction,
        losses=losses_at(day.house, seat.spot, seat.band, day),
    )


def _work(mix: Mix, day: Day, seat: Seat, role: Role) -> Work:
    setup = _setup(mix, day, seat, direction="up" if role.kind == "upload" else "down")
    rate = mean_throughput(setup, shift_db=0.0, factor=session_factor(day.id))
    return Work(workloads.BY_ID[mix.workload].name_of(seat, role), seat.client, role, seat.band, rate)


def mix_rows(mix: Mix, day: Day, *, number: int, at: datetime) -> tuple[list[Row], dict[str, str]]:
    """Rows of one run and its logs, path -> text."""
    workload = workloads.BY_ID[mix.workload]
    fate = FATES.get((mix.device, mix.workload, number), Fate())
    mix_id = f"{mix.device}-{mix.workload}-{day.date.isoformat()}-{number}"
    machines = _seated(mix)
    requests = request_logs(
        [_work(mix, day, seat, role) for seat in machines for role in seat.roles],
        duration_s=workload.duration_s,
        queueing=BY_ID[mix.device].queueing,
        collapse_s=fate.collapse_s,
        purpose=mix_id,
    )
    rows: list[Row] = []
    logs: dict[str, str] = {}
    for seat, role in [(machine, role) for machine in machines for role in machine.roles]:
        name = workload.name_of(seat, role)
        setup = _setup(mix, day, seat, direction="down")
        path = f"logs/{mix_id}-{name}.csv"
        radio = setup.device.by_band[seat.band]
        heard = radio.eirp_dbm - setup.loss_db[seat.band] + setup.client.level_bias_db
        read = seat.client if workload.shares_roles else role.id  # a machine has one level, whatever it does
        log = requests[name]
        row: Row = {
            "mix": mix_id,
            "workload": workload.id,
            "workload_version": 1,
            "when": at.strftime(WHEN),
            "device": mix.device,
            "unit": mix.unit,
            "firmware": setup.firmware.version,
            "client": seat.client,
            "driver": setup.driver,
            "session": day.id,
            "role": role.id,
            "band": seat.band,
            "spot": day.house.spot(seat.spot).id,
            "level_dbm": round(heard + dice("mix level", mix_id, read).gauss(0, 0.7)),
            "planned_s": workload.duration_s,
            "planned_requests": role.planned_requests(workload.duration_s) or "",
            "outcome": "finished",
            "log": path,
        }
        if workload.shares_roles:
            row |= {"channel": radio.channel, "width_mhz": setup.width_mhz}
        if fate.collapse_s is not None:
            row |= {
                "outcome": "did not finish",
                "ended_at_s": fate.collapse_s,
                "ended_by": fate.ended_by,
                "note": fate.note,
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
        elif workload.shares_roles and role.packet_ms:
            row["log"] = f"{PACKETS}:{path}"
            logs[path] = packet_text(log)
            logs[f"maps/{PACKETS}.toml"] = PACKET_MAP
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
