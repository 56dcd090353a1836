"""A mill: its settings joined with the plant they describe."""

from __future__ import annotations

from datetime import date, time
from fnmatch import fnmatchcase as fnmatch
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from ratoon.base.clock import Calendar, Shift
from ratoon.base.errors import BadInput
from ratoon.base.units import pressure_at
from ratoon.settings import Settings, read_settings

if TYPE_CHECKING:
    from ratoon.account.figures.figured import Figured
    from ratoon.base.addresses import AddressInfo
    from ratoon.plant.plant import Plant
    from ratoon.plant.roles import Roles

# What makes a plant is loaded where one is made: what is kept is shown without it.


class Mill:
    """One mill, described by its mill file.

    Attributes
    ----------
    settings : the mill file as records. plant : the plant (made on first use). calendar : mill
    days, weeks, season. addresses : every quantity that can be read or asked for.
    """

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.calendar = _calendar(settings)

    @cached_property
    def plant(self) -> Plant:
        from ratoon.account.figures.all_figures import figures, reports
        from ratoon.plant.plant import Plant

        return Plant(
            self.settings, lambda works, q: reports(figures(works.roles, self.settings), q)
        )

    @cached_property
    def figures(self) -> dict[str, Figured]:
        """Every figure of the account by its address, with its working."""
        from ratoon.account.figures.all_figures import figures

        return {f.address: f for f in figures(self.roles, self.settings)}

    @cached_property
    def always(self) -> list[str]:
        """Addresses of the figures that a period's result always has."""
        return [f.address for f in self.figures.values() if f.shown == "always"]

    @cached_property
    def also(self) -> list[str]:
        """Addresses of the figures that a period's result has beside them."""
        return [f.address for f in self.figures.values() if f.shown == "also"]

    @property
    def roles(self) -> Roles:
        """What the stations of the plant are in its account."""
        return self.plant.works.roles

    @cached_property
    def addresses(self) -> dict[str, AddressInfo]:
        from ratoon.account.readings.own import own_addresses

        return {**self.plant.addresses, **own_addresses(self.settings)}

    @cached_property
    def calibrated(self) -> dict[str, tuple[date, ...]]:
        """Days of calibration, by instrument, or by address for a reading that names none."""
        found = {n: i.calibrated for n, i in self.settings.instruments.items() if i.calibrated}
        for address, setting in self.settings.readings.items():
            for row in self.settings.calibrations:
                if not setting.instrument and any(fnmatch(address, p) for p in row.readings):
                    found[address] = tuple(sorted({*found.get(address, ()), *row.calibrated}))
        return found

    @property
    def atmospheric(self) -> float:
        """Pressure of the air at the mill [Pa], for gauge and vacuum readings."""
        return pressure_at(self.settings.mill.altitude)

    @property
    def name(self) -> str:
        return self.settings.mill.name


def read_mill(path: Path | str) -> Mill:
    """Read a mill from its folder or its `mill.toml`.

    Raises
    ------
    BadInput, UnknownName : one line naming key, value and what is allowed.

    Examples
    --------
    >>> mill = read_mill("kestrel-point")  # doctest: +SKIP
    >>> mill.plant.solve({"cane.rate": 480 / 3.6})["account.extraction"]  # doctest: +SKIP
    """
    return Mill(read_settings(path))


def _calendar(settings: Settings) -> Calendar:
    m = settings.mill
    return Calendar(
        zone=m.zone,
        day_start=_time(m.day_start, "mill.day_start"),
        week_start=m.week_start,
        season_start=m.season_start,
        earlier_seasons=m.earlier_seasons,
        shifts=tuple(Shift(n, _time(t, f"mill.shifts.{n}")) for n, t in m.shifts.items()),
    )


def _time(text: str, key: str) -> time:
    try:
        return time.fromisoformat(text)
    except ValueError:
        raise BadInput("is not a time of day", where=f"mill.toml: {key}", value=text,
                       allowed='such as "06:00"') from None  # fmt: skip
