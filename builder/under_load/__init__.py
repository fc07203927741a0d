"""Runs with several clients at once, runs of hours, and runs that broke off (method.md, sections 6 and 7)."""
