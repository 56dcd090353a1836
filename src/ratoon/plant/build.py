"""From settings to a flowsheet: stations in order of flow, whatever their number."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from ratoon.base.errors import BadInput
from ratoon.equations import Equations, Report
from ratoon.plant.beside import beside, check_beside, inversion_by_ph, told_by_opening
from ratoon.plant.flowsheet import Default, Hours, Works, assemble
from ratoon.plant.station import Station
from ratoon.plant.stations.cane import Cane
from ratoon.plant.stations.clarifier import Clarifier
from ratoon.plant.stations.curing import (
    Crystalliser,
    Dryer,
    Magma,
    MolassesQuality,
    centrifugals,
)
from ratoon.plant.stations.evaporator import Effect, Evaporator
from ratoon.plant.stations.filters import Filters
from ratoon.plant.stations.heaters import Heater
from ratoon.plant.stations.mills import Mill, Tandem
from ratoon.plant.stations.pans import TEMPERATURES, Grade, PanStage
from ratoon.plant.stations.steam import Boiler, SteamMain
from ratoon.plant.stations.stocks import KNOWN, Stocks
from ratoon.plant.streams import Quantities
from ratoon.settings.records import Settings

MoreReports = Callable[[Works, Quantities], Iterator[Report]]


def build(
    settings: Settings,
    defaults: Mapping[str, Default] | None = None,
    more_reports: MoreReports | None = None,
) -> tuple[Equations, dict[str, float], Works]:
    """Equations of the mill described, what a simulation sets, and the works.

    Raises
    ------
    BadInput : a description that cannot be built: a bleed from an effect that is not there, a
        screen that returns to a mill that is not there, a pool that nobody takes.
    """
    works, rest = stations_of(settings)
    system, set_values = join(works, rest, defaults, more_reports)
    return system, set_values, works


def join(
    works: Works,
    rest: list[Station],
    defaults: Mapping[str, Default] | None = None,
    more_reports: MoreReports | None = None,
) -> tuple[Equations, dict[str, float]]:
    """Equations of stations that may have been exchanged for others with the same ports."""
    heaters = [s for s in rest if isinstance(s, Heater)]
    cures: list[Station] = list(works.centrifugals)
    others = [s for s in rest if not isinstance(s, Heater)]
    stations: list[Station] = [Hours(), *others, works.tandem, *heaters, works.filters,
                               works.evaporator, works.pans, *cures, works.steam,
                               *works.beside]  # fmt: skip
    names = {s.name for s in stations}
    order = ["stocks", "cane", "mills", "heater.primary", "clarifier", "filter",
             "heater.secondary", "evaporator", "pans", "crystalliser",
             *(c.name for c in works.centrifugals), "magma", "dryer", "boiler",
             "steam", *(b.name for b in works.beside)]  # fmt: skip

    def more(q: Quantities) -> Iterator[Report]:
        if more_reports is not None:
            yield from more_reports(works, q)

    return assemble(stations, [n for n in order if n in names], defaults, (more,))


def stations_of(s: Settings) -> tuple[Works, list[Station]]:
    """The stations that the settings describe: those an account asks, and the rest."""
    check_description(s)
    tandem = Tandem(
        tuple(Mill(m.fibre_content, m.fines, m.insolubles_to_juice) for m in s.mills),
        s.tandem.brix_free_water, s.tandem.screen_returns_to, s.tandem.imbibition_on_fibre,
        s.tandem.imbibition_temperature, s.tandem.bagasse_temperature,
        told_by_opening=told_by_opening(s),
    )  # fmt: skip
    inlets = {"primary": ("mixed_juice", "mixed_juice.temperature"),
              "secondary": ("limed_juice", "limed_juice.temperature")}  # fmt: skip
    heaters = [Heater(n, *inlets[n], h.area, h.vapour, h.htc, h.set_point)
               for n, h in s.heaters.items()]  # fmt: skip
    filters = Filters(len(s.mills), wash_on_cake=s.filters.wash_on_cake,
                      cake_moisture=s.filters.cake_moisture, area=s.filters.area)  # fmt: skip
    pans = PanStage(tuple(_grade(letter, p) for letter, p in s.pans.items()),
                    magma_from=tuple(s.pans)[-1])  # fmt: skip
    bleeds: dict[int, tuple[str, ...]] = {}
    exhaust = ["evaporator.steam.flow"]
    for address, effect in [
        *((f"heater.{n}.vapour.flow", h.vapour) for n, h in s.heaters.items()),
        *((f"pan.{letter}.steam.flow", p.heating) for letter, p in s.pans.items()),
    ]:
        if effect:
            bleeds[effect] = (*bleeds.get(effect, ()), address)
        else:
            exhaust.append(address)
    evaporator = Evaporator(
        tuple(Effect(e.area, e.htc, e.inversion) for e in s.effects),
        liquor_brix=s.evaporator.liquor_brix,
        last_vapour_temperature=s.evaporator.last_vapour_temperature,
        condenser_water=s.evaporator.condenser_water, bleeds=bleeds,
        inversion_by_ph=inversion_by_ph(s),
    )  # fmt: skip
    cures = centrifugals(pans, {letter: _curing(p) for letter, p in s.pans.items()})
    last = tuple(s.pans)[-1]
    boiler = Boiler(tandem, filters, s.steam.live_pressure, s.steam.live_temperature,
                    s.steam.stack_temperature, s.steam.air_ratio)  # fmt: skip
    steam = SteamMain(
        tandem, boiler, tuple(exhaust), s.steam.exhaust_pressure, s.steam.exhaust_temperature,
        s.steam.drop_to_exhaust, s.steam.drop_to_vacuum,
        back_pressure_power=s.steam.back_pressure_power,
        condensing_power=s.steam.condensing_power, feed_water=s.steam.feed_water,
    )  # fmt: skip
    rest: list[Station] = [
        Cane(s.cane.rate, s.cane.fibre, s.cane.insolubles, s.cane.brix, s.cane.pol,
             s.cane.temperature),
        *heaters,
        Clarifier(s.clarifier.lime_on_cane, mud_insolubles=s.clarifier.mud_insolubles,
                  temperature=s.clarifier.temperature, area=s.clarifier.area,
                  volume=s.clarifier.volume, inversion_by_ph=inversion_by_ph(s)),
        Crystalliser(last, s.crystalliser.temperature, s.crystalliser.supersaturation,
                     s.pans[last].dry_substance),
        MolassesQuality(),
        Magma(last, s.sugar.magma_dry_substance,
              remelt_dry_substance=s.sugar.remelt_dry_substance),
        Dryer(tuple(n for n, p in s.pans.items() if p.shipped), s.sugar.moisture),
        boiler,
        Stocks(s.stocks),
    ]  # fmt: skip
    others = tuple(one for one in rest if not isinstance(one, Heater))
    works = Works(tandem, filters, evaporator, pans, cures, steam, s.stocks, tuple(heaters),
                  rest=others)  # fmt: skip
    return replace(works, beside=tuple(beside(s, works))), rest


def _grade(letter: str, p: object) -> Grade:
    keys = ("feeds", "dry_substance", "supersaturation", "vapour_temperature", "movement_water",
            "heating", "density", "dry_on_brix", "sucrose_less_pol", "magma_share", "grain_share",
            "purity", "movement_sigma", "magma_sigma")  # fmt: skip
    return Grade(letter, **{k: getattr(p, k) for k in keys})


def _curing(p: object) -> dict[str, float]:
    keys = ("sugar_purity", "sugar_purity_sigma", "sugar_moisture", "sugar_moisture_sigma",
            "molasses_dry_substance", "molasses_dry_on_brix")  # fmt: skip
    return {k: getattr(p, k) for k in keys}


def check_description(s: Settings) -> None:
    """Refuse a description whose streams cannot close, before any equation is written."""
    where = "mill.toml"
    if not 3 <= len(s.mills) <= 7:
        raise BadInput("number of mills", where=f"{where}: mills", value=len(s.mills),
                       allowed="3 to 7")  # fmt: skip
    if not 2 <= len(s.effects) <= 6:
        raise BadInput("number of effects", where=f"{where}: effects", value=len(s.effects),
                       allowed="2 to 6")  # fmt: skip
    if not 2 <= s.tandem.screen_returns_to <= len(s.mills):
        raise BadInput(
            "the screen returns to a mill that is not there: its recycle cannot close",
            where=f"{where}: tandem.screen_returns_to",
            value=s.tandem.screen_returns_to,
            allowed=f"2 to {len(s.mills)}",
        )
    for name in ("primary", "secondary"):
        if name not in s.heaters:
            raise BadInput(f"the {name} heater is missing: its bleed has nowhere to go",
                           where=f"{where}: heaters", todo=f"Add [heaters.{name}].")  # fmt: skip
    for name in s.heaters:
        if name not in ("primary", "secondary"):
            raise BadInput(f"unknown heater {name!r}", where=f"{where}: heaters",
                           allowed="primary, secondary")  # fmt: skip
    users = [(f"heaters.{n}.vapour", h.vapour) for n, h in s.heaters.items()]
    users += [(f"pans.{n}.heating", p.heating) for n, p in s.pans.items()]
    for key, effect in users:
        if not 0 <= effect < len(s.effects):
            raise BadInput("no bleed there", where=f"{where}: {key}", value=effect,
                           allowed=f"1 to {len(s.effects) - 1}, or 0 for exhaust")  # fmt: skip
    check_beside(s, where)
    _check_pans(s, where)
    for name in s.stocks:
        if name not in KNOWN:
            from ratoon.base.errors import UnknownName

            raise UnknownName("stock", name, KNOWN, where=where)


def _check_pans(s: Settings, where: str) -> None:
    letters = tuple(s.pans)
    if letters not in (("A", "B", "C"), ("A", "C")):
        raise BadInput("massecuites", where=f"{where}: pans", value=", ".join(letters),
                       allowed="A, B, C or A, C, in that order")  # fmt: skip
    feeds = {f for p in s.pans.values() for f in p.feeds}
    for letter, p in s.pans.items():
        for f in p.feeds:
            if f not in TEMPERATURES:
                from ratoon.base.errors import UnknownName

                raise UnknownName("feed", f, TEMPERATURES, where=f"{where}: pans.{letter}.feeds")
        if "magma" in p.feeds and not p.magma_share:
            raise BadInput("takes magma but states no magma_share",
                           where=f"{where}: pans.{letter}")  # fmt: skip
    for letter in letters[:-1]:
        if f"{letter}_molasses" not in feeds:
            raise BadInput(f"nobody takes {letter} molasses: its recycle cannot close",
                           where=f"{where}: pans", todo=f"Add {letter}_molasses to the feeds of "
                           "a later massecuite.")  # fmt: skip
    if not any(p.shipped for p in s.pans.values()):
        raise BadInput("no sugar is shipped", where=f"{where}: pans")
    if "liquor" not in feeds:
        raise BadInput("nobody takes liquor: its stream cannot close", where=f"{where}: pans")


__all__ = ["build", "check_description", "join", "stations_of"]
