"""The usual cautions, said by the stations and pages where the work can hurt someone."""

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
BAGASSE_FIRE = "Bagasse heats by itself and burns; its dust can explode."
SUGAR_STORE = ("Sugar dust can explode; a hot pile may go on heating and give off fumes; a pile or"
               " bin buries those who walk on it or dig into its foot: nobody alone, nobody under a"
               " face.")  # fmt: skip
MOLASSES = (
    "Molasses that warms by itself can boil over and burst its tank: no one enters a tank or stands"
    " on it, and its gas suffocates."
)
PILES = "Sugar and bagasse bury people: nobody walks on a pile or under its face, or enters a bin."
DEFER = "Local codes, the site's procedures and licensed people decide; these figures advise."
