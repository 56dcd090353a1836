"""A mill file changed by a person: what it would move in the newest account, then from which day it
holds. Older days keep the file that they were accounted with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ratoon.base.errors import BadInput
from ratoon.jobs.mills import MILL_FILE, OpenMill, mill_from, text_of
from ratoon.store.chain.digest import digest_of_bytes

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.account.period import PeriodAccount

MOVED = 0.01
"""A figure that moves by less than this share of its uncertainty is not told."""


@dataclass(frozen=True, slots=True)
class Moved:
    """A figure of the newest account with the file as it stands and as it would be; None where it
    is not determined."""

    address: str
    name: str
    unit: str
    before: float | None
    sigma_before: float | None
    after: float | None
    sigma_after: float | None


def what_moves(opened: OpenMill, text: str) -> tuple[str, list[Moved]]:
    """The newest accounted day and its figures that a changed mill file moves; both accounted now,
    one with either file. No day, no figures.

    Raises
    ------
    BadInput, UnknownName : the file says something wrong.
    """
    from ratoon.account.period import account
    from ratoon.jobs.sheet.day import accounted_days
    from ratoon.jobs.sheet.to_date import Season, load

    mill = mill_from(text)
    _ = mill.plant  # what the stations refuse is told here
    days = accounted_days(opened)
    if not days:
        return "", []
    day = date.fromisoformat(max(days))
    kept = load(opened, day)
    both = []
    for one in (opened.mill, mill):
        season = Season(one, kept.readings, kept.stops, kept.seen, kept.decisions)
        both.append(account(one, season.day(day)))
    return day.isoformat(), list(_moved(*both))


def _moved(before: PeriodAccount, after: PeriodAccount) -> Iterator[Moved]:
    for address in before.mill.figures:
        if address not in after.mill.figures:
            continue
        a, b = before.figure(address), after.figure(address)
        if a.value is None and b.value is None:
            continue
        if a.value is not None and b.value is not None:
            least = MOVED * max(a.sigma or 0.0, b.sigma or 0.0)
            if abs(a.value - b.value) <= least and abs((a.sigma or 0) - (b.sigma or 0)) <= least:
                continue
        yield Moved(address, a.name, a.unit, a.value, a.sigma, b.value, b.sigma)


def mark_of(text: str) -> str:
    """What tells a mill file from any other."""
    return digest_of_bytes(text.encode())


def keep_file(opened: OpenMill, text: str, start: date, seen: str, who: str) -> None:
    """Write a changed mill file, which holds from a mill day on.

    Parameters
    ----------
    seen : the mark of the file that was changed; another one is not overwritten unseen.

    Raises
    ------
    BadInput : the file says something wrong, or somebody changed it meanwhile.
    """
    mill: Mill = mill_from(text)
    _ = mill.plant
    if mark_of(text_of(opened.folder)) != seen:
        raise BadInput("was changed by somebody else meanwhile", where=MILL_FILE,
                       todo="Open the page again.")  # fmt: skip
    hold(opened, text, start, who)


def hold(opened: OpenMill, text: str, start: date, who: str) -> None:
    """Write a mill file that holds from a day on, and keep it in the store."""
    path = opened.folder / MILL_FILE
    half = path.with_name("mill.toml.new")
    half.write_text(text, encoding="utf-8")
    with opened.store.writing(who) as transaction:
        transaction.keep_settings(text, start)
    half.replace(path)
