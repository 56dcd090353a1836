"""Laws that go by a day: how a figure moves with what is moved, never how large it is.

A formula of the trade tells the fall of a coefficient better than its size. So a trial and the
optimum take the size from the day's account, and the formula only as a ratio: what it gives now
over what it gave on the day. At the day's own settings the plant is the day's. An account, and a
solve that goes from no day, have nothing to go by: there the ratio is one.
"""

from __future__ import annotations

from ratoon.equations import Var
from ratoon.plant.declared import Setting
from ratoon.plant.streams import Quantities, Quantity, flow

DAY = "day."
KNOWN = f"{DAY}known"
LEAST = 0.01
"""Added to a flow for each unit that meets it, so that a mill without the flow has a ratio."""


def day_known() -> Var:
    """Whether a solve goes from a day: 1 where it does."""
    return Var(KNOWN, "1", 0.0, 1.0, 0.0, kind="constant", trade="1",
               text="whether what is solved goes from a day, 1 where it does")  # fmt: skip


def on_the_day(address: str, unit: str, trade: str, text: str) -> Var:
    """The row of what a figure was on the day from which a trial goes."""
    return Var(f"{DAY}{address}", unit, start=1.0, kind="constant", trade=trade,
               text=f"on the day that a trial goes from: {text}")  # fmt: skip


def from_the_day(address: str) -> Setting:
    """The setting that takes a figure from the day, and stands still."""
    return Setting(f"{DAY}{address}", still=address)


def then(q: Quantities, address: str, now: Quantity) -> Quantity:
    """What a figure was on the day; what it is now where there is no day to go by."""
    day = f"{DAY}{address}"
    return now + q[KNOWN] * (q[day] - now) if day in q and KNOWN in q else now


def over_the_day(
    q: Quantities, address: str, now: Quantity | None = None, least: float = 0.0
) -> Quantity:
    """A figure over what it was on the day; one where nobody describes what it is now."""
    now = q.get(address) if now is None else now
    return 1.0 if now is None else (now + least) / (then(q, address, now) + least)


def unseen(q: Quantities, address: str) -> Quantity:
    """A loss that is not seen [kg/s]: it keeps the share of pol in cane that it had on the day."""
    return q[address] * over_the_day(q, flow("cane", "sucrose"))
