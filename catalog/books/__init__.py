"""Workbooks written: the batches of a catalogue, new ones to fill, marked ones. How they are read: `catalog.reading`."""

from catalog.books.exporting import export_workbooks
from catalog.books.filling import begin_workbook

__all__ = ["begin_workbook", "export_workbooks"]
