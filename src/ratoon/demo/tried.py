"""Settings tried on the true plant, running steadily with its stocks at rest.

Advice that comes of an account is judged here: the truth has laws of its own (`works`), and knows
what the account only finds.
"""

from __future__ import annotations

from collections.abc import Mapping

from ratoon.demo.hours import TruePlant

BACK_PRESSURE, LET_DOWN = "power.back_pressure", "let_down.flow"
HOUR = 3600.0


class Tried:
    """One true day's mill, to be run at other settings.

    Parameters
    ----------
    plant : the true plant; patient, so that it goes far in small parts. given : settings and
        parameters of the day [inside units].

    Attributes
    ----------
    today : the day's plant, as `at` gives it.

    Raises
    ------
    NotSolved : the day's plant does not run steadily.
    """

    def __init__(self, plant: TruePlant, given: Mapping[str, float]) -> None:
        self.plant = plant
        plant.reset()
        usual = {a: v[0] for a, v in plant.assumed.items()}
        hours = dict.fromkeys(("hours.crushing", "hours.period", "hours.evaporator"), HOUR)
        rest = {f"stock.{n}.{what}_shift": 0.0 for n in plant.in_process
                for what in ("dry", "purity")}  # fmt: skip
        size = {f"stock.{n}.{when}": plant.tanks[n].size for n in plant.in_process
                for when in ("opening", "closing")}  # fmt: skip
        self.given = {"undetermined.sugar_end": 0.0, **plant.set_values, **usual, **given, **hours,
                      **rest, **size}  # fmt: skip
        # Its governor holds the set's power where a person sets it, no longer the let-down.
        made = self._run(self.given)[BACK_PRESSURE]
        del self.given[LET_DOWN]
        self.given[BACK_PRESSURE] = made
        self.today = self._run(self.given)
        self._day = plant.z, plant.given

    def at(self, settings: Mapping[str, float]) -> dict[str, float]:
        """Every variable and report of the plant with some settings changed [inside units].

        Raises
        ------
        NotSolved : the mill cannot be run so.
        """
        self.plant.z, self.plant.given = self._day
        return self._run({**self.given, **settings})

    def _run(self, given: dict[str, float]) -> dict[str, float]:
        plant = self.plant
        plant.z = plant.solve(given)
        told = plant.equations.reported.value(plant.z).tolist()
        return {**plant.quantities(), **dict(zip(plant.equations.reports, told))}
