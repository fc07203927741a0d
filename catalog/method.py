"""The constants of the method: those a bench may declare, and those that are the rule.

Stored in the catalogue as a versioned set; the method page prints them from the very values the
builder used. What was not declared is None here and takes the practice value, and every figure that
leans on such a value says "assumed".
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

METHOD_NUMBER = 2  # of the rules; a changed rule is Method 3
MEASURING_PROCEDURE = 1  # how runs are made; part of a cell and a group, and none of the rules

# Rules (method.md, sections 2 to 5).
CONFIDENCE = 0.95
MAX_GAP_DB = 12.0
MIN_RANGE_DB = 6.0
MIN_KNOTS = 2
CEILING_SHARE = 0.97
PORT_TOLERANCE = 0.03
PORT_CEILING_FACTOR = 1.05
MIN_REFERENCE_SESSIONS = 5
MIN_REFERENCE_SPOTS = 3
MIN_PLACEMENT_DF = 15
MIN_POOLED_DF = 4
MIN_READINGS = 4  # of a spot, from which on their own spread counts
LEAST_SESSION_SPREAD = 0.01  # a bench that shows less has had luck
LEAST_PLACEMENT_DB = 0.3
MEDIAN_VARIANCE = math.pi / 2  # of a median over that of a mean, of many normal values: 1 / (4 n f(0)^2) to s^2 / n
SLOPE_WITHIN_DB = 12.0  # knots this near to a place tell how the line falls there

# Common practice in the trade, no source; used only where nothing was measured or declared.
PRACTICE_SESSION_SPREAD = 0.03
PRACTICE_SIGMA_DB = 1.0
PRACTICE_SLOPE_PER_DB = 0.05  # of a value, where no line shows how it falls
PRACTICE_WINDOWS: dict[str, dict[str, tuple[float, float]]] = {
    "2.4": {"near": (43.0, 53.0), "middle": (53.0, 68.0), "far": (68.0, 83.0)},
    "5": {"near": (50.0, 60.0), "middle": (60.0, 75.0), "far": (75.0, 90.0)},
    "6": {"near": (51.0, 61.0), "middle": (61.0, 76.0), "far": (76.0, 91.0)},
}
WINDOW_NAMES = ("near", "middle", "far")


@dataclass(frozen=True)
class Constants:
    """What a bench declared. None: not declared.

    attenuation_sigma_db  uncertainty of one spot's own attenuation; left out: from its readings [dB]
    placement_sigma_db    scatter of standing there again, at every visit [dB]
    calibration_sigma_db  reference source and receiver, common to the spots read with them [dB]
    level_sigma_db        one received level [dB]
    session_spread        day-to-day spread as a fraction, where no reference device shows it
    house_spread_mbit_s   spread of a single run [Mbit/s]; or
    house_spread_percent  the same in percent of its value
    windows               band -> name -> (low, high) [dB]
    version               number of this set in its catalogue
    """

    attenuation_sigma_db: float | None = None
    placement_sigma_db: float | None = None
    calibration_sigma_db: float | None = None
    level_sigma_db: float | None = None
    session_spread: float | None = None
    house_spread_mbit_s: float | None = None
    house_spread_percent: float | None = None
    windows: Mapping[str, Mapping[str, tuple[float, float]]] = field(default_factory=dict)
    version: int = 0

    def window(self, band: str, name: str) -> tuple[float, float] | None:
        """The named window of a band [dB], declared or by practice; None for a band without windows."""
        declared = self.windows.get(band, {}).get(name)
        return declared or PRACTICE_WINDOWS.get(band, {}).get(name)

    def to_json(self) -> str:
        """Declared values only, keys sorted, so that equal sets are equal texts."""
        values = {k: v for k, v in asdict(self).items() if k != "version" and v not in (None, {})}
        return json.dumps(values, sort_keys=True)


def laid_over(current: Constants, declared: Mapping[str, Any]) -> Constants:
    """The set after a batch declared something: its values instead of the old ones, windows band by band."""
    values = dict(declared)
    if "windows" in values:
        values["windows"] = {**current.windows, **values["windows"]}
    return replace(current, **values)


def versions_of(declarations: Iterable[tuple[str, str]]) -> list[tuple[str, Constants]]:
    """The versions made by the declarations of batches, laid over the shipped set in their order.

    declarations  (batch, what it declared as JSON text)
    Returns       (batch, set) of each version from the second on; a declaration that changes nothing makes none
    """
    current = Constants(version=1)
    versions = []
    for batch, declared in declarations:
        new = laid_over(current, json.loads(declared))
        if new.to_json() != current.to_json():
            current = replace(new, version=current.version + 1)
            versions.append((batch, current))
    return versions


def constants_from_json(text: str, *, version: int) -> Constants:
    """The set that *to_json* wrote."""
    values: dict[str, Any] = json.loads(text)
    windows = {
        band: {name: (float(low), float(high)) for name, (low, high) in names.items()}
        for band, names in values.pop("windows", {}).items()
    }
    return Constants(**values, windows=windows, version=version)
