"""What a manager can change on the page of trials, and how far the sliders reach.

The reach is ours: wide enough for what a mill would try, narrow enough to move with care. A box
takes some times as much, within the plant's own limits; what is beyond is refused before it is
solved, in the box's own words.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ratoon.base.addresses import AddressInfo
from ratoon.importers.plausible import limits_of
from ratoon.plant.declared import GROUPS, Slider
from ratoon.reports.numbers import unit_as_read

if TYPE_CHECKING:
    from ratoon.plant.plant import Plant

BOX_REACH = 3.0
"""How much further than its slider a box goes on both sides of the day."""
FIRST_GROUP_OPEN = ("Cane", "Mills", "Evaporators")
HINTS = {
    "Mills": "Extraction follows fibre in bagasse and imbibition; imbibition mixes less well where "
    "more fibre or more water goes through, by an uncertain law.",
    "Evaporators": "A fouled effect: lower its coefficient, which is meant at the day's brix and "
    "heat. How much is bled follows the heaters' set points and the pans.",
}
LEVER_HINT = (
    "A vessel off line takes its share of the surface with it. Who takes vapour where"
    " is a matter of piping: isolate and change over by the site's own procedure."
)


@dataclass(frozen=True, slots=True)
class Control:
    """One slider with its box: the day's value, the value tried, its reach, all in `unit`.

    `least`, `most`: what the box takes. `known`: the day's readings determine its value; else it
    is the mill file's. `zero`: the box takes 0 as well, which by-passes an effect.
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
    zero: bool = False

    def takes(self, value: float) -> bool:
        """Whether the box takes a value."""
        return self.least <= value <= self.most or (self.zero and value == 0.0)

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


def lever_group(levers: Iterable[Any], changes: Mapping[str, float]) -> ControlGroup:
    """Vessels off line and where bleeds go, of a mill's own stations."""
    controls = tuple(
        Control(v.address, v.name, v.unit, v.day, changes.get(v.address, v.day),
                # where a step is a whole vessel, the slider goes down to none of them
                0.0 if v.effect and v.low == v.step else v.low, v.high, v.step,
                v.address in changes, v.low, v.high, zero=v.effect > 0)
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
        zero = "0 for the effect by-passed, or " if c.zero else ""
        allowed = f"the box takes {zero}{c.least:.10g} to {c.most:.10g} {c.unit}".strip()
        if c.address in no_numbers:
            text = no_numbers[c.address]
            found = f"{text[:40]!r} is not a number" if text else "nothing is typed"
            lines[c.address] = f"{c.name}: {found}; {allowed}."
        elif c.changed and not c.takes(c.value):
            value = f"{c.value:.10g} {c.unit}".strip()
            lines[c.address] = f"{c.name}: {value} cannot be tried; {allowed}."
    return lines


def groups(
    plant: Plant,
    can: set[str],
    day: Mapping[str, float],
    changes: Mapping[str, float],
    known: Collection[str] | None = None,
) -> tuple[ControlGroup, ...]:
    """The controls that this mill has.

    Parameters
    ----------
    can : what a trial can set.
    known : addresses that the day's readings determine; None for all.
    day, changes : the day's values, and the values to try, in trade units.
    """
    found: dict[str, list[tuple[str, Control]]] = {name: [] for name in GROUPS}
    for address, setting in plant.declared.items():
        if (slider := setting.slider) and address in can and address in day:
            told = known is None or (setting.holds or address) in known
            control = _control(slider, plant.addresses[address], day, changes, told)
            found[slider.group].append((address.partition(".")[0], control))
    made = []
    for name, controls in found.items():
        kinds = [kind for kind, _ in controls]  # what is of one kind is shown together
        shown = tuple(c for _, c in sorted(controls, key=lambda one: kinds.index(one[0])))
        if shown:
            is_open = name in FIRST_GROUP_OPEN or any(c.changed for c in shown)
            made.append(ControlGroup(name, is_open, HINTS.get(name, ""), shown))
    return tuple(made)


def _box(slider: Slider, info: AddressInfo, today: float, digits: int) -> tuple[float, float]:
    """Least and most that a box takes: nothing below zero, nothing that cannot be."""
    reach = BOX_REACH * _reach(slider, today)
    low, high = limits_of(info)
    least = max(today - reach, 0.0, 0.0 if low is None else low)
    most = today + reach if high is None else min(today + reach, high)
    return round(least, digits), round(most, digits)


def _reach(slider: Slider, today: float) -> float:
    return slider.reach * abs(today) if slider.relative else slider.reach


def _control(
    slider: Slider, info: AddressInfo, day: Mapping[str, float], changes: Mapping[str, float],
    known: bool,
) -> Control:  # fmt: skip
    address = info.address
    digits = decimals_of_step(slider.step)
    today = round(day[address], digits)
    reach = _reach(slider, today)
    value = changes.get(address, today)
    least, most = _box(slider, info, today, digits)
    sane = min(max(value, least), most)  # the slider does not stretch to a slip of the pen
    return Control(
        address=address,
        name=slider.text,
        unit=unit_as_read(info.unit),
        day=today,
        value=value,
        low=round(min(max(today - reach, 0.0), sane), digits),
        high=round(max(today + reach, sane), digits),
        step=slider.step,
        changed=address in changes,
        least=least,
        most=most,
        known=known,
    )
