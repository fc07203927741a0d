"""Facts from IEEE, IEC and ISO documents that entry and figures rest on, each with document and clause."""

from catalog.standards.channels import (
    BANDS,
    POWER_CLASSES,
    PowerClass,
    allowed_widths_mhz,
    channel_centre_mhz,
    has_width,
    is_channel,
    power_class,
)
from catalog.standards.ethernet import (
    ETHERNET_FRAME_COST_BYTES,
    ETHERNET_SOURCE,
    POE_CLASSES,
    POE_SOURCE,
    PoeClass,
    Side,
    tcp_port_limit_mbit_s,
    tcp_port_limit_with_timestamps_mbit_s,
    udp_port_limit_mbit_s,
)
from catalog.standards.phy_rates import (
    PHYS,
    Phy,
    phy_ceiling_mbit_s,
    phy_rate_mbit_s,
    vht_combination_exists,
)
from catalog.standards.sources import Source, Status
from catalog.standards.touch import BURN_THRESHOLDS, HELD, TOUCH_LIMITS, Material, TouchLimit

__all__ = [
    "BANDS",
    "BURN_THRESHOLDS",
    "ETHERNET_FRAME_COST_BYTES",
    "ETHERNET_SOURCE",
    "HELD",
    "PHYS",
    "POE_CLASSES",
    "POE_SOURCE",
    "POWER_CLASSES",
    "TOUCH_LIMITS",
    "Material",
    "Phy",
    "PoeClass",
    "PowerClass",
    "Side",
    "Source",
    "Status",
    "TouchLimit",
    "allowed_widths_mhz",
    "channel_centre_mhz",
    "has_width",
    "is_channel",
    "phy_ceiling_mbit_s",
    "phy_rate_mbit_s",
    "power_class",
    "tcp_port_limit_mbit_s",
    "tcp_port_limit_with_timestamps_mbit_s",
    "udp_port_limit_mbit_s",
    "vht_combination_exists",
]
