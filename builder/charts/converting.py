"""vl-convert: pictures in points for stills, and what tests hold the drawer against; with no font of the machine.

It measures and draws with the face that pages bring along, so its pictures are the same everywhere.
"""

from __future__ import annotations

import os
import tempfile
import warnings
from collections.abc import Iterable
from functools import cache as once
from pathlib import Path
from types import ModuleType

from builder.charts import face

VL_VERSION = "6.4"
FONT_LIST = Path(__file__).with_name("no_system_fonts.conf")

_SYSTEM_FACES = ("DejaVu Sans", "Verdana", "Noto Sans", "Courier New", "Helvetica", "Segoe UI")


@once
def converter() -> ModuleType:
    """vl-convert, after it has read its list of fonts and our face: once a process, at the first drawing.

    Whoever draws anything else with vl-convert takes it from here, so that no font of the machine comes in.

    The setting is taken back at once, because it would leave a browser started from this process without fonts.
    """
    before = os.environ.get("FONTCONFIG_FILE")
    os.environ["FONTCONFIG_FILE"] = str(FONT_LIST)
    try:
        import vl_convert

        # If a face of this machine is found, its text is wider or narrower than that of a name nobody has.
        widths = {_width_of_text(vl_convert, faces) for faces in ((), _SYSTEM_FACES)}
        face.unpack(Path(_unpacked().name))
        vl_convert.register_font_directory(_unpacked().name)
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


@once
def _unpacked() -> tempfile.TemporaryDirectory[str]:
    """The folder that our face is unpacked into; the converter reads it at each drawing, so it lasts as the process."""
    return tempfile.TemporaryDirectory(prefix="likeloss-face-")


def _width_of_text(vl_convert: ModuleType, faces: Iterable[str]) -> str:
    """Width of a drawing that holds the same word in each of *faces* and in an unknown one. [px, as text]"""
    marks = [
        {"type": "text", "encode": {"enter": {"text": {"value": "Mmmm"}, "font": {"value": face}}}}
        for face in ("a face nobody has", *faces)
    ]
    drawing = vl_convert.vega_to_svg({"width": 1, "height": 1, "autosize": "pad", "marks": marks})
    return str(drawing).split('width="', 1)[1].split('"', 1)[0]
