"""A mill and its days: every station in turn, stocks remembered, and what is true of each day."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from true_mill.constants import Constants, Wander, draw_mill
from true_mill.evaporators import Evaporated, evaporate, steam_for
from true_mill.juice import Clarified, clarify
from true_mill.milling import Milled, crush, first_juice
from true_mill.pans import Boiled, Strikes, SugarEnd, Tank
from true_mill.plate import DENSITY, STOCKS, People, Plate, draw_plate
from true_mill.properties import (
    F,
    Stream,
    X,
    all_sucrose,
    boils_at,
    exhaust,
    heat,
    liquid,
    mass,
    stream,
    vapour,
)  # fmt: skip
from true_mill.steam import Steam, steam

BLOCKS = 6
SETTLE = 20  # days until stocks know nothing of where they began
LIVELY = 0.06  # how far people let a tank depart from its usual level
FEEDS = {"liquor": 67.0, "A_molasses": 67.0, "B_molasses": 66.0, "magma": 57.0}  # degC


@dataclass
class Day:
    """One true day; flows in t a day."""

    hours: float
    at: dict[str, float]
    constants: Constants
    cane: Stream
    water: float
    first: tuple[float, float]
    milled: Milled
    mixed: Stream
    clarified: Clarified
    heater_vapour: dict[str, float]
    effects: Evaporated
    htc: list[float]
    ends: dict[str, Boiled]
    whole: Strikes
    pan_steam: dict[str, float]
    steam: Steam
    opening: dict[str, Stream]
    closing: dict[str, Stream]


class Mill:
    """A drawn mill; `day` gives its next day."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.plate: Plate = draw_plate(rng)
        self.mean = draw_mill(rng, self.plate.mills, self.plate.effects)
        own = 0.8**0.5 * 0.015 * rng.standard_normal(self.plate.mills - 1)
        self.contents = tuple(float(x) for x in self.plate.contents + own)
        self.wander, self.people = Wander(rng), People(rng, self.plate.usual)
        self.levels = dict.fromkeys(self.plate.tanks, 0.0)
        self.density = {k: v * (1.0 + 0.008 * rng.standard_normal()) for k, v in DENSITY.items()}
        tanks = {k: Tank(_begin(k) * 0.001 * v * DENSITY[k], 0.001 * v * DENSITY[k])
                 for k, v in self.plate.tanks.items()}  # fmt: skip
        self.juice = tanks.pop("juice")
        self.end = SugarEnd(self.plate.letters, tanks)
        self._lay_out()

    def _lay_out(self) -> None:
        """Settle the stocks, then size effects, heaters and the back-pressure set."""
        p, at, c = self.plate, dict(self.plate.usual), self.mean
        cane, water = self._cane(at, 22.0)
        milled = crush(cane, water, at["last_fibre"], self.contents, c, at)
        at["mixed"] = milled.temperature
        clear = clarify(milled.mixed, milled.bagasse[-1], cane, at, c)
        chests = p.chests
        bleeds = [0.11 * mass(cane), 0.05 * mass(cane), *[0.0] * (p.effects - 2)]
        lay = evaporate(clear.clear, at["clear"], at["liquor_brix"], bleeds, [1.0] * p.effects,
                        at["last_vapour"], (at["exhaust.pressure"], at["exhaust.temperature"]),
                        0.0, c, chests)  # fmt: skip
        for _ in range(SETTLE):
            ends, _ = self._boil(lay.liquor, 0.0, at, c)
        heaters = self._heater_vapour(clear, lay.saturated, c)
        taken = self._pan_steam(ends, lay, at, c)
        for _ in range(3):
            bleeds[0] = heaters["secondary"] + sum(v for x, v in taken.items() if x != "C")
            bleeds[1] = heaters["primary"]
            lay = evaporate(clear.clear, at["clear"], at["liquor_brix"], bleeds,
                            [1.0] * p.effects, at["last_vapour"],
                            (at["exhaust.pressure"], at["exhaust.temperature"]), 0.0, c,
                            chests)  # fmt: skip
            taken = self._pan_steam(ends, lay, at, c)
        seconds = 22.0 * 3600.0
        p.areas = tuple(float(np.round(q / (1000.0 * 0.92 * u * (a - b) * seconds), -1))
                        for q, u, a, b in zip(lay.heats, p.htc, lay.chests, lay.boils))  # fmt: skip
        p.heaters = tuple(
            float(np.round(1.25 * clear.duty[n] / (seconds * 700.0 * _mean(lay.saturated[v] - 0.5,
                  t, at[n])), -1))
            for n, v, t in (("primary", 1, at["mixed"]), ("secondary", 0, clear.limed_temperature))
        )  # fmt: skip
        process = lay.steam + taken["C"]
        drives = 0.0
        if not p.electric:
            drives = milled.work / c["gear"] / (1000.0 * c["drives"] * p.drop)
        back = max(0.90 * process - drives, 0.15 * process) / seconds * 1000.0
        p.back_pressure = float(np.round(back * 0.71 * p.drop, -5))

    def _cane(self, at: dict[str, float], hours: float) -> tuple[Stream, float]:
        """Cane and imbibition of a day."""
        whole = self.plate.rate * at.get("pace", 1.0) * hours
        soil = at.get("soil", self.mean["soil"])
        pol = at["brix"] * at["purity"]
        cane = whole * stream(1.0 - at["fibre"] - at["brix"], pol, at["brix"] - pol,
                              at["fibre"] - soil, soil)  # fmt: skip
        return cane, at["imbibition_on_fibre"] * at["fibre"] * whole

    def day(self) -> Day:
        """The next day."""
        rng, p = self.rng, self.plate
        c, at = self.wander.day(self.mean), self.people.day()
        hours = float(rng.uniform(19.5, 23.7))
        at["pace"], at["soil"] = 1.0 + 0.03 * float(rng.standard_normal()), c["soil"]
        at["hours"], at["condensing"] = hours, p.condensing * float(rng.uniform(0.9, 1.1))
        at["back_pressure"] = p.back_pressure * float(rng.uniform(0.95, 1.03))
        opening = self._held()
        cane, water = self._cane(at, hours)
        contents = tuple(x + 0.2**0.5 * 0.015 * float(rng.standard_normal())
                         for x in self.contents)  # fmt: skip
        milled = crush(cane, water, at["last_fibre"], contents, c, at)
        at["mixed"] = milled.temperature
        self._set_levels()
        mixed = self.juice.pass_on(milled.mixed)
        clear = clarify(mixed, milled.bagasse[-1], cane, at, c)
        main = (at["exhaust.pressure"], at["exhaust.temperature"])
        htc = [float(u) * float(rng.uniform(0.85, 1.0)) for u in p.htc]
        flows = [1000.0 * u * a * hours * 3600.0 for u, a in zip(htc, p.areas)]
        unseen = c["unseen.evaporators"] * float(cane[1])
        sat = [107.0, 99.0, *[0.0] * (p.effects - 2)]
        rest, ends, whole, taken = [0.0] * p.effects, {}, None, {"C": 0.0}
        for turn in range(5):
            warmest = sat[0] - c["effect.drop"] - 2.5
            if turn == 1 and at["secondary"] > warmest:  # its vapour lifts the juice no further
                at["secondary"] = warmest
                clear = clarify(mixed, milled.bagasse[-1], cane, at, c)
            vapours = self._heater_vapour(clear, sat, c)
            pans = sum(v for x, v in taken.items() if x != "C") if turn else 0.1 * mass(cane)
            rest = [pans + vapours["secondary"], vapours["primary"], *[0.0] * (p.effects - 2)]
            effects = evaporate(clear.clear, at["clear"], at["liquor_brix"], rest, flows,
                                at["last_vapour"], main, unseen, c)  # fmt: skip
            if whole is None:
                lost = c["unseen.pans"] * float(cane[1])
                ends, whole = self._boil(effects.liquor, lost, at, c)
            taken, sat = self._pan_steam(ends, effects, at, c), effects.saturated
        made = steam(effects.steam + taken["C"], milled.work, cane, milled.bagasse[-1],
                     clear.bagacillo, p.as_steam(), at, c)  # fmt: skip
        assert whole is not None
        return Day(hours, at, c, cane, water, first_juice(cane, c), milled, mixed, clear, vapours,
                   effects, htc, ends, whole, taken, made, opening, self._held())  # fmt: skip

    @staticmethod
    def _heater_vapour(clear: Clarified, sat: list[float], c: Constants) -> dict[str, float]:
        """Vapour of the first effects to the heaters [t a day]."""
        duty = clear.duty
        return {"primary": steam_for(duty["primary"], sat[1], c),
                "secondary": steam_for(duty["secondary"], sat[0], c)}  # fmt: skip

    def _held(self) -> dict[str, Stream]:
        held = {"juice": self.juice.holds.copy()}
        return held | {k: t.holds.copy() for k, t in self.end.tanks.items()}

    def _set_levels(self) -> None:
        """People let each tank be a little fuller or emptier than usual."""
        for k, tank in (("juice", self.juice), *self.end.tanks.items()):
            self.levels[k] = 0.8 * self.levels[k] + 0.6 * float(self.rng.standard_normal())
            usual = 0.001 * self.plate.tanks[k] * DENSITY[k]
            tank.keeps = usual * max(1.0 + LIVELY * self.levels[k], 0.6)

    def _boil(self, liquor: Stream, unseen: float, at: dict[str, float],
              c: Constants) -> tuple[dict[str, Boiled], Strikes]:  # fmt: skip
        """A day of the sugar end in blocks, and its sum."""
        steps = []
        for _ in range(BLOCKS):
            if at is not self.plate.usual and "hours" in at:
                self._set_levels_of_block()
            steps.append(self.end.step(liquor / BLOCKS, 24.0 / BLOCKS, unseen / BLOCKS, at, c))
        ends = {x: _sum([s.grades[x] for s in steps]) for x in self.plate.letters}
        return ends, _sum(steps)

    def _set_levels_of_block(self) -> None:
        for k, tank in self.end.tanks.items():
            usual = 0.001 * self.plate.tanks[k] * DENSITY[k]
            moved = 0.02 * usual * float(self.rng.standard_normal())
            tank.keeps = min(max(tank.keeps + moved, 0.6 * usual), 1.5 * usual)

    def _pan_steam(self, ends: dict[str, Boiled], effects: Evaporated, at: dict[str, float],
                   c: Constants) -> dict[str, float]:  # fmt: skip
        """Vapour or exhaust that each grade takes [t a day]; the last boils on exhaust."""
        taken = {}
        for x, end in ends.items():
            comes = sum(heat(f, FEEDS[k]) for k, f in end.feed.items())
            comes += 1000.0 * end.water * liquid(c["water.temperature"])
            cold = at[f"vapour.{x}"]
            off = 1000.0 * (vapour(cold) + 1900.0 * (end.temperature - cold))
            duty = heat(end.made, end.temperature) + end.evaporated * off - comes
            if x == "C":
                p, t = at["exhaust.pressure"], at["exhaust.temperature"]
                gives = exhaust(p, t) - liquid(boils_at(p) - c["effect.drop"])
            else:
                v = effects.saturated[0]
                rise = effects.boils[0] - v
                gives = vapour(v) + 1900.0 * rise - liquid(v - c["effect.drop"])
            taken[x] = c["pan.heat"] * duty / (1000.0 * gives)
        return taken


def _mean(steam_at: float, cold: float, warm: float) -> float:
    """Logarithmic mean of the temperature difference."""
    a, b = steam_at - cold, max(steam_at - warm, 1.0)
    return (a - b) / float(np.log(a / b))


def _begin(name: str) -> Stream:
    """A tonne of what a tank holds when a mill begins, in kg by component."""
    solid, pure, crystal = {
        "juice": (0.16, 0.87, 0.0), "liquor": (0.67, 0.87, 0.0), "A_massecuite": (0.91, 0.87, 0.5),
        "B_massecuite": (0.91, 0.76, 0.43), "C_massecuite": (0.905, 0.635, 0.3),
        "A_molasses": (0.725, 0.70, 0.0), "B_molasses": (0.73, 0.56, 0.0),
        "magma": (0.885, 0.84, 0.0),
    }[name]  # fmt: skip
    sucrose = solid * pure
    return stream(1.0 - solid, sucrose - crystal, solid - sucrose, 0.0, 0.0, crystal)


def _sum(parts: list) -> object:  # type: ignore[type-arg]
    """Flows added; temperatures and purities as means over the time."""
    first = parts[0]
    if isinstance(first, float):
        return float(np.sum(parts))
    if isinstance(first, np.ndarray):
        return np.sum(parts, axis=0)
    if isinstance(first, dict):
        return {k: _sum([p[k] for p in parts]) for k in first}
    found = {}
    for name in first.__dataclass_fields__:
        values = [getattr(p, name) for p in parts]
        mean = name in ("temperature", "mother", "cooled_mother")
        found[name] = float(np.mean(values)) if mean else _sum(values)
    return type(first)(**found)


__all__ = ["STOCKS", "Day", "F", "Mill", "X", "all_sucrose"]
