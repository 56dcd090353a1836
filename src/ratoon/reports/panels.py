"""The sheet's second half as small tables: shifts, clean-plant losses, worths, tests, chemicals.

Every panel is words and numbers already written out, so page, file and paper cannot disagree.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import TypeVar

from ratoon.account.results.day import Chemical, DayResult, ShiftResult
from ratoon.account.results.trust import NextReading, Robust, SugarInWater
from ratoon.account.results.worth import Worth
from ratoon.account.trust.suspects import BY_ACCOUNT
from ratoon.base.words import capital
from ratoon.reports.ahead import plan_panel
from ratoon.reports.figures import with_all_of
from ratoon.reports.morning import Panel
from ratoon.reports.numbers import (
    NOTHING,
    THIN,
    as_written,
    decimals_of,
    duration,
    grouped,
    show,
    show_money,
    signed,
    unit_as_read,
)

Named = TypeVar("Named")
MOST_SHIFT_READINGS = 9
FIGURES = ("account.extraction", "account.boiling_house_recovery", "account.overall_recovery",
           "account.molasses_purity", "account.bagasse_pol", "account.process_steam_on_cane",
           "account.loss.bagasse_share", "account.loss.mud_share", "account.loss.molasses_share",
           "account.loss.known_share", "account.undetermined")  # fmt: skip
NEXT = "One more reading worth having"


def panels_of(result: DayResult) -> tuple[Panel, ...]:
    """Every panel that the day has something to say in, in the order of the sheet."""
    currency = result.prices.currency
    makers = (
        plan_panel(result),
        _benchmark(result.worth),
        _worths(result.worth, currency),
        _with_all(result),
        _robust(result.robust),
        _next_reading(result.next_reading),
        _sugar_in_water(result.sugar_in_water),
        _shifts(result.shifts, result.status, result.shifts_apart),
        _chemicals(result.chemicals, currency),
    )
    return tuple(panel for panel in makers if panel is not None)


def _name(text: str) -> str:
    return capital(text)


def _in_order(parts: Mapping[str, Named]) -> list[tuple[str, Named]]:
    """Figures as the sheet has them, whether just worked out or read from a store's sorted keys."""
    rank = {address: n for n, address in enumerate(FIGURES)}
    return [(a, parts[a]) for a in sorted(parts, key=lambda a: (rank.get(a, len(rank)), a))]


def _with_all(result: DayResult) -> Panel | None:
    """What is set aside, and the figures that every reading in would give otherwise."""
    if not result.set_aside:
        return None
    rows, addresses = [], []
    for address, figure in result.figures.items():
        other = with_all_of(result, address)
        if other is not None:
            mine = show(figure.value, figure.sigma, figure.unit)
            rows.append((_name(figure.name), mine.text, mine.interval, other.text, other.interval,
                         unit_as_read(figure.unit)))  # fmt: skip
            addresses.append(address)
    said = [f"{s.name or s.reading}: {s.why}" + ("" if s.by == BY_ACCOUNT else f" ({s.by})")
            for s in result.set_aside]  # fmt: skip
    note = f"Set aside: {'; '.join(said)}."
    if result.with_all is None:
        note += " With every reading in there is no account."
    elif not rows:
        note += " No figure moves by more than half its standard uncertainty."
    head = ("figure", "day", "±", "every reading in", "±", "") if rows else ()
    return Panel("with all", "Readings set aside", head, tuple(rows), note, True, tuple(addresses))


def _benchmark(part: Worth | None) -> Panel | None:
    if not part or not part.benchmark:
        return None
    rows = []
    figures = _in_order(part.benchmark)
    for _, one in figures:
        day = show(one.value, one.sigma, one.unit)
        decimals = 2 if day.value is None else decimals_of(day.value, day.sigma, one.unit)
        fair = grouped(one.benchmark, max(decimals, 1))
        apart, said = NOTHING, ""
        if day.value is not None:
            difference = day.value - one.benchmark
            apart = signed(difference, max(decimals, 1))
            said = "" if day.half and abs(difference) > day.half else "not told apart"
        name = _name(one.name).replace(", of pol in cane", "")
        name = name.replace("lost: known", "lost: inversion, entrainment")
        rows.append((name, day.text, day.interval, fair, apart, said))
    return Panel(
        "benchmark", "What a clean plant would make of this cane",
        ("figure, %", "day", "±", "clean", "difference", ""), tuple(rows),
        f"Clean: {part.words}; no wear, no scale, no faults. Losses in % of pol in cane.",
        # a share of pol in cane is worked as its line of the loss account
        wordy=True, addresses=tuple(address.removesuffix("_share") for address, _ in figures),
    )  # fmt: skip


def _worths(part: Worth | None, currency: str) -> Panel | None:
    if not part or not part.units or part.hour is None:
        return None
    rows = []
    units = sorted((u for u in part.units if u.follows), key=lambda u: -abs(u.money))
    for one in units:
        unit = unit_as_read(one.unit)
        change = f"{signed(one.step, 0)}{THIN}{unit}".strip()
        money = show_money(one.money, abs(one.money) / 30 or None, currency).text
        rows.append((_name(one.name), change, money, grouped(one.sugar_t, 1), one.how))
    hour = show_money(part.hour, abs(part.hour) / 60, currency).text
    return Panel(
        "worth", "What one unit is worth a day", ("figure", "change", "worth", "sugar, t", "by"),
        tuple(rows),
        f"By the plant's equations, for {part.priced_by or part.words}; estimates, and "
        "upper bounds where the last of the sugar is poorer. What the plant cannot follow, as "
        "it stands, is not in it. An hour of crushing earns "
        f"{hour} gross; an hour lost is mostly delayed.",
        wordy=True, addresses=tuple(one.address for one in units),
    )  # fmt: skip


def _robust(part: Robust | None) -> Panel | None:
    if not part or not part.figures:
        return None
    figures = _in_order(part.figures)
    rows = tuple(
        (
            _name(one.name),
            show(one.value, one.sigma, one.unit).whole,
            show(one.robust, one.robust_sigma, one.unit).whole,
        )
        for _, one in figures
    )
    return Panel(
        "robust", "Robust account beside the plain one", ("figure", "plain", "robust"), rows,
        f"{_name(part.words)}: the robust account gives those that stand out less weight. Where "
        "the two differ, clear the readings before acting on the figure.",
        addresses=tuple(address for address, _ in figures),
    )  # fmt: skip


def _next_reading(part: NextReading | None) -> Panel | None:
    if not part:
        return None
    now = show(0.0, part.sigma, part.unit).interval
    unit = unit_as_read(part.unit)
    if not part.best:
        return Panel("next", NEXT, (), (),
                     "No single reading would sharpen the recovery by as much as 1 %.")  # fmt: skip
    rows = tuple(
        (
            _name(one.name),
            "once more, by another instrument" if one.again else "not read today",
            f"±{THIN}{grouped(1.96 * one.sigma, 2)}",
        )
        for one in part.best
    )
    return Panel(
        "next", NEXT, ("reading", "", "recovery known to"), rows,
        f"{_name(part.name)} stands to ± {now} {unit} (95 %) today; each line says what one "
        "more reading of the stated uncertainty would leave.",
        addresses=tuple(one.address for one in part.best),
    )  # fmt: skip


def _sugar_in_water(part: SugarInWater | None) -> Panel | None:
    if not part:
        return None
    rows = []
    for one in part.rows:
        words = one.words
        if one.pct is not None:
            carried = show(one.pct, one.pct_sigma, "%").whole
            words = f"{carried} of pol in cane carried over; {words}"
        rows.append((_name(one.name), f"{one.mean:.0f}", f"{one.highest:.0f}",
                     one.step, words))  # fmt: skip
    steps = ", ".join(f"{name} {limit:g}" for name, limit in zip(("watch", "dump", "trip", "stop"),
                                                                 part.ladder))  # fmt: skip
    return Panel(
        "water", "Sugar in condensate and condenser water",
        ("water", "mean, ppm", "highest", "step", "what it says"), tuple(rows),
        f"Ladder for condensate and feed water, ppm: {steps}. {part.caution}",
        wordy=True, addresses=tuple(one.address for one in part.rows),
    )  # fmt: skip


def _shifts(shifts: Sequence[ShiftResult], status: str, apart: Sequence[str]) -> Panel | None:
    if not shifts or status == "no crush":
        return None
    head = ["", *(f"{s.name} {datetime.fromisoformat(s.start):%H:%M}" for s in shifts)]
    rows = [
        ("Hours crushed", *(duration(s.hours) for s in shifts)),
        ("Lost time", *(duration(s.lost) for s in shifts)),
    ]
    read = list(_read_in(shifts))
    for address, name, unit in read:
        label = f"{_name(name)}, {unit_as_read(unit)}".rstrip(", ")
        label = label.removesuffix(", pH").partition(" at 20 ")[0]
        rows.append((label,
                     *(_of_shift(s, address) for s in shifts)))  # fmt: skip
    note = "" if len(rows) == 2 else "As read, not balanced: a shift is too short for an account."
    note = " ".join([note, *(_name(words) for words in apart)]).strip()
    about = ("/journal", "/journal", *(address for address, _, _ in read))
    return Panel("shifts", "The day by shift", tuple(head), tuple(rows), note, addresses=about)


def _read_in(shifts: Sequence[ShiftResult]) -> Iterable[tuple[str, str, str]]:
    known: dict[str, tuple[str, str, str]] = {}
    for shift in shifts:
        for one in shift.readings:
            known.setdefault(one.address, (one.address, one.name, one.unit))
    return list(known.values())[:MOST_SHIFT_READINGS]


def _of_shift(shift: ShiftResult, address: str) -> str:
    found = next((r for r in shift.readings if r.address == address), None)
    return NOTHING if found is None else show(found.value, None, found.unit).text


def _chemicals(parts: Sequence[Chemical], currency: str) -> Panel | None:
    if not parts:
        return None
    rows = tuple(_chemical(one, currency) for one in parts)
    priced = [one.money for one in parts if one.money is not None]
    said = []
    if any(row[2][:1] in "▲▼" for row in rows):
        said.append("▲ ▼ significantly off target.")
    if len(priced) > 1:
        total = sum(priced)
        said.append(f"Together {show_money(total, abs(total) / 60 or None, currency).text}.")
    if len(priced) < len(parts):
        said.append("Without a price no cost is shown.")
    if any(not one.balanced for one in parts):
        lime = any(one.balanced for one in parts)
        who = "Lime alone weighs" if lime else "None of these weighs"
        said.append(f"{who} in the balance; the rest is too small to matter.")
    if any("caustic" in one.address for one in parts):
        said.append(
            "Caustic: the site's procedure; never mix with acid; isolate, drain, vent, prove."
        )
    head = ("", "kg", "dose", "", "target", "cost")
    return Panel("chemicals", "Chemicals", head, rows, " ".join(said),
                 addresses=tuple(one.address for one in parts))  # fmt: skip


def _kilograms(kg: float, sigma: float | None) -> str:
    """A weight used; three figures where its uncertainty is not known."""
    if sigma is None:
        return grouped(kg, 0 if kg >= 100 else 1)
    return show(kg, sigma, "kg").text


def _of_what(unit: str, on: str) -> str:
    return f"{unit} on {on}" if unit == "ppm" else unit


def _chemical(one: Chemical, currency: str) -> tuple[str, ...]:
    # an older version kept neither the dose nor what it was on
    dosed = one.dose if one.on else one.kg_per_t_cane
    dose, target = show(dosed, one.dose_sigma, one.dose_unit), one.target
    aimed, arrow = NOTHING, ""
    if target is not None:
        aimed = as_written(target, 0)
        if dose.value is not None and dose.half and abs(dose.value - target) > dose.half:
            arrow = "▲ " if dose.value > target else "▼ "
    money = one.money
    return (
        _name(one.name),
        _kilograms(one.kg, one.kg_sigma),
        arrow + (f"{dose.text} ± {dose.interval}" if dose.interval else dose.text),
        _of_what(one.dose_unit, one.on) if dose.value is not None else "",
        aimed,
        NOTHING if money is None else show_money(money, abs(money) / 60 or None, currency).text,
    )
