"""Receivers that centrifugals empty, magma that spills, a plan kept to: worked by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from ratoon.plans.floor.case import Aim, Drain, FloorCase, Move, Pan, StoreLine, Task
from ratoon.plans.floor.search import plan_floor

STRIKE = Task(2, 0, (Move("receivers", Fraction(10), 2, 0),), ())
NO_FLOW = (Fraction(0),) * 10
DRAIN = Drain(Fraction(4), "molasses", Fraction(1, 2))


def case(*aims: str) -> FloorCase:
    """A pan drops 10 m3 into receivers of 10 m3, from which 4 m3 an hour can be cured."""
    stores = {
        "receivers": StoreLine(Fraction(0), Fraction(0), Fraction(10), NO_FLOW, False, False,
                               DRAIN),
        "molasses": StoreLine(Fraction(0), Fraction(0), None, NO_FLOW, False),
    }  # fmt: skip
    made = tuple(Aim(*a.partition(":")[::2]) for a in aims)
    return FloorCase(10, Fraction(1), True, made, {"P1": Pan(("S",))}, {"S": STRIKE}, stores,
                     {}, {}, {})  # fmt: skip


def test_receivers_wait_for_the_centrifugals() -> None:
    """10 m3 at 4 an hour take two and a half hours, so strikes drop at 2, 5, 8 and later."""
    plan = plan_floor(case("most:S"), 20.0)
    assert (plan.status, plan.objective) == ("optimal", 4)
    ends = {name: line[-1][1] for name, line in plan.stores.items()}
    dropped = 10.0 * sum(s.end < 10.0 for s in plan.strikes)
    assert ends["receivers"] + 2.0 * ends["molasses"] == dropped >= 20.0
    free = replace(DRAIN, most=Fraction(40))
    wide = case("most:S")
    wide = replace(wide, stores={**wide.stores, "receivers":
                                 replace(wide.stores["receivers"], drain=free)})  # fmt: skip
    assert plan_floor(wide, 20.0).objective == 5


def test_a_refusal_names_the_centrifugals() -> None:
    plan = plan_floor(replace(case(), least={"S": 5}), 20.0)
    assert plan.status == "infeasible"
    assert set(plan.without) == {"stores.receivers.drain", "stores.receivers.max",
                                 "stores.receivers.min", "least.S"}  # fmt: skip


def test_what_spills_slows_nothing() -> None:
    flow = (Fraction(3),) * 10
    for spills, slow in ((True, 0), (False, 25)):
        magma = StoreLine(Fraction(5), Fraction(0), Fraction(10), flow, True, spills)
        one = case("slow")
        plan = plan_floor(replace(one, stores={**one.stores, "magma": magma}), 20.0)
        assert plan.objective == slow, spills
        assert max(level for _, level in plan.stores["magma"]) <= 10


def test_strikes_move_no_more_than_they_must() -> None:
    """Closed to hour 3, starts at 0, 3 and 6 must go to 3, 6 and 8 or 9: three and two or three."""
    first = case("moved", "most:S")
    late = replace(first, before={"S": (0, 3, 6)}, least={"S": 3},
                   pans={"P1": Pan(("S",), off=((0, 3),))})  # fmt: skip
    plan = plan_floor(late, 20.0)
    assert [s.start for s in plan.strikes] == [3, 6, 8]
    assert plan.objective == 3 + 3 + 2
    free = plan_floor(replace(first, before={"S": (0, 3, 6)}), 20.0)
    assert free.objective == 0 and [s.start for s in free.strikes] == [0, 3, 6]
