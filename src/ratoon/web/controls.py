"""What a manager can change on the page of trials, and how far the sliders reach.

The reach is ours: wide enough for what a mill would try, narrow enough to move with care. A box
takes some times as much, within the plant's own limits; what is beyond is refused before it is
solved, in the box's own words.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ratoon.base.addresses import AddressInfo
from ratoon.importers.plausible import limits_of
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
BOX_REACH = 3.0
"""How much further than its slider a box goes on both sides of the day."""
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
    """One slider with its box: the day's value, the value tried, its reach, all in `unit`.

    `least`, `most`: what the box takes. `known`: the day's readings determine its value; else it
    is the mill file's.
    """

    address: str
    name: str
    unit: str
    day: float
    value: float
    low: float
    high: float
    step: float
    changed: bool
    least: float
    most: float
    known: bool = True

    @property
    def in_words(self) -> str:
        """What was changed: "crushing rate 466 to 500 t/h"."""
        letter = self.name[1:2] == " "  # a massecuite's, which stays large
        name = self.name if letter else self.name[:1].lower() + self.name[1:]
        return f"{name} {self.day:.10g} to {self.value:.10g} {self.unit}".strip()


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
                v.step, v.address in changes, v.low, v.high)
        for v in levers
    )  # fmt: skip
    return ControlGroup("Vessels off line and bleeds", True, LEVER_HINT, controls)


def decimals_of_step(step: float) -> int:
    """Decimals that a slider's step moves."""
    return max(0, len(f"{step:g}".partition(".")[2]))


def refusals(made: Iterable[ControlGroup], no_numbers: Mapping[str, str]) -> dict[str, str]:
    """By address one line about each box that holds what it does not take.

    Parameters
    ----------
    no_numbers : what stands in the boxes that hold no number.
    """
    lines = {}
    for c in (c for g in made for c in g.controls):
        allowed = f"the box takes {c.least:.10g} to {c.most:.10g} {c.unit}".strip()
        if c.address in no_numbers:
            text = no_numbers[c.address]
            found = f"{text[:40]!r} is not a number" if text else "nothing is typed"
            lines[c.address] = f"{c.name}: {found}; {allowed}."
        elif c.changed and not c.least <= c.value <= c.most:
            value = f"{c.value:.10g} {c.unit}".strip()
            lines[c.address] = f"{c.name}: {value} cannot be tried; {allowed}."
    return lines


def groups(
    can: set[str],
    infos: Mapping[str, AddressInfo],
    day: Mapping[str, float],
    changes: Mapping[str, float],
    known: Collection[str] | None = None,
) -> tuple[ControlGroup, ...]:
    """The controls that this mill has.

    Parameters
    ----------
    can : what a trial can set. infos : what is known of each address.
    known : addresses that the day's readings determine; None for all.
    day, changes : the day's values, and the values to try, in trade units.
    """
    settable = {a: day[a] for a in day if a in can}
    made = []
    for name, choices in GROUPS:
        controls = []
        for choice in choices:
            for address, which in _matching(choice.pattern, settable):
                info = infos[address]
                told = known is None or figure_of(address) in known
                controls.append(_control(choice, info, which, day, changes, told))
        if controls:
            is_open = name in FIRST_GROUP_OPEN or any(c.changed for c in controls)
            made.append(ControlGroup(name, is_open, HINTS.get(name, ""), tuple(controls)))
    return tuple(made)


def figure_of(address: str) -> str:
    """The quantity that a set point holds; an address that is none, itself."""
    if address == "liquor.brix_set":
        return "liquor.brix"
    if address.endswith(".purity_set"):
        return address.replace(".purity_set", ".massecuite.purity")
    return address.replace(".set_point", ".temperature")


def _box(choice: Choice, info: AddressInfo, today: float, digits: int) -> tuple[float, float]:
    """Least and most that a box takes: nothing below nought, nothing that cannot be."""
    reach = BOX_REACH * (choice.reach * abs(today) if choice.relative else choice.reach)
    low, high = limits_of(info)
    least = max(today - reach, 0.0, 0.0 if low is None else low)
    most = today + reach if high is None else min(today + reach, high)
    return round(least, digits), round(most, digits)


def _control(
    choice: Choice, info: AddressInfo, which: str,
    day: Mapping[str, float], changes: Mapping[str, float], known: bool,
) -> Control:  # fmt: skip
    address = info.address
    digits = decimals_of_step(choice.step)
    today = round(day[address], digits)
    reach = choice.reach * abs(today) if choice.relative else choice.reach
    value = changes.get(address, today)
    least, most = _box(choice, info, today, digits)
    sane = min(max(value, least), most)  # the slider does not stretch to a slip of the pen
    return Control(
        address=address,
        name=choice.text.format(n=which, letter=which),
        unit=unit_as_read(info.unit),
        day=today,
        value=value,
        low=round(min(max(today - reach, 0.0), sane), digits),
        high=round(max(today + reach, sane), digits),
        step=choice.step,
        changed=address in changes,
        least=least,
        most=most,
        known=known,
    )
