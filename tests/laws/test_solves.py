"""What must hold of any solve: limits, assumptions, constants, scenarios, far-off starts."""

from __future__ import annotations

import casadi
import numpy as np
import pytest
import scipy.sparse
from hypothesis import given, settings
from hypothesis import strategies as st

from ratoon.base.errors import BadInput, NotSolved, NotSpecified, UnknownName
from ratoon.base.records import Reading
from ratoon.equations import Eq, Equations, Report, Var
from ratoon.equations.compiled import Formulas
from ratoon.equations.core import core_of
from ratoon.equations.records import NoAnswer

steady = settings(derandomize=True, max_examples=15, deadline=None)


def tank() -> Equations:
    """Brine and water mixed; heat loss assumed; all of it non-linear enough to need steps."""

    def equations(v):
        yield Eq("mass", v["brine"] + v["water"] - v["mix"], 10.0)
        yield Eq("salt", v["brine"] * v["strength"] - v["mix"] * v["salt"], 1.0)
        yield Eq("loss", v["loss"] - v["share"] * v["mix"] ** 1.5, 1.0)

    return Equations(
        [
            Var("brine", "kg/s", 0.0, 100.0, 5.0, 10.0),
            Var("water", "kg/s", 0.0, 100.0, 5.0, 10.0),
            Var("mix", "kg/s", 1e-6, 200.0, 10.0, 10.0),
            Var("strength", "kg/kg", 0.0, 1.0, 0.25, 0.1, kind="constant"),
            Var("salt", "kg/kg", 0.0, 1.0, 0.1, 0.1),
            Var("loss", "kW", 0.0, 1e3, 1.0, 1.0),
            Var("share", "", 0.0, 1.0, 0.02, 0.01, kind="assumed", sigma=0.002),
        ],
        equations,
        lambda v: [Report("salt_flow", v["mix"] * v["salt"])],
    )


TANK = tank()


@steady
@given(
    st.lists(st.tuples(st.floats(1, 40), st.floats(0.5, 50)), min_size=1, max_size=6),
    st.floats(0.05, 0.9),
)
def test_mapped_scenarios_are_single_solves(pairs, strength):
    brine, water = np.array(pairs).T
    many = TANK.solve_many({"brine": brine, "water": water, "strength": strength})
    for k in range(len(pairs)):
        one = TANK.solve({"brine": brine[k], "water": water[k], "strength": strength})
        assert set(many) == set(one.values)
        for name, value in one.values.items():
            assert many[name][k] == pytest.approx(value, rel=1e-8, abs=1e-10)


def test_more_scenarios_than_one_block_and_a_given_report():
    flow = np.linspace(0.5, 2.0, 700)
    many = TANK.solve_many({"salt_flow": flow, "water": 3.0})
    assert many["mix"].shape == (700,)
    assert many["brine"] * 0.25 == pytest.approx(flow, rel=1e-9)
    assert many["mix"] == pytest.approx(flow / 0.25 + 3.0, rel=1e-9)


def test_many_points_are_worked_as_one_by_one():
    """Each operation that CasADi may make of a formula, on rows where it means something."""
    x, y = casadi.SX.sym("x"), casadi.SX.sym("y")
    inside = 0.5 * x  # the inverse sines and cosines take no more than one
    told = casadi.vertcat(
        x, -x, x + y, x - y, x * y, x / y, x * x, 2.0 * x, 1.0 / x, casadi.sqrt(x), x**y, x**1.7,
        casadi.exp(x), casadi.log(x), casadi.expm1(x), casadi.log1p(x), casadi.sin(x),
        casadi.cos(x), casadi.tan(inside), casadi.asin(inside), casadi.acos(inside),
        casadi.atan(x), casadi.sinh(x), casadi.cosh(x), casadi.tanh(x), casadi.atan2(x, y),
        casadi.erf(x), casadi.fabs(-x), casadi.sign(x - 1.0), casadi.fmin(x, y), casadi.fmax(x, y),
        casadi.floor(3.0 * x), casadi.ceil(3.0 * x), x < y, x <= y, casadi.eq(x, y),
        casadi.ne(x, y), casadi.logic_and(x > 1.0, y > 1.0), casadi.logic_or(x > 1.0, y > 1.0),
        casadi.logic_not(x > 1.0), casadi.if_else(x > y, x, y), 4.25,
    )  # fmt: skip
    formulas = Formulas("every", casadi.vertcat(x, y), told)
    at = np.random.default_rng(20311130).uniform(0.1, 1.9, (2, 1500))
    at[1, :300] = at[0, :300]  # where they are equal
    together = formulas.each(at)
    one_by_one = np.array([formulas.value(column) for column in at.T]).T
    assert together.shape == (42, 1500) and np.ptp(together[:-1], axis=1).min() > 0.0
    np.testing.assert_allclose(together, one_by_one, rtol=1e-12, atol=1e-13)


def test_what_one_equation_gives_outright_is_not_in_the_core_of_a_solve():
    u = casadi.SX.sym("u", 5)
    ring = [u[1] * u[2] - 6.0, u[1] + u[2] - 5.0 - u[0]]  # two that need each other, and the first
    rows = casadi.vertcat(2.0 * u[3] - u[1], u[0] - 0.5, ring[0], u[4] ** 3 - u[3], ring[1])
    jacobian = casadi.jacobian(rows, u).sparsity()
    pattern = scipy.sparse.csr_matrix((np.ones(jacobian.nnz()), jacobian.get_triplet()), (5, 5))
    core = core_of(u, rows, pattern)
    assert sorted(core.together) == [1, 2, 4]  # the cube is no formula of its own unknown
    found = casadi.Function("whole", [u], [core.whole])([9.0, 2.0, 3.5, 9.0, 7.0])
    assert np.array(found).ravel().tolist() == [0.5, 2.0, 3.5, 1.0, 7.0]
    left = casadi.Function("left", [u], [core.residual])([9.0, 2.0, 3.5, 9.0, 7.0])
    assert sorted(np.array(left).ravel().tolist()) == [0.0, 1.0, 342.0]


@pytest.mark.parametrize("order", ["as drawn", "sorted", "the same water"])
def test_scenarios_begun_between_others_are_single_solves(order):
    rng = np.random.default_rng(11)
    table = {"brine": rng.uniform(1, 50, 600), "water": rng.uniform(1, 50, 600), "strength": 0.25}
    if order == "sorted":
        table = {name: np.sort(np.atleast_1d(v)) for name, v in table.items()} | {"strength": 0.25}
    if order == "the same water":
        table["water"] = np.full(600, 7.0)
    many = TANK.solve_many(table)
    for k in range(0, 600, 37):
        one = TANK.solve({n: float(np.broadcast_to(v, 600)[k]) for n, v in table.items()})
        for name, value in one.values.items():
            assert many[name][k] == pytest.approx(value, rel=1e-8, abs=1e-10)


def test_a_scenario_without_an_answer_is_named():
    with pytest.raises(NotSolved, match=r"scenario 2 .*mix 1, water 4"):
        TANK.solve_many({"mix": np.array([9.0, 8.0, 1.0]), "water": np.array([4.0, 4.0, 4.0])})


def test_bad_scenarios_are_refused():
    with pytest.raises(BadInput, match="different number: brine has 2, water has 3"):
        TANK.solve_many({"brine": [1.0, 2.0], "water": [1.0, 2.0, 3.0]})
    with pytest.raises(BadInput, match="brine: is outside its limits"):
        TANK.solve_many({"brine": [1.0, 101.0], "water": 1.0})
    with pytest.raises(BadInput, match="not a number in every scenario"):
        TANK.solve_many({"brine": [1.0, float("nan")], "water": 1.0})
    with pytest.raises(UnknownName, match="Did you mean brine"):
        TANK.solve_many({"brin": [1.0, 2.0], "water": 1.0})
    assert TANK.solve_many({"brine": [], "water": 1.0})["mix"].shape == (0,)


@steady
@given(st.floats(0.5, 60), st.floats(0.5, 60))
def test_what_was_solved_can_be_asked_the_other_way_round(brine, water):
    forward = TANK.solve({"brine": brine, "water": water})
    back = TANK.solve({"mix": forward["mix"], "salt_flow": forward["salt_flow"]})
    assert back["brine"] == pytest.approx(brine, rel=1e-8)
    assert back["loss"] == pytest.approx(forward["loss"], rel=1e-8)


def test_misspelt_names_are_refused_with_the_nearest():
    with pytest.raises(UnknownName, match="Did you mean water"):
        TANK.solve({"watr": 1.0})
    with pytest.raises(UnknownName, match="Did you mean strength"):
        TANK.reconcile([Reading("strenght", 1.0, 1.0)])
    with pytest.raises(UnknownName, match=r"'salty'.*salt"):
        Equations([Var("salt")], lambda v: [Eq("one", v["salty"])])
    with pytest.raises(UnknownName, match="Did you mean salt_flow"):
        TANK.solve({"brine": 1.0, "water": 1.0})["salt_flo"]


def test_too_many_and_too_few_given_are_named():
    with pytest.raises(NotSpecified, match="too many figures") as over:
        TANK.solve({"brine": 1.0, "water": 2.0, "mix": 3.0})
    assert "mass" in str(over.value)
    with pytest.raises(NotSpecified, match="1 more figures must be given") as under:
        TANK.solve({"brine": 1.0})
    assert any(name in str(under.value) for name in ("water", "mix", "salt"))


def test_limits_are_kept_and_named():
    with pytest.raises(NoAnswer) as refused:
        TANK.solve({"mix": 2.0, "water": 5.0})
    assert ("brine", "low", 0.0, "kg/s") in refused.value.at_limit
    assert "brine at its low limit 0 kg/s" in str(refused.value)
    assert refused.value.residuals[0][0] in ("mass", "salt")
    assert "singular" not in str(refused.value).lower()


def test_an_assumption_acts_as_a_reading_until_it_is_read():
    read = [Reading("brine", 5.0, 0.1), Reading("water", 5.0, 0.1)]
    assumed = TANK.reconcile(read)
    assert assumed.value("share") == pytest.approx(0.02)
    assert assumed.sigma("share") == pytest.approx(0.002)
    assert [r.kind for r in assumed.readings] == ["measured", "measured", "assumed"]
    told = TANK.reconcile([*read, Reading("share", 0.03, 0.001)])
    assert told.value("share") == pytest.approx(0.03)
    assert told.sigma("share") == pytest.approx(0.001)
    assert dict(assumed.shares("loss"))["share"] > 0.9


def test_a_constant_is_exact():
    answer = TANK.reconcile([Reading("brine", 5.0, 0.1), Reading("water", 5.0, 0.1)])
    assert answer.sigma("strength") == 0.0
    other = TANK.reconcile(
        [Reading("brine", 5.0, 0.1), Reading("water", 5.0, 0.1)], constants={"strength": 0.5}
    )
    assert other.value("salt") == pytest.approx(2 * answer.value("salt"))


@pytest.mark.parametrize("factor", [0.3, 3.0, 10.0])
def test_a_reading_far_out_does_not_stop_the_account(factor):
    """A non-linear account still answers, and names the reading that is out."""
    read = [
        Reading("brine", 5.0 * factor, 0.05),
        Reading("water", 5.0, 0.05),
        Reading("mix", 10.0, 0.1),
        Reading("salt", 0.125, 0.002),
        Reading("loss", 0.02 * 10.0**1.5, 0.01),
    ]
    answer = TANK.reconcile(read)
    assert answer.suspects[0].address == "brine"
    assert answer.suspects[0].size == pytest.approx(5.0 * (factor - 1.0), rel=0.1)


def test_a_bad_start_costs_only_time():
    read = [Reading("brine", 5.0, 0.1), Reading("mix", 10.0, 0.1), Reading("strength", 0.3, 0.1)]
    good = TANK.reconcile(read)
    far = {"brine": 90.0, "water": 99.0, "mix": 1e-6, "salt": 1.0, "loss": 900.0}
    again = TANK.reconcile(read, far)
    assert again.values == pytest.approx(good.values, rel=1e-6)
    assert again.value("strength") == 0.3
