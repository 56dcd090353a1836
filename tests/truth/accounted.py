"""Drawn mills through the program: a first mill file from plates and usual readings, then days.

The program is told what a new user knows, and nothing of what was drawn: its file comes from
`first_file` with the plates and the mean of three days' readings as usual values.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from true_mill import figures
from true_mill.days import Day
from true_mill.days import Mill as TrueMill
from true_mill.reading import WIDE, Instruments, Said

from ratoon.account.first_file import Plates, Spread, first_file
from ratoon.account.mill import Mill
from ratoon.account.readings.gather import gather
from ratoon.account.readings.gathered import Gathered
from ratoon.account.readings.levels import carried
from ratoon.base.records import Reading, Stop
from ratoon.base.units import to_inside
from ratoon.settings.read import parse_settings
from ratoon.settings.usual_readings import usual_reading

FIRST = date(2031, 7, 1)
USUAL_DAYS = 3


@dataclass
class Told:
    """One day: what is true, what was read, and what the program gathered of it."""

    day: Day
    said: Said
    truth: dict[str, float]
    gathered: Gathered


class Case:
    """One drawn mill with its file; `next` gives the next day."""

    def __init__(self, seed: int, number: int, wide: float = WIDE) -> None:
        rng = np.random.default_rng([seed, number])
        self.true, self.wide, self.days = TrueMill(rng), wide, 0
        first = self.true.day()
        self.instruments = Instruments(rng, self.true, first)
        days = [first, *(self.true.day() for _ in range(USUAL_DAYS - 1))]
        said = [self.instruments.read(d, 0.0) for d in days]
        usual = {a: float(np.mean([s.values[a] for s in said])) for a in said[0].values}
        self.text = first_file(plates(self.true, self.instruments, usual))
        self.mill = Mill(parse_settings(self.text))
        self.before: Gathered | None = None

    def next(self) -> Told:
        """The next day, read and gathered, with what the day before closed with."""
        day = self.true.day()
        said = self.instruments.read(day, self.wide)
        on = FIRST + timedelta(days=self.days)
        self.days += 1
        made = gathered(self.mill, on, said, day.hours)
        own, self.before = self.before, replace(made, readings=list(made.readings))
        if own is not None:
            carried(self.mill, made, own)
        return Told(day, said, figures.headline(self.true, day), made)


def plates(true: TrueMill, instruments: Instruments, usual: dict[str, float]) -> Plates:
    """What stands on the plates of a drawn mill, and what it reads."""
    p = true.plate
    reads: dict[str, Spread | None] = {}
    for address, spread in instruments.spreads.items():
        known = usual_reading(address)
        same = known is not None and (known.sigma or 0.0) == spread.sigma and (
            abs((known.relative or 0.0) - spread.relative) < 1e-9
        )  # fmt: skip
        reads[address] = None if same else Spread(spread.sigma or None,
                                                  100.0 * spread.relative or None)  # fmt: skip
    return Plates(
        name="Drawn", zone="UTC", season_start=FIRST, rate=p.rate, mills=p.mills, effects=p.areas,
        heaters={"primary": p.heaters[0], "secondary": p.heaters[1]},
        massecuites="".join(p.letters), live_pressure=p.live_pressure / 1e3,
        live_temperature=p.live_temperature, sugar_price=500.0,
        drives="electric" if p.electric else "steam", condenser_water=p.condenser,
        back_pressure=p.back_pressure / 1e6, condensing=p.condensing / 1e6, reads=reads,
        usual=usual, stocks=tuple(p.tanks),
    )  # fmt: skip


def records(mill: Mill, on: date, said: Said) -> list[Reading]:
    """A day's readings as an importer makes them."""
    period = mill.calendar.period(on)
    rows = [(a, v, period.start, period.end) for a, v in said.values.items()]
    rows += [(a, v, period.start, None) for a, v in said.opening.items()]
    rows += [(a, v, period.end, None) for a, v in said.closing.items()]
    made = []
    for address, value, start, end in rows:
        unit = mill.addresses[address].unit
        made.append(Reading(address, to_inside(value, unit), None, start=start, end=end, unit=unit,
                            given=value, source="drawn"))  # fmt: skip
    return made


def gathered(mill: Mill, on: date, said: Said, hours: float) -> Gathered:
    """Readings of a day made ready, with the mills' stop as one stretch."""
    period = mill.calendar.period(on)
    stop = Stop(period.start, period.start + timedelta(hours=24.0 - hours), "mills", "other")
    return gather(mill, period, records(mill, on, said), [stop])
