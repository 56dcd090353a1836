"""A factory's juice end worked by hand, put through the plant's own stations.

Heaters, clarifier and filters are those of the plant. The case knows one Brix and no purity, takes
no non-sucrose out, inverts nothing, and sends all lime to the mud: the stations' closures are set
so. Two equations stand as the case has them, because it has them otherwise: its lime goes in as a
5 % slurry, and its flash is a latent heat on its specific heat times the fall to 100 degC. The
vapour of the secondary heater is the case's specific heat on its latent heat, and the station's
limed juice: by the station itself, whose specific heat rises with temperature and whose condensate
leaves cooler than its vapour, it is 1.9 % more. The primary heater's vapour is the station's own.
That it is the hand's to 0.06 % proves little, as two differences cancel there: the station's juice
takes up 0.60 % more heat, and each kg of its vapour, whose condensate leaves cooler, gives 0.66 %
more.
"""

from __future__ import annotations

import ast
import operator
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from ratoon.account.figures import formulas as account
from ratoon.base.errors import BadInput
from ratoon.checks.registry import choice, formula
from ratoon.equations import Eq, Equations, Var
from ratoon.plant.headers import Header
from ratoon.plant.stations.clarifier import Clarifier
from ratoon.plant.stations.filters import Filters
from ratoon.plant.stations.heaters import Heater
from ratoon.plant.streams import RAW_JUICE, Stream, put, read, stream_variables
from ratoon.properties import water

Q = float
CANE = 100.0  # t; every flow is per so much
TRACE = 1e-9  # what the case leaves out, where a stream of the plant carries it


@dataclass(frozen=True)
class Case:
    """The case: flows per 100 of cane, fractions, degC, J/kg."""

    mixed_juice: float
    brix: float
    insolubles: float
    lime: float
    slurry: float
    bagacillo: float
    bagacillo_dry: float
    cake_insolubles: float
    cake_brix: float
    cake_pol: float
    wash: float
    retention: float
    mud_insolubles: float
    temperatures: tuple[float, ...]
    boils: float
    specific_heat: float
    latent_flash: float
    latent_bleed: float

    @property
    def bleed_temperature(self) -> float:
        """Where saturated steam has the case's latent heat [degC]."""
        from scipy.optimize import brentq

        return float(brentq(lambda t: water.latent_heat(t) - self.latent_bleed, 90.0, 130.0))


def stations(case: Case) -> tuple[Heater, Clarifier, Heater, Filters]:
    """Heaters, clarifier and filters with the case's closures."""
    _, first, second = case.temperatures
    vapour = Header(1)
    return (
        Heater("primary", "mixed_juice", "mixed_juice.temperature", 1e3, vapour, 1e3, first, 0.0),
        Clarifier(case.lime / CANE, 1.0, 0.0, case.mud_insolubles, case.boils, 0.0,
                  flocculant_water=0.0),
        Heater("secondary", "limed_juice", "limed_juice.temperature", 1e3, vapour, 1e3, second,
               0.0),
        Filters("mill.1.bagasse", case.retention, 0.9, case.wash,
                1.0 - case.cake_insolubles - case.cake_brix, case.bagacillo_dry / CANE, first,
                purity_drop=0.0),
    )  # fmt: skip


def boundary(case: Case) -> dict[str, float]:
    """Mixed juice, and the bagasse of which bagacillo is taken."""
    # The purity at which a cake of this Brix and this pol is washed juice: the case names none.
    purity = case.cake_pol / case.cake_brix
    solids = case.insolubles * case.mixed_juice
    juice = case.mixed_juice - solids
    dry = case.brix * juice
    given: dict[str, float] = {}
    put(given, "mixed_juice", Stream(juice - dry, purity * dry, (1.0 - purity) * dry, 0.0, solids),
        RAW_JUICE)  # fmt: skip
    put(given, "cane", Stream(0.7 * CANE, 0.1 * CANE, 0.05 * CANE, 0.1 * CANE, 0.05 * CANE),
        RAW_JUICE)  # fmt: skip
    put(given, "mill.1.bagasse",
        Stream(case.bagacillo - case.bagacillo_dry, 0.0, 0.0, case.bagacillo_dry, 0.0),
        RAW_JUICE)  # fmt: skip
    given = {n: v if v > 1e-5 else TRACE for n, v in given.items()}
    cold, first, second = case.temperatures
    return given | {
        "mixed_juice.temperature": cold,
        "heater.primary.temperature": first,
        "limed_juice.temperature": first,
        "heater.secondary.temperature": second,
        "clear_juice.temperature": case.boils,
    }


@cache
def solve(case: Case) -> dict[str, float]:
    """Everything from mixed juice to clear juice and cake, flows per 100 of cane."""
    works = stations(case)
    given = boundary(case)
    start = dict(given)
    for station in works:
        station.start(start)

    def variables() -> Iterator[Var]:
        for name in ("mixed_juice", "cane", "mill.1.bagasse"):
            yield from stream_variables(name, name, RAW_JUICE)
        for name in ("mixed_juice.temperature", "effect.1.temperature",
                     "effect.1.vapour.temperature", "cane.temperature"):  # fmt: skip
            yield Var(name, "degC", start=case.boils)
        for station in works:
            for v in station.table():
                # The case gives the cake's pol and Brix, so washing is found.
                yield replace(v, kind="free") if v.name == "filter.washing" else v

    def equations(q: Mapping[str, Any]) -> Iterator[Eq]:
        for station in works:
            for equation in station.equations(q):
                if equation.name.startswith("flash: "):
                    limed = read(q, "limed_juice", RAW_JUICE).mass
                    fall = q["heater.secondary.temperature"] - case.boils
                    heat = q["flash.vapour.flow"] * case.latent_flash
                    yield Eq("flash", heat - limed * case.specific_heat * fall, 1e6)
                elif equation.name != "liming: heat" and equation.only != "solve":
                    yield equation

    def reports(q: Mapping[str, Any]) -> Iterator[Any]:
        for station in works:
            yield from station.reports(q)

    given |= {
        "lime.used": case.lime,
        "lime.water": case.slurry / case.lime - 1.0,
        "mud.insolubles": case.mud_insolubles,
        "undetermined.juice_end": 0.0,
        "cake.pol": case.cake_pol,
        "cake.moisture": 1.0 - case.cake_insolubles - case.cake_brix,
        "filter.wash_on_cake": case.wash,
        "effect.1.temperature": case.bleed_temperature,
        "effect.1.vapour.temperature": case.bleed_temperature,
        "cane.temperature": case.boils,
    }
    answer = Equations(variables(), equations, reports).solve(given, start)
    return dict(answer.values)


_OPERATIONS: dict[type, Callable[[float, float], float]] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv,
}  # fmt: skip


def _worked(text: str) -> float:
    """A number written as it was worked, with + - * / and brackets."""

    def value(node: ast.expr) -> float:
        if isinstance(node, ast.BinOp) and type(node.op) in _OPERATIONS:
            return _OPERATIONS[type(node.op)](value(node.left), value(node.right))
        if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
            return float(node.value)
        raise BadInput("not a number, nor one worked with + - * /", where="cp", value=text)

    try:
        return value(ast.parse(text, mode="eval").body)
    except SyntaxError:
        raise BadInput("not written as a sum is", where="cp", value=text) from None


@formula(
    "juice_end", "", MJ="", brix="Bx", insol_pct="%", CaO="", lime_slurry="", bagacillo="",
    bagacillo_dry="", cake_insol="%", cake_brix="%", cake_pol="%", wash_pct_cake="%",
    retention="fraction", mud_insol="%", heat="text", flash_to="degC", cp="text",
    latent_flash="kJ/kg", latent_bleed="kJ/kg", syrup="Bx", output="text",
)  # fmt: skip
def _juice_end(
    MJ: Q, brix: Q, insol_pct: Q, CaO: Q, lime_slurry: Q, bagacillo: Q, bagacillo_dry: Q,
    cake_insol: Q, cake_brix: Q, cake_pol: Q, wash_pct_cake: Q, retention: Q, mud_insol: Q,
    heat: str, flash_to: Q, cp: str, latent_flash: Q, latent_bleed: Q, syrup: Q, output: str,
) -> Q:  # fmt: skip
    """Heaters to filters per 100 of cane: net_solids, cake, mud, wash, filtrate, flash, clear, ...

    `heat` is the juice's temperatures, written 35->75->103; `cp` its specific heat [kJ/kg.K],
    written as it was worked: 4.187*(1-0.006*16). Further outputs: brix, pol_in_cake,
    syrup, evaporation, primary_vapour and secondary_vapour.
    """
    case = Case(
        MJ, brix, insol_pct, CaO, lime_slurry, bagacillo, bagacillo_dry, cake_insol, cake_brix,
        cake_pol, wash_pct_cake, retention, mud_insol, tuple(float(t) for t in heat.split("->")),
        flash_to, 1000.0 * _worked(cp), latent_flash, latent_bleed,
    )  # fmt: skip
    found = solve(case)
    limed, cake, mud, filtrate = (
        read(found, n, RAW_JUICE) for n in ("limed_juice", "cake", "mud", "filtrate")
    )
    clear = read(found, "clear_juice")
    rise = case.temperatures[2] - case.temperatures[1]
    evaporated = account.evaporation(clear.juice, clear.brix, syrup)
    answers = {
        "net_solids": cake.solids,
        "cake": cake.mass,
        "mud": mud.mass,
        "wash": found["filter.wash.flow"],
        "filtrate": filtrate.mass,
        "flash": found["flash.vapour.flow"],
        "clear": clear.mass,
        "brix": 100.0 * clear.brix,
        "pol_in_cake": cake.sucrose,
        "syrup": clear.juice - evaporated,
        "evaporation": evaporated,
        "primary_vapour": found["heater.primary.vapour.flow"],
        "secondary_vapour": limed.mass * case.specific_heat * rise / case.latent_bleed,
    }
    return float(choice("output", output, answers))
