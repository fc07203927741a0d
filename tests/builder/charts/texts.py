"""Every text of a specification with the box it is set in, worked out apart from the code that placed it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from builder.charts.theme import text_width

Spec = dict[str, Any]

# Letters reach this far up and down from their baseline. [sizes]
UP, DOWN = 0.75, 0.22


@dataclass(frozen=True)
class Text:
    """A text and its box in px from the plot's top left corner; *data* is the data set it comes from."""

    text: str
    data: str
    size: float
    left: float
    top: float
    right: float
    bottom: float


def panels(spec: Spec) -> list[Spec]:
    return spec.get("vconcat", [spec])


def texts(panel: Spec, datasets: dict[str, Any], config: Spec) -> Iterator[Text]:
    """All texts that can be read; what is drawn below a text as its halo is none."""
    for layer in panel["layer"]:
        mark, encoding = layer["mark"], layer["encoding"]
        if mark["type"] != "text" or "stroke" in mark:
            continue
        for row in datasets[layer["data"]["name"]]:
            size, bold = mark["fontSize"], mark.get("fontWeight") == "bold"
            x = place(panel, encoding["x"], row, "width") + mark.get("dx", 0)
            y = place(panel, encoding["y"], row, "height")
            wide = text_width(row["text"], size, bold=bold)
            left = x - {"left": 0, "center": wide / 2, "right": wide}[mark["align"]]
            yield Text(row["text"], layer["data"]["name"], size, left, y - UP * size, left + wide, y + DOWN * size)
    yield from ticks(panel, config)


def place(panel: Spec, channel: Spec, row: dict[str, Any], side: str) -> float:
    """Of a value on its scale. [px]"""
    if "value" in channel:
        return float(channel["value"])
    low, high = channel["scale"]["domain"]
    share = (row[channel["field"]] - low) / (high - low)
    turned = channel["scale"].get("reverse", False) != (side == "height")
    return panel[side] * (1 - share if turned else share)


def ticks(panel: Spec, config: Spec) -> Iterator[Text]:
    """Numbers of the axes."""
    size = config["axis"]["labelFontSize"]
    for name, side in (("x", "width"), ("y", "height")):
        found = next(
            (one["encoding"][name] for one in panel["layer"] if one["encoding"].get(name, {}).get("axis")), None
        )
        for value in found["axis"]["values"] if found else ():
            at = place(panel, found, {found["field"]: value}, side)
            text = f"{value:g}".replace("-", "−")
            wide = text_width(text, size)
            if name == "x":
                top = panel["height"] + found["axis"]["tickSize"] + found["axis"]["labelPadding"]
                yield Text(text, "x axis", size, at - wide / 2, top, at + wide / 2, top + 0.95 * size)
            else:
                right = -found["axis"]["labelPadding"]
                yield Text(text, "y axis", size, right - wide, at - size / 2, right, at + size / 2)


def apart(one: Text, other: Text, *, by: float = 0.0) -> bool:
    return (
        one.right <= other.left + by
        or other.right <= one.left + by
        or one.bottom <= other.top + by
        or other.bottom <= one.top + by
    )
