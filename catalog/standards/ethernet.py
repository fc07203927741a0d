"""What an IEEE 802.3 port carries and what power its cable may deliver."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from catalog.standards.sources import Source

ETHERNET_FRAME_COST_BYTES = 1538
"""A 1500-byte packet on the wire: + 18 header and check sequence + 8 preamble + 12 gap. [byte]"""

TCP_PAYLOAD_BYTES = 1460
"""TCP payload of a 1500-byte IPv4 packet without TCP options. [byte]"""

TCP_PAYLOAD_WITH_TIMESTAMPS_BYTES = 1448
"""The same with the timestamps option (RFC 7323), 12 bytes a packet. [byte]"""

UDP_PAYLOAD_BYTES = 1472
"""UDP payload of a 1500-byte IPv4 packet. [byte]"""

ETHERNET_SOURCE = Source("IEEE 802.3-2022 (frame), RFC 9293 and RFC 7323 (payload)", "", "verified")


def tcp_port_limit_mbit_s(port_mbit_s: float) -> float:
    """Most TCP payload that an Ethernet port carries with 1500-byte packets and no options. [Mbit/s]

    port_mbit_s  nominal rate of the port. [Mbit/s]
    Source       `ETHERNET_SOURCE`: 1460/1538 of the rate.
    """
    return port_mbit_s * TCP_PAYLOAD_BYTES / ETHERNET_FRAME_COST_BYTES


def tcp_port_limit_with_timestamps_mbit_s(port_mbit_s: float) -> float:
    """`tcp_port_limit_mbit_s` with the timestamps option in every packet: 1448/1538 of the rate. [Mbit/s]"""
    return port_mbit_s * TCP_PAYLOAD_WITH_TIMESTAMPS_BYTES / ETHERNET_FRAME_COST_BYTES


def udp_port_limit_mbit_s(port_mbit_s: float) -> float:
    """Most UDP payload an Ethernet port carries with 1500-byte packets: 1472/1538 of the rate. [Mbit/s]"""
    return port_mbit_s * UDP_PAYLOAD_BYTES / ETHERNET_FRAME_COST_BYTES


Side = Literal["supply", "device"]
"""Where watts were read: what the supply gives, or what arrives at the device after the cable."""


@dataclass(frozen=True)
class PoeClass:
    """Limits of one class: least the supply must give, and most the device may draw at its own end. [W]"""

    number: int
    amendment: str
    supply_w: float
    device_w: float

    def limit_w(self, side: Side) -> float:
        """Limit on the *side* the power was read on. [W]"""
        return self.supply_w if side == "supply" else self.device_w


POE_CLASSES: Mapping[int, PoeClass] = MappingProxyType(
    {
        row.number: row
        for row in (
            PoeClass(0, "802.3af", 15.4, 12.95),
            PoeClass(1, "802.3af", 4.0, 3.84),
            PoeClass(2, "802.3af", 7.0, 6.49),
            PoeClass(3, "802.3af", 15.4, 12.95),
            PoeClass(4, "802.3at", 30.0, 25.5),
            PoeClass(5, "802.3bt", 45.0, 40.0),
            PoeClass(6, "802.3bt", 60.0, 51.0),
            PoeClass(7, "802.3bt", 75.0, 62.0),
            PoeClass(8, "802.3bt", 90.0, 71.3),
        )
    }
)
"""Power classes by number."""

POE_SOURCE = Source("IEEE 802.3-2022", "33 and 145", "verified")
