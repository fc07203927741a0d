"""A catalogue out of its file: as plain text, as the batches it was made from, and held against itself."""

from catalog.exporting.batches import export_batches
from catalog.exporting.dumping import dump, load
from catalog.exporting.verifying import Finding, verify

__all__ = ["Finding", "dump", "export_batches", "load", "verify"]
