"""Which readings a mill day would gain most by."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from ratoon.base.errors import BadInput, UnknownName
from ratoon.jobs.sheet.day import has_records
from ratoon.jobs.sheet.to_date import load

if TYPE_CHECKING:
    from ratoon.account.trust.missing import Worth
    from ratoon.jobs.mills import OpenMill


def missing(
    opened: OpenMill, day: date, target: str | None = None
) -> tuple[list[Worth], dict[str, tuple[str, ...]]]:
    """Readings worth having on a day, and by figure the few that open what is not determined.

    Parameters
    ----------
    target : one figure; none for all that a day's result has.

    Raises
    ------
    BadInput, UnknownName : a day without records or without cane; no such figure.
    """
    from ratoon.account.period import account
    from ratoon.account.trust.drift import with_drifts
    from ratoon.account.trust.missing import opened_by, readings_worth_having

    season = load(opened, day)
    season.look_back(opened.store, day)
    has_records(opened, season, day)
    mill = season.mill
    known = mill.plant.addresses
    if target is not None and target not in known:
        raise UnknownName("figure", target, known)
    found = account(mill, with_drifts(mill, season.day(day), season.drifts, season.seen_by))
    if found.answer is None:
        raise BadInput("no cane was crushed, so there is nothing to account",
                       where=day.isoformat())  # fmt: skip
    figures = [target] if target else [a for a in mill.always if a in known]
    closed = [a for a in figures if not found.answer.determined(a)]
    return readings_worth_having(found, target), opened_by(found, closed)
