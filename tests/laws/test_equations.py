"""What must hold of any reconciliation and any solve, whatever the equations and the numbers."""

from __future__ import annotations

import casadi
import numpy as np
import pytest
import scipy.sparse
from hypothesis import given, settings
from hypothesis import strategies as st

from ratoon.base.errors import BadInput, NotSolved, NotSpecified, UnknownName
from ratoon.base.maths import smooth_maximum
from ratoon.base.records import Reading
from ratoon.equations import Eq, Equations, Report, Var
from ratoon.equations.core import core_of
from ratoon.equations.gross_errors import explained_away
from ratoon.equations.records import NoAnswer

steady = settings(derandomize=True, max_examples=15, deadline=None)
TRUE = np.array([100.0, 64.0, 36.0, 64.0, 36.0, 100.0])
# exchanger with a by-pass: splitter, exchanger, by-pass, mixer
BALANCES = np.array(
    [[1, -1, -1, 0, 0, 0], [0, 1, 0, -1, 0, 0], [0, 0, 1, 0, -1, 0], [0, 0, 0, 1, 1, -1]], float
)
errors = st.lists(st.floats(-5, 5), min_size=6, max_size=6)
sigmas = st.lists(st.floats(0.2, 3.0), min_size=6, max_size=6)


def exchanger(scale: float = 1.0) -> Equations:
    names = [str(i) for i in range(1, 7)]

    def nodes(v):
        for k, row in enumerate(BALANCES, 1):
            yield Eq(
                f"node {k}", sum(a * v[n] for a, n in zip(row, names, strict=True) if a), scale
            )

    def reports(v):
        yield Report("bypass", v["3"] / v["1"])

    return Equations([Var(n, "kg/s", start=50.0, scale=scale) for n in names], nodes, reports)


EXCHANGER = exchanger()


def readings(errors: list[float], sigmas: list[float], drop: int = -1) -> list[Reading]:
    return [
        Reading(str(i + 1), float(TRUE[i] + errors[i]), sigmas[i]) for i in range(6) if i != drop
    ]


def textbook(y, S):
    """Answer, covariance and statistic of linear least squares with every stream read."""
    G = BALANCES
    V = G @ S @ G.T
    gain = S @ G.T @ np.linalg.inv(V)
    r = G @ y
    return y - gain @ r, S - gain @ G @ S, float(r @ np.linalg.solve(V, r))


@steady
@given(errors, sigmas)
def test_answer_and_covariance_are_the_textbooks(errors, sigmas):
    answer = EXCHANGER.reconcile(readings(errors, sigmas))
    x, C, J = textbook(TRUE + errors, np.diag(np.square(sigmas)))
    names = [str(i) for i in range(1, 7)]
    assert [answer.value(n) for n in names] == pytest.approx(x, abs=1e-8)
    assert answer.covariance(names) == pytest.approx(C, abs=1e-8)
    assert answer.objective == pytest.approx(J, abs=1e-8)
    assert answer.dof == 4


@steady
@given(errors, sigmas, st.floats(-0.9, 0.9))
def test_correlated_readings_follow_their_whole_covariance(errors, sigmas, rho):
    S = np.diag(np.square(sigmas))
    S[1, 3] = S[3, 1] = rho * sigmas[1] * sigmas[3]
    answer = EXCHANGER.reconcile(readings(errors, sigmas), covariance=S)
    x, C, J = textbook(TRUE + errors, S)
    names = [str(i) for i in range(1, 7)]
    assert [answer.value(n) for n in names] == pytest.approx(x, abs=1e-7)
    assert answer.covariance(names) == pytest.approx(C, abs=1e-7)
    assert answer.objective == pytest.approx(J, rel=1e-7, abs=1e-8)


@steady
@given(errors, sigmas, st.lists(st.floats(0.1, 2.0), min_size=3, max_size=3))
def test_an_instruments_common_error_binds_its_readings(errors, sigmas, common):
    read = readings(errors, sigmas)
    for k, i in enumerate((1, 3, 5)):
        read[i] = Reading(str(i + 1), read[i].value, sigmas[i], common[k], "meter")
    S = np.diag(np.square(sigmas))
    shared = np.zeros(6)
    shared[[1, 3, 5]] = common
    x, C, _ = textbook(TRUE + errors, S + np.outer(shared, shared))
    answer = EXCHANGER.reconcile(read)
    assert [answer.value(str(i)) for i in range(1, 7)] == pytest.approx(x, abs=1e-7)
    assert answer.covariance([str(i) for i in range(1, 7)]) == pytest.approx(C, abs=1e-7)
    shares = answer.shares("1")
    assert "instrument meter" in dict(shares)
    assert sum(s for _, s in shares) == pytest.approx(1.0)


@steady
@given(errors, sigmas, st.integers(0, 5))
def test_leaving_a_reading_out_lowers_the_statistic_by_its_test(errors, sigmas, j):
    whole = EXCHANGER.reconcile(readings(errors, sigmas))
    z = whole.readings[j].standardised
    rest = EXCHANGER.reconcile(readings(errors, sigmas, drop=j))
    assert whole.objective - rest.objective == pytest.approx(z**2, rel=1e-6, abs=1e-8)
    # and the size of its bias is how far the others put it from what was read
    if whole.suspects and whole.suspects[0].address == str(j + 1):
        first = whole.suspects[0]
        assert first.statistic == pytest.approx(z**2, rel=1e-8)
        assert first.objective == pytest.approx(rest.objective, abs=1e-8)
        bias = TRUE[j] + errors[j] - rest.value(str(j + 1))
        assert first.size == pytest.approx(bias, rel=1e-6, abs=1e-8)


@steady
@given(errors, sigmas, st.sampled_from([1e-3, 0.1, 30.0, 1e4]))
def test_scales_change_nothing(errors, sigmas, scale):
    one = EXCHANGER.reconcile(readings(errors, sigmas))
    other = exchanger(scale).reconcile(readings(errors, sigmas))
    for name in EXCHANGER.addresses:
        assert other.value(name) == pytest.approx(one.value(name), rel=1e-8)
        assert other.sigma(name) == pytest.approx(one.sigma(name), rel=1e-7)


@steady
@given(errors)
def test_uncertainty_of_a_ratio_is_its_exact_gradient(errors):
    answer = EXCHANGER.reconcile(readings(errors, [1.0] * 6))
    one, three = answer.value("1"), answer.value("3")
    gradient = np.array([-three / one**2, 1 / one])
    variance = gradient @ answer.covariance(["1", "3"]) @ gradient
    assert answer.sigma("bypass") == pytest.approx(np.sqrt(variance), rel=1e-9)


def parallel() -> Equations:
    """Two pipes that nobody reads, between two that are read; their sum is a figure."""

    def nodes(v):
        yield Eq("in", v["feed"] - v["left"] - v["right"], 10.0)
        yield Eq("out", v["left"] + v["right"] - v["product"], 10.0)

    names = ("feed", "left", "right", "product")
    return Equations(
        [Var(n, "kg/s", 0.0, 1e3, 5.0, 10.0) for n in names],
        nodes,
        lambda v: [Report("both", v["left"] + v["right"]), Report("ratio", v["left"] / v["feed"])],
    )


def test_a_sum_can_be_known_where_its_parts_are_not():
    answer = parallel().reconcile([Reading("feed", 10.0, 0.3), Reading("product", 10.2, 0.4)])
    assert answer.value("both") == pytest.approx(
        (10.0 / 0.09 + 10.2 / 0.16) / (1 / 0.09 + 1 / 0.16)
    )
    assert answer.sigma("both") == pytest.approx((1 / 0.09 + 1 / 0.16) ** -0.5)
    for name in ("left", "right", "ratio"):
        assert not answer.determined(name)
        assert answer.sigma(name) is None
        assert name not in answer.values
        with pytest.raises(NotSolved, match=f"{name}: is not determined"):
            answer.value(name)


def test_a_reading_nobody_checks_is_not_adjusted_and_not_tested():
    read = [Reading("feed", 10.0, 0.3), Reading("product", 11.0, 0.4), Reading("left", 7.0, 0.2)]
    answer = parallel().reconcile(read)
    alone = next(r for r in answer.readings if r.address == "left")
    assert not alone.redundant
    assert alone.standardised is None
    assert alone.adjusted == pytest.approx(7.0, abs=1e-9)
    assert alone.sigma == pytest.approx(0.2)


def test_a_reading_without_sigma_is_kept_and_not_used():
    answer = parallel().reconcile([Reading("feed", 10.0, 0.3), Reading("product", 99.0, None)])
    assert answer.value("product") == pytest.approx(10.0)
    assert [r.used for r in answer.readings] == [True, False]


def test_two_readings_that_cannot_be_told_apart_are_named_together():
    answer = parallel().reconcile([Reading("feed", 10.0, 0.1), Reading("product", 12.0, 0.1)])
    assert len(answer.suspects) == 1
    first = answer.suspects[0]
    assert {first.address, *first.equivalent} == {"feed", "product"}


@steady
@given(errors, st.floats(0.5, 4.0))
def test_explained_away_is_what_elimination_would_find(wrong, limit):
    tests = EXCHANGER.reconcile(readings(wrong, [1.0, 0.5, 2.0, 1.0, 0.7, 1.0])).tests
    size = np.diag(tests.w)
    j = int(np.argmax(tests.d**2 / size))
    told = explained_away(tests.d, size, tests.correlations(tests.w, j), j, limit)
    without = readings(wrong, [1.0, 0.5, 2.0, 1.0, 0.7, 1.0], drop=j)
    left = {r.address: r.standardised for r in EXCHANGER.reconcile(without).readings}
    for i in set(range(6)) - {j}:
        z, after = tests.d[i] / np.sqrt(size[i]), left[str(i + 1)]
        if after is not None and min(abs(abs(z) - limit), abs(abs(after) - limit)) > 1e-6:
            assert told[i] == (abs(z) > limit >= abs(after))


def test_a_loss_that_would_look_the_same_is_told_beside_the_readings():
    """Three weighings of one flow, a loss before the last of them that a weak belief holds."""

    def chain(v):
        yield Eq("first", v["in"] - v["middle"])
        yield Eq("second", v["middle"] - v["out"] - v["loss"])

    system = Equations([Var(n, start=10.0) for n in ("in", "middle", "out", "loss")], chain)
    read = [Reading("in", 10.0, 0.1), Reading("middle", 10.0, 0.1), Reading("out", 5.0, 0.1),
            Reading("loss", 0.0, 0.5, kind="assumed")]  # fmt: skip
    first = system.reconcile(read, leaks=["loss"]).suspects[0]
    assert first.address == "out"
    assert "loss" in first.losses
    assert first.equivalent == ("loss",)  # the belief; the loss itself is no reading


@steady
@given(st.sampled_from(range(6)), st.sampled_from([-20.0, 12.0, 30.0]))
def test_a_gross_error_pulls_a_robust_answer_less(j, size):
    wrong = [0.0] * 6
    wrong[j] = size
    plain = EXCHANGER.reconcile(readings(wrong, [1.0] * 6))
    robust = EXCHANGER.reconcile(readings(wrong, [1.0] * 6), robust=True)

    def off(answer):
        return float(np.abs([answer.value(str(i + 1)) - TRUE[i] for i in range(6)]).max())

    assert off(robust) < 0.7 * off(plain)
    assert robust.objective >= plain.objective
    assert EXCHANGER.reconcile(readings([0.1] * 6, [1.0] * 6), robust=True).value(
        "1"
    ) == pytest.approx(EXCHANGER.reconcile(readings([0.1] * 6, [1.0] * 6)).value("1"))


def test_what_nothing_determines_at_the_start_may_be_determined_at_the_answer():
    """At width zero the area says nothing about the length; at the width read it does."""

    def nothing(v):
        yield Eq("width twice", v["width"] - v["other"])

    def area(v):
        yield Report("area", v["length"] * v["width"])

    lengths = [Var("length", start=1.0), Var("width", start=0.0), Var("other", start=0.0)]
    system = Equations(lengths, nothing, area)
    answer = system.reconcile([Reading("width", 2.0, 0.1), Reading("area", 6.0, 0.3)])
    assert answer.value("length") == pytest.approx(3.0)
    assert answer.objective == pytest.approx(0.0, abs=1e-12)
    assert answer.sigma("length") == pytest.approx(np.hypot(0.3 / 2.0, 0.1 * 3.0 / 2.0))


def test_another_column_may_be_what_nothing_determines_at_the_answer():
    """Two loads on a scale, by where the lever stands: at 1 the left says nothing, at 3 the right.

    Held at its start, the left would be a false answer without a doubt of its own.
    """

    def nothing(v):
        yield Eq("other end", v["lever"] + v["rest"] - 4.0)

    def scale(v):
        yield Report("scale", (v["lever"] - 1.0) * v["left"] + (3.0 - v["lever"]) * v["right"])

    loads = [Var(n, start=1.0) for n in ("left", "right", "lever")] + [Var("rest", start=3.0)]
    system = Equations(loads, nothing, scale)
    answer = system.reconcile([Reading("lever", 3.0, 1e-9), Reading("scale", 12.0, 0.5)])
    assert answer.value("left") == pytest.approx(6.0)
    assert answer.sigma("left") == pytest.approx(0.25, rel=1e-6)
    assert not answer.determined("right")


def test_what_ran_to_nought_where_too_little_was_read_is_not_determined():
    """A flow known only by what it dilutes to, and hardly: near nought its slopes are small too."""

    def mixing(v):
        yield Eq("mixer", v["flow"] + v["water"] - v["whole"])
        yield Eq("nobody reads", v["spare"] - v["store"])

    def dilution(v):
        yield Report("solids", v["flow"] * v["strength"])

    flows = [Var(n, "kg/s", 0.0, 1e4, 10.0) for n in ("flow", "water", "spare", "store")]
    flows += [Var("whole", "kg/s", 0.0, 1e4, 20.0), Var("strength", "1", 0.0, 1e4, 1.0)]
    system = Equations(flows, mixing, dilution)
    read = [Reading("solids", 10.0, 0.1), Reading("whole", 20.0, 0.1)]
    weak = system.reconcile([*read, Reading("strength", 100.0, 60.0)])
    # By its slopes alone it would be 0.1 +- 0.06, and where it began 150 doubts off.
    assert not weak.determined("flow")
    assert not weak.determined("water")
    assert weak.determined("whole")
    assert weak.determined("solids")
    sound = system.reconcile([*read, Reading("strength", 1.1, 0.1)])
    assert sound.sigma("flow") == pytest.approx(np.hypot(0.1 / 1.1, 10.0 * 0.1 / 1.21), rel=1e-6)
    assert sound.determined("water")
    assert not sound.determined("spare")


@pytest.mark.parametrize(("approach", "told"), [(5.0, True), (1.0, False), (-3.0, False)])
def test_what_stands_on_a_floor_is_not_determined(approach, told):
    """Surface from an approach that counts as 0.2 where it is less: flat there, without doubt."""

    def surface(v):
        yield Eq("surface", v["surface"] - 1.0 / smooth_maximum(v["approach"], 0.2, 0.1))

    system = Equations(
        [Var("approach", start=5.0), Var("surface", start=0.2, clear_of=("approach", 0.2))], surface
    )
    answer = system.reconcile([Reading("approach", approach, 0.5)])
    assert answer.determined("approach")
    assert answer.determined("surface") == told
    assert (answer.sigma("surface") is not None) == told


# ---- assumptions and solves ---------------------------------------------------------------


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


# ---- limits in an account -------------------------------------------------------------------


@steady
@given(errors, st.floats(0.5, 30.0))
def test_an_account_at_a_limit_is_the_bounded_least_squares(errors, limit):
    """The exchanger with its by-pass held below a limit, against SciPy's bounded least squares."""
    from scipy.optimize import lsq_linear

    def nodes(v):
        for k, row in enumerate(BALANCES, 1):
            yield Eq(f"node {k}", sum(a * v[str(i)] for i, a in enumerate(row, 1) if a))

    high = {"3": limit}
    flows = [
        Var(str(i), high=high.get(str(i), np.inf), start=min(50.0, limit)) for i in range(1, 7)
    ]
    answer = Equations(flows, nodes).reconcile(readings(errors, [1.0] * 6))
    # two flows free: exchanger and by-pass
    design = np.array([[1, 1], [1, 0], [0, 1], [1, 0], [0, 1], [1, 1]], float)
    best = lsq_linear(design, TRUE + errors, ([-np.inf, -np.inf], [np.inf, limit]), tol=1e-14)
    assert answer.value("2") == pytest.approx(best.x[0], abs=1e-5)
    assert answer.value("3") == pytest.approx(best.x[1], abs=1e-5)
    assert answer.at_bound == (("3",) if best.x[1] > limit - 1e-9 else ())


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
