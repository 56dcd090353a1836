"""From the account's result to the sheet's words: the ribbon, what to doubt, what to do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from ratoon.account.gathered import WhyNot
from ratoon.account.results import DayResult, StopResult
from ratoon.account.trust_results import Member, SuspectResult
from ratoon.base.words import capital
from ratoon.reports.figures import reading_names
from ratoon.reports.morning import Action, Cut, Doubt, Group, Ribbon, Row
from ratoon.reports.numbers import FIXED, THIN, duration, kept_together, show, show_money, signed

# Longer lists are cut on the sheet, and how many were left out is said.
MOST_SUSPECTS = 5
AGAIN = "read it again"
MOST_NAMED = 3  # of a set in its headline; the rest of the set follows as "equally well"
TICK_HOURS = 4


def _kind_of(stop: StopResult) -> str:
    """Which pattern a stop is drawn with; its words always stand beside it."""
    text = f"{stop.cause} {stop.station}".lower()
    if "no cane" in text or "rain" in text:
        return "no cane"
    return "planned" if "planned" in text and "unplanned" not in text else "stop"


def _cut(stop: StopResult, start: datetime, hours: float) -> Cut:
    begin = datetime.fromisoformat(stop.start)
    offset = (begin - start).total_seconds() / 3600.0
    first = min(max(offset, 0.0), hours)
    length = min(max(offset + stop.hours, 0.0), hours) - first
    return Cut(
        start=first,
        hours=length,
        label=f"{stop.cause.strip() or 'no cause written'} {duration(stop.hours)}",
        kind=_kind_of(stop),
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
    told = [m.name for m in suspect.members[named:]]
    if not suspect.members:
        told = [*suspect.equivalent_names] or [names.get(e, e) for e in suspect.equivalent]
    return (*told, *(suspect.loss_names or suspect.losses))


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
    """The suspect readings, most doubtful first: each set by all its names, with every check."""
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


def _checks(result: DayResult) -> list[Action]:
    """What to check: of a set every member's, since the readings cannot tell which it is."""
    names = reading_names(result)
    found = []
    for suspect in result.suspects[:MOST_SUSPECTS]:
        first, *rest = _check_words(suspect, _named(suspect, names)) or ("",)
        if first:
            found.append(Action("check", first, None, " ".join(f"Or {_lower(r)}" for r in rest)))
    return found


def _against_target(row: Row) -> str:
    """A figure and its target, each with its unit unless the name says it."""
    unit = "" if not row.unit or row.unit in row.name else THIN + row.unit
    return f"{row.name} {row.day.text}{unit}, target {row.target}{unit}"


def _missed(result: DayResult, groups: tuple[Group, ...]) -> list[Action]:
    """Targets surely missed, dearest first; the rest of them in one line.

    A figure in which a suspect reading weighs has no price: first the reading is settled.
    """
    worth = result.target_worth
    currency = result.prices.currency
    priced: list[tuple[float, Action]] = []
    unpriced: list[Action] = []
    others: list[Row] = []
    waiting: list[Row] = []
    for row in (r for g in groups for r in g.rows if r.bad):
        part = worth.get(row.address)
        if not part or row.doubted:
            (waiting if row.doubted else others).append(row)
            continue
        text = _against_target(row)
        if part.money is None or part.money <= 0.0:
            unpriced.append(Action("target", text, None, part.words))
            continue
        money = show_money(part.money, part.money_sigma, currency)
        priced.append((part.money, Action("target", text, money, part.words)))
    actions = [action for _, action in sorted(priced, key=lambda p: -p[0])] + unpriced
    for rows, why in (
        (others, "off target; what causes it is priced apart"),
        (waiting, "off target, but a suspect reading weighs in it: settle that first"),
    ):
        if rows:
            first, *rest = map(_against_target, rows)
            actions.append(Action("target", "; ".join([first, *map(_lower, rest)]), None, why))
    return actions


def _entries(result: DayResult) -> list[Action]:
    """Entries that people can still make: causes of stops, doubts of readings."""
    actions = []
    nameless = [s for s in result.stops if not s.cause.strip()]
    for stop in nameless:
        begin = datetime.fromisoformat(stop.start)
        text = f"Write down the cause of the stop at {begin:%H:%M} ({duration(stop.hours)})"
        actions.append(Action("entry", text, None, ""))
    names = reading_names(result)
    # Only what a person can mend: a pH carries no weight in a balance, however well it is read.
    mendable = (WhyNot.UNCERTAIN, WhyNot.COVERAGE)
    unused = [
        r for r in result.readings if not r.used and (r.why_not_kind in mendable or not r.why_not)
    ]
    if unused:
        whys = [
            f"{names[r.address]}" + (f" ({r.why_not})" if r.why_not else "") for r in unused[:4]
        ]
        more = f" and {len(unused) - 4} more" if len(unused) > 4 else ""
        actions.append(Action("entry", f"Not used: {', '.join(whys)}{more}", None, ""))
    return actions


def actions_of(result: DayResult, groups: tuple[Group, ...]) -> tuple[Action, ...]:
    """What to do, as far as the account alone can say: no optimum is invented."""
    real = result.undetermined_is_real
    look = (
        [
            Action(
                "loss",
                "Look for the undetermined loss: the instruments show it",
                None,
                "",
            )
        ]
        if real
        else []
    )
    missed = [] if result.status == "no crush" else _missed(result, groups)
    return (*_yard(result), *_checks(result), *look, *missed, *_entries(result))


def _yard(result: DayResult) -> tuple[Action, ...]:
    """Cane that runs out in the day that follows, and the rate at which it would not."""
    yard = result.yard
    if yard is None or not yard.runs_dry:
        return ()
    why = f"At {yard.slower:.0f} t/h the cane on record lasts the next 24 h."
    return (Action("yard", yard.text, None, why if yard.slower > 0.0 else ""),)


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
