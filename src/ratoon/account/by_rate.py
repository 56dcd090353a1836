"""A mill's plates by rule from its crushing rate, for a mill that knows no more of itself yet.

Each rule is a share of the crushing rate with how far ordinary mills lie from it; what is found so
is told, to be put right in the mill file as plates are read.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from ratoon.account.first_file import USUAL, Plates
from ratoon.settings.rounds import usual_reads

SURVEY = "[ThumbRules], seen: {} over the mills of a survey"
PRACTICE = "common practice, no source"
FIRST_EFFECT = 0.33  # of the evaporator's surface: it gives vapour to heaters and pans; practice
PRIMARY = 0.28  # of the heating surface of juice; practice
DIFFUSER_WATER, MORE_SURFACE = 3.0, 1.35  # on fibre; evaporator behind a diffuser: practice


@dataclass(frozen=True)
class Rule:
    """What there is for each t/h of cane, in the unit of the figure, and its uncertainty."""

    each: float
    sigma: float
    unit: str
    why: str


RULES = {
    "effects": Rule(38.6, 10.2, "m2", SURVEY.format("24.5 to 65.5 m2 for each t/h of cane")),
    "heaters": Rule(8.0, 2.2, "m2", SURVEY.format("4.3 to 13.1 m2 for each t/h of cane")),
    "clarifier.area": Rule(0.21, 0.06, "m2", SURVEY.format("0.20 to 0.22 m2, with trays to 0.42")),
    "clarifier.volume": Rule(1.14, 0.25, "m3", SURVEY.format("0.75 to 1.73 m3")),
    "filters.area": Rule(0.50, 0.12, "m2", "0.3 to 0.7 m2 for each t/h of cane; from memory"),
    "evaporator.condenser_water": Rule(5.32, 0.8, "t/h", PRACTICE),
    "pans.0.volume": Rule(0.83, 0.17, "m3", "26 % massecuite on cane, 4 h from drop to drop"),
    "pans.1.volume": Rule(0.44, 0.09, "m3", "11 % massecuite on cane, 5 h from drop to drop"),
    "pans.2.volume": Rule(0.41, 0.08, "m3", "7.5 % massecuite on cane, 7 h from drop to drop"),
    "crystalliser.volume": Rule(1.25, 0.3, "m3", "7.5 % massecuite on cane, 25 h"),
    "steam.back_pressure_power": Rule(0.018, 0.005, "MW", PRACTICE),
    "steam.condensing_power": Rule(0.0255, 0.008, "MW", PRACTICE),
}
"""For each t/h of cane, by key of the mill file, in its unit."""
FIXED = {
    "steam.live_pressure": (2500.0, 500.0, "kPa a"),
    "steam.live_temperature": (350.0, 20.0, "degC"),
    "prices.sugar": (500.0, 100.0, ""),
}
"""What does not follow the rate: usual value, uncertainty, unit; common practice."""


@dataclass(frozen=True)
class Beginning:
    """What somebody who begins says of a mill.

    Attributes
    ----------
    altitude [m]. rate [t/h]. mills : how many, behind a diffuser those that dewater. grades :
    letters of its massecuites, two or three. condensing : whether a set makes power in condensing.
    """

    name: str
    zone: str
    altitude: float = 0.0
    day_start: str = "06:00"
    season_start: date | None = None
    rate: float = 400.0
    mills: int = 5
    diffuser: bool = False
    effects: int = 5
    grades: str = "ABC"
    drives: str = "steam"
    condensing: bool = False


@dataclass(frozen=True)
class Taken:
    """A figure that was not stated: an address or a key of the mill file, and why it is that."""

    address: str
    value: float
    sigma: float
    unit: str
    why: str


def plates_of(b: Beginning) -> tuple[Plates, list[Taken]]:
    """The plates of a mill by rule, and all that was taken so."""
    taken: list[Taken] = []

    def size(key: str, rule: str = "", share: float = 1.0) -> float:
        r = RULES[rule or key]
        value = float(f"{share * r.each * b.rate:.3g}")
        said = f"{share * r.each:.3g} {r.unit} for each t/h of cane: {r.why}"
        taken.append(Taken(key, value, float(f"{share * r.sigma * b.rate:.3g}"), r.unit, said))
        return value

    def usual(key: str) -> float:
        value, sigma, unit = FIXED[key]
        taken.append(Taken(key, value, sigma, unit, PRACTICE))
        return value

    more = MORE_SURFACE if b.diffuser else 1.0
    rest = (1.0 - FIRST_EFFECT) / (b.effects - 1)
    shares = [more * (rest if k else FIRST_EFFECT) for k in range(b.effects)]
    areas = tuple(size(f"effects.{k}.area", "effects", x) for k, x in enumerate(shares, 1))
    heaters = {n: size(f"heaters.{n}.area", "heaters", x)
               for n, x in (("primary", PRIMARY), ("secondary", 1.0 - PRIMARY))}  # fmt: skip
    volumes = {"clarifier": size("clarifier.volume"), "crystalliser": size("crystalliser.volume")}
    if len(b.grades) == len("ABC"):  # the rule is of that scheme
        volumes |= {x: size(f"pans.{x}.volume", f"pans.{k}.volume")
                    for k, x in enumerate(b.grades)}  # fmt: skip
    power = {"power.back_pressure": size("steam.back_pressure_power")}
    if b.condensing:
        power["power.condensing"] = size("steam.condensing_power")
    made = Plates(
        name=b.name, zone=b.zone, season_start=b.season_start, rate=b.rate, mills=b.mills,
        effects=areas, heaters=heaters, massecuites=b.grades, drives=b.drives,
        live_pressure=usual("steam.live_pressure"),
        live_temperature=usual("steam.live_temperature"), sugar_price=usual("prices.sugar"),
        condenser_water=size("evaporator.condenser_water"),
        back_pressure=1.0, condensing=float(b.condensing),  # there is a set; its power follows
        settling=size("clarifier.area"), filtering=size("filters.area"), volumes=volumes,
        heated_by={"primary": 2, "secondary": 1, **dict.fromkeys(b.grades, 1), b.grades[-1]: 0},
        stocks=("juice", "liquor", *(f"{x}_massecuite" for x in b.grades),
                *(f"{x}_molasses" for x in b.grades[:-1]), "magma", "final_molasses", "sugar"),
        diffuser=b.diffuser, usual=power | _behind_a_diffuser(b),
        place={"altitude": b.altitude, "day_start": b.day_start,
               "shifts": _shifts(b.day_start)},
    )  # fmt: skip
    return made, taken


def reads_of(b: Beginning, readable: Iterable[str]) -> list[str]:
    """What an ordinary mill of this kind reads: of the mills' own juices the last.

    The last effect's brix is the liquor's.
    """
    left = {f"effect.{b.effects}.brix"}
    left |= {f"mill.{k}.juice.{x}" for k in range(1, b.mills) for x in ("brix", "purity")}
    return [a for a in usual_reads(readable) if a not in left]


def _behind_a_diffuser(b: Beginning) -> dict[str, float]:
    """What is usual there and not behind mills: common practice."""
    if not b.diffuser:
        return {}
    water = DIFFUSER_WATER * b.rate * USUAL["cane.fibre_laboratory"] / 100.0
    return {"imbibition.temperature": 70.0, "bagasse.temperature": 65.0, "imbibition.flow": water}


def _shifts(day_start: str) -> dict[str, str]:
    """Three shifts of eight hours from the start of the mill day."""
    hour, minute = int(day_start[:2]), day_start[2:]
    return {n: f"{(hour + 8 * k) % 24:02d}{minute}"
            for k, n in enumerate(("day", "afternoon", "night"))}  # fmt: skip


__all__ = ["Beginning", "Taken", "plates_of", "reads_of"]
