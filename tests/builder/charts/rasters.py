"""The drawer's picture and vl-convert's of the same specification, in points, laid corner of plot upon corner of plot."""

import io
import re

import numpy as np
from PIL import Image

from builder.charts.converting import VL_VERSION, converter
from builder.charts.drawer import Drawing, draw
from builder.charts.face import FAMILY
from builder.charts.figures import Spec, bare

SCALE = 2  # points a px


def reference(spec: Spec) -> str:
    """vl-convert's SVG, in our face, on white."""
    shown = {**bare(spec), "background": "white"}
    shown["config"] = {**spec["config"], "font": FAMILY}
    return str(converter().vegalite_to_svg(shown, vl_version=VL_VERSION))


def measures(svg: str) -> tuple[float, float, float, float]:
    """Width and height of vl-convert's SVG, and where the corner of its first plot lies. [px]"""
    size = re.search(r'width="([\d.]+)" height="([\d.]+)"', svg)
    corner = re.search(r'<g fill="none"[^>]* transform="translate\(([-\d.]+),([-\d.]+)\)"', svg)
    assert size is not None
    assert corner is not None
    return float(size[1]), float(size[2]), float(corner[1]), float(corner[2])


def alike(drawing: Drawing, size: tuple[float, float, float, float]) -> str:
    """The drawer's drawing as a picture of the size and corner of another."""
    width, height, x, y = size
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" font-family="{FAMILY}">'
        f'<rect width="100%" height="100%" fill="white"/>'
        f'<g fill="none" stroke-miterlimit="10" transform="translate({x:g},{y:g})">{drawing.body}</g></svg>'
    )


def points(svg: str) -> np.ndarray:
    """Shades of a picture, shape (height, width, 3), 0 to 255."""
    return np.asarray(Image.open(io.BytesIO(converter().svg_to_png(svg, scale=SCALE))).convert("RGB")).astype(int)


def both(spec: Spec) -> tuple[np.ndarray, np.ndarray]:
    """vl-convert's picture and the drawer's."""
    theirs = reference(spec)
    return points(theirs), points(alike(draw(bare(spec), str), measures(theirs)))


def apart(one: np.ndarray, other: np.ndarray, *, shades: int) -> int:
    """How many points differ by more than so many shades."""
    return int((np.abs(one - other).max(axis=2) > shades).sum())
