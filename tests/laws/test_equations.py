"""What must hold of any reconciliation, whatever the equations and the numbers."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse
from hypothesis import given, settings
from hypothesis import strategies as st

from ratoon.base.errors import NotSolved, NotSpecified
from ratoon.base.maths import smooth_maximum
from ratoon.base.records import Reading
from ratoon.equations import Eq, Equations, Report, Var
from ratoon.equations.gross_errors import explained_away

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
    """Two pipes that are not read, between two that are read; their sum is a figure."""

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

    Held at its start, the left would be a false answer without an uncertainty of its own.
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


def test_what_is_told_by_its_size_alone_is_not_determined():
    """A flow known only by what it dilutes to: its size keeps it in place and is no figure."""

    def mixing(v):
        yield Eq("mixer", v["flow"] + v["water"] - v["whole"])
        yield Eq("nobody reads", v["spare"] - v["store"])

    def dilution(v):
        yield Report("solids", v["flow"] * v["strength"])

    flows = [Var(n, "kg/s", 0.0, 1e4, 10.0) for n in ("flow", "water", "spare", "store")]
    flows += [Var("whole", "kg/s", 0.0, 1e4, 20.0), Var("strength", "1", 0.0, 1e4, 1.0)]
    system = Equations(flows, mixing, dilution)
    read = [Reading("solids", 10.0, 0.1), Reading("whole", 20.0, 0.1)]
    weak = system.reconcile(read, sizes=True)
    assert weak.sigma("whole") == pytest.approx(0.1, rel=0.01)
    assert not weak.forced
    assert not weak.determined("flow")
    assert not weak.determined("water")
    assert weak.determined("whole")
    assert weak.determined("solids")
    sound = system.reconcile([*read, Reading("strength", 1.1, 0.1)])
    assert sound.sigma("flow") == pytest.approx(np.hypot(0.1 / 1.1, 10.0 * 0.1 / 1.21), rel=1e-6)
    assert sound.determined("water")
    assert not sound.determined("spare")


def test_what_the_equations_alone_give_is_determined_whatever_was_read():
    """A rest that is zero by its equation: its uncertainty is rounding, of nobody's making."""
    sizes = {"whole": 3.0, "first": 1.1, "second": 1.9, "third": 0.7}

    def rest(v):
        return v["whole"] - v["first"] - v["second"] - v["third"]

    for k in range(1, 10):
        flows = [Var(n, "kg/s", 0.0, 1e3, x * k / 10, x * k) for n, x in sizes.items()]
        system = Equations(flows, lambda v: [Eq("split", rest(v))],
                           lambda v: [Report("rest", rest(v))])  # fmt: skip
        answer = system.reconcile([Reading("whole", 0.3 * k, 0.011)], sizes=True)
        assert answer.value("rest") == pytest.approx(0.0, abs=1e-12)
        assert answer.sigma("rest") == pytest.approx(0.0, abs=1e-12)
        assert not answer.determined("first")


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


def test_slopes_without_a_value_and_a_quick_way_that_does_not_end(
    monkeypatch,
):
    """A matrix that the quick decomposition leaves is decomposed by the slower one."""
    from ratoon.equations.structure import check_rank

    rows, columns = ["first", "second"], ["x", "y"]
    with pytest.raises(NotSolved, match="second"):
        check_rank(scipy.sparse.csr_array([[1.0, 0.0], [np.nan, 1.0]]), rows, columns)

    def ends_not(*_, **__):
        raise np.linalg.LinAlgError("SVD did not converge")

    monkeypatch.setattr(np.linalg, "svd", ends_not)
    check_rank(scipy.sparse.csr_array([[1.0, 0.0], [0.5, 1.0]]), rows, columns)
    with pytest.raises(NotSpecified, match="repeat one another"):
        check_rank(scipy.sparse.csr_array([[1.0, 2.0], [0.5, 1.0]]), rows, columns)


def test_a_usual_value_tells_only_what_nothing_else_does() -> None:
    """Of what is read it moves nothing; it counts in no test; what is not read it makes sure."""
    names = [f"{i}" for i in range(1, 7)]

    def nodes(v):
        for k, row in enumerate(BALANCES, 1):
            yield Eq(f"node {k}", sum(a * v[n] for a, n in zip(row, names, strict=True) if a))
        yield Eq("heat", v["heat"] - 4.2 * v["1"] * (v["warm"] - 20.0))

    table = [Var(n, "kg/s", start=50.0) for n in names]
    table.append(Var("heat", "kW", start=1e4, scale=1e4))
    table.append(Var("warm", "degC", start=40.0, sigma=8.0))
    system = Equations(table, nodes)
    read = readings([1.0, -2.0, 0.5, 1.5, -1.0, 2.0], [1.0] * 6)
    plain, answer = EXCHANGER.reconcile(read), system.reconcile(read)
    assert answer.value("1") == pytest.approx(plain.value("1"), rel=1e-9)
    assert (answer.dof, answer.objective) == (plain.dof, pytest.approx(plain.objective))
    assert answer.value("warm") == pytest.approx(40.0) and answer.sigma("warm") == pytest.approx(8)
    assert answer.assumed_share("heat") > 0.9
    # told by a heat meter, it weighs next to nothing, and still counts in no test
    told = system.reconcile([*read, Reading("heat", 4.2 * 100.0 * 50.0, 100.0)])
    assert told.value("warm") == pytest.approx(70.0, abs=0.5) and told.sigma("warm") < 0.5
    assert told.dof == plain.dof
    assert told.objective == pytest.approx(plain.objective, abs=0.2)
    # read, it is a reading and no more
    seen = system.reconcile([*read, Reading("warm", 60.0, 0.5)])
    assert seen.value("warm") == pytest.approx(60.0) and seen.sigma("warm") == pytest.approx(0.5)


def test_a_start_at_a_limit_has_slopes():
    """A share that a mill states as zero: its root has no slope there."""

    def root(v):
        yield Eq("root", v["share"] ** 0.5 - v["read"])

    shares = [Var("share", low=0.0, high=1.0, start=0.0), Var("read", start=0.2)]
    system = Equations(shares, root)
    assert system.solve({"read": 0.5})["share"] == pytest.approx(0.25)
    assert system.reconcile([Reading("read", 0.5, 0.01)]).value("share") == pytest.approx(0.25)
