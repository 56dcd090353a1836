"""From the account's result to the sheet's words: the ribbon, what to doubt, what to do."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from ratoon.reports.contract import DayResult, StopPart, SuspectPart
from ratoon.reports.figures import reading_names
from ratoon.reports.morning import Action, Cut, Doubt, Group, Ribbon, Row
from ratoon.reports.numbers import duration, kept_together, show, show_money, signed

# Longer lists are cut on the sheet, and how many were left out is said.
MOST_SUSPECTS = 5
TICK_HOURS = 4


def _kind_of(stop: StopPart) -> str:
    """Which pattern a stop is drawn with; its words always stand beside it."""
    text = f"{stop['cause']} {stop['station']}".lower()
    if "no cane" in text or "rain" in text:
        return "no cane"
    return "planned" if "planned" in text and "unplanned" not in text else "stop"


def _cut(stop: StopPart, start: datetime, hours: float) -> Cut:
    begin = datetime.fromisoformat(stop["start"])
    offset = (begin - start).total_seconds() / 3600.0
    first = min(max(offset, 0.0), hours)
    length = min(max(offset + stop["hours"], 0.0), hours) - first
    return Cut(
        start=first,
        hours=length,
        label=f"{stop['cause'].strip() or 'no cause written'} {duration(stop['hours'])}",
        kind=_kind_of(stop),
        clock=f"{begin:%H:%M}",
        note=stop["note"],
    )


def ribbon_of(result: DayResult) -> Ribbon:
    """The mill day from start to start, with its stops in order of time."""
    start = datetime.fromisoformat(result["period"]["start"])
    hours = result["period"]["hours"]
    ticks = tuple(
        (float(h), f"{start + timedelta(hours=h):%H:%M}")
        for h in range(0, round(hours) + 1, TICK_HOURS)
    )
    cuts = sorted((_cut(s, start, hours) for s in result["stops"]), key=lambda c: c.start)
    return Ribbon(hours, ticks, tuple(cuts), result["status"] != "no crush")


def _size(suspect: SuspectPart) -> str:
    """By how much the reading would be wrong: two digits are enough."""
    size = suspect["size"]
    if size is None:
        return ""
    shown = show(size, abs(size) / 20 if size else None, suspect.get("unit", ""))
    text = f"+{shown.text}" if size > 0 else shown.text
    return f"{text} {shown.unit}".strip()


def _equivalents(suspect: SuspectPart, names: Mapping[str, str]) -> tuple[str, ...]:
    """What explains the day as well, by name; assumptions have names of their own."""
    told = suspect.get("equivalent_names") or [names.get(e, e) for e in suspect["equivalent"]]
    return (*told, *(names.get(e, e) for e in suspect.get("losses", ())))


def doubts_of(result: DayResult) -> tuple[Doubt, ...]:
    """The suspect readings, most doubtful first, each with its equivalents and its check."""
    names = reading_names(result)
    said = result["words"]["suspects"]
    return tuple(
        Doubt(
            reading=s["reading"],
            name=s.get("name") or names.get(s["reading"], s["reading"]),
            standardised=f"{signed(s['standardised'], 1)} sigma",
            size=_size(s),
            equivalent=_equivalents(s, names),
            words=kept_together(said[i]) if i < len(said) else "",
            check=s["check"],
        )
        for i, s in enumerate(result["suspects"])
    )


def _checks(doubts: tuple[Doubt, ...]) -> list[Action]:
    return [
        Action("check", f"{d.name}: {d.check}", None, "") for d in doubts[:MOST_SUSPECTS] if d.check
    ]


def _missed(result: DayResult, groups: tuple[Group, ...]) -> list[Action]:
    """Targets surely missed, dearest first; the rest of them in one line."""
    worth = result.get("target_worth", {})
    currency = result["prices"]["currency"]
    priced: list[tuple[float, Action]] = []
    others: list[Row] = []
    for row in (r for g in groups for r in g.rows if r.bad):
        part = worth.get(row.address)
        if not part or part["money"] is None:
            others.append(row)
            continue
        money = show_money(part["money"], part["money_sigma"], currency)
        text = f"{row.name} {row.day.text}, target {row.target}"
        priced.append((part["money"], Action("target", text, money, part["words"])))
    actions = [action for _, action in sorted(priced, key=lambda p: -p[0])]
    if others:
        text = "; ".join(f"{r.name} {r.day.text}, target {r.target}" for r in others)
        actions.append(Action("target", text, None, "off target; what causes it is priced apart"))
    return actions


def _entries(result: DayResult) -> list[Action]:
    """Entries that people can still make: causes of stops, doubts of readings."""
    actions = []
    nameless = [s for s in result["stops"] if not s["cause"].strip()]
    for stop in nameless:
        begin = datetime.fromisoformat(stop["start"])
        text = f"Write down the cause of the stop at {begin:%H:%M} ({duration(stop['hours'])})"
        actions.append(Action("entry", text, None, ""))
    names = reading_names(result)
    # Only what a person can mend: a pH carries no weight in a balance, however well it is read.
    mendable = ("no sigma", "covers")
    unused = [
        r
        for r in result["readings"]
        if not r["used"] and r.get("why_not", mendable[0]).startswith(mendable)
    ]
    if unused:
        whys = [
            f"{names[r['address']]}" + (f" ({r['why_not']})" if r.get("why_not") else "")
            for r in unused[:4]
        ]
        more = f" and {len(unused) - 4} more" if len(unused) > 4 else ""
        actions.append(Action("entry", f"Not used: {', '.join(whys)}{more}", None, ""))
    return actions


def actions_of(
    result: DayResult, groups: tuple[Group, ...], doubts: tuple[Doubt, ...]
) -> tuple[Action, ...]:
    """What to do, as far as the account alone can say: no optimum is invented."""
    real = result["undetermined_is_real"]
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
    missed = [] if result["status"] == "no crush" else _missed(result, groups)
    return (*_checks(doubts), *look, *missed, *_entries(result))


def journal_of(result: DayResult) -> tuple[str, ...]:
    """Notes written beside the stops, then what the account notes."""
    stops = [
        f"{datetime.fromisoformat(s['start']):%H:%M} {s['cause']}: {s['note']}"
        for s in result["stops"]
        if s["note"]
    ]
    return (*stops, *result["words"]["notes"])
