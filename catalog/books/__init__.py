"""Workbooks written. How they are read stands in catalog.reading."""
