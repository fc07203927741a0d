"""Logs that were read once, as files of a folder that only this user may read: also when the process that read them is gone.

The name of the log that is being read stands in a file of the folder for as long, so that one which brings the process
down can be named.
"""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Iterator, MutableMapping
from contextlib import suppress
from pathlib import Path

from builder.watching.child import IN_HAND
from catalog.checking.logfiles import KeptLog

Key = tuple[str, str, str, str | None]


class LogsInFolder(MutableMapping[Key, KeptLog]):
    """Kept logs by the key that `check` gives them. Pickles, written by ourselves into a folder of our own."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._in_hand = folder, folder / IN_HAND

    def __getitem__(self, key: Key) -> KeptLog:
        try:
            kept = pickle.loads(self._file(key).read_bytes())
        except OSError:
            with suppress(OSError):  # a full disk: then a log that brings the process down has no name
                self._in_hand.write_text(key[1], encoding="utf-8", errors="surrogateescape")
            raise KeyError(key) from None
        self._in_hand.unlink(missing_ok=True)
        assert isinstance(kept, KeptLog)
        return kept

    def __setitem__(self, key: Key, kept: KeptLog) -> None:
        file = self._file(key)
        draft = file.with_suffix(".draft")
        with suppress(OSError):  # a full disk: then it is read again
            draft.write_bytes(pickle.dumps(kept, protocol=pickle.HIGHEST_PROTOCOL))
            draft.replace(file)
        self._in_hand.unlink(missing_ok=True)

    def __delitem__(self, key: Key) -> None:
        self._file(key).unlink()

    def __iter__(self) -> Iterator[Key]:
        raise TypeError("what is kept is only looked up")

    def __len__(self) -> int:
        return sum(1 for _ in self._folder.glob("*.log"))

    def _file(self, key: Key) -> Path:
        return self._folder / f"{hashlib.sha256(repr(key).encode(errors='surrogateescape')).hexdigest()}.log"
