"""What a mill file can say of cleaning the evaporator: what its records cannot tell."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from ratoon.settings.fields import setting


@dataclass(frozen=True, kw_only=True)
class CleaningGroupRow:
    name: str = setting("", "what it is called")
    effects: tuple[int, ...] = setting("", "numbers of the effects that are cleaned together")
    hours: float = setting("h", "that the mill stands for it, where it stands for nothing else")
    cost: float = setting("", "chemicals, labour and waste of one clean", 0.0, low=0.0)
    by_pass: float = setting(
        "%", "of the rate that goes on by a by-pass meanwhile; 0 where the mill stands", 0.0
    )
    source: str = setting("", "whose word that is")


@dataclass(frozen=True, kw_only=True)
class RecoverySettings:
    share: float = setting("%", "coefficient that a clean leaves, of what earlier ones left",
                           low=10.0)  # fmt: skip
    share_sigma: float = setting("%", "how far one clean is from the next in that")
    source: str = setting("", "whose word that is")


def _chance(month: str) -> float | None:
    found: float | None = setting("%", f"of the days of {month} that begin a rain stop", None)
    return found


@dataclass(frozen=True, kw_only=True)
class RainSettings:
    january: float | None = _chance("January")
    february: float | None = _chance("February")
    march: float | None = _chance("March")
    april: float | None = _chance("April")
    may: float | None = _chance("May")
    june: float | None = _chance("June")
    july: float | None = _chance("July")
    august: float | None = _chance("August")
    september: float | None = _chance("September")
    october: float | None = _chance("October")
    november: float | None = _chance("November")
    december: float | None = _chance("December")
    source: str = setting("", "whose word that is")

    def chance(self, day: date) -> float | None:
        """Chance that a rain stop takes the day; None for a month that was not stated."""
        months = (self.january, self.february, self.march, self.april, self.may, self.june,
                  self.july, self.august, self.september, self.october, self.november,
                  self.december)  # fmt: skip
        return months[day.month - 1]


@dataclass(frozen=True, kw_only=True)
class CleaningSettings:
    groups: tuple[CleaningGroupRow, ...] = setting("", "effects that are cleaned together", ())
    recovery: RecoverySettings | None = setting("", "how clean it gets", None)
    rain: RainSettings | None = setting("", "chance of a rain stop by month", None)
