"""What was made last, kept up to a number of bytes."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from typing import Generic, TypeVar

Key = TypeVar("Key")
About = TypeVar("About")

MOST_BYTES = 64 * 2**20


class Recent(Generic[Key, About]):
    """Files that were made together, by the address of each; those that were asked for longest ago go first.

    What was made last stays, however large it is.
    """

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self.bytes = 0
        self._most_bytes = most_bytes
        self._made: OrderedDict[Key, tuple[Mapping[str, bytes], About]] = OrderedDict()
        self._at: dict[str, Key] = {}

    def get(self, key: Key) -> About | None:
        """What was kept beside the files of a key."""
        if key not in self._made:
            return None
        self._made.move_to_end(key)
        return self._made[key][1]

    def file(self, address: str) -> bytes | None:
        """The file at an address, if it is kept."""
        if (key := self._at.get(address)) is None:
            return None
        self._made.move_to_end(key)
        return self._made[key][0][address]

    def beside(self, address: str) -> About | None:
        """What was kept beside the file at an address."""
        return None if address not in self._at else self.get(self._at[address])

    def keep(self, key: Key, files: Mapping[str, bytes], about: About) -> None:
        """Keep what was made under a key, in place of what is kept at its addresses."""
        self._made[key] = files, about
        self._at |= dict.fromkeys(files, key)
        self.bytes += sum(map(len, files.values()))
        while self.bytes > self._most_bytes and len(self._made) > 1:
            oldest, (gone, _) = self._made.popitem(last=False)
            self.bytes -= sum(map(len, gone.values()))
            for address in gone:
                if self._at.get(address) == oldest:
                    del self._at[address]
