"""Textbook evaporators, put through the mill's own evaporator station.

The station is the one of the plant: balances, heat taken and given, coefficients. A textbook only
changes what it says it changes: its boiling-point rise, its liquor enthalpy, no condensate flash,
no heat loss or one of each effect, two first effects side by side. Temperatures and coefficients
are given; areas, steam and vapours are found.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from ratoon.checks.registry import choice, formula
from ratoon.equations import Eq, Equations, Var
from ratoon.plant.headers import Header, Takes
from ratoon.plant.stations.effects import Effect
from ratoon.plant.stations.evaporator import Evaporator
from ratoon.plant.streams import Stream, put, read, stream_variables
from ratoon.properties import solution, water

Q = float
POUND, HOUR, FOOT2 = 0.45359237, 3600.0, 0.09290304
BTU_COEFFICIENT = 5.678263  # W/m2.K in one Btu/h.ft2.F
WATER_HEAT = 4186.8  # J/kg.K, 1 Btu/lb.F
BTU = 2326.0  # J/kg in one Btu/lb
BLED = "bled.flow"
AREA = 100.0  # m2 of the station's vessels; areas found are multiples of it
THROTTLE = "evaporator: steam valve throttles or brix falls short"


@dataclass(frozen=True)
class Case:
    """A textbook evaporator: feed [kg/s], fractions, degC, coefficients [W/m2.K].

    `losses` are of the heat given to each effect. `bled` [kg/s], where it is not zero, says that
    the second effect is a first one too: on live steam beside the first, sharing its juice, its
    vapour all bled.
    """

    feed: float
    solids_in: float
    solids_out: float
    feed_temperature: float
    steam_temperature: float
    last_vapour: float
    coefficients: tuple[float, ...]
    elevation: Callable[[Any, Any, Any], Any]
    liquor_enthalpy: Callable[[Stream, Any], Any]
    superheat: float = 0.0
    backward: bool = False
    vapours: tuple[float, ...] = ()  # vapour temperatures before the last; () means equal areas
    latent_heats: tuple[float, ...] = ()  # of steam and vapours as the book has them [J/kg]
    losses: tuple[float, ...] = ()
    bled: float = 0.0


def station(case: Case) -> Evaporator:
    """The plant's evaporator station with the textbook's physics."""
    table = _book_table(case) if case.latent_heats else {}
    effects = [Effect(AREA, u, 0.0) for u in case.coefficients]
    bleeds = {}
    if case.bled:
        effects[1] = replace(effects[1], heating=0, beside=True)
        effects[2] = replace(effects[2], heating=1)
        bleeds = {Header(2): (Takes(Header(2), BLED, "bled"),)}
    return Evaporator(
        **table,
        effects=tuple(effects),
        bleeds=bleeds,
        liquor_brix=case.solids_out,
        last_vapour_temperature=case.last_vapour,
        line_drop=0.0,
        loss=0.0,
        entrainment=0.0,
        backward=case.backward,
        elevation=case.elevation,
        liquor_enthalpy=case.liquor_enthalpy,
        superheat=case.superheat,
        flash=False,
    )


def _book_table(case: Case) -> dict[str, Any]:
    """A book's own steam table: water of 1 Btu/lb.F, its latent heats at its temperatures."""
    temperatures = tuple(dict.fromkeys((*case.vapours, case.last_vapour)))
    live, *heats = case.latent_heats

    def vapour(temperature: Any) -> Any:
        latent = sum(
            heat
            * math.prod(
                (temperature - other) / (here - other) for other in temperatures if other != here
            )
            for here, heat in zip(temperatures, heats, strict=True)
        )
        return WATER_HEAT * temperature + latent

    return {
        "saturated_vapour": vapour,
        "condensate": lambda temperature: WATER_HEAT * temperature,
        "live_steam": lambda pressure, temperature: WATER_HEAT * temperature + live,
    }


def begin(case: Case) -> dict[str, float]:
    """Feed, steam and the station's own hand calculation: equal vapours."""
    pure = 0.999  # the station keeps sucrose and non-sucrose apart; textbooks know solids only
    dry = case.feed * case.solids_in
    start = {
        "exhaust.pressure": float(water.saturation_pressure(case.steam_temperature)),
        "exhaust.temperature": case.steam_temperature,
        "clear_juice.temperature": case.feed_temperature,
        "hours.evaporator": 1.0,
        "hours.crushing": 1.0,
        **({BLED: case.bled} if case.bled else {}),
    }
    put(start, "clear_juice", Stream(case.feed - dry, pure * dry, (1.0 - pure) * dry))
    evaporator = station(case)
    start |= {v.name: v.start for v in evaporator.table() if v.kind == "assumed"}
    evaporator.start(start)
    return start


def solve(case: Case) -> dict[str, float]:
    """The whole evaporator: every quantity of the station, and `area.1` ... in m2."""
    evaporator, start = station(case), begin(case)
    given = {name: start[name] for name in _boundary(start)}
    count = evaporator.count
    given |= {
        "undetermined.evaporators": 0.0,
        "effect.1.chest.temperature": case.steam_temperature,
        f"effect.{count}.vapour.temperature": case.last_vapour,
        "liquor.brix": case.solids_out,
    }
    given |= {f"effect.{i}.vapour.temperature": t for i, t in enumerate(case.vapours, 1)}
    given |= {f"effect.{i}.heat_loss": loss for i, loss in enumerate(case.losses, 1)}
    if case.bled:
        given[BLED] = case.bled
    answer = _equations(case).solve(given, start).values
    areas = {
        f"area.{i}": AREA * answer[f"effect.{i}.htc"] / u
        for i, u in enumerate(case.coefficients, 1)
    }
    return {**answer, **areas}


def _boundary(start: Mapping[str, float]) -> list[str]:
    return [name for name in start if name.startswith(("exhaust.", "clear_juice.", "hours."))]


def _equations(case: Case) -> Equations:
    evaporator = station(case)

    def variables() -> Iterator[Var]:
        # the station's limits are a mill's; a textbook's coefficients on our area may pass them
        for v in evaporator.table():
            yield replace(v, high=1e6) if v.name.endswith((".htc", ".htc_set")) else v
        yield from stream_variables("clear_juice", "feed")
        for name, scale in (("exhaust.pressure", 1e5), ("exhaust.temperature", 100.0),
                            ("clear_juice.temperature", 50.0), ("hours.evaporator", 1.0),
                            ("hours.crushing", 1.0)):  # fmt: skip
            yield Var(name, scale=scale, start=scale)
        yield Var("equal_area", low=1e-3, high=1e3, start=1.0)
        if case.bled:
            yield Var(BLED, "kg/s")

    def equations(q: Mapping[str, Any]) -> Iterator[Eq]:
        for equation in evaporator.equations(q):
            if equation.name != THROTTLE:  # the book gives steam and product, so nothing throttles
                yield equation
        if not case.vapours:
            for i, u in enumerate(case.coefficients, 1):
                yield Eq(f"equal area {i}", q[f"effect.{i}.htc"] - u * q["equal_area"], u)

    return Equations(variables(), equations, evaporator.reports)


# ---- the books ---------------------------------------------------------------------------


def _no_rise(brix: Any, purity: Any, saturated: Any) -> Any:
    return 0.0


def _water_like(stream: Stream, temperature: Any) -> Any:
    """Specific heat of the liquor 1 Btu/lb.F."""
    return stream.juice * WATER_HEAT * temperature


def _geankoplis_enthalpy(stream: Stream, temperature: Any) -> Any:
    heat = solution.specific_heat(stream.brix, 1.0, temperature, "Geankoplis")
    return stream.juice * heat * temperature


def _geankoplis_rise(brix: Any, purity: Any, saturated: Any) -> Any:
    return solution.boiling_point_elevation(brix, 1.0, saturated, "Geankoplis")


@cache
def _solved(case: Case) -> dict[str, float]:
    return solve(case)


def _geankoplis(
    feed: Q, x_in: Q, x_out: Q, t_feed: Q, t_steam: Q, t_last: Q, *coefficients: Q
) -> Case:
    return Case(feed, x_in, x_out, t_feed, t_steam, t_last, coefficients, _geankoplis_rise,
                _geankoplis_enthalpy, superheat=1884.0)  # fmt: skip


_GEANKOPLIS = {
    "feed": "kg/h", "x_in": "fraction", "x_out": "fraction", "t_feed": "degC", "t_steam": "degC",
    "t_sat3": "degC", "U1": "W/m2.K", "U2": "W/m2.K", "U3": "W/m2.K", "output": "text",
}  # fmt: skip


@formula("triple_effect", "", **_GEANKOPLIS)
def _triple(
    feed: Q, x_in: Q, x_out: Q, t_feed: Q, t_steam: Q, t_sat3: Q, U1: Q, U2: Q, U3: Q,
    output: str,
) -> Q:  # fmt: skip
    """Forward triple effect of equal areas, solved: steam, area, economy, liquor.1, rise.2 ..."""
    a = _solved(_geankoplis(feed, x_in, x_out, t_feed, t_steam, t_sat3, U1, U2, U3))
    steam = a["evaporator.steam.flow"]
    latent = float(water.latent_heat(t_steam))
    answers = {
        "steam": steam * HOUR,
        "area": a["area.1"],
        "economy": sum(a[f"effect.{i}.vapour.flow"] for i in (1, 2, 3)) / steam,
        "evaporation": sum(a[f"effect.{i}.vapour.flow"] for i in (1, 2, 3)) * HOUR,
        "latent": latent / 1e3,
    }
    for i in (1, 2, 3):
        n = f"effect.{i}"
        answers |= {
            f"liquor.{i}": read(a, f"{n}.juice").juice * HOUR,
            f"vapour.{i}": a[f"{n}.vapour.flow"] * HOUR,
            f"temperature.{i}": a[f"{n}.temperature"],
            f"chest.{i}": a[f"{n}.chest.temperature"],
            f"solids.{i}": read(a, f"{n}.juice").brix,
            f"rise.{i}": a[f"{n}.temperature"] - a[f"{n}.vapour.temperature"],
            f"duty.{i}": a[f"{n}.heat"] / 1e3,
        }
    return float(choice("output", output, answers))


@formula("triple_effect_first_pass", "", **_GEANKOPLIS)
def _first_pass(
    feed: Q, x_in: Q, x_out: Q, t_feed: Q, t_steam: Q, t_sat3: Q, U1: Q, U2: Q, U3: Q,
    output: str,
) -> Q:  # fmt: skip
    """The station's hand calculation (equal vapours) before it is solved: vapour, solids, rise."""
    case = _geankoplis(feed, x_in, x_out, t_feed, t_steam, t_sat3, U1, U2, U3)
    s = begin(case)
    answers = {"vapour.1": s["effect.1.vapour.flow"] * HOUR}
    for i in (1, 2, 3):
        solids = read(s, f"effect.{i}.juice").brix
        answers |= {f"solids.{i}": solids, f"rise.{i}": case.elevation(solids, 1.0, t_sat3)}
    return float(choice("output", output, answers))


_KERN = {
    "feed": "lb/h", "x_in": "fraction", "x_out": "fraction", "t_feed": "degF", "t_steam": "degF",
    "t_cond": "degF", "lam0": "Btu/lb", "lam1": "Btu/lb", "lam2": "Btu/lb", "lam3": "Btu/lb",
    "t1": "degF", "t2": "degF", "U1": "Btu/h.ft2.F", "U2": "Btu/h.ft2.F", "U3": "Btu/h.ft2.F",
    "output": "text", "feed_order": "text", "loss1": "%", "loss2": "%", "loss3": "%",
    "bled": "lb/h",
}  # fmt: skip


@formula("triple_effect_given_temperatures", "", **_KERN)
def _kern(
    feed: Q, x_in: Q, x_out: Q, t_feed: Q, t_steam: Q, t_cond: Q, lam0: Q, lam1: Q, lam2: Q,
    lam3: Q, t1: Q, t2: Q, U1: Q, U2: Q, U3: Q, output: str, feed_order: str = "forward",
    loss1: Q = 0.0, loss2: Q = 0.0, loss3: Q = 0.0, bled: Q = 0.0,
) -> Q:  # fmt: skip
    """Triple effect with temperatures and latent heats given, liquor like water; lb/h, ft2.

    `bled` is the vapour of a second first effect beside the first, at its temperature, that shares
    its juice and heats something else: outputs vapour.beside, steam.beside and area.beside.
    """
    choice("feed order", feed_order, {"forward": 0, "backward": 0})
    names = ("1", "beside", "2", "3") if bled else ("1", "2", "3")
    first = 1 + bool(bled)
    case = Case(
        feed * POUND / HOUR,
        x_in,
        x_out,
        _celsius(t_feed),
        _celsius(t_steam),
        _celsius(t_cond),
        coefficients=tuple(u * BTU_COEFFICIENT for u in (*[U1] * first, U2, U3)),
        elevation=_no_rise,
        liquor_enthalpy=_water_like,
        backward=feed_order == "backward",
        vapours=(*[_celsius(t1)] * first, _celsius(t2)),
        latent_heats=tuple(BTU * heat for heat in (lam0, lam1, lam2, lam3)),
        losses=(*[loss1] * first, loss2, loss3),
        bled=bled * POUND / HOUR,
    )
    answer = _solved(case)
    flows = {"steam": answer["evaporator.steam.flow"]}
    if bled:
        flows["steam.beside"] = answer["effect.2.steam.flow"]
    steam = sum(flows.values())
    vapours = {f"vapour.{n}": answer[f"effect.{i}.vapour.flow"] for i, n in enumerate(names, 1)}
    answers = {name: x * HOUR / POUND for name, x in {**flows, **vapours}.items()}
    answers |= {f"area.{n}": answer[f"area.{i}"] / FOOT2 for i, n in enumerate(names, 1)}
    answers["economy"] = sum(vapours.values()) / steam
    return float(choice("output", output, answers))


def _celsius(fahrenheit: Q) -> Q:
    return (fahrenheit - 32.0) / 1.8


@formula("single_effect", "", feed_kg_s="kg/s", x_in="fraction", x_out="fraction", t_feed_K="K abs",
         p_steam="kPa a", p_vap="kPa a", cp_in="kJ/kg.K", cp_out="kJ/kg.K", U="kW/m2.K",
         output="text")  # fmt: skip
def _single(
    feed_kg_s: Q, x_in: Q, x_out: Q, t_feed_K: Q, p_steam: Q, p_vap: Q, cp_in: Q, cp_out: Q,
    U: Q, output: str,
) -> Q:  # fmt: skip
    """Single effect without boiling-point rise: steam [kg/s] or area [m2]."""

    def enthalpy(stream: Stream, temperature: Any) -> Any:
        heat = cp_in + (cp_out - cp_in) * (stream.brix - x_in) / (x_out - x_in)
        return stream.juice * heat * temperature

    steam, vapour = (float(water.saturation_temperature(p)) for p in (p_steam, p_vap))
    case = Case(feed_kg_s, x_in, x_out, t_feed_K - 273.15, steam, vapour, (U,), _no_rise, enthalpy)
    answer = solve(case)
    answers = {"steam": answer["evaporator.steam.flow"], "area": answer["area.1"]}
    return float(choice("output", output, answers))


@formula("condenser_water", "gpm", vapour_lb_h="lb/h", latent="Btu/lb", t_in_F="degF",
         t_out_F="degF")  # fmt: skip
def _condenser(vapour_lb_h: Q, latent: Q, t_in_F: Q, t_out_F: Q) -> Q:
    """Condenser water, gallons a minute, one lb/h over 500."""
    return vapour_lb_h * latent / (t_out_F - t_in_F) / 500.0


@formula("bleed_shortcut", "", evaporation="", B1="", B2="", effects="", output="text")
def _shortcut(evaporation: Q, B1: Q, B2: Q, effects: Q, output: str) -> Q:
    """Vapours by the hand calculation with which the station starts: steam, last, economy.

    No flash, every effect's vapour the same but for bleeds from the first two.
    """
    count = int(effects)
    bleeds = {Header(i): (Takes(Header(i), f"B{i}", "bleed"),) for i in (1, 2)}
    set_ = Evaporator((Effect(AREA, 1e3, 0.0),) * count, bleeds=bleeds)
    start: dict[str, float] = {"B1": B1, "B2": B2, "exhaust.pressure": 2e5}
    thin = 0.15  # any brix: the feed is so large that the evaporation is as asked
    feed = evaporation / (1.0 - thin / set_.liquor_brix)
    put(start, set_.feed, Stream((1.0 - thin) * feed, 0.9 * thin * feed, 0.1 * thin * feed))
    set_.start(start)
    steam = start["effect.1.vapour.flow"]
    answers = {"steam": steam, "last": start[f"effect.{count}.vapour.flow"],
               "economy": evaporation / steam}  # fmt: skip
    return float(choice("output", output, answers))
