"""Every figure of the account of a plant, in order, whatever stations it has."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ratoon.account.figures.balances import balances
from ratoon.account.figures.energy import (
    condensate_figures,
    power_figures,
    steam_and_fuel_figures,
    work_figures,
)
from ratoon.account.figures.figured import Figured
from ratoon.account.figures.indicators import (
    cane_figures,
    juice_figures,
    milling_figures,
    pan_figures,
    steam_figures,
    sugar_figures,
)
from ratoon.account.figures.pol_account import pol_figures
from ratoon.equations import Report
from ratoon.plant.roles import Roles
from ratoon.plant.streams import Quantities
from ratoon.settings import Settings


def figures(roles: Roles, settings: Settings) -> Iterator[Figured]:
    """The account's figures."""
    yield from of_stations(roles)
    yield from work_figures(roles, settings)
    yield from power_figures(roles)
    yield from steam_and_fuel_figures(roles)
    yield from condensate_figures(roles)


def of_stations(roles: Roles) -> Iterator[Figured]:
    """Those of cane, juice, sugar and of what came in and went out."""
    yield from cane_figures(roles)
    yield from milling_figures(roles)
    yield from juice_figures(roles)
    yield from pan_figures(roles)
    yield from steam_figures(roles)
    yield from sugar_figures(roles)
    yield from pol_figures(roles)
    yield from balances(roles)


def reports(made: Iterable[Figured], q: Quantities) -> Iterator[Report]:
    """Figures as reports on the quantities, those of them that the mill has."""
    for figure in made:
        if figure.of is not None:
            yield Report(figure.address, figure.of(q), figure.unit, figure.trade, figure.text,
                         figure.scale)  # fmt: skip
