"""Wrong passwords slow a guesser down, and nobody else.

They are counted for each pair of a login and a place, so that a stranger cannot make a person wait
who comes from elsewhere. A browser in which a person has signed in before is known again by its own
cookie and counted for itself: beside a stranger at the same address, it does not wait for him.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from ipaddress import ip_address

FREE_TRIES = 5
"""Wrong passwords for a login from a place before that pair has to wait."""
CROWD = 30
"""Wrong passwords from one place, or for one login, after which each pair has one free try: the
first right password still comes in at once, whatever was guessed before."""
FIRST_WAIT, LONGEST_WAIT = 5.0, 60.0
"""How long a pair waits [s]: doubled with each wrong password more, up to the longest. That is
under a hundred tries an hour, and nobody who shares a stranger's address is held for long."""
FORGOTTEN_AFTER = 3600.0
"""After so long without a wrong password all is forgotten [s]."""
_MOST_NAMES = 10_000

Pair = tuple[str, str]


@dataclass(slots=True)
class _Count:
    wrong: int
    last: float


def network_of(place: str) -> str:
    """The place that counts: an IPv6 address by its network, of which one house has all addresses.

    Examples
    --------
    >>> network_of("2001:db8:0:7::91"), network_of("203.0.113.7"), network_of("testclient")
    ('2001:db8:0:7::', '203.0.113.7', 'testclient')
    """
    try:
        found = ip_address(place)
    except ValueError:
        return place
    if found.version == 4:
        return str(found)
    return str(ip_address(int(found) >> 64 << 64))


class Limit:
    """Counts wrong passwords in memory; `recall` brings back the pairs that had to wait when the
    program ended. `place` is an address, or the mark of a known browser, which begins with "known".
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._counts: dict[Pair, _Count] = {}
        self._lock = threading.Lock()
        self._recalled = False

    def recall(self, waiting: Callable[[], Mapping[Pair, float]]) -> None:
        """Take up, once, which pairs had to wait how long ago [s]: no free tries are theirs."""
        with self._lock:
            if self._recalled:
                return
            self._recalled = True
        now = self._clock()
        found = {pair: _Count(FREE_TRIES, now - ago) for pair, ago in waiting().items()}
        with self._lock:
            self._counts = found | self._counts

    def wait(self, login: str, place: str) -> int:
        """How long a login from a place has to wait yet [s]; 0 when it may try."""
        with self._lock:
            count = self._counts.get((login, place))
            free = 1 if self._crowded(login, place) else FREE_TRIES
            if count is None or count.wrong < free:
                return 0
            wait = min(FIRST_WAIT * 2.0 ** min(count.wrong - free, 20), LONGEST_WAIT)
            left = count.last + wait - self._clock()
            return int(left) + 1 if left > 0 else 0

    def wrong(self, login: str, place: str) -> bool:
        """Count a wrong password; True when it is to be noted that the pair waits from now on.

        In a crowd of wrong passwords no more are noted: a stranger may not fill the records.
        """
        now = self._clock()
        with self._lock:
            if len(self._counts) > _MOST_NAMES:
                self._forget(now)
            noted = not self._crowded(login, place)
            for pair in ((login, place), (login, ""), ("", place)):
                count = self._counts.get(pair)
                if count is None or now - count.last > FORGOTTEN_AFTER:
                    count = self._counts[pair] = _Count(0, now)
                count.wrong, count.last = count.wrong + 1, now
            return noted and self._counts[login, place].wrong == FREE_TRIES

    def right(self, login: str, place: str) -> None:
        """Forget the wrong passwords of a login that came in from a place."""
        with self._lock:
            self._counts.pop((login, place), None)

    def _crowded(self, login: str, place: str) -> bool:
        if place.startswith("known"):
            return False
        both = (self._counts.get((login, "")), self._counts.get(("", place)))
        return any(
            c is not None and c.wrong >= CROWD and self._clock() - c.last <= FORGOTTEN_AFTER
            for c in both
        )

    def _forget(self, now: float) -> None:
        """Make room: first what is old, then, if need be, what was counted least."""
        kept = {n: c for n, c in self._counts.items() if now - c.last <= FORGOTTEN_AFTER}
        worst = sorted(kept.items(), key=lambda item: -item[1].wrong)[: _MOST_NAMES // 2]
        self._counts = dict(worst)
