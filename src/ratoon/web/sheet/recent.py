"""What was made last, held while the records stand: an answer, a day's result, a week's report."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Thing = TypeVar("Thing")


class Recent(Generic[Thing]):
    """The things made last, none older than the records; nobody may change one.

    Parameters
    ----------
    state : another text whenever the records changed; "" keeps nothing.
    most : most things that are kept.
    """

    def __init__(self, state: Callable[[], str], most: int) -> None:
        self._state, self._most = state, most
        self._lock = threading.Lock()
        self._kept: OrderedDict[Hashable, tuple[str, Thing]] = OrderedDict()

    def get(self, key: Hashable, state: str) -> Thing | None:
        """What was made for a key in a state of the records; None when nothing was."""
        with self._lock:
            found = self._kept.get(key)
            if found is None or found[0] != state or not state:
                return None
            self._kept.move_to_end(key)
            return found[1]

    def put(self, key: Hashable, state: str, thing: Thing) -> None:
        """Keep what was made in a state of the records, in place of what was made before."""
        if not state:
            return
        with self._lock:
            self._kept[key] = state, thing
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)

    def of(
        self, key: Hashable, make: Callable[[], Thing], state_of: Callable[[], str] | None = None
    ) -> Thing:
        """What was made for a key while the records stood as now, else what is made now.

        Parameters
        ----------
        state_of : another text whenever what this thing rests on changed, where that is less than
            all records.
        """
        state_of = state_of or self._state
        state = state_of()
        found = self.get(key, state)
        if found is not None:
            return found
        made = make()
        if state == state_of():  # else it may tell of later records
            self.put(key, state, made)
        return made
