"""Templates of charts, shipped as Altair built them: it takes longer to load and to check them than to draw a chart.

The file beside this module holds the usual ones (template_list.py) under the module and the arguments of the function
that builds each, with a digest of all modules that say what they look like. What is not in it, and everything once one
of these modules was changed, Altair builds, so that the file can only save time.
`python -m builder.charts.template_list` writes it anew.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import orjson

from builder.observed import text_of

SHIPPED = Path(__file__).with_name("templates.json")
BUILT, SOURCES = "built", "sources"
_LOOKS = ("theme.py", "step_chart.py", "*_template.py")

# Gives a template as JSON text; its arguments are layouts, sizes and words.
Builder = Callable[..., str]


def template(build: Builder) -> Builder:
    """A function that builds a template with Altair, asked only for what is not shipped, and once a process."""
    module = build.__module__

    @cache
    def built(*arguments: Any) -> str:
        spec = _shipped(module).get(text_of(arguments))
        return build(*arguments) if spec is None else orjson.dumps(spec).decode()

    built.__wrapped__ = build
    return built


@cache
def _shipped(module: str) -> dict[str, Any]:
    """The shipped templates of a module, by the text of their arguments; none if what they rest on was changed since."""
    content: dict[str, Any] = _file()
    templates: dict[str, Any] = content[BUILT].get(module, {}) if content.get(SOURCES) == sources() else {}
    return templates


@cache
def _file() -> dict[str, Any]:
    content: dict[str, Any] = orjson.loads(SHIPPED.read_bytes()) if SHIPPED.is_file() else {}
    return content


@cache
def sources() -> str:
    """Digest of the text of all modules that templates rest on."""
    folder = SHIPPED.parent
    modules = sorted(path for pattern in _LOOKS for path in folder.glob(pattern))
    return hashlib.sha256(b"".join(path.read_bytes() for path in modules)).hexdigest()[:16]
