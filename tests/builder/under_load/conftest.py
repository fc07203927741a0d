"""The published tables, as the builder's metrics read them."""

from tests.builder.metrics.conftest import published

__all__ = ["published"]
