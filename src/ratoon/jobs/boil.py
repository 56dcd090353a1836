"""``ratoon boil``: what a boiler sets so that a strike of a grade is dropped soonest in a band."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ratoon.base.errors import BadInput, UnknownName
from ratoon.jobs.strike_season import kept_fit
from ratoon.plant.pan.batch import BatchPan
from ratoon.plant.pan.constants import Constant
from ratoon.plant.pan.course_of import SURFACE
from ratoon.plant.pan.fit import at_middle
from ratoon.plant.pan.growth import Crystallisation
from ratoon.plant.pan.policy import NEVER, Found, Policy, Task, fastest
from ratoon.plant.pan.steady import grade_feed
from ratoon.plant.pan.strike import Switches, charge
from ratoon.properties.water import saturation_pressure

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill

FOOTING, CHARGE_BRIX = 0.38, 0.865
"""Charge on the pan's volume, and its brix; common practice."""
CRYSTAL, CV = 0.30, 0.28
"""Crystal on the charge, and its CV; common practice."""
FEED = 0.15
"""Feed wide open on the pan's volume [kg/s.m3], about half a tonne an hour; a mill's own valve."""
GROWTH = {"last": 650.0, "other": 400.0}
"""Growth constants by practice, where none were fitted to the mill's strikes."""
RISE = 12.0
"""How much hotter than its vapour a charge is [K], about; it boils from where it boils."""
NARROWEST = 0.005


@dataclass(frozen=True, slots=True)
class BoilAsked:
    """A grade, its band of supersaturation, steam to the calandria [degC], footing's MA [m]."""

    grade: str
    low: float = 1.02
    high: float = 1.20
    steam: float = 100.0
    footing: float = 0.36e-3


@dataclass(frozen=True, slots=True)
class Setting:
    """A policy as a boiler sets it; None where it is not used. Shares in %, time in hours."""

    covered: float
    full: float
    crystal: float | None
    cut: float | None
    steam: float
    hours: float


@dataclass(frozen=True, slots=True)
class BoilAnswer:
    """The fastest policy that holds the band, and the best constant supersaturation.

    `why` says what stands in the way where none does, and then `policy` came nearest.
    """

    grade: str
    band: tuple[float, float]
    policy: Setting
    constant: Setting | None
    why: str
    assumed: tuple[str, ...]


def task_of(mill: Mill, asked: BoilAsked, fitted: Mapping[str, Constant] | None = None) -> Task:
    """The strike of a grade: what the plant feeds it, charged as is common practice.

    Growth, births and heat are as `fitted` to the grade's strikes, or as is usual.

    Raises
    ------
    UnknownName, BadInput : no such grade; a band that is none; a mill file without strikes.
    """
    pans = mill.settings.pans
    if asked.grade not in pans:
        raise UnknownName("grade", asked.grade, pans, where="GRADE")
    if not 0.9 <= asked.low < asked.high - NARROWEST or asked.high > 1.6:
        raise BadInput("is no band of supersaturation", where="--low, --high",
                       value=f"{asked.low:g} to {asked.high:g}",
                       allowed="0.9 to 1.6, rising")  # fmt: skip
    if not 70.0 <= asked.steam <= 130.0:
        raise BadInput("is no steam of a calandria", where="--steam", value=asked.steam,
                       allowed="70 to 130 degC")  # fmt: skip
    if not 5e-5 <= asked.footing <= 1e-3:
        raise BadInput("is no footing", where="--ma", value=asked.footing * 1e3,
                       allowed="0.05 to 1 mm")  # fmt: skip
    one = pans[asked.grade]
    if not one.strikes:
        raise BadInput("is needed to boil a strike", where=f"mill.toml: pans.{asked.grade}.strikes")
    volume = max(one.strikes)
    fed = grade_feed(mill.settings, mill.plant.solve({}).values, asked.grade)
    law = Crystallisation(GROWTH["last" if asked.grade == list(pans)[-1] else "other"])
    pan = BatchPan(volume, SURFACE * volume)
    if fitted:
        of = {name: one.value for name, one in fitted.items()}
        growth = of["growth"] * float(at_middle(asked.grade, of["purity"]))
        law = Crystallisation(growth, births=of["births"], dispersion=of["dispersion"],
                              purity=of["purity"], slope=of["slope"])  # fmt: skip
        pan = replace(pan, coefficient=of["coefficient"], by_level=of["by_level"],
                      by_viscosity=of["by_viscosity"])  # fmt: skip
    pressure = float(saturation_pressure(one.vapour_temperature))
    opened = Switches(FEED * volume, fed.dry_substance, fed.purity, 68.0, pressure, asked.steam)
    start = charge(FOOTING * volume, CHARGE_BRIX, fed.massecuite_purity,
                   one.vapour_temperature + RISE, (CRYSTAL, asked.footing, CV))  # fmt: skip
    return Task(pan, law, start, opened, one.dry_substance,
                (asked.low, asked.high))  # fmt: skip


def boil_answer(opened: OpenMill, asked: BoilAsked) -> BoilAnswer:
    """The fastest policy of a grade."""
    fitted = kept_fit(opened, asked.grade)
    found: Found = fastest(task_of(opened.mill, asked, fitted))
    flat = found.constant
    return BoilAnswer(
        asked.grade, (asked.low, asked.high), _setting(found.policy, found.boiled.seconds),
        None if flat is None else _setting(flat, found.constant_seconds or 0.0), found.boiled.why,
        _assumed(asked.grade, fitted),
    )  # fmt: skip


def _assumed(grade: str, fitted: Mapping[str, Constant] | None) -> tuple[str, ...]:
    """What the set points rest on that is not told by the mill's own strikes."""
    if not fitted:
        return ("growth, heat and charge by common practice: not yet the mill's own "
                f"(ratoon strike ID of a strike of {grade} fits them)",)  # fmt: skip
    usual = [name.replace("_", " ") for name, one in fitted.items() if one.told_by == "prior"]
    rest = (f"not told by the mill's strikes, so as is usual: {', '.join(usual)}",) if usual else ()
    return ("charge by common practice; growth and heat as fitted to the mill's strikes", *rest)


def _setting(p: Policy, seconds: float) -> Setting:
    def used(value: float, below: float) -> float | None:
        return float(value) if value < below else None

    crystal = used(p.crystal, 0.55)
    return Setting(float(p.covered), float(p.full), None if crystal is None else 100.0 * crystal,
                   used(p.cut, NEVER), 100.0 * float(p.steam), seconds / 3600.0)  # fmt: skip
