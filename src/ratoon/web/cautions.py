"""The usual cautions of a station, by the beginning of its key; common practice, no source."""

from __future__ import annotations

PRESSURE = (
    "Steam and pressure: never work above the safe working pressure, lift a safety valve or "
    "by-pass a low-water or fuel trip. The same holds for chests, heaters and vessels under vacuum."
)
HOT = (
    "Hot juice, condensate, caustic and acid: never mix acid and caustic cleans; isolate, drain, "
    "vent, prove."
)
CONFINED = "Vessels, pans, tanks and clarifiers are confined spaces: permit, gas test, standby."
ROTATING = "Rotating plant: isolate and lock before clearing a choke."
DUST = "Sugar dust explodes: keep bearings cool and dust off."
BAGASSE = "Bagasse heats by itself and burns; its dust can explode."
DEFER = "Local codes, the site's procedures and licensed people decide; these figures advise."

BY_KEY = {
    "mill": (ROTATING, BAGASSE),
    "heater": (PRESSURE, HOT),
    "clarifier": (HOT, CONFINED),
    "filters": (ROTATING, HOT),
    "effect": (PRESSURE, HOT, CONFINED),
    "pan": (PRESSURE, HOT, CONFINED),
    "crystalliser": (ROTATING, CONFINED),
    "centrifugal": (ROTATING,),
    "magma": (ROTATING, HOT),
    "dryer": (DUST, ROTATING),
    "boiler": (PRESSURE, BAGASSE, CONFINED),
    "turbines": (PRESSURE, ROTATING),
    "exhaust": (PRESSURE,),
    "store": (BAGASSE, CONFINED),
}


def cautions_of(key: str) -> tuple[str, ...]:
    """Cautions of the station `key`, the deferral last."""
    return (*BY_KEY.get(key.partition(".")[0], ()), DEFER)
