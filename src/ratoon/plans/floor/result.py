"""What a strike plan answers: the strikes, the lines of the stores, how good it is proved to be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Status = Literal["optimal", "feasible", "infeasible", "unknown"]


@dataclass(frozen=True, slots=True)
class FloorAim:
    """One aim: what the plan reaches and what no plan can pass, those before it held."""

    aim: str
    value: float | None
    bound: float | None
    status: Status


@dataclass(frozen=True, slots=True)
class FloorStrike:
    """One strike; hours from the case's start, negative where it was under way before."""

    pan: str
    task: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class FloorChoke:
    """A limit that the plan touches, and the hour at which it first does."""

    what: str
    at: float


@dataclass(frozen=True, slots=True)
class FloorResult:
    """A plan; `objective` and `bound` are of the first aim, `status` optimal only if all aims are.

    `stores` holds for each store at each step ``[hour, level after the moves]``, then ``[hour,
    level at the step's end]``. `without` names the limits of a refusal, none of which can be left
    out of it; it is empty where time ran out before that was settled.
    """

    status: Status
    objective: float | None
    bound: float | None
    aims: tuple[FloorAim, ...]
    strikes: tuple[FloorStrike, ...]
    stores: Mapping[str, list[tuple[float, float]]]
    chokes: tuple[FloorChoke, ...]
    without: tuple[str, ...]
    seconds: float


@dataclass(frozen=True, slots=True)
class HighestRate:
    """The highest rate that the floor takes without holding liquor back [t/h].

    `refused` is the lowest rate asked that it did not take, None where it took all; `without` names
    what then stands in the way; `settled` is False where time ran out at some rate.
    """

    rate: float
    refused: float | None
    without: tuple[str, ...]
    settled: bool


@dataclass(frozen=True, slots=True)
class FloorSlows:
    """How likely liquor is held back as strikes take longer or shorter, with its 95 % interval.

    `held` is how much in the mean [m3].
    """

    chance: float
    low: float
    high: float
    held: float


@dataclass(frozen=True, slots=True)
class FloorDay:
    """The floor of a morning: hours count from `at` by the mill's clock, at a rate [t/h].

    `holds` is what each tank holds at most [m3]; `slows` is told where there is a plan.
    """

    at: str
    rate: float
    plan: FloorResult
    highest: HighestRate
    holds: Mapping[str, float]
    slows: FloorSlows | None = None
