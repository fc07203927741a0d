"""What stands beside every fact: document, clause, and how far it was checked."""

from dataclasses import dataclass
from typing import Literal

Status = Literal["verified", "memory", "practice"]
"""verified: against independent public copies or implementations; memory: nobody opened the document;
practice: common practice without a document."""


@dataclass(frozen=True)
class Source:
    """Where a fact comes from and how far it was checked."""

    document: str
    clause: str
    status: Status

    def __str__(self) -> str:
        note = {"verified": "", "memory": " (from memory, check)", "practice": " (common practice)"}
        return ", ".join(part for part in (self.document, self.clause) if part) + note[self.status]
