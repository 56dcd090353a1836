"""A mill above the sea: gauge and vacuum readings, flash and boilers take the air's pressure there.

Pressures of the International Standard Atmosphere are from memory; steam is [IF97]'s.
"""

from datetime import date
from pathlib import Path

import pytest

import ratoon.demo
from ratoon.account.mill import Mill, read_mill
from ratoon.base.units import pressure_at
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import store_of
from ratoon.properties.water import saturation_temperature
from ratoon.settings.form import written
from ratoon.settings.read import parse_settings, tables_of
from ratoon.store.entries import readings_in

KESTREL = tables_of((Path(ratoon.demo.__file__).parent / "data" / "mill.toml").read_text("utf-8"))


def mill_at(altitude: float, **steam: float) -> str:
    """The invented mill's file at another height, or with other boilers."""
    return written({
        **KESTREL, "mill": {**KESTREL["mill"], "altitude": altitude},
        "steam": {**KESTREL["steam"], **steam},
    })  # fmt: skip


@pytest.mark.parametrize(
    ("altitude", "pascal"), [(0.0, 101_325), (1000.0, 89_875), (2000.0, 79_495)]
)
def test_the_standard_atmosphere(altitude: float, pascal: float) -> None:
    assert pressure_at(altitude) == pytest.approx(pascal, abs=5.0)


def test_a_vacuum_is_below_the_air_of_the_mill(tmp_path: Path) -> None:
    """85 kPa vac at 600 m is vapour of 44.4 °C; at sea level it would be 55.7."""
    (tmp_path / "mill.toml").write_text(mill_at(600.0), encoding="utf-8")
    (tmp_path / "a.csv").write_text(
        "address,start,end,value,unit,sigma,source,note\n"
        "effect.5.vapour.pressure,2031-08-14,,85,kPa vac,1,,\n",
        encoding="utf-8",
    )
    import_files(tmp_path, [tmp_path / "a.csv"])
    with store_of(tmp_path) as store:
        period = read_mill(tmp_path).calendar.period(date(2031, 8, 14))
        (reading,) = store.ask(readings_in, period)
    assert saturation_temperature(reading.value) == pytest.approx(44.4, abs=0.1)


def test_juice_flashes_colder_on_a_mountain() -> None:
    low, high = (Mill(parse_settings(mill_at(h))).plant.solve() for h in (0.0, 1500.0))
    assert high["flash.vapour.flow"] > low["flash.vapour.flow"]
    assert high["boiler.flue_gas.volume"] > 1.15 * low["boiler.flue_gas.volume"]


def test_water_blown_down_is_as_hot_as_the_boilers_drum() -> None:
    """At another pressure the drum's water takes another heat, and the fuel follows."""
    from ratoon.plant.build import stations_of
    from ratoon.properties.water import liquid_enthalpy

    for pressure in (2000.0, 6000.0):
        plant = Mill(parse_settings(mill_at(0.0, live_pressure=pressure))).plant
        boiler = stations_of(plant.settings).steam.boiler
        q = plant.solve()
        feed = boiler.feed_enthalpy(q)
        drum = liquid_enthalpy(saturation_temperature(1e3 * pressure))
        each = boiler.steam_enthalpy(q) - feed + boiler.blowdown * (drum - feed)
        assert q["boiler.heat_out"] == pytest.approx(q["boiler.steam.flow"] * each, rel=1e-9)
