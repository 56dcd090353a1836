"""Every quantity of the plant as a period's account found it, for pages that show the plant."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any

import numpy as np

from ratoon.account.period import PeriodAccount
from ratoon.account.readings.moved import moved_part
from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.records import FigureKind

DIGITS = 9  # more than any instrument has; fewer would show when a trial starts from them
ZERO = 1e-12  # what is left of a zero after the solve


def works_part(account: PeriodAccount) -> dict[str, Any]:
    """Figures by address in trade units, and the plant's state in inside units.

    Returns
    -------
    ``figures``: address -> [value, sigma], undetermined ones left out; whole flows of streams
    stand among them as ``stream.flow`` [t/h]. ``assumed``: addresses that are assumptions;
    ``doubted``: those in which a suspect reading weighs.
    ``state``: the variables in inside units, where a trial starts. Empty without cane.
    """
    answer = account.answer
    if answer is None:
        return {}
    system = account.mill.plant.equations
    figures: dict[str, list[float | None]] = {}
    for address in (*system.variables, *system.reports):
        figure = account.figure(address)
        if figure.value is not None:
            figures[address] = [_short(figure.value), _short(figure.sigma)]
    for stem, parts in _streams(system.variables).items():
        if f"{stem}.flow" not in figures and all(answer.determined(p) for p in parts):
            # The parts of one stream are tied together: their sum is surer than they are.
            spread = float(np.sqrt(max(answer.covariance(parts).sum(), 0.0)))
            total = sum(answer.value(p) for p in parts)
            figures[f"{stem}.flow"] = [
                _short(units.from_inside(total, "t/h")),
                _short(units.spread_from_inside(spread, "t/h")),
            ]
    return {
        "figures": figures,
        "assumed": sorted(account.assumed_addresses & figures.keys()),
        "doubted": sorted(moved_part(account, figures)),
        "state": {a: _short(v) for a, v in answer.state.items()},
    }


def quantities(
    works: Mapping[str, Any], addresses: Mapping[str, AddressInfo], read: Collection[str]
) -> dict[str, dict[str, Any]]:
    """Every address of a plant with what a kept `works_part` says of it, in trade units.

    Parameters
    ----------
    read : addresses of the readings in use.

    Returns
    -------
    ``{address: {"value", "sigma", "unit", "kind"}}``; value and sigma are None where nothing
    determines it, and `kind` is a figure's: measured, found, assumed, set or not determined.
    """
    figures, assumed = works.get("figures", {}), set(works.get("assumed", ()))

    def kind_of(address: str, info: AddressInfo, sigma: float | None) -> FigureKind:
        if address not in figures:
            return "not determined"
        if info.kind == "constant" or not sigma:
            return "set"
        return "assumed" if address in assumed else "measured" if address in read else "found"

    out: dict[str, dict[str, Any]] = {}
    for address, info in addresses.items():
        value, sigma = figures.get(address, (None, None))
        out[address] = {"value": value, "sigma": sigma, "unit": info.unit,
                        "kind": kind_of(address, info, sigma)}  # fmt: skip
    return out


def _streams(variables: Iterable[str]) -> dict[str, list[str]]:
    """The component flows of each stream."""
    streams: dict[str, list[str]] = {}
    for name in variables:
        stem, middle, _ = name.rpartition(".flow.")
        if middle:
            streams.setdefault(stem, []).append(name)
    return streams


def _short(value: float | None) -> float | None:
    if value is None:
        return None
    return 0.0 if abs(value) < ZERO else float(f"{value:.{DIGITS}g}")
