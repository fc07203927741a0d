"""What libraries import by the way and no question needs: a third of the time of a verb that asks.

sqlite-utils imports pandas where it finds it, for one type of column, a timestamp, that nobody writes here. scipy.special
takes in every part of numpy by name, with the compiler of Fortran interfaces among them. Whoever needs them imports them
as always, before this or after it.
"""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.util import LazyLoader, find_spec, module_from_spec
from threading import Thread

_LATER = ("numpy.f2py", "numpy.testing", "numpy.ctypeslib", "numpy.polynomial")


def import_lightly() -> None:
    """Import sqlite-utils without pandas, and let parts of numpy wait until something of them is used."""
    if "sqlite_utils" not in sys.modules and "pandas" not in sys.modules:
        sys.modules["pandas"] = None  # type: ignore[assignment]  # the documented way to say that there is none
        try:
            import sqlite_utils  # noqa: F401
        finally:
            del sys.modules["pandas"]
    import numpy as np

    for name in _LATER:
        spec = find_spec(name) if name not in sys.modules else None
        if spec is None or spec.loader is None:
            continue
        spec.loader = LazyLoader(spec.loader)
        module = module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
        setattr(np, name.partition(".")[2], module)


def import_beside(name: str) -> None:
    """Begin to import a module that is needed in the end, while SQLite, which needs no Python, reads what comes first."""
    Thread(target=import_module, args=(name,)).start()
