"""Where a device can be measured next: the spots of a house as they are marked today."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder import wording
from builder.bench.bench import Bench
from builder.bench.cells import Cell, Place, natural


@dataclass(frozen=True, slots=True)
class Spot:
    """A place to measure at: a marked spot in its present epoch, or where none is, a loss that was typed before.

    name, since     None for a typed loss
    loss_db         [dB]
    readings        how many the loss is the mean of; readings_sd_db their standard deviation, None without one [1, dB]
    kit             source and receiver they were read with; None: the house's
    """

    house: str
    name: str | None
    since: str | None
    loss_db: float
    readings: int
    readings_sd_db: float | None
    kit: str | None

    @property
    def place(self) -> Place:
        """As a cell's."""
        if self.name is None:
            return ("loss", repr(self.loss_db))
        return ("spot", self.house, self.name, self.since or "")

    @property
    def label(self) -> str:
        """What the spot is called in a table: its name, else its loss."""
        return self.name if self.name is not None else f"{wording.trimmed(self.loss_db, 1)} dB"


def spots_of(bench: Bench, house: str, band: str, cells: Sequence[Cell]) -> tuple[Spot, ...]:
    """The spots of a house whose loss in a band is known, near ones first.

    cells  of the group: without a marked spot their typed losses in that house are the places
    """
    spots = []
    for (of_house, name, of_band), epochs in bench.epochs.items():
        if of_house == house and of_band == band:
            now = next((epoch for epoch in epochs if epoch.valid_until is None), None)
            if now is not None and now.attenuation_db is not None:
                spots.append(
                    Spot(
                        house,
                        name,
                        now.valid_from or None,
                        now.attenuation_db,
                        now.readings,
                        now.readings_sd_db,
                        now.kit,
                    )
                )
    if not spots:
        typed = {
            cell.attenuation_db
            for cell in cells
            if cell.house == house and cell.spot is None and cell.attenuation_db is not None
        }
        spots = [Spot(house, None, None, loss, 1, None, None) for loss in typed]
    return tuple(sorted(spots, key=lambda spot: (spot.loss_db, natural(spot.name or ""))))
