"""Blocks that several pages share, and what is around every page."""
