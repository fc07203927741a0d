"""Seeded chance: the same question always gets the same answer, whatever was asked before it.

Every stream of numbers is seeded by the name of what it is for, so adding a device to the demo does
not reshuffle the results of the others. Only the standard library's generator is used: its output for
a text seed is the same on every machine and version that the project supports.
"""

from __future__ import annotations

import random

SEED = "kettle lane 2022"


def dice(*purpose: object) -> random.Random:
    """A generator of its own for *purpose*, e.g. ``dice("level", device, spot)``."""
    return random.Random("/".join([SEED, *(str(part) for part in purpose)]))


def around_one(sigma: float, *purpose: object) -> float:
    """One log-normal factor around 1 with relative spread *sigma*, always the same for one purpose. [1]"""
    return float(2.718281828459045 ** dice(*purpose).gauss(0.0, sigma))
