"""A day's readings as its own figures, apart from what its shifts wrote beside them."""

from __future__ import annotations

from ratoon.account.results.day import DayResult
from ratoon.account.results.trust import ReadingResult


def of_the_day(result: DayResult) -> list[ReadingResult]:
    """A day's readings as its own figures: without rows of a shift beside a row of the day."""
    whole = (result.period.start, result.period.end)
    of_day = [r.used or (r.start, r.end) == whole for r in result.readings]
    own = {r.address for r, its in zip(result.readings, of_day) if its}
    return [r for r, its in zip(result.readings, of_day) if its or r.address not in own]
