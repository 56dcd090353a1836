"""The kept answers of one state of the records, in memory: the oldest go when they are too many."""

from __future__ import annotations

from collections import OrderedDict

from ratoon.web.pieces import Kept

MOST_BYTES = 48_000_000
"""Most that is kept [B]; what was not asked for longest goes first."""
MOST_OF_ONE = 3_000_000

Key = tuple[object, ...]


class Shelf:
    """The kept answers of one state of the records."""

    def __init__(self, most: int = MOST_BYTES) -> None:
        self._most, self._size, self._state = most, 0, ""
        self._kept: OrderedDict[Key, Kept] = OrderedDict()

    @property
    def full(self) -> float:
        """How full it is, 0 to 1."""
        return self._size / self._most

    def get(self, state: str, key: Key) -> Kept | None:
        """An answer of this state of the records, or None."""
        if state != self._state:
            return None
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
        return found

    def put(self, state: str, key: Key, answer: Kept) -> None:
        """Keep an answer; one of another state of the records ends all that were kept."""
        if answer.body.weight > MOST_OF_ONE:
            return
        if state != self._state:
            self._kept.clear()
            self._size, self._state = 0, state
        before = self._kept.pop(key, None)
        self._size += _weight(answer) - (_weight(before) if before else 0)
        self._kept[key] = answer
        while self._size > self._most:
            _, gone = self._kept.popitem(last=False)
            self._size -= _weight(gone)


def _weight(answer: Kept) -> int:
    return answer.body.weight + 2_000  # with its key and headers
