"""The fibre, water and steam accounts: what came in and where it went, as tonnes of the period.

Sugar has its own account of losses (`indicators.pol_account`). What comes in and goes out is
declared by the stations. Every term is a report on the plant's quantities, so each carries the
interval of the reconciled day. A last term, the rest, is what the terms named leave over; it is
shown and never spread over the others.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from ratoon.account.figures.figured import Figured
from ratoon.account.figures.indicators import crushing
from ratoon.plant.declared import Role
from ratoon.plant.roles import Roles
from ratoon.plant.streams import Quantities, Quantity


@dataclass(frozen=True, slots=True)
class Term:
    """One line of an account: its address, its words, and whether it comes in or goes out."""

    address: str
    text: str
    way: str

    @property
    def key(self) -> str:
        return self.address.rpartition(".")[2]


@dataclass(frozen=True, slots=True)
class Account:
    """An account: the roles of what comes in and what goes out, and the words of what is left."""

    comes: Role
    goes: Role
    rest: str


ACCOUNTS = {
    "fibre": Account("fibre in", "fibre out", "Rest"),
    "water": Account("water in", "water out", "Rest: inversion and spills"),
    "steam": Account("steam in", "steam out", "Other HP steam"),
    "exhaust": Account("exhaust in", "exhaust out", "Heaters and other exhaust"),
}
REST = "rest"
ORDER = (
    "cane", "imbibition", "filter_wash", "lime", "boiling_house", "bagasse", "cake", "flash",
    "evaporators", "pans", "dryer", "products", "stock", "boilers", "drives", "back_pressure",
    "condensing", "let_down", "spray", "deaerator", "vent",
)  # fmt: skip
"""In which lines are shown where a mill has them; any other comes after them."""


def accounts(roles: Roles) -> dict[str, tuple[Term, ...]]:
    """The terms of each account of a plant, in order."""
    return {name: tuple(_terms(roles, name)) for name in ACCOUNTS}


def _terms(roles: Roles, name: str) -> Iterator[Term]:
    account = ACCOUNTS[name]
    for way, role in (("in", account.comes), ("out", account.goes)):
        lines = roles.lines(role)
        for key in sorted(lines, key=lambda k: ORDER.index(k) if k in ORDER else len(ORDER)):
            yield Term(f"account.{name}.{key}", lines[key], way)
    yield Term(f"account.{name}.{REST}", account.rest, "out")


def balances(roles: Roles) -> Iterator[Figured]:
    """All terms of the fibre, water and steam accounts [kg of the period]."""
    for name, account in ACCOUNTS.items():
        for term in _terms(roles, name):
            yield Figured(term.address.removeprefix("account."), "kg", "t",
                          f"{name.capitalize()}: {term.text.lower()}",
                          partial(_amount, roles, account, term), 1e5)  # fmt: skip


def _amount(roles: Roles, account: Account, term: Term, q: Quantities) -> Quantity:
    if term.key == REST:
        flow = roles.total(account.comes, q) - roles.total(account.goes, q)
    else:
        flow = roles.flow(account.comes if term.way == "in" else account.goes, term.key, q)
    return flow * crushing(q)
