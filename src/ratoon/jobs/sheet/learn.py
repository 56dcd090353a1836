"""Learns a mill's usual figures from its accounted days; a person approves, then they hold."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import TYPE_CHECKING

from ratoon.base.errors import BadInput, RatoonError
from ratoon.jobs.keep.edit import hold
from ratoon.jobs.mills import OpenMill
from ratoon.jobs.sheet.to_date import Season, load

if TYPE_CHECKING:
    from ratoon.account.learn import Learnt
    from ratoon.account.period import PeriodAccount


def learn_usual(
    opened: OpenMill,
    first: date | None = None,
    last: date | None = None,
    approve: bool = False,
    who: str = "",
    progress: Callable[[str], None] | None = None,
) -> Learnt:
    """What the accounted days from `first` to `last` propose for assumed quantities.

    Parameters
    ----------
    first, last : by default the newest accounted day, and the start of its season.
    approve : write the proposals into the mill file. It then holds from the day after `last`: the
        days that made it keep the file that they were accounted with.
    who : login of the person who approves; by default the person who runs the program.

    Raises
    ------
    BadInput : no accounted days there, or too few whose readings agree.
    """
    from ratoon.account import learn as calculation
    from ratoon.jobs.sheet.day import accounted_days

    done = [date.fromisoformat(d) for d in accounted_days(opened)]
    calendar = opened.mill.calendar
    last = last or max(done, default=None)
    if last is None:
        raise BadInput("no mill day is accounted yet", todo="Account some: ratoon day DATE")
    first = first or calendar.first_of_season(last)
    wanted = [d for d in done if first <= d <= last and calendar.same_season(d, last)]
    if not wanted:
        raise BadInput("no accounted mill day there", value=f"{first} to {last}",
                       todo="ratoon day --list names those there are.")  # fmt: skip
    learnt = calculation.learn(_accounts(opened, wanted, progress))
    if approve and learnt.changes:
        text = calculation.text_with(opened.mill, learnt)
        calculation.taught(opened.mill, learnt)  # refused before anything is written
        hold(opened, text, last + timedelta(days=1), who)
    return learnt


def _accounts(
    opened: OpenMill, days: list[date], progress: Callable[[str], None] | None
) -> list[PeriodAccount]:
    """The days accounted with the mill file as it stands; one without an answer is passed over."""
    from ratoon.account.period import account

    kept = load(opened, days[-1])
    season = Season(opened.mill, kept.readings, kept.stops, kept.seen)
    out: list[PeriodAccount] = []
    for n, day in enumerate(days, 1):
        try:
            out.append(account(season.mill, season.day(day)))
        except RatoonError:
            continue
        if progress is not None:
            progress(f"read {day.isoformat()} ({n} of {len(days)})")
    return out
