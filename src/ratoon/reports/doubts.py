"""From the account's result to the sheet's words: the ribbon, suspect readings, the journal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from ratoon.account.results.day import DayResult, StopResult
from ratoon.account.results.trust import Member, SuspectResult
from ratoon.base.records import kind_of_stop
from ratoon.base.words import capital
from ratoon.reports.figures import reading_names
from ratoon.reports.morning import Cut, Doubt, Ribbon
from ratoon.reports.numbers import FIXED, duration, kept_together, show, signed

# Longer lists are cut on the sheet, and how many were left out is said.
MOST_SUSPECTS = 5
AGAIN = "read it again"
MOST_NAMED = 3  # of a set in its headline; the rest of the set follows as "equally well"
TICK_HOURS = 4


def _cut(stop: StopResult, start: datetime, hours: float) -> Cut:
    begin = datetime.fromisoformat(stop.start)
    offset = (begin - start).total_seconds() / 3600.0
    first = min(max(offset, 0.0), hours)
    length = min(max(offset + stop.hours, 0.0), hours) - first
    return Cut(
        start=first,
        hours=length,
        label=f"{stop.cause.strip() or 'no cause written'} {duration(stop.hours)}",
        kind=kind_of_stop(stop.cause, stop.station),
        clock=f"{begin:%H:%M}",
        note=stop.note,
    )


def ribbon_of(start: datetime, hours: float, stops: Iterable[StopResult], ran: bool) -> Ribbon:
    """The mill day from start to start, with its stops in order; `ran`: cane was crushed."""
    ticks = tuple(
        (float(h), f"{start + timedelta(hours=h):%H:%M}")
        for h in range(0, round(hours) + 1, TICK_HOURS)
    )
    cuts = sorted((_cut(s, start, hours) for s in stops), key=lambda c: c.start)
    return Ribbon(hours, ticks, tuple(cuts), ran)


def _size(suspect: SuspectResult | Member) -> str:
    """By how much the reading would be wrong: two digits are enough."""
    size = suspect.size
    if size is None:
        return ""
    shown = show(size, abs(size) / 20 if size else None, suspect.unit)
    text = f"+{shown.text}" if size > 0 else shown.text
    return f"{text}{FIXED}{shown.unit}".strip(FIXED)


def _lower(name: str) -> str:
    """A name within a sentence; one that begins with a symbol stays as it is."""
    return name if name[1:2].isupper() or name[1:2] == " " else name[:1].lower() + name[1:]


def _or(parts: Sequence[str]) -> str:
    """ "A", "A or B", "A, B or C"."""
    return " or ".join(filter(None, [", ".join(parts[:-1]), parts[-1]]))


def _named(suspect: SuspectResult, names: Mapping[str, str]) -> Sequence[Member | SuspectResult]:
    """The members that the headline names; an older version kept the suspect alone."""
    name = suspect.name or names.get(suspect.reading, suspect.reading)
    return suspect.members[:MOST_NAMED] or (replace(suspect, name=name),)


def _others(suspect: SuspectResult, names: Mapping[str, str], named: int) -> tuple[str, ...]:
    """What explains the day as well and is not in the headline: by name."""
    names_alike = [m.name for m in suspect.members[named:]]
    if not suspect.members:
        names_alike = [*suspect.equivalent_names] or [names.get(e, e) for e in suspect.equivalent]
    return (*names_alike, *(suspect.loss_names or suspect.losses))


def _check_words(
    suspect: SuspectResult, named: Sequence[Member | SuspectResult]
) -> tuple[str, ...]:
    """What to check for every member, each of its own; what is only read again stands together."""
    measured = [m for m in suspect.members or named if m.kind == "measured"] or named
    shared: dict[str, list[str]] = {}
    for member in measured:
        check = member.check if member.has_own_check else AGAIN
        shared.setdefault(check.rstrip("."), []).append(member.name)
    return tuple(
        f"{_or([whose[0], *map(_lower, whose[1:])])}: {check[:1].lower()}{check[1:]}."
        for check, whose in shared.items()
        if check
    )


def doubts_of(result: DayResult) -> tuple[Doubt, ...]:
    """The suspect readings, most suspect first: each set by all its names, with every check."""
    names = reading_names(result)
    said = result.words.suspects
    found = []
    for i, s in enumerate(result.suspects):
        named = _named(s, names)
        others = _others(s, names, len(named))
        told = [m.name if not k else _lower(m.name) for k, m in enumerate(named)]
        found.append(
            Doubt(
                reading=s.reading,
                name=_or(told),
                standardised=_or([signed(m.standardised, 1) for m in named]) + " sigma",
                size=_or([t for m in named if (t := _size(m))] or [""]),
                equivalent=others,
                words=kept_together(said[i]) if i < len(said) else "",
                check=" Or ".join(
                    t if not k else _lower(t) for k, t in enumerate(_check_words(s, named))
                ),
            )
        )
    return tuple(found)


def journal_of(result: DayResult) -> tuple[str, ...]:
    """The yard where cane lasts, notes written beside the stops, then what the account notes."""
    stops = [
        f"{datetime.fromisoformat(s.start):%H:%M} {s.cause}: {s.note}"
        for s in result.stops
        if s.note
    ]
    yard = result.yard
    standing = (yard.text,) if yard is not None and not yard.runs_dry else ()
    return (*standing, *stops, *(capital(note) for note in result.words.notes))
