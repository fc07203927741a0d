"""The three workloads: several clients at once, each with one role, always at the same spots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["stream", "pages", "voice", "fetch"]


@dataclass(frozen=True, kw_only=True)
class Role:
    """What one client does. Fields of other kinds stay at their defaults and are not written."""

    id: str
    kind: Kind
    client: str
    spot: str  # number
    band: str
    target_ms: int
    target_share: float
    rate_mbit_s: float = 0.0
    segment_s: float = 0.0
    start_buffer_s: float = 0.0
    resources: int = 0
    resource_kib: int = 0
    pause_s: tuple[int, int] = (0, 0)
    packet_ms: int = 0
    codec: str = ""
    file_mib: int = 0

    def planned_requests(self, duration_s: int) -> int | None:
        """What the plan asks for; None for a role that waits for its answers. [1]"""
        if self.kind == "stream":
            return int(duration_s / self.segment_s)
        if self.kind == "voice":
            return duration_s * 1000 // self.packet_ms
        return None

    def recipe(self) -> dict[str, object]:
        """The keys of its kind as batch.toml has them."""
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
            "fetch": {"file_mib": self.file_mib},
        }
        return by_kind[self.kind]


@dataclass(frozen=True)
class Workload:
    """A named plan with its roles, all for the same time. [s]"""

    id: str
    title: str
    duration_s: int
    roles: tuple[Role, ...]


def _pages(role: str, client: str, spot: str) -> Role:
    return Role(
        id=role,
        kind="pages",
        client=client,
        spot=spot,
        band="5",
        target_ms=1000,
        target_share=0.95,
        resources=27,
        resource_kib=44,
        pause_s=(5, 20),
    )


def _picture(role: str, client: str, spot: str, band: str, rate_mbit_s: float) -> Role:
    # A segment must be there before the one in play has ended.
    return Role(
        id=role,
        kind="stream",
        client=client,
        spot=spot,
        band=band,
        target_ms=4000,
        target_share=0.99,
        rate_mbit_s=rate_mbit_s,
        segment_s=4.0,
        start_buffer_s=8.0,
    )


def _talk(role: str, client: str, spot: str, band: str) -> Role:
    return Role(
        id=role,
        kind="voice",
        client=client,
        spot=spot,
        band=band,
        target_ms=150,
        target_share=0.99,
        packet_ms=60,
        codec="G.711",
    )


def _fetch(role: str, client: str, spot: str) -> Role:
    # 64 MiB at the wanted 20 Mbit/s take 26.8 s.
    return Role(
        id=role, kind="fetch", client=client, spot=spot, band="5", target_ms=26_844, target_share=0.95, file_mib=64
    )


WORKLOADS = (
    Workload(
        "desk-row",
        "A row of desks on a busy morning",
        600,
        (
            _pages("pages-window", "wrenlet-u2", "6"),
            _pages("pages-door", "skarn-c3", "5"),
            _picture("briefing", "mottle-n1", "5", "2.4", 5.0),
            _fetch("drawings", "wrenlet-r4", "4"),
        ),
    ),
    Workload(
        "after-supper",
        "A family after supper",
        600,
        (
            _picture("big-picture", "wrenlet-r4", "5", "5", 25.0),
            _picture("small-picture", "mottle-n1", "6", "2.4", 5.0),
            _pages("homework", "wrenlet-u2", "6"),
            _fetch("game-update", "skarn-c3", "5"),
        ),
    ),
    Workload(
        "calls-over-backup",
        "Two calls while a backup runs",
        180,
        (
            _talk("call-window", "wrenlet-u2", "6", "5"),
            _talk("call-hall", "mottle-n1", "5", "2.4"),
            _pages("notes", "skarn-c3", "5"),
            _fetch("backup", "wrenlet-r4", "4"),
        ),
    ),
)
BY_ID = {workload.id: workload for workload in WORKLOADS}
