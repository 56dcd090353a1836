"""The words of a set of equations: variables, equations, reports, and the answer of a solve."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from ratoon.base.errors import BadInput, NotSolved, UnknownName
from ratoon.base.maths import smooth_minimum
from ratoon.base.records import Reading, ReadingKind

VarKind = Literal["free", "assumed", "constant"]
Mode = Literal["solve", "account"]
INFINITY = math.inf


@dataclass(frozen=True, slots=True)
class Var:
    """One quantity of a set of equations.

    Parameters
    ----------
    name : address of the quantity.
    unit : inside unit (SI, degC, fractions).
    low, high : limits of the value; an answer outside them is not accepted.
    start : where a solve begins; the value itself of a constant; the default of an assumed one.
    scale : typical size, > 0; all numerical work is done on value / scale.
    kind : "free" is found by the equations; "assumed" is what a simulation sets and a mill seldom
        reads (in an account it acts as a reading with `sigma`); "constant" is exact.
    text : what it is, in plain words.
    trade : unit in which people read and write it.
    sigma : standard uncertainty of an assumed value, inside unit; None when it is not stated. A
        free quantity with one has a usual value: in an account it acts as a weak reading where
        nobody has read it, and counts in no test of the readings.
    source : where start and sigma come from.
    usual : the usual value of a free quantity, where it is another than `start`.
    told_by : addresses of reports that tell an assumed value alone: one read replaces the value.
    clear_of : a quantity and a limit: what gives this one stands on a floor where that one is not
        clearly above the limit, and tells nothing of its uncertainty there.
    slack : how far an account may pass the limits: readings of a share near nothing are as often
        under as over it, and a limit that no one could see would bend the others.

    Raises
    ------
    BadInput : for limits, start or scale that make no sense.
    """

    name: str
    unit: str = ""
    low: float = -INFINITY
    high: float = INFINITY
    start: float = 1.0
    scale: float = 1.0
    kind: VarKind = "free"
    text: str = ""
    trade: str = ""
    sigma: float | None = None
    source: str = ""
    clear_of: tuple[str, float] | None = None
    usual: float | None = None
    slack: float = 0.0
    told_by: tuple[str, ...] = ()

    @property
    def expected(self) -> float:
        """What an account takes it for where it was not read [inside unit]."""
        return self.start if self.usual is None else self.usual

    def __post_init__(self) -> None:
        if not self.low <= self.high:
            raise BadInput(f"limits {self.low:g} to {self.high:g} are not a range", where=self.name)
        if not (math.isfinite(self.scale) and self.scale > 0):
            raise BadInput("scale must be above zero", where=self.name, value=self.scale)
        if not math.isfinite(self.start):
            raise BadInput("start must be a number", where=self.name, value=self.start)
        if not self.low <= self.start <= self.high:
            raise BadInput(
                "start is outside the limits",
                where=self.name,
                value=self.start,
                allowed=f"{self.low:g} to {self.high:g} {self.unit}".strip(),
            )
        if self.sigma is not None and not (math.isfinite(self.sigma) and self.sigma > 0):
            raise BadInput("sigma must be above zero", where=self.name, value=self.sigma)
        if self.kind not in ("free", "assumed", "constant"):
            raise BadInput(
                "unknown kind", where=self.name, value=self.kind, allowed="free, assumed, constant"
            )


@dataclass(frozen=True, slots=True, eq=False)
class Eq:
    """One named equation: its residual is zero when it holds.

    Parameters
    ----------
    name : name told when the equation does not hold.
    residual : CasADi expression, written as in the book (in - out).
    scale : typical size of the terms, > 0; the residual is judged as residual / scale.
    source : where the equation comes from.
    only : "" for both questions; "solve" for control laws; "account" for reconciliation only.
    sides : of a control made by `either`: both at least zero, one of them zero.
    """

    name: str
    residual: Any
    scale: float = 1.0
    source: str = ""
    only: Literal["", "solve", "account"] = ""
    sides: tuple[Any, Any] | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.scale) and self.scale > 0):
            raise BadInput("scale must be above zero", where=self.name, value=self.scale)
        if self.only not in ("", "solve", "account"):
            raise BadInput(
                "unknown `only`", where=self.name, value=self.only, allowed="'', solve, account"
            )


def either(
    name: str,
    one: Any,
    other: Any,
    width: float,
    source: str,
    only: Literal["", "solve"] = "solve",
    *,
    control: bool = True,
) -> Eq:
    """One of two is zero and neither is below: what a control holds, or what stands in its way.

    Said once, it has three forms: a smoothed equation in a solve, nothing in an account (unless
    `only` is ""), and its `sides` as two one-sided limits for a search for the best.

    Parameters
    ----------
    one, other : expressions of about size one. width : how far from the corner it is rounded.
    control : whether people set it; what nature does stays an equation in every search.
    """
    return Eq(name, smooth_minimum(one, other, width), 1.0, source, only,
              (one, other) if control else None)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Report:
    """A figure computed after the solve; it may be given or read, which adds one equation.

    Parameters are those of `Var` and `Eq`: `expression` is a CasADi expression of the variables.
    """

    name: str
    expression: Any
    unit: str = ""
    trade: str = ""
    text: str = ""
    scale: float = 1.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.scale) and self.scale > 0):
            raise BadInput("scale must be above zero", where=self.name, value=self.scale)


EquationsOf = Callable[[Mapping[str, Any]], Iterable[Eq]]
ReportsOf = Callable[[Mapping[str, Any]], Iterable[Report]]


@dataclass(frozen=True, slots=True)
class Solution:
    """The answer of a solve.

    Attributes
    ----------
    values : every variable and report in inside units; variables that stand in no equation of a
        solve, and reports that need them or have no finite value, are left out.
    given : what was fixed.
    iterations : number of Newton steps for which a new matrix was made.
    residual : largest scaled residual.
    seconds : time spent [s].
    method : "newton" or "bounded".
    """

    values: dict[str, float]
    given: dict[str, float]
    iterations: int
    residual: float
    seconds: float
    method: str = "newton"
    left_out: tuple[str, ...] = field(default=())

    def __getitem__(self, name: str) -> float:
        if name in self.values:
            return self.values[name]
        if name in self.left_out:
            raise NotSolved(
                "has no value in this answer: nothing in a solve determines it", where=name
            )
        raise UnknownName("address", name, self.values)


class NoAnswer(NotSolved):
    """The equations have no answer within their limits.

    Attributes
    ----------
    residuals : worst equations, (name, scaled residual), largest first.
    at_limit : variables standing at a limit, (name, "low" or "high", limit, unit).
    reached : the last answer on the way to what was asked, where a way was tried.
    """

    def __init__(
        self,
        what: str,
        residuals: tuple[tuple[str, float], ...] = (),
        at_limit: tuple[tuple[str, str, float, str], ...] = (),
        todo: str = "",
        reached: Solution | None = None,
    ) -> None:
        self.residuals = residuals
        self.reached = reached
        self.at_limit = at_limit
        if residuals:
            worst = ", ".join(f"{name} ({value:+.2g})" for name, value in residuals)
            what += f"; cannot hold: {worst}"
        if at_limit:
            held = ", ".join(
                f"{name} at its {side} limit {limit:g} {unit}".rstrip()
                for name, side, limit, unit in at_limit
            )
            what += f"; {held}"
        super().__init__(what, todo=todo)


@dataclass(frozen=True, slots=True)
class ReadingResult:
    """One reading after reconciliation; figures in inside units.

    standardised : adjustment over its own standard deviation (maximum-power form); None when no
        other reading checks this one.
    detectability : sqrt(1 - variance after / variance before); 0 when nothing checks it.
    """

    reading: Reading
    adjusted: float | None
    sigma: float | None
    standardised: float | None
    redundant: bool
    detectability: float | None
    used: bool

    @property
    def address(self) -> str:
        return self.reading.address

    @property
    def kind(self) -> ReadingKind:
        return self.reading.kind


@dataclass(frozen=True, slots=True)
class Suspect:
    """A reading (or assumption) that the others speak against.

    size : how far it seems to be out, reading less likely value, inside units.
    equivalent : readings and assumptions that cannot be told apart from it, itself left out.
    losses : free quantities (unknown losses) that would look the same.
    statistic : drop of the global statistic when it is left out.
    objective : global statistic left after it is taken out.
    each : standardised error and size of each of `equivalent`, as if it were the one.
    """

    address: str
    standardised: float
    size: float
    equivalent: tuple[str, ...]
    statistic: float
    objective: float
    kind: ReadingKind = "measured"
    losses: tuple[str, ...] = ()
    each: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class GlobalTest:
    """Weighted sum of squared adjustments against chi-square; p is its tail probability."""

    statistic: float
    dof: int
    p: float
    limit: float
