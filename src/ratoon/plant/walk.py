"""A walk from settings that have an answer to ones that may not, and why it ends where it ends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ratoon.base.errors import NotSolved
from ratoon.base.units import from_inside
from ratoon.equations import Equations, Solution
from ratoon.equations.records import NoAnswer

LEAST_STEP, LAST_STEP = 2e-4, 0.1
MOST_TRIES = 60
PASSED = 1e-3  # of a variable's scale: to go on would take it so far beyond its limit
TOLD = 3  # limits named at most


@dataclass
class Walk:
    """Answers on the way by the part of it that was gone, 0 to 1."""

    steps: list[tuple[float, Solution]] = field(default_factory=list)

    @property
    def done(self) -> float:
        return self.steps[-1][0]

    @property
    def arrived(self) -> Solution | None:
        """The answer wanted; None where the walk ended before."""
        return self.steps[-1][1] if self.done >= 1.0 else None


def walk(equations: Equations, begin: Solution, wanted: Mapping[str, float]) -> Walk:
    """Go from one answer to wanted settings, with shorter steps where it gets hard.

    Where no step is short enough for Newton's method alone, a longer one is tried that keeps all
    limits; it is slow, and the walk ends where it fails too.
    """
    values = {a: begin.values.get(a, begin.given.get(a, v)) for a, v in wanted.items()}
    found = Walk([(0.0, begin)])
    step = 0.5
    for _ in range(MOST_TRIES):
        done, here = found.steps[-1]
        if done >= 1.0:
            break
        last = step < LEAST_STEP
        step = LAST_STEP if last else step
        part = min(done + step, 1.0)
        given = {a: values[a] + part * (v - values[a]) for a, v in wanted.items()}
        try:
            found.steps.append((part, equations.solve(given, here.values, rescue=last)))
            step *= 1.5
        except NotSolved:
            if last:
                break
            step *= 0.5
    return found


def why_not(equations: Equations, found: Walk, first: NotSolved) -> NotSolved:
    """The refusal that names what cannot hold beyond the end of a walk.

    The first refusal is given back where nothing was coming to a limit.
    """
    if len(found.steps) < 2:
        return first
    (before, one), (done, two) = found.steps[-2:]
    coming: list[tuple[float, tuple[str, str, float, str]]] = []
    for name, var in equations.variables.items():
        if var.kind != "free" or name in two.given or name not in two.values:
            continue
        here = two.values[name]
        speed = (here - one.values[name]) / (done - before)
        side, limit = ("low", var.low) if speed < 0.0 else ("high", var.high)
        if abs((1.0 - done) * speed) - abs(limit - here) > PASSED * var.scale:
            unit = var.trade or var.unit
            limit_met = (name, side, from_inside(limit, unit), unit if unit != "1" else "")
            coming.append((abs(limit - here) / abs(speed), limit_met))
    if not coming:
        return first
    coming.sort()
    return NoAnswer(
        f"no answer within the limits: from the mill file's settings it goes {100.0 * done:.2g} % "
        "of the way, and then cannot hold",
        at_limit=tuple(limit_met for _, limit_met in coming[:TOLD]),
        todo="Change what is given, or widen the limit named.",
        reached=two,
    )
