"""Decisions on odd sessions: the word, and from the ledger of corrections who decided, when and why."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from builder import wording
from catalog.records import Correction, Session


@dataclass(frozen=True, slots=True)
class Decision:
    """A decision on a session: its factor counts although it is odd ("in force"), or nothing of it is normalised
    ("set aside"). by, date and reason are None where the correction itself is not public."""

    word: str
    by: str | None = None
    date: str | None = None
    reason: str | None = None

    @property
    def sentence(self) -> str:
        """ "In force, decided by the bench desk on 3 June 2025: a window stood open"."""
        if self.by is None or self.date is None or self.reason is None:
            return wording.capital(self.word)
        decision = f"decided by {self.by} on {wording.date(self.date)}: {self.reason.rstrip('.')}"
        return f"{wording.capital(self.word)}, {decision}"


def decisions(sessions: Iterable[Session], corrections: Sequence[Correction]) -> dict[str, Decision]:
    """Session -> what was decided on it last; sessions without a decision have none."""
    results: dict[str, Decision] = {}
    made = [c for c in corrections if is_decision(c)]
    for session in sessions:
        if session.decision is None:
            continue
        on_session = [c for c in made if _is_of(c, session) and c.now.strip().casefold() == session.decision]
        last = on_session[-1] if on_session else None
        results[session.session_id] = (
            Decision(session.decision)
            if last is None
            else Decision(session.decision, last.noticed_by, last.date, last.reason)
        )
    return results


def is_decision(correction: Correction) -> bool:
    """Whether a correction decides on a session."""
    return correction.table == "session" and correction.column == "decision"


def session_decided(correction: Correction, sessions: Iterable[Session]) -> Session | None:
    """The session that a decision is on; None where it is not public."""
    return next((session for session in sessions if _is_of(correction, session)), None)


def _is_of(correction: Correction, session: Session) -> bool:
    """By the place of the row; a copy may leave its number out, and then by the id in the key."""
    if correction.source_row is not None:
        place = session.batch_id, session.source_file, session.source_row
        return (correction.batch_id, correction.source_file, correction.source_row) == place
    pairs = (part.partition("=") for part in correction.row_key.split(";"))
    return any(name.strip().casefold() == "id" and value.strip() == session.session_id for name, _, value in pairs)
