"""What a set of equations refuses, and what it may be asked from several threads at once."""

import threading
import time

import numpy as np
import pytest

from ratoon.base.errors import BadInput, NotSolved, NotSpecified, UnknownName
from ratoon.base.records import Reading
from ratoon.equations import Eq, Equations, Report, Var


def exchanger():
    def nodes(v):
        yield Eq("split", v["1"] - v["2"] - v["3"])
        yield Eq("exchanger", v["2"] - v["4"])
        yield Eq("bypass", v["3"] - v["5"])
        yield Eq("mixer", v["4"] + v["5"] - v["6"])

    flows = [Var(str(i), "kg/s", 0.0, 1e3, 50.0, 50.0) for i in range(1, 7)]
    return Equations(flows, nodes, lambda v: [Report("share", v["2"] / v["1"])])


EXCHANGER = exchanger()
READ = [101.91, 68.45, 34.65, 64.20, 36.44, 98.88]
READINGS = [Reading(str(i), y, 1.0) for i, y in enumerate(READ, 1)]


def test_threads_that_share_a_set_of_equations_take_turns():
    """The compiled functions write into buffers of their own: two at once mix their answers."""
    equations = exchanger()
    equations.solve({"1": 100.0, "share": 0.5})
    evaluator = equations.compiled("solve").residuals._whole
    inside, met, wrong = [], [], []

    def slowly(call):
        inside.append(1)
        time.sleep(1e-3)  # another thread gets its turn here, if it may
        met.append(len(inside))
        call()
        inside.pop()

    for name in ("_plain", "_both"):
        buffer, call = getattr(evaluator, name)
        setattr(evaluator, name, (buffer, lambda call=call: slowly(call)))

    def work(total):
        for _ in range(5):
            answer = equations.solve({"1": total, "share": 0.25})
            if abs(answer["2"] - 0.25 * total) > 1e-9 * total:
                wrong.append(total)

    threads = [threading.Thread(target=work, args=(t,)) for t in (40.0, 400.0)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert met
    assert max(met) == 1
    assert not wrong


def test_equations_that_repeat_one_another_are_refused_by_name():
    repeated = Equations(
        [Var("a"), Var("b")],
        lambda v: [Eq("one", v["a"] + v["b"] - 1), Eq("two", 2 * v["a"] + 2 * v["b"] - 2)],
    )
    for start in (None, {"a": 0.25, "b": 0.75}):
        with pytest.raises(NotSpecified, match="one, two; they leave open: a, b") as refused:
            repeated.solve({}, start)
        assert "singular" not in str(refused.value).lower()


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "12", None])
def test_a_given_figure_that_is_no_number_is_refused(value):
    with pytest.raises(BadInput, match="1: is not a number"):
        EXCHANGER.solve({"1": value, "2": 3.0})


def test_a_start_is_held_to_the_same_names_and_numbers():
    with pytest.raises(UnknownName, match="Did you mean share"):
        EXCHANGER.solve({"1": 10.0, "2": 5.0}, {"shar": 0.5})
    with pytest.raises(BadInput, match="3: start is not a number"):
        EXCHANGER.reconcile(READINGS, {"3": float("nan")})


def test_a_common_error_is_a_number_not_below_zero_and_a_leak_a_known_name():
    for common in (-0.5, float("nan")):
        with pytest.raises(BadInput, match="1: common error"):
            EXCHANGER.reconcile([Reading("1", 100.0, 1.0, common)])
    with pytest.raises(UnknownName):
        EXCHANGER.reconcile(READINGS, leaks=["los"])


def test_a_reading_with_an_endless_sigma_is_kept_and_not_used():
    answer = EXCHANGER.reconcile([*READINGS[:2], Reading("3", 35.0, float("inf"))])
    assert [r.used for r in answer.readings] == [True, True, False]
    assert all(np.isfinite(v) for v in answer.values.values())


@pytest.mark.parametrize("figure", ["1", "3", "share"])
def test_shares_are_parts_of_the_variance(figure):
    """Share times variance is what the figure's variance loses when that error alone is nil."""

    def without(j):
        """Variance of the figure with reading j's error left out, the weights kept as they are."""
        k = np.array([slope(figure, i) for i in range(6)])
        k[j] = 0.0
        return float(k @ k)

    def slope(name, i):
        moved = [Reading(r.address, r.value + 1e-4 * (n == i), 1.0) for n, r in enumerate(READINGS)]
        return (EXCHANGER.reconcile(moved).value(name) - plain.value(name)) / 1e-4

    plain = EXCHANGER.reconcile(READINGS)
    variance, shares = plain.sigma(figure) ** 2, dict(plain.shares(figure))
    assert sum(shares.values()) == pytest.approx(1.0)
    for j in range(6):
        lost = variance - without(j)
        assert shares.get(str(j + 1), 0.0) * variance == pytest.approx(lost, rel=1e-3, abs=1e-9)


def test_shares_hold_with_a_whole_covariance_and_with_robust_weights():
    """Against the variance taken apart by hand: k' S k, entry by entry."""
    S = np.eye(6)
    S[0, 0], S[0, 1], S[1, 0] = 4.0, 0.8, 0.8
    A = np.array([[1, -1, -1, 0, 0, 0], [0, 1, 0, -1, 0, 0], [0, 0, 1, 0, -1, 0],
                  [0, 0, 0, 1, 1, -1]], float)  # fmt: skip
    gain = np.eye(6) - S @ A.T @ np.linalg.solve(A @ S @ A.T, A)
    part = gain[0] * (S @ gain[0])
    correlated = dict(EXCHANGER.reconcile(READINGS, covariance=S).shares("1"))
    assert [correlated[str(i)] for i in range(1, 7)] == pytest.approx(part / part.sum(), abs=1e-8)

    robust = EXCHANGER.reconcile(READINGS, robust=True)
    S = np.diag(1.0 / robust.weights**2)
    gain = np.eye(6) - S @ A.T @ np.linalg.solve(A @ S @ A.T, A)
    part = gain[0] * (S @ gain[0])
    shares = dict(robust.shares("1"))
    assert robust.weights.min() < 0.99
    assert [shares[str(i)] for i in range(1, 7)] == pytest.approx(part / part.sum(), abs=1e-8)


def test_one_instrument_is_one_entry_of_the_shares():
    read = [
        Reading(r.address, r.value, 1.0, 0.5, "scale" if n < 2 else "")
        for n, r in enumerate(READINGS)
    ]
    answer = EXCHANGER.reconcile(read)
    shares = dict(answer.shares("1"))
    slopes = [
        (EXCHANGER.reconcile(
            [Reading(q.address, q.value + 1e-4 * (m == n), 1.0, 0.5, q.instrument)
             for m, q in enumerate(read)]
        ).value("1") - answer.value("1")) / 1e-4
        for n in (0, 1)
    ]  # fmt: skip
    assert shares["instrument scale"] * answer.sigma("1") ** 2 == pytest.approx(
        (0.5 * sum(slopes)) ** 2, rel=1e-3
    )
    assert sum(shares.values()) == pytest.approx(1.0)


def shared(slack: float) -> Equations:
    """Two flows of a whole; one of them is near nothing."""
    return Equations(
        [Var("whole", "kg/s", 0.0, 1e3, 50.0, 10.0), Var("part", "kg/s", -1e3, 1e3, 5.0, 10.0),
         Var("rest", "kg/s", -1e3, 1e3, 45.0, 10.0), Var("share", "1", 0.0, 1.0, 0.1, slack=slack)],
        lambda v: [Eq("part", v["part"] - v["share"] * v["whole"]),
                   Eq("rest", v["whole"] - v["part"] - v["rest"])],
    )  # fmt: skip


def test_an_account_passes_a_limit_by_its_slack_and_a_solve_does_not():
    read = [Reading("whole", 100.0, 1.0), Reading("rest", 103.0, 1.0)]
    free, held = (shared(slack).reconcile(read) for slack in (0.2, 0.0))
    assert free.value("share") == pytest.approx(-0.03) and free.objective < 1e-9
    assert held.value("share") == pytest.approx(0.0, abs=1e-3)
    assert held.objective == pytest.approx(4.5, rel=0.01)  # both readings moved by 1.5
    with pytest.raises(NotSolved):
        shared(0.2).solve({"whole": 100.0, "rest": 103.0})


def test_a_start_without_slopes_is_no_end_of_the_account():
    """The table's own start takes its place."""
    ratio = Equations(
        [Var(n, "kg/s", 0.0, 1e3, 5.0) for n in ("above", "below")] + [Var("times", high=1e9)],
        lambda v: [Eq("times", v["above"] / v["below"] - v["times"])],
    )
    read = [Reading("above", 8.0, 0.1), Reading("below", 2.0, 0.1)]
    found = ratio.reconcile(read, start={"below": 0.0})
    assert found.value("times") == pytest.approx(4.0)
