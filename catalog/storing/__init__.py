"""Every INSERT of a batch, and its undoing. The caller holds the transaction."""

from catalog.storing.batch_rows import Packing, insert, store, store_figures
from catalog.storing.publication import mark_published, state_of
from catalog.storing.removing import remove

__all__ = ["Packing", "insert", "mark_published", "remove", "state_of", "store", "store_figures"]
