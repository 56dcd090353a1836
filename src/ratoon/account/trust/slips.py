"""The slip of the pen that would explain a reading which the others speak against.

A slip is told where the reading is far from what the others say and the slip, undone, fits: what
people do when they write figures down, common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from ratoon.account.period import PeriodAccount
from ratoon.account.readings.as_read import called, reading_unit, show
from ratoon.account.trust.set_aside import PAST
from ratoon.base import units

FITS = 2.5
"""Standard uncertainties within which a reading with its slip undone agrees with the others."""
SURELY = 10.0
"""Standard uncertainties from which a fit of exchanged digits is no chance: they are close by."""
EXCHANGED = "digits exchanged"
POINTS = (1, -1, 2, -2, 3, -3)
"""Places by which a decimal point is put wrong."""


def slip_of(account: PeriodAccount, address: str) -> str | None:
    """A likely slip in a reading; None where none would explain it.

    "swapped with ADDRESS", "decimal point", "unit: ...", "sign", "digits exchanged".
    """
    if account.settled and (other := account.settled.exchanged.get(address)):
        return _swapped(account, other)
    read = {r.address: r for r in account.gathered.readings if r.kind == "measured"}
    answer = account.answer
    if address not in read or answer is None or not answer.determined(address):
        return None
    reading = read[address]
    told = show(account, address, answer.value(address), False)
    was = show(account, address, reading.value, False)
    own = show(account, address, ((reading.sigma or 0.0) ** 2 + reading.common**2) ** 0.5, True)
    doubt = show(account, address, answer.sigma(address), True)
    if told is None or was is None or own is None or doubt is None:
        return None
    spread = (own**2 + (doubt**2 if address in account.aside else 0.0)) ** 0.5
    if not spread > 0.0 or abs(was - told) <= PAST * spread:
        return None
    far = abs(was - told) > SURELY * spread
    best = min(
        ((abs(value - told) / spread, place, words)
         for place, (value, words) in enumerate(_undone(account, address, was))
         if far or words != EXCHANGED),
        default=None,
    )  # fmt: skip
    return best[2] if best is not None and best[0] <= FITS else None


def _undone(account: PeriodAccount, address: str, was: float) -> Iterator[tuple[float, str]]:
    """What the reading would be with each slip undone, and what the slip is called."""
    unit = reading_unit(account, address)[0]
    for other, value in _of_the_same_kind(account, address, unit):
        if _would_fit(account, other, was, unit):
            yield value, _swapped(account, other)
    yield -was, "sign"
    for places in POINTS:
        yield was * 10.0**places, "decimal point"
    for other_unit in units.units_of(units.dimension(unit)):
        if other_unit != unit:
            yield (units.from_inside(units.to_inside(was, other_unit), unit),
                   f"unit: {other_unit} for {unit}")  # fmt: skip
    rows = account.gathered.origins.get(address, [])
    if len(rows) == 1 and rows[0].given is not None:
        for value in _exchanged(rows[0].given):
            yield was * value / rows[0].given, EXCHANGED


def _swapped(account: PeriodAccount, other: str) -> str:
    name = called(account, other)
    return f"swapped with {name if name[1:2].isupper() else name[:1].lower() + name[1:]}"


def _of_the_same_kind(
    account: PeriodAccount, address: str, unit: str
) -> Iterator[tuple[str, float]]:
    """Other readings of the same dimension, in the unit of this one."""
    for r in account.gathered.readings:
        if r.kind == "measured" and r.address != address:
            mine = reading_unit(account, r.address)[0]
            value = show(account, r.address, r.value, False)
            if value is not None and units.dimension(mine) == units.dimension(unit):
                yield r.address, units.from_inside(units.to_inside(value, mine), unit)


def _would_fit(account: PeriodAccount, address: str, value: float, unit: str) -> bool:
    """Whether a value would be a sound reading of another address, whose own reading is not."""
    answer = account.answer
    if answer is None or not answer.determined(address):
        return False
    mine = reading_unit(account, address)[0]
    reading = next(r for r in account.gathered.readings if r.address == address)
    told = show(account, address, answer.value(address), False)
    own = show(account, address, ((reading.sigma or 0.0) ** 2 + reading.common**2) ** 0.5, True)
    doubt = show(account, address, answer.sigma(address), True)
    was = show(account, address, reading.value, False)
    if told is None or own is None or doubt is None or was is None:
        return False
    spread = (own**2 + doubt**2) ** 0.5
    other = units.from_inside(units.to_inside(value, unit), mine)
    return bool(abs(other - told) <= FITS * spread < abs(was - told))


def _exchanged(given: float) -> Iterator[float]:
    """A written number with each two neighbouring digits exchanged."""
    text = f"{given:.10g}"
    for (i, a), (j, b) in pairwise((k, c) for k, c in enumerate(text) if c.isdigit()):
        if a != b:
            swapped = [*text]
            swapped[i], swapped[j] = b, a
            yield float("".join(swapped))
