"""The command line: parse, call, print. Heavy imports stay inside the commands."""

from builder.cli.program import main

__all__ = ["main"]
