"""What a device gives near, a wall or two away and far off, in three figures."""

from __future__ import annotations

from dataclasses import dataclass

from builder import wording
from builder.pages.contents import Results
from builder.windows.standing import WINDOW_SHORT, WindowStanding, any_rank, interval_text, rate_text
from catalog.method import WINDOW_NAMES


@dataclass(frozen=True, slots=True)
class WindowValue:
    """One window of a device.

    value        as printed; "" where it is not ranked there, and why_missing says so
    lines        its interval, what held it back, and its places, each in few words
    """

    heading: str
    value: str
    lines: tuple[str, ...]
    why_missing: str = ""


def three_windows(results: Results, device_id: str) -> tuple[WindowValue, ...]:
    """The windows of the device's largest group [Mbit/s]; none where it stands in none of them."""
    if device_id not in results.largest:
        return ()
    values = tuple(_window(window, results.standing[device_id, window]) for window in WINDOW_NAMES)
    return values if any(one.value for one in values) else ()


def _window(window: str, one: WindowStanding) -> WindowValue:
    entry = one.entry
    if entry is None:
        return WindowValue(WINDOW_SHORT[window], "", (), "not tested over all of it")
    interval = interval_text(entry)
    lines = [wording.in_95(interval)] if interval else []
    if entry.port is not None:
        lines.append(wording.held_by_port(entry.port))
    if one.of > 1:
        lines.append(
            f"rank of {one.of} open" if any_rank(entry, one.of) else wording.ranks(entry.best, entry.worst, one.of)
        )
    return WindowValue(WINDOW_SHORT[window], rate_text(entry), tuple(lines))
