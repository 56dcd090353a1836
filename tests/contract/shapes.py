"""The printed agreement on JSON, key by key, written down here apart from the program."""

import math
from typing import Any

UNITS = {
    "cane": "t", "rate": "t/h", "hours": "h", "lost_time": "h", "ccs": "%",
    "fibre_in_cane": "%", "pol_in_cane": "%", "extraction": "%", "reduced_extraction": "%",
    "imbibition_on_fibre": "%", "bagasse_pol": "%", "bagasse_moisture": "%",
    "mixed_juice_purity": "%", "clear_juice_purity": "%", "liquor_brix": "%",
    "a_massecuite_purity": "%", "b_massecuite_purity": "%", "c_massecuite_purity": "%",
    "molasses_purity": "%", "target_purity": "%", "sugar": "t", "sugar_pol": "%",
    "sugar_moisture": "%", "dilution_indicator": "1", "boiling_house_recovery": "%",
    "overall_recovery": "%", "steam_on_cane": "%", "process_steam_on_cane": "%",
    "undetermined": "%",
}  # fmt: skip
"""The figures that are always there, after ``account.``, and their units."""

LOSSES = ["bagasse", "mud", "molasses", "known", "undetermined"]
KINDS = {"measured", "found", "assumed", "set", "not determined"}
DAY = {
    "date": str, "mill": str, "status": str, "period": dict, "basis": str, "figures": dict,
    "pol": dict, "losses": dict, "readings": list, "suspects": list, "global_test": dict,
    "undetermined_is_real": bool, "to_date": dict, "inputs_digest": str, "versions": dict,
    "seconds": dict, "set_aside": list, "with_all": dict,
}  # fmt: skip
READING = {
    "address": str, "start": str, "end": str, "value": float, "unit": str, "sigma_given": float,
    "adjusted": float, "sigma": float, "standardised": float, "redundant": bool,
    "detectability": float, "used": bool,
}  # fmt: skip
OPEN = {"end", "value", "sigma_given", "adjusted", "sigma", "standardised", "detectability"}
"""Keys of a reading that may be null: a level has no end, one kept and not used no adjustment."""


def is_a(value: Any, kind: type) -> bool:
    """Whether a JSON value is of a kind; a whole number counts as a number, a yes or no does not.

    Numbers must be finite.
    """
    if kind is float:
        number = isinstance(value, int | float) and not isinstance(value, bool)
        return number and math.isfinite(value)
    return isinstance(value, kind)


def has(record: dict[str, Any], kinds: dict[str, type], null: set[str] = frozenset()) -> None:
    """Assert that a record has the keys, each of its kind; those named may be null."""
    for key, kind in kinds.items():
        assert key in record, key
        if not (record[key] is None and key in null):
            assert is_a(record[key], kind), (key, record[key])


def amounts(record: dict[str, Any], keys: tuple[str, ...]) -> None:
    """Assert keys that hold a number each, or null where nothing is determined."""
    has(record, dict.fromkeys(keys, float), set(keys))
