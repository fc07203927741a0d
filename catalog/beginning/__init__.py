"""Before and between measurements: a batch to fill, what there is to measure, and how far the tests have come.

The reviewer's own tools: they read the whole catalogue, hidden things included, and nothing of them is published.
"""

from catalog.beginning.cells_to_measure import Coverage, coverage, planned_cells
from catalog.beginning.skeletons import begin_batch

__all__ = ["Coverage", "begin_batch", "coverage", "planned_cells"]
