"""A mill's first file, from its plates and what it usually reads.

Somebody who starts knows how many mills and effects there are, what stands on the plates, and last
week's figures. All else begins at common practice with its uncertainty, and is sharpened by the
mill's own days. What is written is an ordinary mill file: every line of it can be changed.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from textwrap import wrap

from ratoon.properties.water import (
    saturation_temperature,
)
from ratoon.settings.by_place import PANS as BY_PLACE
from ratoon.settings.by_place import between
from ratoon.settings.usual_readings import usual_reading

KILO = 1e3
WIDTH = 110  # letters in a line of the list of readings
USUAL_RATE = 470.0  # t/h of the mill for which own power and other exhaust are stated
# Common practice, first to last of five effects; others lie between.
INVERTED = (0.08, 0.03, 0.01, 0.003, 0.001)  # %

# Common practice, with how sure a first guess is: the first massecuite, one between, the last.
PANS: tuple[dict[str, object], ...] = (
    {"movement_sigma": 2.0, "magma_share": 8.5, "magma_sigma": 2.0,
     "sugar_moisture_sigma": 0.15, "shipped": True},
    {"purity": 76.0, "movement_sigma": 3.0, "magma_share": 9.0, "magma_sigma": 3.0,
     "sugar_purity_sigma": 0.15, "sugar_moisture_sigma": 0.2, "shipped": True},
    {"movement_sigma": 4.0, "grain_share": 5.0, "sugar_purity_sigma": 2.0,
     "sugar_moisture_sigma": 0.7},
)  # fmt: skip
# What each of two or three massecuites is boiled of; {0}, {1} are the letters of those before.
FEEDS: dict[int, tuple[tuple[str, ...], ...]] = {
    2: (("liquor", "magma", "{0}_molasses"), ("liquor", "{0}_molasses")),
    3: (("liquor", "magma"), ("liquor", "magma", "{0}_molasses"),
        ("liquor", "{0}_molasses", "{1}_molasses")),
}  # fmt: skip
USUAL = {  # trade units; common practice where nothing is read
    "cane.fibre_laboratory": 15.0, "first_juice.brix": 21.0, "first_juice.pol": 18.5,
    "cane.temperature": 25.0, "imbibition.temperature": 55.0, "bagasse.temperature": 52.0,
    "bagasse.pol": 1.9, "bagasse.moisture": 49.5, "heater.primary.temperature": 75.0,
    "heater.secondary.temperature": 103.0, "clear_juice.temperature": 96.5, "mud.insolubles": 6.0,
    "cake.moisture": 75.0, "liquor.brix": 67.0, "exhaust.pressure": 208.0,
    "exhaust.temperature": 132.0, "crystalliser.temperature": 46.0, "sugar.moisture": 0.28,
    "boiler.stack.temperature": 220.0, "boiler.air_ratio": 1.5, "feed_water.temperature": 95.0,
}  # fmt: skip


@dataclass(frozen=True)
class Spread:
    """Uncertainty of a reading, where it is not the usual one: in its unit or relative in %."""

    sigma: float | None = None
    relative: float | None = None


@dataclass(frozen=True)
class Plates:
    """What is known of a mill on the first day.

    Attributes
    ----------
    rate : crushing rate [t/h]. mills : how many. drives : steam or electric. heaters, effects :
    heating surface [m2]. massecuites : letters of two or three, as "AC" or "ABC".
    live_pressure, live_temperature : of boilers [kPa a, degC]. condenser_water [t/h].
    back_pressure, condensing : sets [MW], 0 for none.
    heated_by : effect whose vapour goes to heaters and pans, 0 for exhaust.
    reads : addresses read each day, with an uncertainty where it is not the usual one.
    usual : usual value of readings, trade units. stocks : what is dipped. sugar_price : per tonne.
    diffuser : there is one, and the mills dewater its bagasse. settling, filtering : area of
    clarifiers and filters [m2]. volumes : of clarifier, crystalliser and pans by massecuite [m3].
    place : keys of the table of the mill beside its name, as they are written there.
    """

    name: str
    zone: str
    season_start: date | None
    rate: float
    mills: int
    effects: tuple[float, ...]
    heaters: Mapping[str, float]
    massecuites: str
    live_pressure: float
    live_temperature: float
    sugar_price: float
    drives: str = "steam"
    condenser_water: float | None = None
    back_pressure: float = 0.0
    condensing: float = 0.0
    heated_by: Mapping[str, int] = field(
        default_factory=lambda: {"primary": 2, "secondary": 1, "A": 1, "B": 1, "C": 0}
    )
    reads: Mapping[str, Spread | None] = field(default_factory=dict)
    usual: Mapping[str, float] = field(default_factory=dict)
    stocks: tuple[str, ...] = ()
    diffuser: bool = False
    settling: float | None = None
    filtering: float | None = None
    volumes: Mapping[str, float] = field(default_factory=dict)
    place: Mapping[str, object] = field(default_factory=dict)

    def read(self, address: str) -> float:
        """Usual value of a reading, or common practice."""
        return float(self.usual.get(address, USUAL.get(address, 0.0)))


def first_file(p: Plates) -> str:
    """The text of a mill file."""
    return "\n".join((*_head(p), *_juice(p), *_pans(p), *_steam(p), *_readings(p), ""))


def _table(values: Mapping[str, object]) -> str:
    return "{ " + ", ".join(f"{k} = {_written(v)}" for k, v in values.items()) + " }"


def _given(values: Mapping[str, object]) -> dict[str, object]:
    """Those keys that have a value."""
    return {k: v for k, v in values.items() if v is not None}


def _written(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)  # a basic string of TOML is spelt alike
    if isinstance(value, Mapping):
        return _table(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_written(v) for v in value) + "]"
    return f"{float(value):.6g}" if isinstance(value, float) else str(value)


def _head(p: Plates) -> Iterator[str]:
    yield f"# {p.name}: a first mill file. What it does not say is common practice."
    yield "form = 2"
    yield f"stocks = {_written(p.stocks)}"
    listed = [a for a, spread in p.reads.items() if spread is None]
    yield "# Read each day, with the usual uncertainty; others stand below, under [readings]."
    yield "read = ["
    yield from wrap(", ".join(f'"{a}"' for a in listed), WIDTH)
    yield "]"
    last = 100.0 - p.read("bagasse.moisture") - p.read("bagasse.pol") / 0.76 - 1.6
    yield "mills = [" + "{}, " * (p.mills - 1) + _table({"fibre_content": last}) + "]"
    yield "effects = ["
    for area, lost in zip(p.effects, between(INVERTED, len(p.effects)), strict=True):
        yield f"  {_table({'area': float(area), 'inversion': lost})},"
    yield "]"
    yield f"prices = {_table({'sugar': p.sugar_price})}"
    mill: dict[str, object] = {"name": p.name, "zone": p.zone, **p.place}
    if p.season_start:
        mill["season_start"] = p.season_start
    yield f"mill = {_table(mill)}"
    if p.diffuser:
        yield f"diffuser = {_table({'vapour': 1})}"


def _juice(p: Plates) -> Iterator[str]:
    fibre = p.read("cane.fibre_laboratory")
    brix = p.read("first_juice.brix") * (97.0 - fibre) / 100.0
    pol = p.read("first_juice.pol") * (95.0 - fibre) / 100.0
    yield "cane = " + _table({"rate": p.rate, "fibre": fibre, "brix": brix, "pol": pol,
                              "temperature": p.read("cane.temperature")})  # fmt: skip
    water = p.read("imbibition.flow") / (p.rate * fibre / 100.0) * 100.0 or 220.0
    yield "tandem = " + _table({
        "imbibition_on_fibre": water, "imbibition_temperature": p.read("imbibition.temperature"),
        "bagasse_temperature": p.read("bagasse.temperature"), "drives": p.drives})  # fmt: skip
    for name, heats in (("primary", "mixed_juice"), ("secondary", "limed_juice")):
        yield f"heaters.{name} = " + _table({
            "area": float(p.heaters[name]), "heats": heats, "vapour": p.heated_by[name],
            "set_point": p.read(f"heater.{name}.temperature")})  # fmt: skip
    clarifier = {"temperature": p.read("clear_juice.temperature"),
                 "mud_insolubles": p.read("mud.insolubles"), "area": p.settling,
                 "volume": p.volumes.get("clarifier")}  # fmt: skip
    yield "clarifier = " + _table(_given(clarifier))
    yield "filters = " + _table(_given({"cake_moisture": p.read("cake.moisture"),
                                        "area": p.filtering}))  # fmt: skip
    cold = p.usual.get(f"effect.{len(p.effects)}.vapour.pressure")
    last = float(saturation_temperature(KILO * cold)) if cold else 54.0
    water = p.condenser_water or 2500.0 * p.rate / USUAL_RATE
    yield "evaporator = " + _table({"liquor_brix": p.read("liquor.brix"),
                                    "last_vapour_temperature": last,
                                    "condenser_water": water})  # fmt: skip


def _pans(p: Plates) -> Iterator[str]:
    count = len(p.massecuites)
    for k, (x, taken) in enumerate(zip(p.massecuites, FEEDS[count], strict=True)):
        final, place = k == count - 1, -1 if k == count - 1 else k
        pan = {"feeds": [t.format(*p.massecuites) for t in taken],
               "heating": p.heated_by.get(x, 0 if final else 1), **PANS[place]}  # fmt: skip
        if count == 2 and not final:
            pan["purity"] = 81.0
        if count == 3 and final:
            pan["purity"] = 63.5
        run_off = "final_molasses" if final else f"molasses.{x}"
        for key, address, on in (
            ("dry_substance", f"pan.{x}.massecuite.brix", "dry_on_brix"),
            ("molasses_dry_substance", f"{run_off}.brix", "molasses_dry_on_brix"),
        ):
            if address in p.usual:
                pan[key] = float(p.usual[address]) * BY_PLACE[on][place]
        if "purity" in pan:
            pan["purity"] = p.usual.get(f"pan.{x}.massecuite.purity", pan["purity"])
        if x in p.volumes:
            pan["volume"] = p.volumes[x]
        yield f"pans.{x} = {_table(pan)}"
    crystalliser = {"temperature": p.read("crystalliser.temperature")}
    if "crystalliser" in p.volumes:
        crystalliser["volume"] = p.volumes["crystalliser"]
    yield "crystalliser = " + _table(crystalliser)
    yield "sugar = " + _table({"moisture": p.read("sugar.moisture"), "magma_dry_substance": 88.5})


def _steam(p: Plates) -> Iterator[str]:
    steam = {
        "exhaust_pressure": p.read("exhaust.pressure"),
        "exhaust_temperature": p.read("exhaust.temperature"), "live_pressure": p.live_pressure,
        "live_temperature": p.live_temperature,
        "stack_temperature": p.read("boiler.stack.temperature"),
        "air_ratio": p.read("boiler.air_ratio"), "feed_water": p.read("feed_water.temperature"),
    }  # fmt: skip
    for key, power in (("back_pressure", p.back_pressure), ("condensing", p.condensing)):
        if power:
            steam[f"{key}_power"] = float(p.usual.get(f"power.{key}", 0.8 * power))
    yield f"steam = {_table(steam)}"
    size = p.rate / USUAL_RATE
    yield "[assumed]"
    for address, value, sigma in (("own_power.fixed", 2.5, 0.8), ("exhaust.other.flow", 5.0, 2.5)):
        made = {"value": value * size, "sigma": sigma * size,
                "source": "common practice, no source; by the size of the mill"}  # fmt: skip
        yield f'"{address}" = {_table(made)}'


def _readings(p: Plates) -> Iterator[str]:
    own = {a: s for a, s in p.reads.items() if s is not None}
    if own:
        yield "[readings]"
    for address, spread in own.items():
        usual = usual_reading(address)
        given = {"sigma": spread.sigma, "relative": spread.relative}
        made: dict[str, object] = {k: v for k, v in given.items() if v is not None}
        if usual is not None:
            made |= {"common_share": usual.common_share, "hours": usual.hours}
            if usual.instrument:
                made["instrument"] = usual.instrument
        yield f'"{address}" = {_table(made)}'


__all__ = ["Plates", "Spread", "first_file"]
