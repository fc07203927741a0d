"""Small line drawings of cases, sockets and boards, drawn here: no photograph, no text, no metadata."""

from __future__ import annotations

import io

from PIL import Image, ImageDraw

from making.dice import dice

WIDTH, HEIGHT = 960, 640
SCALE = 2  # drawn larger, then reduced, for smooth lines
GREYS = 8
PAPER, PALE, MID, INK = 250, 226, 170, 45


class _Sheet:
    def __init__(self) -> None:
        self.image = Image.new("L", (WIDTH * SCALE, HEIGHT * SCALE), PAPER)
        self.draw = ImageDraw.Draw(self.image)

    def box(
        self, x: float, y: float, w: float, h: float, *, radius: float = 0, fill: int = PALE, line: int = 3
    ) -> None:
        """A rectangle with round corners."""
        corners = [x * SCALE, y * SCALE, (x + w) * SCALE, (y + h) * SCALE]
        self.draw.rounded_rectangle(corners, radius * SCALE, fill=fill, outline=INK, width=line * SCALE)

    def oval(self, x: float, y: float, w: float, h: float, *, fill: int = PALE, line: int = 3) -> None:
        """An ellipse in the given frame."""
        self.draw.ellipse(
            [x * SCALE, y * SCALE, (x + w) * SCALE, (y + h) * SCALE], fill=fill, outline=INK, width=line * SCALE
        )

    def path(self, points: list[tuple[float, float]], *, line: int = 3, ink: int = INK) -> None:
        """A line through points."""
        self.draw.line([(x * SCALE, y * SCALE) for x, y in points], fill=ink, width=line * SCALE, joint="curve")

    def png(self) -> bytes:
        """The reduced sheet in a few greys."""
        small = self.image.reduce(SCALE)
        step = 255 // (GREYS - 1)
        few = small.point([min(255, (value + step // 2) // step * step) for value in range(256)])
        out = io.BytesIO()
        few.save(out, format="PNG", compress_level=9)
        return out.getvalue()


def _case(sheet: _Sheet, kind: str) -> None:
    if "ceiling" in kind:
        sheet.path([(60, 150), (900, 150)], line=4)
        sheet.box(300, 150, 360, 26, fill=MID)
        sheet.oval(180, 140, 600, 220, fill=PALE)
        sheet.oval(250, 165, 460, 150, fill=PAPER, line=2)
        sheet.oval(466, 300, 28, 18, fill=MID, line=2)
        return
    sheet.path([(60, 520), (900, 520)], line=4)
    for offset in (0, 1, 2) if "three" in kind else (1,):
        left = 110 + 270 * offset if "three" in kind else 330
        sheet.box(left, 170, 210 if "three" in kind else 300, 350, radius=46)
        sheet.box(left + 40, 470, 130 if "three" in kind else 220, 14, radius=6, fill=MID, line=2)
        for vent in range(6):
            sheet.path([(left + 40, 220 + 14 * vent), (left + 150, 220 + 14 * vent)], line=2, ink=MID)


def _ports(sheet: _Sheet, sockets: int, *, jack: bool) -> None:
    sheet.box(80, 200, 800, 240, radius=30)
    for number in range(sockets):
        left = 150 + number * 190
        sheet.box(left, 260, 140, 120, radius=8, fill=PAPER)
        sheet.box(left + 30, 290, 80, 60, fill=MID, line=2)
        for pin in range(8):
            sheet.path([(left + 36 + 10 * pin, 292), (left + 36 + 10 * pin, 312)], line=2)
    if jack:
        sheet.oval(790, 300, 44, 44, fill=PAPER)
        sheet.oval(804, 314, 16, 16, fill=INK, line=1)


def _teardown(sheet: _Sheet, name: str) -> None:
    chance = dice("board", name)
    sheet.box(120, 90, 720, 460, radius=40)
    for corner in ((150, 120), (786, 120), (150, 498), (786, 498)):
        sheet.oval(*corner, 24, 24, fill=PAPER, line=2)
    sheet.box(400, 230, 150, 150, fill=MID)
    sheet.oval(412, 242, 12, 12, fill=PAPER, line=1)
    sheet.box(240, 200, 100, 80, fill=PAPER)
    sheet.box(620, 200, 100, 80, fill=PAPER)
    sheet.box(570, 340, 60, 90, fill=PAPER, line=2)
    sheet.box(640, 340, 60, 90, fill=PAPER, line=2)
    sheet.box(420, 480, 110, 66, fill=PAPER)
    for lead in range(4):
        foot = 230 + lead * 165
        sheet.oval(foot - 8, 150, 16, 16, fill=PAPER, line=2)
        sheet.path([(foot, 150), (foot + chance.uniform(-30, 30), 80), (foot + chance.uniform(-60, 60), 30)], line=3)
    for _ in range(46):
        x, y = chance.uniform(200, 760), chance.uniform(300, 500)
        if not (380 < x < 720 and 210 < y < 500):
            sheet.box(x, y, 14, 8, fill=MID, line=1)


def drawing(device: str, view: str, *, kind: str, sockets: int, jack: bool) -> bytes:
    """A PNG of one device: *view* is "case", "ports" or "teardown"; *jack* draws a supply socket."""
    sheet = _Sheet()
    if view == "case":
        _case(sheet, kind)
    elif view == "ports":
        _ports(sheet, sockets, jack=jack)
    else:
        _teardown(sheet, device)
    return sheet.png()
