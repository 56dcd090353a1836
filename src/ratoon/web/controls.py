"""What a manager can change on the page of trials, and how far the sliders reach.

The reach is ours: wide enough for what a mill would try, narrow enough to move with care. A box
takes any value within the plant's own limits.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ratoon.reports.numbers import unit_as_read


@dataclass(frozen=True, slots=True)
class Choice:
    """One kind of control: addresses by pattern, reach on both sides, step, words.

    `reach` is in the address's trade unit; with `relative` it is a share of the day's value.
    """

    pattern: str
    text: str
    reach: float
    step: float
    relative: bool = False


GROUPS: tuple[tuple[str, tuple[Choice, ...]], ...] = (
    ("Cane", (
        Choice("cane.rate", "Crushing rate", 0.25, 1.0, True),
        Choice("cane.fibre_laboratory", "Fibre in cane", 2.5, 0.05),
        Choice("cane.pol", "Pol in cane", 2.0, 0.05),
        Choice("cane.brix", "Brix in cane", 2.0, 0.05),
    )),
    ("Mills", (
        Choice("imbibition.on_fibre", "Imbibition on fibre", 90.0, 1.0),
        Choice("imbibition.temperature", "Imbibition water", 25.0, 0.5),
        Choice("mill.{n}.fibre_content", "Fibre in bagasse of mill {n}", 4.0, 0.1),
    )),
    ("Juice", (
        Choice("heater.primary.set_point", "Primary heater, set point", 10.0, 0.1),
        Choice("heater.secondary.set_point", "Secondary heater, set point", 4.0, 0.1),
        Choice("filter.wash_on_cake", "Filter wash on cake", 90.0, 1.0),
    )),
    ("Evaporators", (
        Choice("liquor.brix_set", "Liquor brix, set point", 6.0, 0.1),
        Choice("effect.{n}.vapour.temperature", "Last vapour, effect {n}", 6.0, 0.1),
        Choice("effect.{n}.htc", "Coefficient of effect {n}", 0.6, 0.01, True),
    )),
    ("Pans", (
        Choice("pan.{letter}.purity_set", "{letter} massecuite purity, set point", 4.0, 0.1),
        Choice("pan.{letter}.massecuite.dry_substance", "{letter} massecuite dry substance", 1.5,
               0.05),
        Choice("pan.{letter}.movement_water", "{letter} pans, movement water", 6.0, 0.1),
    )),
    ("Crystallisers, centrifugals, dryer", (
        Choice("crystalliser.temperature", "Massecuite leaving the crystallisers", 8.0, 0.1),
        Choice("sugar.A.purity", "Purity of A sugar", 0.4, 0.01),
        Choice("sugar.moisture", "Moisture of sugar", 0.15, 0.005),
    )),
    ("Steam and power", (
        Choice("exhaust.pressure", "Exhaust pressure", 40.0, 0.5),
        Choice("power.back_pressure", "Back-pressure set", 3.0, 0.05),
        Choice("power.condensing", "Condensing set", 6.0, 0.05),
    )),
)  # fmt: skip
FIRST_GROUP_OPEN = ("Cane", "Mills", "Evaporators")
HINTS = {
    "Mills": "Extraction follows fibre in bagasse and imbibition: it does not fall with the rate "
    "by itself, as on a crowded mill.",
    "Evaporators": "A fouled effect: lower its coefficient. How much is bled follows the heaters' "
    "set points and the pans.",
}
LEVER_HINT = (
    "A vessel off line takes its share of the surface with it. Who takes vapour where"
    " is a matter of piping: isolate and change over by the site's own procedure."
)


@dataclass(frozen=True, slots=True)
class Control:
    """One slider with its box: the day's value, the value tried, its reach, all in `unit`."""

    address: str
    name: str
    unit: str
    day: float
    value: float
    low: float
    high: float
    step: float
    changed: bool


@dataclass(frozen=True, slots=True)
class ControlGroup:
    """Controls of one part of the works."""

    name: str
    open: bool
    hint: str
    controls: tuple[Control, ...]


def _matching(pattern: str, known: Mapping[str, float]) -> Iterator[tuple[str, str]]:
    """Addresses of a pattern, each with its number or letter."""
    head, gap, tail = pattern.partition("{n}" if "{n}" in pattern else "{letter}")
    if not gap:
        if pattern in known:
            yield pattern, ""
        return
    for address in known:
        if address.startswith(head) and address.endswith(tail):
            middle = address[len(head) : len(address) - len(tail)]
            if middle and "." not in middle:
                yield address, middle


def lever_group(levers: Iterable[Any], changes: Mapping[str, float]) -> ControlGroup:
    """Vessels off line and where bleeds go, of a mill's own stations."""
    controls = tuple(
        Control(v.address, v.name, v.unit, v.day, changes.get(v.address, v.day), v.low, v.high,
                v.step, v.address in changes)
        for v in levers
    )  # fmt: skip
    return ControlGroup("Vessels off line and bleeds", True, LEVER_HINT, controls)


def decimals_of_step(step: float) -> int:
    """Decimals that a slider's step moves."""
    return max(0, len(f"{step:g}".partition(".")[2]))


def groups(
    can: set[str], units: Mapping[str, str], day: Mapping[str, float], changes: Mapping[str, float]
) -> tuple[ControlGroup, ...]:
    """The controls that this mill has.

    Parameters
    ----------
    can : what a trial can set. units : trade unit by address.
    day, changes : the day's values, and the values to try, in trade units.
    """
    settable = {a: day[a] for a in day if a in can}
    made = []
    for name, choices in GROUPS:
        controls = []
        for choice in choices:
            for address, which in _matching(choice.pattern, settable):
                controls.append(_control(choice, address, which, units[address], day, changes))
        if controls:
            is_open = name in FIRST_GROUP_OPEN or any(c.changed for c in controls)
            made.append(ControlGroup(name, is_open, HINTS.get(name, ""), tuple(controls)))
    return tuple(made)


def _control(
    choice: Choice, address: str, which: str, unit: str,
    day: Mapping[str, float], changes: Mapping[str, float],
) -> Control:  # fmt: skip
    digits = decimals_of_step(choice.step)
    today = round(day[address], digits)
    reach = choice.reach * abs(today) if choice.relative else choice.reach
    value = changes.get(address, today)
    return Control(
        address=address,
        name=choice.text.format(n=which, letter=which),
        unit=unit_as_read(unit),
        day=today,
        value=value,
        low=round(min(max(today - reach, 0.0), value), digits),
        high=round(max(today + reach, value), digits),
        step=choice.step,
        changed=address in changes,
    )
