"""The column right of a plot in which a chart of one long run names its levels: a sample of line, then words."""

from __future__ import annotations

from builder.charts.theme import Layout

# Offsets from the plot's right edge where the labels' sample line starts, and where their text does. [px]
KEY_START = 16
WIDE_KEY_WIDTH = 30
NARROW_KEY_WIDTH = 8


def key_width(layout: Layout) -> int:
    """Length of the sample line before a label: long enough for a rhythm where there is room. [px]"""
    return WIDE_KEY_WIDTH if layout.label_width > 120 else NARROW_KEY_WIDTH


def text_start(layout: Layout) -> int:
    """From the plot's right edge to the text of the labels. [px]"""
    return KEY_START + key_width(layout) + 8
