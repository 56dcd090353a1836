"""From settings to a flowsheet: stations in order of flow, whatever their number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial

from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.units import pressure_at, spread_to_inside, to_inside
from ratoon.equations import Equations, Report
from ratoon.plant.beside import beside, check_beside, inversion_by_ph
from ratoon.plant.flowsheet import Default, Hours, Works, assemble
from ratoon.plant.headers import EXHAUST, Header, drawn
from ratoon.plant.registry import EXTRACTIONS
from ratoon.plant.station import Station
from ratoon.plant.stations.boiler import Boiler
from ratoon.plant.stations.cane import Cane
from ratoon.plant.stations.centrifugals import MolassesQuality, centrifugals
from ratoon.plant.stations.clarifier import Clarifier, boiling_at
from ratoon.plant.stations.crystalliser import Crystalliser
from ratoon.plant.stations.dryer import Dryer
from ratoon.plant.stations.effects import Effect
from ratoon.plant.stations.evaporator import Evaporator
from ratoon.plant.stations.filters import Filters
from ratoon.plant.stations.heaters import Heater
from ratoon.plant.stations.magma import Magma
from ratoon.plant.stations.pans import PanStage
from ratoon.plant.stations.scheme import LIQUOR, Grade
from ratoon.plant.stations.steam import VACUUM, SteamMain
from ratoon.plant.stations.stocks import KNOWN, Stocks
from ratoon.plant.streams import Quantities
from ratoon.settings.plant import PanSettings
from ratoon.settings.records import Settings

MoreReports = Callable[[Works, Quantities], Iterator[Report]]


def join(
    works: Works,
    defaults: Mapping[str, Default] | None = None,
    more_reports: MoreReports | None = None,
) -> tuple[Equations, dict[str, float]]:
    """Equations of stations that may have been exchanged for others with the same ports."""
    more = None if more_reports is None else partial(more_reports, works)
    return assemble(works.stations, defaults, more)


def assumed_by(s: Settings, works: Works) -> dict[str, Default]:
    """What the mill file assumes in place of the stations' usual values, by address.

    Raises
    ------
    UnknownName : it assumes what no station does.
    """
    # Units of assumed quantities are known only once the stations have made their tables.
    table = {v.name: v for station in works.stations for v in station.table()}
    found = {}
    for address, own in s.assumed.items():
        var = table.get(address)
        if var is None or not (var.kind == "assumed" or var.sigma):
            known = [v.name for v in table.values() if v.sigma]
            raise UnknownName("assumed quantity", address, known, where="mill.toml: assumed")
        value = None if own.value is None else to_inside(own.value, var.trade)
        sigma = None if own.sigma is None else spread_to_inside(own.sigma, var.trade)
        found[address] = Default(value, sigma, own.source)
    return found


def stations_of(s: Settings) -> Works:
    """The stations that the settings describe, in the order of flow.

    Raises
    ------
    BadInput : a description that cannot be built: a bleed from an effect that is not there, a
        screen that returns to a mill that is not there, a pool that no pan takes.
    """
    check_description(s)
    heaters = _heaters(s)
    extraction = EXTRACTIONS[_extraction(s)](s)
    pans = PanStage(tuple(_grade(letter, p) for letter, p in s.pans.items()))
    drawing = drawn(t for station in (extraction, *heaters, pans) for t in station.takes())
    evaporator = Evaporator(
        tuple(Effect(e.area, e.htc, e.inversion, e.heating, e.beside, e.vessels)
              for e in s.effects),
        liquor_brix=s.evaporator.liquor_brix,
        last_vapour_temperature=s.evaporator.last_vapour_temperature,
        condenser_water=s.evaporator.condenser_water,
        feed_temperature=_leaving("clear_juice", heaters),
        bleeds=drawing, inversion_by_ph=inversion_by_ph(s),
    )  # fmt: skip
    clarifier = Clarifier(
        s.clarifier.lime_on_cane, mud_insolubles=s.clarifier.mud_insolubles,
        temperature=s.clarifier.temperature, volume=s.clarifier.volume,
        inversion_by_ph=inversion_by_ph(s), warm=_leaving("mixed_juice", heaters),
        hot=_leaving("limed_juice", heaters),
        flash_temperature=boiling_at(pressure_at(s.mill.altitude)),
    )  # fmt: skip
    filters = Filters(extraction.final_bagasse, wash_on_cake=s.filters.wash_on_cake,
                      cake_moisture=s.filters.cake_moisture, area=s.filters.area)  # fmt: skip
    boiler = Boiler(extraction.final_bagasse, filters, s.steam.live_pressure,
                    s.steam.live_temperature, s.steam.stack_temperature,
                    s.steam.air_ratio)  # fmt: skip
    main = s.steam
    steam = SteamMain(
        extraction, boiler, (*evaporator.takes(), *drawing.get(EXHAUST, ())),
        main.exhaust_pressure, main.exhaust_temperature,
        s.turbines.vacuum if s.turbines else VACUUM,
        back_pressure_power=main.back_pressure_power, condensing_power=main.condensing_power,
        drives=s.tandem.drives, feed_water=main.feed_water,
    )  # fmt: skip
    before = {name: [h for h in heaters if h.inlet == name] for name in HEATED}
    balanced = Works((
        Hours(), Stocks(s.stocks, {f"{x}_massecuite": p.density for x, p in s.pans.items()},
                        s.cane.rate, next((p.letter for p in pans.magmas), "")),
        Cane(s.cane.rate, s.cane.fibre, s.cane.insolubles, s.cane.brix, s.cane.pol,
             s.cane.temperature, JUICE_BRIX[s.laboratory.juice_brix]),
        extraction, *before["mixed_juice"], clarifier, filters, *before["limed_juice"],
        *before["clear_juice"], evaporator, pans, *_cured(s, pans), boiler, steam,
    ))  # fmt: skip
    return Works((*balanced.stations, *beside(s, balanced)))


# Dissolved solids over brix of juices by what reads it, and its uncertainty; from memory.
JUICE_BRIX: dict[str, tuple[float, float] | None] = {
    "dry substance": None, "refractometer": (0.988, 0.005), "spindle": (0.980, 0.008),
}  # fmt: skip
MINGLED = {"water": 0.0, "liquor": 1.0}  # share of liquor in what mingles magma
HEATED = ("mixed_juice", "limed_juice", "clear_juice")


def _heaters(s: Settings) -> tuple[Heater, ...]:
    """Heaters in series on each juice, in the order of the mill file."""
    made: list[Heater] = []
    for name, h in s.heaters.items():
        made.append(Heater(name, h.heats, _leaving(h.heats, made), h.area, Header(h.vapour), h.htc,
                           h.set_point, vessels=h.vessels))  # fmt: skip
    return tuple(made)


def _leaving(juice: str, heaters: Iterable[Heater]) -> str:
    """Address of a juice's temperature behind all its heaters."""
    last = [h for h in heaters if h.inlet == juice][-1:]
    return f"{last[0].name}.temperature" if last else f"{juice}.temperature"


def _extraction(s: Settings) -> str:
    """Which table of the mill file says how juice is taken from cane."""
    return next((name for name in EXTRACTIONS if name and getattr(s, name) is not None), "")


def _cured(s: Settings, pans: PanStage) -> Iterator[Station]:
    """From massecuite to sugar, molasses and magma."""
    last = tuple(s.pans)[-1]
    if s.crystalliser is not None:
        yield Crystalliser(last, s.crystalliser.temperature, s.crystalliser.supersaturation,
                           s.pans[last].density)  # fmt: skip
    yield from centrifugals(pans, {letter: _curing(p) for letter, p in s.pans.items()},
                            last if s.crystalliser is not None else "")  # fmt: skip
    yield MolassesQuality()
    if pans.magmas:
        yield Magma(pans.magmas, s.sugar.magma_dry_substance, s.sugar.magma_dry_on_brix,
                    remelt_dry_substance=s.sugar.remelt_dry_substance,
                    liquor_share=MINGLED[s.sugar.magma_with])  # fmt: skip
    yield Dryer(tuple(n for n, p in s.pans.items() if p.shipped), s.sugar.moisture)


def _grade(letter: str, p: PanSettings) -> Grade:
    keys = ("feeds", "dry_substance", "supersaturation", "vapour_temperature", "movement_water",
            "density", "dry_on_brix", "sucrose_less_pol", "magma_share", "grain_share", "purity",
            "movement_sigma", "magma_sigma", "shipped")  # fmt: skip
    return Grade(letter, header=Header(p.heating), **{k: getattr(p, k) for k in keys})


def _curing(p: PanSettings) -> dict[str, float]:
    keys = ("sugar_purity", "sugar_purity_sigma", "sugar_moisture", "sugar_moisture_sigma",
            "molasses_dry_substance", "molasses_dry_on_brix")  # fmt: skip
    return {k: getattr(p, k) for k in keys}


def check_description(s: Settings) -> None:
    """Refuse a description whose streams cannot close, before any equation is written."""
    where = "mill.toml"
    if not 2 <= len(s.effects) <= 6:
        raise BadInput("number of effects", where=f"{where}: effects", value=len(s.effects),
                       allowed="2 to 6")  # fmt: skip
    for name, h in s.heaters.items():
        if h.heats not in HEATED:
            raise UnknownName("juice", h.heats, HEATED, where=f"{where}: heaters.{name}.heats")
    _check_effects(s, where)
    users = [(f"heaters.{n}.vapour", h.vapour) for n, h in s.heaters.items()]
    users += [(f"pans.{n}.heating", p.heating) for n, p in s.pans.items()]
    bleeding = [i for i in range(1, len(s.effects) + 1) if i != _last(s)]
    listed = ", ".join(str(i) for i in bleeding)
    if bleeding and bleeding == list(range(1, bleeding[-1] + 1)):
        listed = f"1 to {bleeding[-1]}"
    for key, effect in users:
        if effect and effect not in bleeding:
            raise BadInput("no bleed there", where=f"{where}: {key}", value=effect,
                           allowed=f"{listed}, or 0 for exhaust")  # fmt: skip
    check_beside(s, where)
    _check_pans(s, where)
    for name in s.stocks:
        if name not in KNOWN:
            raise UnknownName("stock", name, KNOWN, where=where)


def _heating(s: Settings, i: int) -> int:
    stated = s.effects[i - 1].heating
    return i - 1 if stated is None else stated


def _last(s: Settings) -> int:
    """The effect whose vapour goes to the condenser."""
    given = {_heating(s, i) for i in range(1, len(s.effects) + 1)}
    ends = [i for i in range(1, len(s.effects) + 1) if i not in given and _heating(s, i)]
    return ends[-1] if ends else 1


def _check_effects(s: Settings, where: str) -> None:
    """Each chest is heated by exhaust or by an effect before it, and each vapour goes one way."""
    drawn_from = {h.vapour for h in s.heaters.values()} | {p.heating for p in s.pans.values()}
    numbers, last = range(1, len(s.effects) + 1), _last(s)
    for i in numbers:
        key, given = f"{where}: effects[{i}].heating", _heating(s, i)
        if not 0 <= given < i:
            raise BadInput("is heated by an effect that does not come before it", where=key,
                           value=given, allowed=f"0 (exhaust) to {i - 1}")  # fmt: skip
        if given and given in (_heating(s, k) for k in range(1, i)):
            raise BadInput("another effect is heated by that vapour already", where=key,
                           value=given)  # fmt: skip
        goes = any(_heating(s, k) == i for k in numbers)
        if i != last and not goes and (_heating(s, i) or i not in drawn_from):
            raise BadInput("its vapour goes nowhere", where=f"{where}: effects[{i}]",
                           todo="Heat a later effect, a heater or a pan with it.")  # fmt: skip
    if s.effects[0].beside:
        raise BadInput("the first effect has none before it to share juice with",
                       where=f"{where}: effects[1].beside")  # fmt: skip


def _check_pans(s: Settings, where: str) -> None:
    letters = tuple(s.pans)
    if s.laboratory.juice_brix not in JUICE_BRIX:
        raise UnknownName("basis of brix", s.laboratory.juice_brix, JUICE_BRIX,
                          where=f"{where}: laboratory.juice_brix")  # fmt: skip
    if s.sugar.magma_with not in MINGLED:
        raise UnknownName("what mingles magma", s.sugar.magma_with, MINGLED,
                          where=f"{where}: sugar.magma_with")  # fmt: skip
    if not 2 <= len(letters) <= 4:
        raise BadInput("massecuites", where=f"{where}: pans", value=", ".join(letters),
                       allowed="2 to 4 of them, in order of purity, such as A, B, C")  # fmt: skip
    for letter in letters:
        if not (len(letter) == 1 and letter.isalpha() and letter.isupper()):
            raise BadInput("a massecuite is called by one capital letter", where=f"{where}: pans",
                           value=letter)  # fmt: skip
    feeds = {f for p in s.pans.values() for f in p.feeds}
    stage = PanStage(tuple(_grade(letter, p) for letter, p in s.pans.items()))
    pools = stage.every_pool
    for letter, p in s.pans.items():
        for f in p.feeds:
            if f not in pools:
                raise UnknownName("feed", f, pools, where=f"{where}: pans.{letter}.feeds")
        magmas = [f for f in p.feeds if pools[f].magma]
        if len(magmas) > 1:
            raise BadInput("takes more than one magma", where=f"{where}: pans.{letter}.feeds",
                           value=", ".join(magmas), allowed="one")  # fmt: skip
        if magmas and not p.magma_share:
            raise BadInput("takes magma but states no magma_share",
                           where=f"{where}: pans.{letter}")  # fmt: skip
    for letter in letters[:-1]:
        if f"{letter}_molasses" not in feeds:
            raise BadInput(f"no pan takes {letter} molasses: its recycle cannot close",
                           where=f"{where}: pans", todo=f"Add {letter}_molasses to the feeds of "
                           "a later massecuite.")  # fmt: skip
    if not any(p.shipped for p in s.pans.values()):
        raise BadInput("no sugar is shipped", where=f"{where}: pans")
    if LIQUOR not in feeds:
        raise BadInput("no pan takes liquor: its stream cannot close", where=f"{where}: pans")


__all__ = ["assumed_by", "check_description", "join", "stations_of"]
