"""Fibre in cane by class: one laboratory mean applied to every consignment of the class.

The error of that mean is common to the class: one bad sample moves the pay of many growers, so it
keeps its number of samples, their spread and their age.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import sqrt
from statistics import fmean, stdev

from ratoon.cane.records import FibreSample
from ratoon.cane.rules import AnalysisRules


@dataclass(frozen=True, slots=True)
class ClassFibre:
    """Fibre of one class [kg/kg cane].

    Parameters
    ----------
    mean : of `count` samples with standard deviation `spread`; `oldest` sample's moment.
    sigma_common : uncertainty of the mean, the same for every consignment of the class.
    sigma_own : how far one consignment may lie from its class.
    """

    name: str
    mean: float
    count: int
    spread: float
    oldest: datetime | None
    sigma_common: float
    sigma_own: float

    @property
    def sigma(self) -> float:
        """Uncertainty of one consignment's fibre [kg/kg]."""
        return sqrt(self.sigma_common**2 + self.sigma_own**2)


def class_fibres(samples: Iterable[FibreSample], rules: AnalysisRules) -> dict[str, ClassFibre]:
    """Mean fibre of each class, and under "" of all classes together.

    Samples older than the newest by more than the mill's `fibre_days` are left out. A single
    sample takes the laboratory's and the class's usual spread, since it shows none. Empty
    when there is no sample at all: no fibre is invented.
    """
    groups: dict[str, list[FibreSample]] = defaultdict(list)
    given = list(samples)
    since = max((s.time for s in given), default=None)
    for sample in given:
        if since is not None and since - sample.time < timedelta(days=rules.fibre_days):
            groups[sample.fibre_class].append(sample)
    found = {name: _one(name, group, rules) for name, group in groups.items() if name}
    everything = [s for group in groups.values() for s in group]
    if everything:
        between = stdev([c.mean for c in found.values()]) if len(found) > 1 else 0.0
        one = _one("", everything, rules)
        own = sqrt(rules.class_spread**2 + between**2)
        found[""] = ClassFibre(
            "", one.mean, one.count, one.spread, one.oldest, one.sigma_common, own
        )
    return found


def _one(name: str, samples: list[FibreSample], rules: AnalysisRules) -> ClassFibre:
    values = [s.fibre for s in samples]
    usual = sqrt(rules.fibre_sigma**2 + rules.class_spread**2)
    # the spread of a few samples is itself poorly known: never below the usual one
    spread = max(stdev(values), usual) if len(values) > 1 else usual
    common = sqrt(spread**2 / len(values) + rules.fibre_common**2)
    oldest = min(s.time for s in samples)
    return ClassFibre(name, fmean(values), len(values), spread, oldest, common, rules.class_spread)
