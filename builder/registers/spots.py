"""Spots in force: which one stands for a loss."""

from __future__ import annotations

from collections.abc import Sequence

from builder import wording
from builder.bench.cells import Cell, natural
from catalog.records import Epoch

USUAL_BAND = "5"


def in_force(epochs: Sequence[Epoch]) -> list[Epoch]:
    """The latest epoch of every spot and band."""
    return [epoch for epoch in epochs if epoch.valid_until is None]


def named_only(cells: Sequence[Cell]) -> list[str]:
    """The spots of some cells of one house that were named and not read: no loss, on one link."""
    of_one_link = (c for c in cells if c.spot is not None and not c.group.several_links)
    return sorted({c.spot for c in of_one_link if c.spot and c.attenuation_db is None}, key=natural)


def like_loss_sentence(epochs: Sequence[Epoch], loss_db: float) -> str:
    """The spot whose attenuation, at 5 GHz where it was read there, is nearest to a loss [dB], in words."""
    now = in_force(epochs)
    usual = [e for e in now if e.band == USUAL_BAND] or now
    if not usual:
        return "No spot of this house has been calibrated, so its results are shown but not matched."
    near = min(usual, key=lambda e: abs(e.attenuation_db - loss_db))
    where = "a marked spot" if near.distance_m is None else f"{wording.trimmed(near.distance_m, 1)} m away"
    between = f", behind {near.obstacles}" if near.obstacles else ""
    return (
        f"About as much as at {near.spot}: {where}{between}, {wording.decibels(near.attenuation_db)} dB at "
        f"{wording.band(near.band)}."
    )
