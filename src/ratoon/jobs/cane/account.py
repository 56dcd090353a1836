"""A day's receival against the account of the same day: tonnes, and pol by the parcels' sum.

First juice is richer than the average juice, so the parcels' pol in cane stands in a ratio to that
of mixed juice and bagasse. The ratio is taken from the days before; a step in it means a label or
sampling fault.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from ratoon.account.results.day import DayResult, FigureResult
from ratoon.base.as_json import from_json
from ratoon.base.records import Period
from ratoon.cane.bias import TO_SIGMA
from ratoon.cane.day_result import AgainstAccount, CcsAgainst, PolAgainst, TonnesAgainst
from ratoon.cane.supply import DaySums
from ratoon.cane.totals import against_account
from ratoon.jobs.cane.answer import flag_answer
from ratoon.jobs.cane.season import SumsOfDays, days_in_short
from ratoon.store import Store
from ratoon.store.answers import newest_result

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar

BACK = timedelta(days=21)
FEWEST = 7  # days before a ratio is known
Figures = Mapping[str, FigureResult]
FiguresOf = Callable[[str], Figures | None]


def account_figures(store: Store, calendar: Calendar) -> FiguresOf:
    """Figures of an accounted day by its date; None for a day that is not accounted."""

    def figures(day: str) -> Figures | None:
        kept = store.ask(newest_result, "day", calendar.period(date.fromisoformat(day)))
        return None if kept is None else from_json(DayResult, kept.answer).figures

    return figures


def against_the_account(
    store: Store,
    calendar: Calendar,
    day: date,
    figures_of: FiguresOf,
    known: SumsOfDays | None = None,
) -> AgainstAccount | None:
    """Receival and account of a mill day side by side; None when one of them is missing."""
    figures = figures_of(day.isoformat())
    period = calendar.period(day)
    days = days_in_short(store, Period(calendar.period(day - BACK).start, period.end), known)
    own = next((d for d in days if d.date == day.isoformat()), None)
    cane = None if figures is None else figures.get("account.cane")
    if own is None or figures is None or cane is None or cane.value is None:
        return None
    pol, ccs = _value(figures.get("account.pol_in_cane")), figures.get("account.ccs")
    ratios = [r for d in days if d is not own for r in _ratio(d, figures_of(d.date))]
    expected = None
    if len(ratios) >= FEWEST and pol is not None:
        usual = float(np.median(ratios))
        spread = TO_SIGMA * float(np.median(np.abs(np.array(ratios) - usual)))
        expected = (pol / 100.0 * usual, pol / 100.0 * spread)
    flags = against_account(
        own.received_kg, (1000.0 * cane.value, 1000.0 * (cane.sigma or 0.0)),
        own.pol_in_cane, expected,
    )  # fmt: skip
    return AgainstAccount(
        TonnesAgainst(own.received_kg / 1000.0, cane.value, cane.sigma),
        PolAgainst(None if own.pol_in_cane is None else 100.0 * own.pol_in_cane, pol,
                  None if expected is None else 100.0 * expected[0],
                  None if expected is None else 100.0 * expected[1], "%"),
        None if ccs is None or ccs.value is None else CcsAgainst(ccs.value, ccs.sigma, "%"),
        tuple(flag_answer(f) for f in flags),
    )  # fmt: skip


def _value(figure: FigureResult | None) -> float | None:
    return None if figure is None else figure.value


def _ratio(day: DaySums, figures: Figures | None) -> Sequence[float]:
    """Pol in cane of a day's parcels over that of its account: one figure, or none."""
    if figures is None or day.pol_in_cane is None:
        return []
    pol = _value(figures.get("account.pol_in_cane"))
    return [] if pol is None else [100.0 * day.pol_in_cane / pol]
