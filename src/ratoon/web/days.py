"""Which mill day was meant; where there is no such account, the nearest one that is there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from ratoon.base.clock import in_reach
from ratoon.base.errors import BadInput, RatoonError


class NoSuchDay(RatoonError):
    """The address names no accounted mill day; `nearest` is one that is there, or ""."""

    def __init__(self, what: str, nearest: str) -> None:
        self.nearest = nearest
        super().__init__(what)


class NothingToTry(RatoonError):
    """A day whose works cannot be changed; `nearest` is one on which cane was crushed, or ""."""

    def __init__(self, what: str, nearest: str) -> None:
        self.nearest = nearest
        super().__init__(what)


@dataclass(frozen=True, slots=True)
class DayPlace:
    """A mill day between its neighbours; "" where there is none."""

    date: str
    previous: str
    next: str
    first: str
    last: str


def nearest_day(wanted: date, days: Sequence[str]) -> str:
    """The accounted day closest to `wanted`; "" when there is none."""
    if not days:
        return ""
    return min(days, key=lambda d: abs((date.fromisoformat(d) - wanted).days))


def _date(text: str) -> date:
    """A date written as 2031-08-14; other ways to write it would be other addresses of a page."""
    if not (text.isascii() and len(text) == 10 and text[4] == text[7] == "-"):
        raise ValueError
    return date.fromisoformat(text)


def place_of(text: str, days: Sequence[str]) -> DayPlace:
    """Find the mill day `text` among the accounted `days`.

    Raises
    ------
    NoSuchDay
        when it is no date, or not an accounted one.
    """
    ordered = sorted(days)
    last = ordered[-1] if ordered else ""
    try:
        wanted = _date(text)
    except ValueError:
        raise NoSuchDay(f"{text[:40]!r} is not a date; write it as 2031-08-14", last) from None
    iso = wanted.isoformat()
    if iso not in ordered:
        raise NoSuchDay(f"no account for mill day {iso}", nearest_day(wanted, ordered))
    at = ordered.index(iso)
    return DayPlace(
        date=iso,
        previous=ordered[at - 1] if at else "",
        next=ordered[at + 1] if at + 1 < len(ordered) else "",
        first=ordered[0],
        last=last,
    )


def entry_place(text: str, days: Sequence[str]) -> DayPlace:
    """A mill day on which people write: any date, between the accounted days beside it.

    Raises
    ------
    NoSuchDay
        when it is no date.
    """
    ordered = sorted(days)
    try:
        iso = in_reach(_date(text)).isoformat()
    except BadInput as error:
        raise NoSuchDay(str(error), ordered[-1] if ordered else "") from None
    except ValueError:
        last = ordered[-1] if ordered else ""
        raise NoSuchDay(f"{text[:40]!r} is not a date; write it as 2031-08-14", last) from None
    before = [d for d in ordered if d < iso]
    after = [d for d in ordered if d > iso]
    # Tomorrow's page may be opened before anything stands there.
    following = after[0] if after else (date.fromisoformat(iso) + timedelta(days=1)).isoformat()
    return DayPlace(iso, before[-1] if before else "", following, "", "")
