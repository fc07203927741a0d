"""How figures made of cells are worked out, in the words that traces print."""

from __future__ import annotations

from catalog.method import CEILING_SHARE, MAX_GAP_DB

CELL = "The value of a cell is the mean of its finished runs, s their standard deviation."
PLACE = (
    "x is the reference EIRP minus the mean of the spot's readings, or the attenuation as typed; at like level it is "
    "minus the mean level of the cell's runs."
)
LINE = (
    f"Cells at one x are averaged by n; straight lines join neighbouring ones, none across more than {MAX_GAP_DB:g} dB. "
    "The mean over a range is the exact integral of the line divided by its length: Σ weight · value."
)
BOUND = f"A run of at least {CEILING_SHARE:g} times the client's ceiling or a lab limit is a bound, and so is a mean with one."
REPEATS = (
    "u² = Σ weight² · s² / n (a single run takes the declared house spread, else the pooled relative spread of the "
    "cells listed here) + c² · Σ over sessions of (Σ ± weight · value)², 0 where all is one session on both sides"
)
SPOTS = (
    " + Σ over spots of σ_spot² · (Σ ± weight · slope)² + calibration_sigma² · Σ over kits of (Σ ± weight · slope)²; "
    "σ_spot is declared (attenuation_sigma), else s/√n of at least 4 readings, else placement/√n"
)
VISITS = " + placement² · Σ over visits of (Σ ± weight · share · slope)²"
LEVELS = " + level_sigma² · Σ (weight · slope)²"
FACTOR = (
    "The session factor is the mean over the reference device's places that day of its value divided by the mean of its "
    "other sessions at that place, in this group (reference_cells); outside 0.90 to 1.10 it waits for a decision."
)
WIDTH = "Half-width = t(0.975, ν) · u, ν by Welch and Satterthwaite; declared and assumed values have infinitely many."

UNCERTAINTY = f"{REPEATS}{VISITS}{SPOTS}."
