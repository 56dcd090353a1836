"""One case of a trial: a day's plant with changes, solved in a worker; numbers in, numbers out.

A worker reads the mill file once and holds what it describes; who asks names the file and its
digest, and sends nothing but numbers.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ratoon.account.money.earned import costs, earned, terms
from ratoon.base import units
from ratoon.base.errors import BadInput, NotSolved, UnknownName
from ratoon.jobs.mills import MILL_FILE, text_of
from ratoon.jobs.trial.changes import changed, check_within, limits
from ratoon.jobs.trial.levers import Piped, levers_of, pulled, rerouted, with_vessels
from ratoon.plant.flowsheet import CRUSHING
from ratoon.plant.laws import KNOWN
from ratoon.plant.plant import Plant
from ratoon.store.chain.digest import digest

if TYPE_CHECKING:
    from ratoon.account.mill import Mill

Numbers = Mapping[str, float]
BACK = (0.0, 0.02, 0.1, 0.3)
"""How far back from where a walk ended its settings are tried: shares of the way from the day."""


@lru_cache(maxsize=2)
def mill_in(folder: str, mark: str) -> Mill:
    """The mill of a folder as long as its file has a digest, held by the process that solves.

    Raises
    ------
    BadInput : the file has changed since the asker has read it.
    """
    from ratoon.account.mill import Mill
    from ratoon.settings.read import parse_settings

    text = text_of(Path(folder))
    if digest(text) != mark:
        raise BadInput("has just changed", where=MILL_FILE, todo="Ask again.")
    return Mill(parse_settings(text))


@lru_cache(maxsize=32)
def _before(mill: Mill, given: tuple[tuple[str, float], ...], state: Any) -> tuple[Any, Any, Any]:
    """The day itself: its solution, that in trade units, what stood at a limit. Not to change."""
    plant = mill.plant
    solved = plant.solve(dict(given), dict(state))
    return solved, _in_trade_units(plant, solved.values), limits(plant, solved)


def _money(plant: Plant, values: Numbers) -> float:
    """What a state earns over its crushing hours at the mill file's prices, net of cane."""
    roles, prices = plant.works.roles, plant.settings.prices
    net = (*terms(roles, prices), *costs(roles, plant.settings))
    return float(earned(net, values)) * values[CRUSHING]


@lru_cache(maxsize=4)
def _settable(mill: Mill) -> frozenset[str]:
    return frozenset(mill.plant.settable())


def warm_up(folder: str, mark: str) -> float:
    """Make the plant of a mill file and solve it once; gives the seconds that took."""
    begun = time.perf_counter()
    mill_in(folder, mark).plant.solve()
    return time.perf_counter() - begun


def solve_in(
    folder: str, mark: str, given: Numbers, state: Numbers, changes: Numbers
) -> dict[str, Any]:
    """The same as `solve_case` for the mill that a worker holds."""
    return solve_case(mill_in(folder, mark), given, state, changes)


def solve_case(mill: Mill, given: Numbers, state: Numbers, changes: Numbers) -> dict[str, Any]:
    """A day's plant before and after changes.

    Parameters
    ----------
    given, state : of the day's account, inside units.
    changes : address -> value in its trade unit; levers of `ratoon.jobs.trial.levers` too.

    Returns
    -------
    ``before`` and ``after``: every quantity in trade units; ``money_before``, ``money``: worth of
    the products in the day's crushing hours; ``limits``: what stands at a limit after the change;
    ``seconds``: how long the case took.

    Raises
    ------
    UnknownName, BadInput, NotSolved : an address that cannot be set, a value outside its limits,
        changes that have no answer together.
    """
    begun = time.perf_counter()
    plant = mill.plant
    can = _settable(mill)
    levers = pulled(plant, changes)
    plain = {a: v for a, v in changes.items() if a not in levers}
    for address, value in plain.items():
        if address not in can:
            raise UnknownName("address to set", address, [*plant.settable(), *levers_of(plant)])
        check_within(plant, address, value)
    # a day accounted by an older program has no figures for laws to go by: its trial's own are
    given = {KNOWN: 0.0, **{plant.set_point_of(a): v for a, v in given.items()}}
    before, told, stood = _before(mill, tuple(given.items()), tuple(state.items()))
    told_after, at_limit, money = told, stood, _money(plant, before.values)
    money_before = money
    if changes:
        piped = rerouted(mill, levers)
        works = piped.works
        wanted = piped.forth(with_vessels(plant, changed(plant, given, before, plain), levers))
        for address in plain:
            if piped.there(plant.set_point_of(address)) not in wanted:
                raise BadInput("is no part of the plant as this case pipes them", where=address,
                               todo="Leave one of the two out.")  # fmt: skip
        try:
            # a plant piped otherwise has no report on a main that nobody draws from
            after = works.solve(wanted, piped.forth(before.values))
        except NotSolved as error:
            raise _with_nearest(piped, before, wanted, plain, error) from None
        told_after = piped.back(_in_trade_units(works, after.values))
        at_limit = [{**one, "address": piped.own(one["address"])} for one in limits(works, after)]
        money = _money(works, after.values)
    return {
        "before": told,
        "after": told_after,
        "money_before": money_before,
        "money": money,
        "limits": at_limit,
        "limits_before": stood,
        "seconds": time.perf_counter() - begun,
    }


def _with_nearest(
    piped: Piped, before: Any, wanted: Numbers, changes: Numbers, why: NotSolved
) -> NotSolved:
    """The refusal with the settings nearest to those wanted at which the day's plant does hold.

    Where the walk ended, or a little back from there towards the day, is tried with all else as
    on the day; nothing is told that has not been solved.
    """
    plant, works, last = piped.plant, piped.works, getattr(why, "reached", None)
    points = [plant.set_point_of(a) for a in changes]
    if piped.numbers:
        why = NotSolved(piped.own(why.what), where=piped.own(why.where), value=why.value,
                        allowed=why.allowed, todo=why.todo)  # fmt: skip
    if last is None or not points:
        return why
    for back in BACK:
        settings = {}
        for point in points:
            here = before.given.get(point, before.values.get(point, 0.0))
            there = last.given.get(piped.there(point), here)
            settings[point] = here + (1.0 - back) * (there - here)
        try:
            works.equations.solve({**wanted, **piped.forth(settings)}, last.values)
        except NotSolved:
            continue
        found = []
        for address, point in zip(changes, points):
            unit = plant.addresses[address].unit
            found.append(
                f"{address} {units.from_inside(settings[point], unit):.4g} {unit}".rstrip()
            )
        return NotSolved(f"{why.what}; the nearest that holds: {', '.join(found)}",
                         where=why.where, value=why.value, allowed=why.allowed,
                         todo=why.todo)  # fmt: skip
    return why


def _in_trade_units(plant: Plant, values: Numbers) -> dict[str, float]:
    """Every quantity as people read it; what is read as a total, over the crushing hours."""
    system, wanted = plant.equations, {}
    for address, value in values.items():
        info = plant.addresses.get(address)
        if info is None or ".flow." in address:
            continue
        total = units.is_total_of(system.unit_of(address), info.unit)
        over = values[CRUSHING] if total else 1.0
        wanted[address] = float(units.from_inside(value * over, info.unit))
    return wanted
