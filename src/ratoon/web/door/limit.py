"""Too many wrong passwords: a login, and a place, has to wait; longer each time."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass

FREE_TRIES = 5
"""Wrong passwords before a login has to wait."""
FREE_TRIES_OF_A_PLACE = 30
"""The same for a place: a mill's people may all come through one proxy."""
FIRST_WAIT, LONGEST_WAIT = 15.0, 900.0
"""How long a login waits [s]: doubled with each wrong password more, up to the longest."""
FORGOTTEN_AFTER = 3600.0
"""After so long without a wrong password all is forgotten [s]."""
_MOST_NAMES = 10_000


@dataclass(slots=True)
class _Count:
    wrong: int
    last: float


class Limit:
    """Counts wrong passwords by login and by place, in memory; `recall` brings back the logins that
    had to wait when the program ended. Places begin anew with it.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._counts: dict[str, _Count] = {}
        self._lock = threading.Lock()
        self._recalled = False

    def recall(self, waiting: Callable[[], Mapping[str, float]]) -> None:
        """Take up, once, which logins had to wait how long ago [s]: no free tries are theirs."""
        with self._lock:
            if self._recalled:
                return
            self._recalled = True
        now = self._clock()
        found = {f"login {name}": _Count(FREE_TRIES, now - ago) for name, ago in waiting().items()}
        with self._lock:
            self._counts = found | self._counts

    def wait(self, login: str, place: str) -> int:
        """How long a login from a place has to wait yet [s]; 0 when it may try."""
        with self._lock:
            return max(
                self._wait(f"login {login}", FREE_TRIES),
                self._wait(f"place {place}", FREE_TRIES_OF_A_PLACE),
            )

    def wrong(self, login: str, place: str) -> bool:
        """Count a wrong password; True when the login has to wait from now on."""
        now = self._clock()
        with self._lock:
            if len(self._counts) > _MOST_NAMES:
                self._forget(now)
            for name in (f"login {login}", f"place {place}"):
                count = self._counts.get(name)
                if count is None or now - count.last > FORGOTTEN_AFTER:
                    count = self._counts[name] = _Count(0, now)
                count.wrong, count.last = count.wrong + 1, now
            return self._counts[f"login {login}"].wrong == FREE_TRIES

    def right(self, login: str) -> None:
        """Forget the wrong passwords of a login that came in."""
        with self._lock:
            self._counts.pop(f"login {login}", None)

    def _wait(self, name: str, free: int) -> int:
        count = self._counts.get(name)
        if count is None or count.wrong < free:
            return 0
        wait = min(FIRST_WAIT * 2.0 ** min(count.wrong - free, 20), LONGEST_WAIT)
        left = count.last + wait - self._clock()
        return int(left) + 1 if left > 0 else 0

    def _forget(self, now: float) -> None:
        """Make room: first what is old, then, if need be, what was counted least."""
        kept = {n: c for n, c in self._counts.items() if now - c.last <= FORGOTTEN_AFTER}
        worst = sorted(kept.items(), key=lambda item: -item[1].wrong)[: _MOST_NAMES // 2]
        self._counts = dict(worst)
