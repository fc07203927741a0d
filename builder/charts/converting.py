"""vl-convert: from a specification to a drawing, with no font of the machine and each grammar compiled once.

The converter draws with the one face it carries, so measured text, and with it every place, is the same everywhere.
"""

from __future__ import annotations

import json
import os
import warnings
from collections.abc import Iterable
from functools import cache as once
from functools import lru_cache
from pathlib import Path
from types import ModuleType
from typing import Any

from builder.charts.figures import Spec

VL_VERSION = "6.4"
FONT_LIST = Path(__file__).with_name("no_system_fonts.conf")

# The face vl-convert carries answers to this name; other names are searched for and then replaced, which is slower.
_MEASURING_FONT = "sans-serif"
_SYSTEM_FACES = ("DejaVu Sans", "Verdana", "Noto Sans", "Courier New", "Helvetica", "Segoe UI")


def drawing(spec: Spec) -> str:
    """The SVG that vl-convert makes of *spec*."""
    # Its texts for single marks are left out: they take a third of the time, and a picture has one text.
    quiet = {**spec["config"], "font": _MEASURING_FONT, "aria": False}
    return str(converter().vega_to_svg(compiled({**spec, "config": quiet})))


def compiled(spec: Spec) -> dict[str, Any]:
    """*spec* as Vega.

    Compiling takes as long as drawing, and depends on no value. So the grammar is compiled once, without data sets,
    values of parameters, text of the title and height, which then go in as they are.
    """
    grammar = {**spec, "datasets": dict.fromkeys(spec.get("datasets", {}), ())}
    grammar["params"] = [{**param, "value": 0} for param in spec.get("params", ())]
    if "height" in spec:
        grammar["height"] = 100
    if "title" in spec:
        grammar["title"] = {**spec["title"], "text": "?"}  # an empty one would be compiled away
    vega = dict(_compiled_grammar(json.dumps(grammar, sort_keys=True)))

    datasets = spec.get("datasets", {})
    vega["data"] = [{**d, "values": datasets[d["name"]]} if d["name"] in datasets else d for d in vega.get("data", ())]
    values = {param["name"]: param["value"] for param in spec.get("params", ())}
    if "signals" in vega:
        vega["signals"] = [
            {**signal, "value": values[signal["name"]]} if signal["name"] in values else signal
            for signal in vega["signals"]
        ]
    if "height" in spec:
        vega["height"] = spec["height"]
    if "title" in spec:
        vega["title"] = {**vega["title"], "text": spec["title"]["text"]}
    return vega


@lru_cache(maxsize=64)
def _compiled_grammar(grammar: str) -> dict[str, Any]:
    vega: dict[str, Any] = converter().vegalite_to_vega(json.loads(grammar), vl_version=VL_VERSION)
    return vega


@once
def converter() -> ModuleType:
    """vl-convert, after it has read its list of fonts: once a process, at the first drawing.

    Whoever draws anything else with vl-convert takes it from here, so that no font of the machine comes in.

    The setting is taken back at once, because it would leave a browser started from this process without fonts.
    """
    before = os.environ.get("FONTCONFIG_FILE")
    os.environ["FONTCONFIG_FILE"] = str(FONT_LIST)
    try:
        import vl_convert

        # If a face of this machine is found, its text is wider or narrower than that of a name nobody has.
        widths = {_width_of_text(vl_convert, faces) for faces in ((), _SYSTEM_FACES)}
    finally:
        if before is None:
            del os.environ["FONTCONFIG_FILE"]
        else:
            os.environ["FONTCONFIG_FILE"] = before
    if len(widths) > 1:
        warnings.warn(
            "charts are drawn with fonts of this machine: their bytes may differ from those of another machine"
            " (vl_convert was in use before builder.charts, or this system has no fontconfig)",
            RuntimeWarning,
            stacklevel=2,
        )
    return vl_convert


def _width_of_text(vl_convert: ModuleType, faces: Iterable[str]) -> str:
    """Width of a drawing that holds the same word in each of *faces* and in an unknown one. [px, as text]"""
    marks = [
        {"type": "text", "encode": {"enter": {"text": {"value": "Mmmm"}, "font": {"value": face}}}}
        for face in ("a face nobody has", *faces)
    ]
    drawing = vl_convert.vega_to_svg({"width": 1, "height": 1, "autosize": "pad", "marks": marks})
    return str(drawing).split('width="', 1)[1].split('"', 1)[0]
