"""A strike-planning problem: pans, tasks, stores, limits, aims.

Times in the records are whole steps from the case's start, amounts exact fractions in the file's
own unit, flows amounts a step. The how-to on planning the pans says what each key means.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any


@dataclass(frozen=True, slots=True)
class Move:
    """What a task gives to a store; a draw is negative, `at` counts from its start."""

    store: str
    amount: Fraction
    at: int
    over: int

    @property
    def each(self) -> Fraction:
        """What moves in one step."""
        return self.amount / max(self.over, 1)


@dataclass(frozen=True, slots=True)
class Load:
    """What a task takes of a shared supply while it does."""

    name: str
    amount: Fraction
    at: int
    over: int


@dataclass(frozen=True, slots=True)
class Task:
    """A strike of one kind."""

    steps: int
    gap: int
    moves: tuple[Move, ...]
    loads: tuple[Load, ...]


@dataclass(frozen=True, slots=True)
class Started:
    """A strike under way at time 0, begun `since` steps before."""

    task: str
    since: int


@dataclass(frozen=True, slots=True)
class Pan:
    """What a pan may boil, from when it is free, when it is closed."""

    tasks: tuple[str, ...]
    busy: int = 0
    off: tuple[tuple[int, int], ...] = ()
    started: Started | None = None


@dataclass(frozen=True, slots=True)
class Drain:
    """What may leave a store in each step, at most `most`; `share` of it comes to another store."""

    most: Fraction
    into: str
    share: Fraction


@dataclass(frozen=True, slots=True)
class StoreLine:
    """A tank, receiver or mixer: stock at time 0, limits, what flows in each step.

    Of a store that `spills`, inflow held back goes elsewhere, and slows nothing.
    """

    open: Fraction
    min: Fraction | None
    max: Fraction | None
    inflow: tuple[Fraction, ...]
    cut: bool
    spills: bool = False
    drain: Drain | None = None


@dataclass(frozen=True, slots=True)
class Aim:
    """What to make least, or most where `raised`: ``peak:liquor`` has a kind and a name."""

    kind: str
    name: str

    @property
    def words(self) -> str:
        return f"{self.kind}:{self.name}" if self.name else self.kind

    @property
    def raised(self) -> bool:
        return self.kind in ("low", "most")


@dataclass(frozen=True, slots=True)
class FloorCase:
    """The whole problem; `step` is in hours.

    Strikes start on each `every`-th step. `before`: at which steps, in order, a plan made before
    starts each task; the aim ``moved`` is what strikes move from it.
    """

    steps: int
    step: Fraction
    finish: bool
    aims: tuple[Aim, ...]
    pans: Mapping[str, Pan]
    tasks: Mapping[str, Task]
    stores: Mapping[str, StoreLine]
    least: Mapping[str, int]
    most: Mapping[str, int]
    loads: Mapping[str, Fraction]
    every: int = 1
    before: Mapping[str, Sequence[int]] = field(default_factory=dict)

    def latest(self, task: str) -> int:
        """The last step at which a task may start; negative when there is none."""
        return self.steps - (self.tasks[task].steps if self.finish else 1)

    def free_from(self, name: str) -> int:
        """The step from which a pan is free."""
        pan = self.pans[name]
        begun = pan.started
        return max(pan.busy, self.tasks[begun.task].steps - begun.since if begun else 0)


def limits(case: FloorCase) -> list[str]:
    """The names of the limits that a plan must keep, in the order in which they may be given up."""
    return [
        *(f"pans.{name}.off" for name, pan in case.pans.items() if pan.off),
        *(f"tasks.{name}.gap" for name, task in case.tasks.items() if task.gap),
        *(f"most.{name}" for name in case.most),
        *(f"loads.{name}" for name in case.loads),
        *(f"stores.{name}.drain" for name, store in case.stores.items() if store.drain),
        *(f"stores.{name}.max" for name, store in case.stores.items() if store.max is not None),
        *(f"stores.{name}.min" for name, store in case.stores.items() if store.min is not None),
        *(f"least.{name}" for name in case.least),
    ]


def _all_of(case: FloorCase, name: str) -> Fraction:
    """As much as can ever come to stand in a store."""
    store = case.stores[name]
    given = sum(abs(m.amount) for t in case.tasks.values() for m in t.moves if m.store == name)
    starts = case.steps * len(case.pans)
    return Fraction(abs(store.open) + sum(abs(x) for x in store.inflow) + starts * given)


def without(case: FloorCase, dropped: set[str]) -> FloorCase:
    """The case with some of its `limits` left out."""

    def kept(kind: str, table: Mapping[str, Any]) -> dict[str, Any]:
        return {k: v for k, v in table.items() if f"{kind}.{k}" not in dropped}

    return replace(
        case,
        pans={k: replace(p, off=() if f"pans.{k}.off" in dropped else p.off)
              for k, p in case.pans.items()},
        tasks={k: replace(t, gap=0 if f"tasks.{k}.gap" in dropped else t.gap)
               for k, t in case.tasks.items()},
        stores={k: replace(s, min=None if f"stores.{k}.min" in dropped else s.min,
                           max=None if f"stores.{k}.max" in dropped else s.max,
                           drain=replace(s.drain, most=_all_of(case, k))
                           if s.drain and f"stores.{k}.drain" in dropped else s.drain)
                for k, s in case.stores.items()},
        least=kept("least", case.least), most=kept("most", case.most),
        loads=kept("loads", case.loads),
    )  # fmt: skip
