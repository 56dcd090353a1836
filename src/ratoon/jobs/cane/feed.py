"""A day's totals of receival as readings of the mill's account, and the account's check of them.

A reading that stands is never changed by this: it is compared, and a difference is told.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from ratoon.base.records import Reading
from ratoon.jobs.cane.days import cane_of_day
from ratoon.store.entries import readings_in

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill

LIMIT = 3.0  # standard uncertainties beyond which a difference is told
WEIGHT = 0.003  # of the weighbridge's day, when the mill file says nothing


def feed_account(opened: OpenMill, day: date) -> dict[str, Any]:
    """Give the day's tonnes, brix, pol and fibre to the account where it has no reading of them.

    Returns
    -------
    By address: value, unit, what stood, and whether it was fed, agrees or differs.
    """
    answer = cane_of_day(opened, day)
    mill, store = opened.mill, opened.store
    period = mill.calendar.period(day)
    t = answer["totals"]
    at = mill.roles.at
    own: dict[str, tuple[float | None, str]] = {
        at("{cane}.weight"): (1.0 * (t["kilograms"] + t["estimated_kg"]), "t"),
        at("{first juice}.brix"): (None if t["brix"] is None else t["brix"] / 100.0, "%"),
        at("{first juice}.pol"): (None if t["pol"] is None else t["pol"] / 100.0, "%"),
        at("{cane}.fibre_laboratory"): (None if t["fibre"] is None else t["fibre"] / 100.0, "%"),
    }
    found: dict[str, Any] = {}
    new: list[Reading] = []
    stands = {r.address: r for r in store.ask(readings_in, period, addresses=own)
              if (r.start, r.end) == (period.start, period.end)}  # fmt: skip
    for address, (value, unit) in own.items():
        if value is None or address not in mill.addresses:
            continue
        shown = value / 1000.0 if unit == "t" else 100.0 * value
        old = stands.get(address)
        if old is None:
            new.append(Reading(address, value, None, start=period.start, end=period.end,
                               unit=unit, given=shown, source="receival"))  # fmt: skip
            found[address] = {"value": shown, "unit": unit, "stands": None, "what": "fed"}
            continue
        sigma = _sigma(mill, address, value)
        far = abs(old.value - value) > LIMIT * sigma
        found[address] = {"value": shown, "unit": unit,
                          "stands": old.value / 1000.0 if unit == "t" else 100.0 * old.value,
                          "what": "differs" if far else "agrees"}  # fmt: skip
    if new:
        store.add_readings(new, "receival")
    return found


def _sigma(mill: Mill, address: str, value: float) -> float:
    """Standard uncertainty of the account's reading, inside unit."""
    from ratoon.base import units

    setting = mill.settings.readings.get(address)
    if setting is not None and setting.relative is not None:
        return float(setting.relative) * abs(value)
    if setting is not None and setting.sigma is not None:
        return units.spread_to_inside(float(setting.sigma), mill.addresses[address].unit)
    return WEIGHT * abs(value)
