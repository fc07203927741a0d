"""Pages that are a sequence of sections, each with its question: most pages other than devices and pairs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from builder.pages.parts.blocks import Drawing, Page, Section


@dataclass(frozen=True, kw_only=True)
class SectionedPage(Page):
    """An introduction, then sections in order; a section's *key* is its fragment."""

    template: ClassVar[str] = "sectioned"
    grows: ClassVar[bool] = True

    intro: tuple[str, ...] = ()
    sections: tuple[Section, ...]

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        return tuple(section.drawing for section in self.sections if section.drawing)
