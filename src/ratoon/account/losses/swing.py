"""Days on which stock in process moved so far that recovery is the stock's, not the day's.

Sugar made from what stood in the tanks raises a day's recovery above what the plant can do, and a
day that fills the tanks lowers it: both are right as arithmetic and tell nothing of the work. Such
a day's figures say so, and its losses are priced at a recovery of more days.
"""

from __future__ import annotations

from ratoon.account.period import Z95, PeriodAccount
from ratoon.account.results.trust import Swing

CHANGE = "account.pol.stock_change_share"
RECOVERY = "account.boiling_house_recovery"
RESTING = (RECOVERY, "account.overall_recovery", "account.coefficient_of_work")
LEAST = 5.0
"""Change of pol in stock from which the figures rest on it [% of pol in cane]."""


def rests_on_stock(account: PeriodAccount) -> bool:
    """Whether stock moved by more than `LEAST`, and by more than its own uncertainty."""
    change = account.figure(CHANGE)
    if change.value is None or change.sigma is None:
        return False
    return abs(change.value) > max(LEAST, Z95 * change.sigma)


def steadier(week: PeriodAccount, season: PeriodAccount) -> tuple[PeriodAccount, str] | None:
    """The first of week and season to date whose recovery is known and does not rest on stock."""
    for account, called in ((week, "week"), (season, "season")):
        if account.figure(RECOVERY).value is not None and not rests_on_stock(account):
            return account, called
    return None


def swing_part(account: PeriodAccount, beside: tuple[PeriodAccount, str] | None) -> Swing | None:
    """The figures that rest on stock, and one line about them; None on other days."""
    if not rests_on_stock(account):
        return None
    change = account.figure(CHANGE)
    assert change.value is not None and change.sigma is not None
    way, stand = ("fell", "high") if change.value < 0.0 else ("grew", "low")
    words = (f"Stock in process {way} by {abs(change.value):.1f} ± {Z95 * change.sigma:.1f} % of "
             f"pol in cane: recoveries stand {stand} by it and rest on stock (s).")  # fmt: skip
    if beside is not None:
        steady, called = beside
        recovery, overall = (steady.figure(a).value for a in RESTING[:2])
        words += f" The {called} to date: boiling house {recovery:.1f} %"
        words += "" if overall is None else f", overall {overall:.1f} %"
        words += "; losses are priced at that."
    return Swing(RESTING, words)
