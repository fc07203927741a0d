"""Workbooks written: the batches of a catalogue, new ones to fill, marked ones. How they are read: `catalog.reading`."""

from catalog.books.exporting import export_workbooks

__all__ = ["export_workbooks"]
