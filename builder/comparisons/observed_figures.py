"""Ids of figures that are one row, or a few, as they were entered: ceilings, losses, heat, power and prices."""

from __future__ import annotations

from builder import wording
from builder.comparisons.bounds import CeilingKey
from catalog.figure_names import joined_id
from catalog.records import Epoch, Heat, Power, Price


def ceiling_figure(key: CeilingKey) -> str:
    """Id of the ceiling of a client setup in a band, width and direction."""
    client, band, width_mhz, direction = key
    return joined_id("ceiling", client, band, str(width_mhz), direction)


def loss_figure(epoch: Epoch) -> str:
    """Id of the attenuation of a spot in a band from a day on."""
    return joined_id("loss", epoch.house, epoch.spot, epoch.band, epoch.valid_from)


def heat_figure(heat: Heat) -> str:
    """Id of the rise of a surface: where, under which load, after how long, mounted how, on which bench day."""
    place = (heat.unit, heat.face, heat.load, wording.trimmed(heat.minutes, 2), heat.mount or "", heat.session or "")
    return joined_id("heat", heat.device, *place)


def power_figure(power: Power) -> str:
    """Id of a power reading: in which state, on which side, behind which source and cable."""
    state = (power.unit, power.state, power.side, str(power.source_class or ""), str(power.cable_m or ""))
    return joined_id("power", power.device, *state)


def price_figure(price: Price) -> str:
    """Id of a price: seen on which day, in which region, in which condition."""
    return joined_id("price", price.device, price.date, price.region or "", price.condition or "")
