"""What a mill does with its figures, run once so that it can be told which functions it enters.

A day is read without error where the plant stands as the mill file sets it, and accounted with its
sheet and the lines of its report; its cane is followed to the sampler, analysed and paid by each
form of agreement. No figure of it is used.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import get_args

import numpy as np

from ratoon.account.figures.manufacturing import line_items
from ratoon.account.mill import Mill
from ratoon.account.period import account
from ratoon.account.readings.gather import gather
from ratoon.account.result import Made, day_result
from ratoon.account.results.day import Seconds, Versions
from ratoon.base import units
from ratoon.base.records import Reading
from ratoon.cane.ccs import ccs_with_sigma
from ratoon.cane.day import track
from ratoon.cane.paid import figure_of, price_per_tonne, relative_figure
from ratoon.cane.payment import NEEDED, Form, PaymentRule, Relative
from ratoon.cane.records import Analysis, Bin, NetBin, SpeedSeries
from ratoon.cane.rules import Carrier, TrackRules
from ratoon.settings import Settings

BEGUN = datetime(2031, 7, 1, tzinfo=UTC)
NOTHING_MADE = Made({}, "", Versions("", "", ""), Seconds(0.0, 0.0, 0.0))


def account_and_pay(settings: Settings) -> None:
    """A day of the mill that a mill file describes: accounted, reported, its cane paid."""
    mill = Mill(settings)
    works = mill.plant.solve().values
    day = BEGUN.date()
    gathered = gather(mill, mill.calendar.period(day), [], [])
    gathered.readings[:] = [
        *(r for r in gathered.readings if r.kind != "measured"), *_readings(mill, works),
    ]  # fmt: skip
    today = account(mill, gathered, works)
    day_result(today, day, [], NOTHING_MADE)
    line_items(today)
    _paid()


def _readings(mill: Mill, works: Mapping[str, float]) -> Iterator[Reading]:
    """The mill's readings as its plant stands, with the uncertainty that the mill file states."""
    for address, setting in mill.settings.readings.items():
        if address in works:
            value, unit = works[address], mill.addresses[address].unit
            sigma = (setting.relative or 0.0) * abs(value) or units.spread_to_inside(
                setting.sigma or 0.0, unit
            )
            yield Reading(address, value, sigma, unit=unit)


def _paid() -> None:
    """Two bins of one consignment: their window at the sampler, their analysis, their price."""
    times = np.array([BEGUN.timestamp() - 7200.0, BEGUN.timestamp() + 7200.0])
    speeds = {name: SpeedSeries(name, times, np.full(2, 0.1)) for name in ("carrier", "mills")}
    bins = [
        NetBin(Bin(str(n), "C", tipped, 15000, 5000), 10000, tipped)
        for n, tipped in enumerate((BEGUN, BEGUN + timedelta(minutes=2)))
    ]
    track(bins, speeds, TrackRules(carriers=(Carrier(name="carrier", length=20.0),)), 100.0)
    juice = np.array([0.20]), np.array([0.17]), np.array([0.15])
    ccs, sigma = ccs_with_sigma(*juice, 1e-6 * np.eye(3)[None])
    one = Analysis("C", "sample", 0.20, 0.17, 0.15, float(ccs[0]), *4 * (float(sigma[0]),))
    for form in get_args(Form):
        for relative in get_args(Relative):
            rule = PaymentRule(
                name=form, form=form, constants=dict.fromkeys(NEEDED[form], Decimal("0.5")),
                relative=relative, season_figure=Decimal(12),
            )  # fmt: skip
            figure = relative_figure(figure_of(one, rule), Decimal(12), rule)
            price_per_tonne(figure, rule)
