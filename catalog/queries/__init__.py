"""Every question to the catalogue, as a function with a stated order; one SELECT a table, none per thing."""

from catalog.queries.runs import runs

__all__ = ["runs"]
