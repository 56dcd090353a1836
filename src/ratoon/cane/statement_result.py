"""A grower's statement as it is frozen, kept and printed: every decimal is text, never a float."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

LineKind = Literal["cane", "beyond", "retained", "levy", "allowance", "earlier"]


@dataclass(frozen=True, slots=True)
class LineResult:
    """A line; `amount` is money to the cent, `working` its equation with its numbers."""

    kind: LineKind
    text: str
    day: str | None
    consignment: str
    kilograms: int
    method: str
    figure: str | None
    relative: str | None
    price: str | None
    amount: str
    working: str


@dataclass(frozen=True, slots=True)
class CaneLineResult(LineResult):
    """A line that pays cane, with the kilograms of each bin."""

    loads: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class HeldResult:
    """Cane of a consignment whose payment waits."""

    consignment: str
    kilograms: int
    bins: int
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RefusedResult:
    """A bin that is not paid, by whose decision and why."""

    consignment: str
    tag: str
    kilograms: int
    reason: str


@dataclass(frozen=True, slots=True)
class ChangedLine:
    """What a line said, in short."""

    kilograms: int
    figure: str | None
    relative: str | None
    price: str | None
    amount: str


@dataclass(frozen=True, slots=True)
class Adjustment:
    """What a further statement changes of the one before; None where there is no such line."""

    kind: Literal["cane", "other"]
    day: str | None
    subject: str
    old: ChangedLine | None
    new: ChangedLine | None
    difference: str
    because: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StatementContent:
    """What is frozen of a statement: its digest covers all of it.

    `terms`: the payment rule it was made with. `rests_on`: by day, the mark of the cane's records;
    by allotment, the kilograms delivered before these days.
    """

    grower: str
    start: str
    end: str
    rule: str
    form: str
    relative: str
    constants: Mapping[str, str]
    season_figure: str | None
    season_figures: Mapping[str, str]
    mill_week: str | None
    means: Mapping[str, str]
    formula: tuple[str, ...]
    terms: Mapping[str, Any]
    rounding: str
    currency: str
    estimated: bool
    kilograms: int
    lines: tuple[CaneLineResult | LineResult, ...]
    held: tuple[HeldResult, ...]
    refused: tuple[RefusedResult, ...]
    total: str
    caution: str
    rests_on: Mapping[str, str]
    adjustments: tuple[Adjustment, ...]


@dataclass(frozen=True, slots=True)
class IssuedWords:
    """When and by whom a statement was issued, and the digests of its files."""

    number: int
    at: str
    who: str
    proposed: str
    digest: str
    files: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class StatementResult(StatementContent):
    """A statement as ``ratoon pay --json`` prints it.

    `issued` None: as it would be issued now. `stands`: what is issued where this would be a further
    one. `later`: what changed since and does not price its days again.
    """

    issued: IssuedWords | None
    stands: IssuedWords | None
    later: tuple[str, ...]
