"""sqlite-utils without pandas, which it imports where it finds it: 0.2 s of every verb, and none reads a frame with it.

What sqlite-utils has pandas for is a type of column, a timestamp, that nobody writes here. Whoever needs pandas imports
it; that works before this and after it.
"""

from __future__ import annotations

import sys


def import_sqlite_utils() -> None:
    """Import sqlite-utils, of which pandas is no part then; nothing happens where either is imported already."""
    if "sqlite_utils" in sys.modules or "pandas" in sys.modules:
        return
    sys.modules["pandas"] = None  # type: ignore[assignment]  # the documented way to say that there is none
    try:
        import sqlite_utils  # noqa: F401
    finally:
        del sys.modules["pandas"]
