"""Comparing like with like: cells, joined lines, matches, verdicts, rankings."""
