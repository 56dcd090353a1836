"""In which order to take lots of cane that wait, when each loses what can be recovered by the hour.

Each lot takes one slot on one of some equal lines; all slots are equally long. A lot goes on losing
until it is done, at the end of its slot, and has to be done within its life.

Method
------
*It is an assignment problem.* Let slot k end at k h. Lot j in slot k loses w_j k h, whatever the
others do, so the loss is a sum of one cost for each pair (lot, place), a place being a line and
slot; each lot takes one place, each place at most one lot, and a pair with k h beyond the lot's
life is forbidden. That is the definition of an assignment problem.

*Only the first K = ceil(n/m) slots are needed* on m lines, all full but the last: a lot moved to a
free earlier place loses no more and is done sooner.

*Its least cost is found exactly by filling the slots from the last to the first*, each with the
lots of least loss an hour among those that live until its end and have no place yet. Proof. The
lots that live until slot k are among those that live until slot k - 1, so whichever of them fill
slot k, the same number is left for the slots before it: the choice never decides whether the rest
can be placed, and when too few live, no order exists. Now take a best order and let k be the last
slot that it fills otherwise: it has a lot b there and a lot a, which the rule would have put in
slot k, in a slot i < k, with w_a <= w_b, both living until k. Exchanged, a is in time, b is sooner,
and the loss changes by (w_a - w_b) (k - i) h <= 0. The exchanged order is as good and agrees with
the rule in one lot more; repeated, it becomes the rule's own. So the rule's order is a best one.

The rule compares and adds, and does nothing else, so with fractions it is exact to the last digit,
which a solver of assignments in floating point is not; the tests hold it against such a solver and
against every order there is.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal


@dataclass(frozen=True, slots=True)
class Lot:
    """Cane that waits: `loss` is what it loses an hour [kg/h], `life` the time it has left [h]."""

    name: str
    loss: Fraction
    life: Fraction


@dataclass(frozen=True, slots=True)
class Placed:
    """A lot in its place: line and slot, both counted from 1; done at slot x hours."""

    lot: str
    line: int
    slot: int


@dataclass(frozen=True, slots=True)
class Order:
    """Lots in order of slot and line, and what all lose until done [kg]; exact.

    `infeasible`: not every lot can be done within its life; then `placed` is empty, `loss` None,
    and `late` says which slot cannot be filled: (its number, lots that live so long, places that
    have to be filled from it on).
    """

    status: Literal["optimal", "infeasible"]
    placed: tuple[Placed, ...]
    loss: Fraction | None
    late: tuple[int, int, int] | None = None


def order_lots(lots: Sequence[Lot], lines: int, hours: Fraction) -> Order:
    """The order of least loss, every lot done within its life.

    Parameters
    ----------
    lots : with different names. lines : 1 or more. hours : length of a slot, above 0 [h].

    Returns
    -------
    Of equally good orders the one that takes lots in the given order, first lines first.

    Examples
    --------
    >>> life = Fraction(9)
    >>> lots = [Lot("green", Fraction(1), life), Lot("burnt", Fraction(3), life)]
    >>> found = order_lots(lots, 1, Fraction(2))
    >>> [p.lot for p in found.placed], found.loss
    (['burnt', 'green'], Fraction(10, 1))
    """
    count = len(lots)
    last = -(-count // lines)
    # the latest slot at whose end a lot still lives; none of them needs more than the last
    latest = [min(last, lot.life // hours) for lot in lots]
    by_latest: list[list[int]] = [[] for _ in range(last + 1)]
    for place, slot in enumerate(latest):
        by_latest[max(slot, 0)].append(place)
    waiting: list[tuple[Fraction, int]] = []
    slots: list[list[int]] = [[] for _ in range(last + 1)]
    need = count - lines * (last - 1)
    for slot in range(last, 0, -1):
        for place in by_latest[slot]:
            heapq.heappush(waiting, (lots[place].loss, -place))
        if len(waiting) < need:
            alive = sum(1 for k in latest if k >= slot)
            return Order("infeasible", (), None, (slot, alive, count - lines * (slot - 1)))
        slots[slot] = sorted(-heapq.heappop(waiting)[1] for _ in range(need))
        need = lines
    placed = tuple(
        Placed(lots[place].name, line, slot)
        for slot in range(1, last + 1)
        for line, place in enumerate(slots[slot], start=1)
    )
    loss = sum((lots[place].loss * slot * hours for slot in range(1, last + 1)
                for place in slots[slot]), Fraction(0))  # fmt: skip
    return Order("optimal", placed, loss)
