"""Try: the day's plant with changes beside the day itself, and cases kept side by side."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ratoon.account.money.earned import terms
from ratoon.base.words import capital
from ratoon.jobs.trial.changes import loads
from ratoon.jobs.trial.levers import levers_of
from ratoon.jobs.trial.solve import cautions_of, left_out
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import NOTHING, grouped, show, show_money, signed, unit_as_read
from ratoon.web.days import DayPlace
from ratoon.web.trial.controls import ControlGroup, groups, lever_group
from ratoon.web.trial.regimes import Held, limits_in_words, moved, regime_figures, regimes

if TYPE_CHECKING:
    from ratoon.account.mill import Mill

Numbers = Mapping[str, float]
MOST_CASES = 4
AGREES = 0.005
"""Share of a figure within which a solution agrees with it, however sharp the figure is."""
MORE_LOAD = 0.5  # %: a load beyond its limit by so much more than the day's own cannot be run
GRADE = "GRADE"
PURITY = f"account.{GRADE}_massecuite_purity"
ROWS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Cane and mills", ("account.cane", "account.rate", "account.extraction",
                        "account.imbibition_on_fibre", "account.bagasse_pol",
                        "account.bagasse_moisture", "{mixed juice}.flow", "{mixed juice}.brix")),
    ("Juice and evaporation", ("{clear juice}.flow", "{clear juice}.brix", "{liquor}.flow",
                               "{liquor}.brix", "{exhaust out evaporators}")),
    ("Pans and molasses", (PURITY, "{massecuite GRADE}.volume", "account.molasses_purity",
                           "{final molasses}.weight")),
    ("Sugar and losses", ("account.sugar", "account.sugar_pol", "account.boiling_house_recovery",
                          "account.overall_recovery", "account.loss.bagasse", "account.loss.mud",
                          "account.loss.molasses", "account.loss.known",
                          "account.loss.undetermined")),
    ("Steam and power", ("account.steam_on_cane", "account.process_steam_on_cane",
                         "{steam out let_down}", "{exhaust out vent}", "{power sent out}",
                         "{bagasse stored}")),
)  # fmt: skip
"""Rows of the table by role; those with a grade are there for each massecuite."""
LOADS = "Load, of what each can take"
DIGITS = {"%": 2, "t": 0, "t/h": 1, "MW": 2, "m3": 0, "h": 1}


@dataclass(frozen=True, slots=True)
class Case:
    """Changes with their name, and where they are opened and taken away."""

    label: str
    text: str
    open: str
    remove: str


@dataclass(frozen=True, slots=True)
class Cell:
    """A quantity in a case: its value and its difference to the day."""

    value: str
    difference: str


@dataclass(frozen=True, slots=True)
class TrialRow:
    """A quantity on the day, as tried now, and in each kept case."""

    address: str
    name: str
    unit: str
    day: str
    known: bool
    now: Cell
    cases: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class TrialGroup:
    """Rows of one part of the works."""

    name: str
    rows: tuple[TrialRow, ...]


@dataclass(frozen=True, slots=True)
class TryPage:
    """The page of trials."""

    place: DayPlace
    title: str
    mill_name: str
    line: str
    controls: tuple[ControlGroup, ...]
    rows: tuple[TrialGroup, ...]
    money: TrialGroup
    regimes: tuple[Held, ...]
    limits: tuple[str, ...]
    cases: tuple[Case, ...]
    kept: tuple[str, ...]
    changes: str
    changed: tuple[str, ...]
    little_read: str
    refused: Mapping[str, str]
    seconds: float
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def case_text(changes: Numbers) -> str:
    """Changes as one word of an address: ``cane.rate:480,liquor.brix_set:67``."""
    return ",".join(f"{a}:{v:.10g}" for a, v in sorted(changes.items()))


def case_changes(text: str) -> dict[str, float]:
    """The changes that a word holds; what is no number is left out."""
    changes = {}
    for part in text.split(",")[:60]:
        address, _, value = part.partition(":")
        with suppress(ValueError):
            number = float(value)
            if math.isfinite(number):
                changes[address] = number
    return changes


def _amount(value: float, unit: str) -> str:
    return grouped(value, DIGITS.get(unit, 2))


def _cell(before: float, after: float | None, unit: str) -> Cell:
    if after is None:
        return Cell(NOTHING, "")
    digits = DIGITS.get(unit, 2)
    change = round(after, digits + 2) - round(before, digits + 2)
    same = round(change, digits) == 0
    return Cell(grouped(after, digits), "" if same else signed(change, digits))


def rows_of(mill: Mill) -> list[tuple[str, list[str]]]:
    """Addresses of the table's rows in their groups; what the mill has not is left out."""
    roles, made = mill.roles, []
    for name, wanted in ROWS:
        each: list[str] = []
        for row in wanted:
            grades = roles.materials("massecuite") if GRADE in row else ("",)
            each += [row.replace(GRADE, g.lower() if row is PURITY else g) for g in grades]
        made.append((name, [a for row in each if (a := roles.at(row))]))
    return made


def _rows(
    mill: Mill, day: Numbers, now: Numbers, cases: Sequence[Numbers], known: Collection[str]
) -> list[TrialGroup]:
    made = []
    for name, addresses in (*rows_of(mill), (LOADS, loads(mill.plant))):
        rows = []
        for address in addresses:
            info = mill.addresses.get(address)
            if info is None or address not in day:
                continue
            unit = info.unit
            rows.append(TrialRow(
                address, capital(info.name), show(1.0, None, unit).unit,
                _amount(day[address], unit), address in known,
                _cell(day[address], now.get(address), unit),
                tuple(_cell(day[address], c.get(address), unit) for c in cases),
            ))  # fmt: skip
        made.append(TrialGroup(name, tuple(rows)))
    return made


def _money(
    mill: Mill, solved: Mapping[str, Any], columns: Sequence[Mapping[str, Any]],
    known: Collection[str],
) -> TrialGroup:  # fmt: skip
    """Worth of the products: with the day's hours (cane waits), and with its cane (cane short).

    None for what cannot be run: where some station cannot give what it is asked for. Net of cane
    and variable cost where the mill file prices them. `columns` are the answers of now and of each
    case, empty where there is none.
    """
    currency = mill.settings.mill.currency
    day, before = solved["before"], solved["money_before"]
    amounts = [one["money"] if one and _held(one) else None for one in columns]
    canes = [one["after"]["account.cane"] if one else None for one in columns]
    if any(a not in known for t in terms(mill.roles, mill.settings.prices) for a in t.rests_on):
        return TrialGroup("Money", ())

    def cells(scaled: bool) -> list[Cell]:
        made = []
        for value, cane in zip(amounts, canes):
            if value is None or not cane:
                made.append(Cell(NOTHING, ""))
                continue
            amount = value * day["account.cane"] / cane if scaled else value
            change = round(amount - before, -1)
            sign = "+" if change > 0 else ""
            text = show_money(change, None, currency).text
            made.append(Cell(show_money(round(amount, -1), None, currency).text,
                             f"{sign}{text}" if change else ""))  # fmt: skip
        return made

    rows = []
    told = show_money(round(before, -1), None, currency).text
    for key, name, scaled in (
        ("money.hours", "Earned in the day's hours (cane waits)", False),
        ("money.cane", "Earned from the day's cane (cane is short)", True),
    ):
        first, *rest = cells(scaled)
        rows.append(TrialRow(key, name, "", told, True, first, tuple(rest)))
    return TrialGroup("Money", tuple(rows))


def _held(solved: Mapping[str, Any]) -> bool:
    """Whether every station can give what a case asks of it, or gave as much on the day."""
    gave = {one["address"]: one["value"] for one in solved["limits_before"]}
    return all(
        one["value"] <= gave.get(one["address"], one["limit"]) + MORE_LOAD
        for one in solved["limits"] if one["address"].endswith(".load")
    )  # fmt: skip


def try_page(
    mill: Mill,
    place: DayPlace,
    controls: tuple[ControlGroup, ...],
    changes: Numbers,
    solved: Mapping[str, Any],
    kept: Sequence[tuple[str, Mapping[str, Any] | None]],
    line: str = "",
    figures: Mapping[str, Sequence[float | None]] | None = None,
    refused: Mapping[str, str] | None = None,
    stock_t: float | None = None,
) -> TryPage:
    """The page.

    Parameters
    ----------
    controls : those of `trial_controls`. changes : what is tried now, trade units.
    solved : the answer of `ratoon.jobs.trial.cases.solve_case`; without changes when it had none.
    kept : each kept case as text with its answer; None where it had none.
    line : why there is no answer, or "".
    figures : what the day's account determined, value and sigma; None for all.
    refused : what was typed in the boxes that do not take it.
    stock_t : the day's own change of stock [t of pol], which a trial leaves out.
    """
    levers = list(levers_of(mill.plant).values())
    day, now = solved["before"], {} if line else solved["after"]
    cases = [answer["after"] if answer else {} for _, answer in kept]
    known = told_by_the_day(day, figures)
    names = {a: i.name for a, i in mill.addresses.items()} | {v.address: v.name for v in levers}
    units = {a: unit_as_read(i.unit) for a, i in mill.addresses.items()}
    units |= {v.address: v.unit for v in levers}
    texts = [text for text, _ in kept]
    columns = [{} if line else solved, *(answer or {} for _, answer in kept)]
    return TryPage(
        place=place,
        title=day_in_words(place.date),
        mill_name=mill.name,
        line=line,
        controls=controls,
        rows=tuple(_rows(mill, day, now, cases, known)),
        money=_money(mill, solved, columns, known),
        regimes=(*regimes(mill.plant, day, now), *moved(levers, changes)) if now else (),
        limits=limits_in_words(solved["limits"], names, regime_figures(mill.plant)) if now else (),
        cases=tuple(_case(place.date, texts, n, names, units) for n in range(len(texts))),
        kept=tuple(texts),
        changes=case_text(changes),
        changed=tuple(
            c.in_words
            for g in controls
            for c in g.controls
            if c.changed and c.address not in (refused or {})
        ),
        little_read=_little_read(mill, day, known),
        refused=refused or {},
        seconds=solved["seconds"],
        notes=left_out(stock_t, bool(mill.settings.prices.cane)),
        cautions=cautions_of(mill.plant, changes),
    )


def trial_controls(
    mill: Mill, can: set[str], day: Numbers, changes: Numbers,
    figures: Mapping[str, Any] | None = None,
) -> tuple[ControlGroup, ...]:  # fmt: skip
    """Every control of the page, levers among them."""
    levers = lever_group(levers_of(mill.plant).values(), changes)
    return with_levers(groups(mill.plant, can, day, changes, figures), levers)


def found_by_the_day(
    mill: Mill, works: Mapping[str, Any], day: Numbers
) -> Mapping[str, Any] | None:
    """What a day's account determined from readings; None when that is all of the table.

    An assumption that nothing was read against is the mill file's own figure.
    """
    figures = works["figures"]
    if all(a in figures for _, rows in rows_of(mill) for a in rows if a in day):
        return None
    assumed = set(works["assumed"])
    return {a: f for a, f in figures.items() if a not in assumed}


def told_by_the_day(
    day: Numbers, figures: Mapping[str, Sequence[float | None]] | None
) -> frozenset[str]:
    """Addresses of the table whose value is the day's own, and not the mill file's.

    Where the readings leave something open, the plant is solved from the mill file's settings; a
    figure that was read all the same is the day's only where that solution agrees with it.
    """
    if figures is None:
        return frozenset(day)
    return frozenset(a for a in day if a in figures and _agrees(day[a], figures[a]))


def _agrees(value: float, figure: Sequence[float | None]) -> bool:
    found, sigma = figure
    return found is not None and abs(value - found) <= max(2.0 * (sigma or 0.0),
                                                           AGREES * abs(found))  # fmt: skip


def _little_read(mill: Mill, day: Numbers, known: Collection[str]) -> str:
    wanted = [a for _, rows in rows_of(mill) for a in rows if a in day]
    missing = sum(1 for a in wanted if a not in known)
    if not missing:
        return ""
    return (f"The day's readings do not determine {missing} of {len(wanted)} figures here. Those "
            "marked mill file are worked out from its settings, not from the day; no money is "
            "given where it would rest on them.")  # fmt: skip


def with_levers(
    made: Sequence[ControlGroup], levers: ControlGroup
) -> tuple[ControlGroup, ...]:  # fmt: skip
    """The levers stand after what belongs to the evaporators."""
    at = next((n for n, g in enumerate(made, start=1) if g.name == "Evaporators"), len(made))
    return (*made[:at], *((levers,) if levers.controls else ()), *made[at:])


def address_of(date: str, changes: Numbers, kept: Sequence[str]) -> str:
    """Where a trial with its kept cases is opened."""
    from urllib.parse import urlencode

    pairs = [(a, f"{v:.10g}") for a, v in sorted(changes.items())]
    pairs += [("case", text) for text in kept]
    return f"/try/{date}" + (f"?{urlencode(pairs)}" if pairs else "")


def _case(
    date: str, texts: Sequence[str], n: int, names: Mapping[str, str], units: Mapping[str, str]
) -> Case:  # fmt: skip
    changes = case_changes(texts[n])
    words = ", ".join(f"{names.get(a, a)} {v:.6g} {units.get(a, '')}".rstrip()
                      for a, v in changes.items())  # fmt: skip
    others = [t for i, t in enumerate(texts) if i != n]
    return Case(f"Case {n + 1}", words, address_of(date, changes, texts),
                address_of(date, {}, others))  # fmt: skip
