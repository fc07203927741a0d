"""The workloads: machines in their seats, each with a client, a spot, a band and what it does there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["stream", "pages", "voice", "fetch", "upload", "game"]
EVENING = "2025-06-full-house"  # the batch in which roles were first defined once for all workloads


@dataclass(frozen=True, kw_only=True)
class Role:
    """A kind of work with its marks. Fields of other kinds stay at their defaults and are not written.

    target_ms, target_share  enough: this share in this time
    good_ms, good_share      good, where the bench says what is; 0: it does not
    """

    id: str
    kind: Kind
    target_ms: int
    target_share: float
    good_ms: int = 0
    good_share: float = 0.0
    rate_mbit_s: float = 0.0
    segment_s: float = 0.0
    start_buffer_s: float = 0.0
    resources: int = 0
    resource_kib: int = 0
    pause_s: tuple[int, int] = (0, 0)
    packet_ms: int = 0
    codec: str = ""
    file_mib: int = 0
    at_once: int = 1

    def planned_requests(self, duration_s: int) -> int | None:
        """What the plan asks for; None for a role that waits for its answers. [1]"""
        if self.kind == "stream":
            return int(duration_s / self.segment_s)
        if self.packet_ms:
            return duration_s * 1000 // self.packet_ms
        return None

    def definition(self) -> dict[str, object]:
        """The keys of its kind and its marks as batch.toml has them."""
        files: dict[str, object] = {"file_mib": self.file_mib}
        if self.at_once > 1:
            files["at_once"] = self.at_once
        by_kind: dict[str, dict[str, object]] = {
            "stream": {
                "rate_mbit_s": self.rate_mbit_s,
                "segment_s": self.segment_s,
                "start_buffer_s": self.start_buffer_s,
            },
            "pages": {
                "resources": self.resources,
                "resource_kib": self.resource_kib,
                "pause_s": list(self.pause_s),
            },
            "voice": {"packet_ms": self.packet_ms, "codec": self.codec},
            "game": {"packet_ms": self.packet_ms},
            "fetch": files,
            "upload": files,
        }
        good = {"good_ms": self.good_ms, "good_share": self.good_share} if self.good_ms else {}
        marks = {"target_ms": self.target_ms, "target_share": self.target_share}
        return {"id": self.id, "kind": self.kind, **good, **marks, **by_kind[self.kind]}


@dataclass(frozen=True)
class Seat:
    """One machine: its client, where it stands, on which band, and all it does at the same time."""

    client: str
    spot: str  # number
    band: str
    roles: tuple[Role, ...]


@dataclass(frozen=True, kw_only=True)
class Workload:
    """A named plan: machines in their seats, all for the same time. [s]

    batch  the batch that registers it; from EVENING on, its roles are defined there once for all workloads
    """

    id: str
    title: str
    duration_s: int
    seats: tuple[Seat, ...]
    batch: str = "2022-01-houses"

    @property
    def shares_roles(self) -> bool:
        """Whether its roles stand beside it as [[role]], and not within it."""
        return self.batch >= EVENING

    def name_of(self, seat: Seat, role: Role) -> str:
        """What a role's log, and its stream of chance, are called within one run."""
        return f"{seat.client}-{role.id}" if self.shares_roles else role.id


def _pages(role: str, client: str, spot: str) -> Seat:
    work = Role(
        id=role,
        kind="pages",
        target_ms=1000,
        target_share=0.95,
        resources=27,
        resource_kib=44,
        pause_s=(5, 20),
    )
    return Seat(client, spot, "5", (work,))


def _picture(role: str, client: str, spot: str, band: str, rate_mbit_s: float) -> Seat:
    # A segment must be there before the one in play has ended.
    work = Role(
        id=role,
        kind="stream",
        target_ms=4000,
        target_share=0.99,
        rate_mbit_s=rate_mbit_s,
        segment_s=4.0,
        start_buffer_s=8.0,
    )
    return Seat(client, spot, band, (work,))


def _talk(role: str, client: str, spot: str, band: str) -> Seat:
    work = Role(
        id=role,
        kind="voice",
        target_ms=150,
        target_share=0.99,
        packet_ms=60,
        codec="G.711",
    )
    return Seat(client, spot, band, (work,))


def _fetch(role: str, client: str, spot: str) -> Seat:
    # 64 MiB at the wanted 20 Mbit/s take 26.8 s.
    work = Role(id=role, kind="fetch", target_ms=26_844, target_share=0.95, file_mib=64)
    return Seat(client, spot, "5", (work,))


# Defined once, for every workload from 2025 on.
BIG_FILM = Role(
    id="big-film",
    kind="stream",
    good_ms=500,
    good_share=0.95,
    target_ms=1000,
    target_share=0.95,
    rate_mbit_s=25.0,
    segment_s=3.0,
    start_buffer_s=9.0,
)
SMALL_FILM = Role(
    id="small-film",
    kind="stream",
    good_ms=500,
    good_share=0.95,
    target_ms=1000,
    target_share=0.95,
    rate_mbit_s=6.0,
    segment_s=2.0,
    start_buffer_s=6.0,
)
WEB = Role(
    id="web",
    kind="pages",
    good_ms=500,
    good_share=0.9,
    target_ms=1000,
    target_share=0.95,
    resources=27,
    resource_kib=44,
    pause_s=(1, 5),
)
CALL = Role(
    id="call",
    kind="voice",
    good_ms=60,
    good_share=0.95,
    target_ms=150,
    target_share=0.98,
    packet_ms=60,
    codec="G.711",
)
GAME = Role(id="game", kind="game", good_ms=20, good_share=0.95, target_ms=50, target_share=0.95, packet_ms=200)
# Two clips at a time, as a camera's folder goes up.
CLIPS = Role(
    id="clips",
    kind="upload",
    good_ms=1000,
    good_share=0.9,
    target_ms=1500,
    target_share=0.9,
    file_mib=32,
    at_once=2,
)
# A shop of programs fetches several at a time.
UPDATES = Role(
    id="updates",
    kind="fetch",
    good_ms=4000,
    good_share=0.9,
    target_ms=8000,
    target_share=0.9,
    file_mib=64,
    at_once=2,
)
ROLES = (BIG_FILM, SMALL_FILM, WEB, CALL, GAME, CLIPS, UPDATES)

WORKLOADS = (
    Workload(
        id="desk-row",
        title="A row of desks on a busy morning",
        duration_s=600,
        seats=(
            _pages("pages-window", "wrenlet-u2", "6"),
            _pages("pages-door", "skarn-c3", "5"),
            _picture("briefing", "mottle-n1", "5", "2.4", 5.0),
            _fetch("drawings", "wrenlet-r4", "4"),
        ),
    ),
    Workload(
        id="after-supper",
        title="A family after supper",
        duration_s=600,
        seats=(
            _picture("big-picture", "wrenlet-r4", "5", "5", 25.0),
            _picture("small-picture", "mottle-n1", "6", "2.4", 5.0),
            _pages("homework", "wrenlet-u2", "6"),
            _fetch("game-update", "skarn-c3", "5"),
        ),
    ),
    Workload(
        id="calls-over-backup",
        title="Two calls while a backup runs",
        duration_s=180,
        seats=(
            _talk("call-window", "wrenlet-u2", "6", "5"),
            _talk("call-hall", "mottle-n1", "5", "2.4"),
            _pages("notes", "skarn-c3", "5"),
            _fetch("backup", "wrenlet-r4", "4"),
        ),
    ),
    Workload(
        id="full-house",
        title="A full house on a rainy evening",
        duration_s=150,
        seats=(
            Seat("wrenlet-b2", "6", "5", (CALL, WEB)),
            Seat("wrenlet-u2", "5", "5", (GAME,)),
            Seat("wrenlet-r4", "5", "5", (BIG_FILM,)),
            Seat("skarn-c3", "4", "5", (CLIPS,)),
            Seat("mottle-n1", "6", "2.4", (SMALL_FILM,)),
        ),
        batch=EVENING,
    ),
    Workload(
        id="update-day",
        title="Calls while everybody downloads",
        duration_s=60,
        seats=(
            Seat("wrenlet-b2", "5", "5", (CALL,)),
            Seat("wrenlet-u2", "6", "5", (CALL,)),
            Seat("wrenlet-r4", "4", "5", (UPDATES,)),
            Seat("skarn-c3", "5", "5", (UPDATES,)),
        ),
        batch=EVENING,
    ),
)
BY_ID = {workload.id: workload for workload in WORKLOADS}
