"""What several pages rest on, kept while the records stand: a day's result, a week's report."""

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

    def of(self, key: Hashable, make: Callable[[], Thing]) -> Thing:
        """What was made for a key while the records stood as now, else what is made now."""
        state = self._state()
        with self._lock:
            found = self._kept.get(key)
            if found is not None and found[0] == state != "":
                self._kept.move_to_end(key)
                return found[1]
        made = make()
        if state and state == self._state():  # else it may tell of later records
            with self._lock:
                self._kept[key] = state, made
                self._kept.move_to_end(key)
                while len(self._kept) > self._most:
                    self._kept.popitem(last=False)
        return made
