"""Figures as pure functions of numbers: no rows, no texts, no rounding."""
