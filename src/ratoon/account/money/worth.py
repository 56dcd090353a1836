"""What a day's cane would give in the plant as the mill file sets it, and what one unit is worth.

Both come out of the plant's own equations: the benchmark is one solve with the day's cane, rate and
imbibition; a worth is how the money earned an hour moves when a lever of the day's own plant is
moved a little, divided by how the figure moves with it. Nothing is read off a table. A lever that
the day's plant does not follow - liquor no thicker though it is asked for - is worth nothing there.
"""

from __future__ import annotations

from ratoon.account.money.earned import earned, terms
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.given import from_account
from ratoon.account.results.worth import Benchmark, TargetWorth, UnitWorth, Worth
from ratoon.base import units
from ratoon.base.errors import RatoonError
from ratoon.equations import Solution
from ratoon.plant.declared import Lever
from ratoon.plant.roles import Roles

CANE = ("rate", "fibre_laboratory", "insolubles", "brix", "pol")
COMPARED = ("extraction", "boiling_house_recovery", "overall_recovery", "molasses_purity",
            "bagasse_pol", "process_steam_on_cane")  # fmt: skip
FOLLOWS = 0.5
"""Share of a move of a set point that its figure must follow: where it is less, a limit holds."""
LOST = ("bagasse", "mud", "molasses", "known")


def levers(account: PeriodAccount) -> list[Lever]:
    """The levers that this mill's plant has."""
    plant = account.mill.plant
    every = (lever for station in plant.works.stations for lever in station.levers())
    return [x for x in every if x.moved in plant.equations.addresses
            and x.figure in account.mill.addresses]  # fmt: skip


def given_by_the_day(roles: Roles) -> tuple[list[str], list[str]]:
    """What a benchmark takes from the day: of its cane, and of the imbibition."""
    cane = roles.material("cane").stem
    return [f"{cane}.{part}" for part in CANE], list(roles.named("imbibition on fibre"))


def benchmark(account: PeriodAccount) -> Solution | str:
    """The plant as the mill file sets it, fed with the period's cane; or why there is none."""
    answer = account.answer
    if answer is None:
        return "no cane was crushed"
    cane, more = given_by_the_day(account.mill.roles)
    missing = [a for a in cane if not answer.determined(a)]
    if missing:
        name = account.mill.addresses[missing[0]].name
        return f"{name} is not determined"
    given = {a: answer.value(a) for a in (*cane, *more) if answer.determined(a)}
    try:
        return account.mill.plant.solve(given, account.mill.plant.start)
    except RatoonError as error:
        return f"the plant does not solve with this cane: {error}"


def worth_part(account: PeriodAccount, own: Solution | str | None = None) -> Worth:
    """Benchmark and worths.

    Parameters
    ----------
    own : what `own_works` gives, where it is at hand.

    Returns
    -------
    Figures and losses (% of pol in cane) of the plant as set, with the day's own beside them; what
    one unit of each figure earns over the period's crushing hours; how they were found, or why not.
    """
    base, own = benchmark(account), own_works(account) if own is None else own
    if isinstance(base, str) or isinstance(own, str):
        why = base if isinstance(base, str) else own
        return Worth({}, (), None, f"not worked out: {why}")
    hours = account.gathered.crushing / 3600.0
    sold = terms(account.mill.roles, account.mill.settings.prices)
    return Worth(
        benchmark=_compared(account, base),
        units=tuple(
            u for lever in levers(account) if (u := unit_worth(account, own, lever, hours))
        ),
        hour=earned(sold, own.values) * 3600.0,
        words="the plant as mill.toml sets it, with this day's cane, rate and imbibition",
        priced_by="this day's own plant, as the account found them, with stocks standing still",
    )


def target_worth(account: PeriodAccount, worth: Worth) -> dict[str, TargetWorth]:
    """What missing each target cost over the period, for figures whose unit has a worth.

    Positive is lost. The uncertainty is that of the figure; the slope itself is the plant's own.
    Molasses are priced down to the purity that their reducing sugars and ash let expect, and no
    further: below it there is no money, and the words say why.
    """
    found = {}
    for one in worth.units:
        target = account.mill.settings.targets.get(one.address)
        figure = account.figure(one.address)
        if target is None or figure.value is None or figure.sigma is None:
            continue
        words = f"by {one.how}, priced by the plant's own equations"
        if one.address == "account.molasses_purity":
            expected = account.figure("account.target_purity").value
            if expected is not None and expected > target:
                if figure.value <= expected:
                    words = f"no worse than the expected purity of {expected:.1f}"
                    found[one.address] = TargetWorth(None, None, words)
                    continue
                target, words = expected, f"{words}, down to the expected purity of {expected:.1f}"
        slope = one.money / one.step
        found[one.address] = TargetWorth(slope * (target - figure.value),
                                         abs(slope) * figure.sigma, words)  # fmt: skip
    return found


def own_works(account: PeriodAccount) -> Solution | str:
    """The plant as the account found it, solved with stocks that stand still, as in a trial."""
    answer, plant = account.answer, account.mill.plant
    if answer is None:
        return "no cane was crushed"
    try:
        return plant.solve(from_account(plant, answer, account.gathered.constants), answer.state)
    except RatoonError as error:
        return f"the day's plant does not solve with stocks that stand still: {error}"


def _compared(account: PeriodAccount, base: Solution) -> dict[str, Benchmark]:
    rows = {}
    names = [f"account.{n}" for n in COMPARED] + [f"account.loss.{n}_share" for n in LOST]
    for address in names:
        if address not in account.mill.addresses:
            continue
        day = account.figure(address)
        fair = units.from_inside(base[address], day.unit)
        rows[address] = Benchmark(day.name, day.unit, fair, day.value, day.sigma)
    return rows


def unit_worth(
    account: PeriodAccount, base: Solution, lever: Lever, hours: float
) -> UnitWorth | None:
    """Worth of one unit; None where the plant does not answer to the lever."""
    plant, roles = account.mill.plant, account.mill.roles
    sold = terms(roles, account.mill.settings.prices)
    point = plant.set_point_of(lever.moved)
    here = base.given.get(point, base.values.get(point))
    if here is None:
        return None
    states = []
    held = plant.held_by(point)
    follows = held == point or abs(base[held] - here) <= lever.by
    if not follows:
        here = base[held] - 2.0 * lever.by  # priced where it stands: worth clearing its limit
    for by in (-lever.by, lever.by):
        try:
            states.append(plant.solve({**base.given, point: here + by}, base.values).values)
        except RatoonError:
            return None
    way = 1 if lever.step > 0.0 else 0  # set points move with the figures that they are priced by
    if follows and held != point and abs(states[way][held] - base[held]) < FOLLOWS * lever.by:
        return None  # the plant stands at a limit: it does not follow
    info = account.mill.addresses[lever.figure]
    change = states[1][lever.figure] - states[0][lever.figure]
    moved = units.spread_from_inside(change, info.unit)
    if abs(moved) < 1e-9 * abs(lever.step):
        return None
    less, more = states
    slope = (earned(sold, more) - earned(sold, less)) * 3600.0 * hours / moved
    sugar = roles.stream("sugar", more).mass - roles.stream("sugar", less).mass
    return UnitWorth(lever.figure, info.name, info.unit, lever.step, slope * lever.step, lever.how,
                     sugar * 3.6 * hours / moved * lever.step, follows)  # fmt: skip
