"""Stations that hang downstream of the balances, as far as the mill file describes them.

A mill file may leave each of these tables out; then the figures that need them are not there.
"""

from __future__ import annotations

from collections.abc import Iterator

from ratoon.base.errors import BadInput
from ratoon.base.units import pressure_at
from ratoon.laboratory.repeats import check_rule
from ratoon.plant.flowsheet import Works
from ratoon.plant.station import Station
from ratoon.plant.stations.boiler_house import BoilerHouse
from ratoon.plant.stations.centrifugals import Centrifugal
from ratoon.plant.stations.clarifier import Clarifier
from ratoon.plant.stations.condensate import Condensate
from ratoon.plant.stations.cooling import Cooling
from ratoon.plant.stations.cooling_crystallisers import CoolingCrystallisers
from ratoon.plant.stations.dryer import Dryer
from ratoon.plant.stations.drying import Drying
from ratoon.plant.stations.heater_banks import HeaterBank
from ratoon.plant.stations.heaters import Heater
from ratoon.plant.stations.inversion import Inversion, Place
from ratoon.plant.stations.machines import CentrifugalMachines, Machines
from ratoon.plant.stations.mills import Tandem
from ratoon.plant.stations.pan_loads import PanLoads
from ratoon.plant.stations.ratings import Ratings
from ratoon.plant.stations.rise_rate import RiseRate
from ratoon.plant.stations.rolls import Roll, Rolls
from ratoon.plant.stations.stores import Stores
from ratoon.plant.stations.turbines import Turbines
from ratoon.plant.stations.vessels import Body, Vessels
from ratoon.settings.plant import MillRow
from ratoon.settings.records import Settings

NEEDED = ("roll_diameter", "roll_length", "surface_speed", "work_opening")
TOLD_BY = ("fibre", "opening")


def beside(s: Settings, works: Works) -> Iterator[Station]:
    """Stations downstream, in the order in which their starts are worked out."""
    yield from rolls_of(s, works)
    yield from banks_of(s, works)
    yield from inversion_of(s, works)
    yield from vessels_of(s, works)
    if s.condensate is not None:
        yield Condensate(works.evaporator, works.pans, works.steam.boiler, works.magma,
                         s.condensate.carry_over)  # fmt: skip
    if s.boiler_house is not None:
        b = s.boiler_house
        yield BoilerHouse(works.steam.boiler, b.ratings, b.radiation,
                          air=pressure_at(s.mill.altitude))  # fmt: skip
    if s.turbines is not None:
        yield Turbines(works.steam)
    yield from loads_of(s, works)
    yield from sugar_house(s, works)
    if s.stores is not None:
        t = s.stores
        yield Stores(works.steam.boiler, t.bagasse, t.bagasse_held, t.mud, t.mud_held, t.molasses,
                     t.molasses_held, t.sugar, t.sugar_held, t.ash,
                     "final_molasses" in s.stocks)  # fmt: skip
    if s.cooling is not None:
        c = s.cooling
        yield Cooling(works.evaporator, works.letters, works.steam, c.water_temperature,
                      c.approach, c.head, c.pump_efficiency, c.losses)  # fmt: skip


def loads_of(s: Settings, works: Works) -> Iterator[Station]:
    """Clarifiers and pans against what they can take, where the mill file says what that is."""
    if s.clarifier.rise_rate is not None:
        yield RiseRate(s.clarifier.vessels or (s.clarifier.area,), s.clarifier.rise_rate)
    for grade in works.pans.grades:
        pan = s.pans[grade.letter]
        if pan.strikes and pan.cycle is not None:
            yield PanLoads(grade, pan.strikes, pan.cycle, pan.evaporation)
    rated = ratings_of(s, works)
    if any(True for _ in rated.follows()):
        yield rated


def ratings_of(s: Settings, works: Works) -> Ratings:
    """What the mill file rates of tandem, shredder, filters and turbine sets."""
    described = any(isinstance(one, Rolls) for one in rolls_of(s, works))
    sets = [(m.key, getattr(s.turbines, m.key), _hours_of(s, f"power.{m.key}"))
            for m in works.steam.sets if s.turbines]  # fmt: skip
    return Ratings(
        s.tandem.fibre_rate, s.tandem.shredder_power if described else None, s.filters.cake_rate,
        s.filters.area, tuple(one for one in sets if one[1] is not None),
    )  # fmt: skip


def _hours_of(s: Settings, address: str) -> str:
    """The hours in which a machine runs: those of its reading; a condensing set's, all."""
    reading = s.readings.get(address)
    usual = "period" if address.endswith("condensing") else "crushing"
    return reading.hours if reading is not None else usual


def sugar_house(s: Settings, works: Works) -> Iterator[Station]:
    """Crystallisers as coolers, machines, dryer with air."""
    if s.crystalliser is not None and s.crystalliser.volume is not None:
        last = works.pans.grades[-1]
        yield CoolingCrystallisers(last.letter, s.crystalliser.volume, last.density,
                                   s.crystalliser.water_rise)  # fmt: skip
    for cure in works.all(Centrifugal):
        m = s.centrifugals.get(cure.grade.letter)
        if m is not None:
            yield CentrifugalMachines(cure, Machines(m.count, m.capacity, m.diameter, m.speed,
                                                     m.charge))  # fmt: skip
    if s.drying is not None:
        d = s.drying
        yield Drying(works.one(Dryer), d.air_temperature, d.humidity, d.air_out, d.sugar_in,
                     d.sugar_out, d.rating, pressure_at(s.mill.altitude))  # fmt: skip


def banks_of(s: Settings, works: Works) -> Iterator[Station]:
    """Heaters one by one, where the section of their tubes is stated."""
    for heater in works.all(Heater):
        h = s.heaters[heater.called]
        if h.tube_section is not None:
            yield HeaterBank(heater, h.vessels or (h.area,), h.tube_section)


def inversion_of(s: Settings, works: Works) -> Iterator[Station]:
    """Inversion by pH and heat, where the mill asks for it and every volume is stated."""
    if s.inversion is None:
        return
    places = [
        Place(h.name, f"the {h.called} heater", s.heaters[h.called].volume or 0.0, h.inlet,
              f"{h.name}.temperature", raw=h.inlet != "clear_juice")
        for h in works.all(Heater)
    ]  # fmt: skip
    places.append(Place("clarifier", "the clarifier", s.clarifier.volume, "limed_juice",
                        "clear_juice.temperature", raw=True, ph="clear_juice"))  # fmt: skip
    places += [
        Place(f"effect.{i}", f"effect {i}", e.volume or 0.0, f"effect.{i}.juice",
              f"effect.{i}.temperature", effect=i)
        for i, e in enumerate(s.effects, 1)
    ]  # fmt: skip
    yield Inversion(works.one(Clarifier), works.evaporator, tuple(places), inversion_by_ph(s))


def inversion_by_ph(s: Settings) -> bool:
    """Whether clarifier and effects take their known inversion from pH and heat."""
    return s.inversion is not None and s.inversion.known_by == "ph"


def vessels_of(s: Settings, works: Works) -> Iterator[Station]:
    """Evaporator vessels, where every effect's tubes and vapour space are described."""
    if all(e.tube_length is not None and e.vapour_area is not None for e in s.effects):
        bodies = tuple(
            Body(e.vessels or (e.area,), e.tube_length or 0.0, e.vapour_area or 0.0, e.htc,
                 e.arrangement == "series")
            for e in s.effects
        )  # fmt: skip
        yield Vessels(works.evaporator, bodies)


def rolls_of(s: Settings, works: Works) -> Iterator[Station]:
    """The rolls, where some mill's are described."""
    rolls = tuple(_roll(m) if m.work_opening is not None else None for m in s.mills)
    if any(rolls) and isinstance(works.extraction, Tandem):
        yield Rolls(works.extraction, rolls, s.tandem.drives == "steam")


def _roll(m: MillRow) -> Roll:
    return Roll(m.roll_diameter or 0.0, m.roll_length or 0.0, m.surface_speed or 0.0,
                m.work_opening or 0.0, m.lift, m.groove_depth,
                m.reabsorption if m.told_by == "opening" else None)  # fmt: skip


def check_beside(s: Settings, where: str) -> None:
    """Refuse what is described by halves or does not add up."""
    check_rule(s.laboratory.repeats, f"{where}: laboratory.repeats")
    check_rolls(s, where)
    _check_sum(s.clarifier.vessels, s.clarifier.area, f"{where}: clarifier.vessels")
    for name, h in s.heaters.items():
        _check_sum(h.vessels, h.area, f"{where}: heaters.{name}.vessels")
    for i, e in enumerate(s.effects, 1):
        _check_sum(e.vessels, e.area, f"{where}: effects[{i}].vessels")
        if e.arrangement not in ("parallel", "series"):
            raise BadInput("how vessels meet the juice", where=f"{where}: effects[{i}].arrangement",
                           value=e.arrangement, allowed="parallel, series")  # fmt: skip
        count = len(e.vessels) or 1
        if e.vessels_cleaned and len(e.vessels_cleaned) != count:
            raise BadInput("needs a list of days for each vessel",
                           where=f"{where}: effects[{i}].vessels_cleaned",
                           value=len(e.vessels_cleaned), allowed=f"{count} lists")  # fmt: skip
    _check_ratings(s, where)
    _check_pans(s, where)
    _check_machines(s, where)
    _check_inversion(s, where)


def _check_ratings(s: Settings, where: str) -> None:
    for what, rating in (
        ("tandem.fibre_rate", s.tandem.fibre_rate),
        ("tandem.shredder_power", s.tandem.shredder_power),
        ("filters.cake_rate", s.filters.cake_rate),
        ("turbines.back_pressure", s.turbines.back_pressure if s.turbines else None),
        ("turbines.condensing", s.turbines.condensing if s.turbines else None),
    ):
        if rating is not None and not rating > 0.0:
            raise BadInput("a rating must be above zero", where=f"{where}: {what}")
    if s.clarifier.rise_rate is not None and not s.clarifier.rise_rate > 0.0:
        raise BadInput("the rise rate that clarifiers bear must be above zero",
                       where=f"{where}: clarifier.rise_rate")  # fmt: skip


def _check_pans(s: Settings, where: str) -> None:
    for letter, p in s.pans.items():
        if bool(p.strikes) != (p.cycle is not None) or min((*p.strikes, p.cycle or 1.0)) <= 0.0:
            raise BadInput("strikes and cycle go together, each above zero",
                           where=f"{where}: pans.{letter}")  # fmt: skip
        if p.evaporation is not None and not (p.strikes and p.evaporation > 0.0):
            raise BadInput("water boiled off in a strike goes with strikes and cycle, above zero",
                           where=f"{where}: pans.{letter}.evaporation")  # fmt: skip
        if p.volume and sum(p.strikes) > p.volume * (1.0 + 1e-6):
            raise BadInput("strikes are larger than the pans",
                           where=f"{where}: pans.{letter}.strikes", value=sum(p.strikes),
                           allowed=f"{p.volume:g} m3 together")  # fmt: skip


def _check_machines(s: Settings, where: str) -> None:
    """Boilers, centrifugals and what stores hold."""
    if s.boiler_house is not None and not (
        s.boiler_house.ratings and min(s.boiler_house.ratings) > 0.0
    ):
        raise BadInput("a boiler's rating must be above zero", where=f"{where}: boiler_house")
    for letter, m in s.centrifugals.items():
        if letter not in s.pans:
            raise BadInput("machines of a massecuite that is not boiled",
                           where=f"{where}: centrifugals.{letter}", value=letter,
                           allowed=", ".join(s.pans))  # fmt: skip
        if m.count < 1 or not min(m.capacity, m.diameter, m.speed) > 0.0 or m.charge < 0.0:
            raise BadInput("number, capacity, diameter and speed must be above zero",
                           where=f"{where}: centrifugals.{letter}")  # fmt: skip
    if (
        s.stores is not None
        and not min(s.stores.bagasse, s.stores.mud, s.stores.molasses, s.stores.ash) > 0.0
    ):
        raise BadInput("a store's room must be above zero", where=f"{where}: stores")


def _check_inversion(s: Settings, where: str) -> None:
    if s.inversion is None:
        return
    if s.inversion.known_by not in ("stated", "ph"):
        raise BadInput("how inversion is known", where=f"{where}: inversion.known_by",
                       value=s.inversion.known_by, allowed="stated, ph")  # fmt: skip
    held = [(f"heaters.{n}", h.volume) for n, h in s.heaters.items()]
    held += [(f"effects[{i}]", e.volume) for i, e in enumerate(s.effects, 1)]
    for key, volume in held:
        if volume is None or not volume > 0.0:
            raise BadInput("inversion by pH and heat needs the volume of juice held",
                           where=f"{where}: {key}.volume", value=volume)  # fmt: skip


def _check_sum(parts: tuple[float, ...], whole: float, where: str) -> None:
    if parts and not abs(sum(parts) - whole) <= 1e-6 * whole:
        raise BadInput("surfaces do not add up to the area stated", where=where, value=sum(parts),
                       allowed=f"{whole:g} m2 together")  # fmt: skip


def check_rolls(s: Settings, where: str) -> None:
    """Refuse rolls described by halves."""
    for i, m in enumerate(s.mills, 1):
        if m.told_by not in TOLD_BY:
            raise BadInput("how the mill is told", where=f"{where}: mills[{i}].told_by",
                           value=m.told_by, allowed=", ".join(TOLD_BY))  # fmt: skip
        some = m.told_by != "fibre" or any(getattr(m, key) is not None for key in NEEDED)
        for key in NEEDED if some else ():
            value = getattr(m, key)
            if value is None or not value > 0.0:
                raise BadInput(f"the key {key!r} is missing or not above zero",
                               where=f"{where}: mills[{i}]",
                               todo=f"Give {', '.join(NEEDED)}, or none of them.")  # fmt: skip
