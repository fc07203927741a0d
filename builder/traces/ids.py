"""Figure ids taken apart again: the kind, and the names a figure is about."""

from __future__ import annotations

from dataclasses import dataclass

from builder import wording
from builder.bench.bounds import CeilingKey
from catalog.figure_names import joined_id, parts_of, parts_of_subject, subject_id
from catalog.records import Epoch, Heat, Power, Price

# Kind -> how many names follow it before the group or the rest of the id.
NAMES = {
    "pair": 6,
    "window": 3,
    "cell": 5,
    "reach": 3,
    "link": 6,
    "eirp": 6,
    "role": 3,
    "longrun": 9,
    "longwaits": 9,
    "factor": 2,
    "rank": 1,
    "ceiling": 4,
    "loss": 4,
    "heat": 7,
    "power": 6,
    "price": 4,
}

# Kinds that open with a device; pairs and links name a second one three names later.
_OF_A_DEVICE = frozenset(NAMES) - {"factor", "ceiling", "loss"}
_OF_TWO = frozenset({"pair", "link"})


@dataclass(frozen=True, slots=True)
class FigureId:
    """An id and its parts: kind, the names it opens with, and what follows them."""

    text: str
    kind: str
    names: tuple[str, ...]
    rest: tuple[str, ...]


def parse_figure_id(text: str) -> FigureId | None:
    """The parts of a figure's id; None for a text that is none.

    What follows the names is compared, never read.
    """
    parts = parts_of(text)
    kind = parts[0]
    count = NAMES.get(kind)
    if count is None or len(parts) <= count:
        return None
    return FigureId(text, kind, tuple(parts[1 : count + 1]), tuple(parts[count + 1 :]))


def devices_named(text: str) -> tuple[str, ...]:
    """The devices a figure's id opens with: two of a pair or a link, one of most others, none of a ceiling or a loss."""
    kind, *names = parts_of(text)
    if kind not in _OF_A_DEVICE:
        return ()
    named = [*names[:1], *(names[3:4] if kind in _OF_TWO else ())]
    return tuple(dict.fromkeys(parts_of_subject(name)[0] for name in named))


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
    return joined_id("heat", subject_id(heat.device, heat.settings), *place)


def power_figure(power: Power) -> str:
    """Id of a power reading: in which state, on which side, behind which source and cable."""
    state = (power.unit, power.state, power.side, str(power.source_class or ""), str(power.cable_m or ""))
    return joined_id("power", subject_id(power.device, power.settings), *state)


def price_figure(price: Price) -> str:
    """Id of a price: seen on which day, in which region, in which condition."""
    return joined_id("price", price.device, price.date, price.region or "", price.condition or "")
