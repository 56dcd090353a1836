"""What a statement is made from, cane by cane, and the lines that it is made of."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ratoon.cane.payment import Supply
from ratoon.cane.records import Analysis
from ratoon.cane.statement_result import (
    LineKind,
)


@dataclass(frozen=True, slots=True)
class Refused:
    """A bin that a person decided not to pay, with the reason."""

    tag: str
    kilograms: int
    reason: str


@dataclass(frozen=True, slots=True)
class PayItem:
    """One consignment of one day ready for pay: whole kilograms of bins that are not held.

    `held_kg`, `reasons`: what waits for a person, and why. `analysis` None: nothing is paid yet.
    `loads`: key and kilograms of each bin that is to be paid. `refused`: bins that are not.
    """

    consignment: str
    grower: str
    day: date
    kilograms: int
    analysis: Analysis | None
    held_kg: int = 0
    held_bins: int = 0
    reasons: tuple[str, ...] = ()
    loads: tuple[tuple[str, int], ...] = ()
    refused: tuple[Refused, ...] = ()
    supply: Supply = Supply()


@dataclass(frozen=True, slots=True)
class StatementLine:
    """One line; `amount` is money to the cent, and `working` says how it was made."""

    kind: LineKind
    text: str
    amount: Decimal
    day: date | None = None
    consignment: str = ""
    kilograms: int = 0
    method: str = ""
    figure: Decimal | None = None
    relative: Decimal | None = None
    price: Decimal | None = None
    working: str = ""
    loads: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Held:
    """Cane of a consignment whose payment waits, and its bins that are not paid at all."""

    consignment: str
    kilograms: int
    bins: int
    reasons: tuple[str, ...]
    refused: tuple[Refused, ...] = ()
