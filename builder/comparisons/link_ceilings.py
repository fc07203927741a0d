"""What the radios of two ends can carry at most: the PHY rate of the link they share."""

from __future__ import annotations

from dataclasses import dataclass

from builder import wording
from catalog.records import Client, Device
from catalog.standards import PHYS, phy_ceiling_mbit_s


@dataclass(frozen=True, slots=True)
class LinkCeiling:
    """The best link two ends can form.

    amendment  the newest that both know
    streams    the fewer of the two [1]
    width_mhz  the narrowest of the two and of the channel [MHz]
    mbit_s     its PHY rate; no throughput can be above it [Mbit/s]
    """

    amendment: str
    streams: int
    width_mhz: int
    mbit_s: float

    @property
    def sentence(self) -> str:
        streams = wording.count(self.streams, "stream")
        return (
            f"{self.amendment}, {streams}, {wording.width(self.width_mhz)}: the radio link carries at most "
            f"{wording.rate(self.mbit_s)} Mbit/s."
        )


def link_ceiling(device: Device, client: Client, *, band: str, width_mhz: int) -> LinkCeiling | None:
    """The link of a device and a client setup on one channel; None where a radio is not registered.

    Source  IEEE 802.11 PHY rates (catalog.standards), method section 4.
    """
    radios = [next((r for r in end.radios if r.band == band), None) for end in (device, client)]
    first, second = radios
    known = list(PHYS)
    if first is None or second is None or not {device.amendment, client.amendment} <= set(known):
        return None
    amendment = min(device.amendment, client.amendment, key=known.index)
    streams = min(first.streams, second.streams)
    width = min(first.max_width_mhz, second.max_width_mhz, width_mhz)
    try:
        return LinkCeiling(amendment, streams, width, phy_ceiling_mbit_s(amendment, streams, width))
    except ValueError:  # the amendment has no such width or number of streams
        return None
