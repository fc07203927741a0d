"""A catalogue out of its file: as plain text, as the batches it was made from, and held against itself."""

from catalog.exporting.batches import export_batches
from catalog.exporting.comparing import differences
from catalog.exporting.dumping import dump, dump_to, load
from catalog.exporting.soundness import Finding
from catalog.exporting.verifying import damage_of, verify

__all__ = ["Finding", "damage_of", "differences", "dump", "dump_to", "export_batches", "load", "verify"]
