"""Problems 71 and 113 of Hock and Schittkowski 1981, from memory: agreement, not proof."""

import pytest

from ratoon.base.errors import BadInput
from ratoon.equations import Eq, Equations, Report, Var
from ratoon.equations.best import Search
from ratoon.equations.prices import NoneFound
from ratoon.equations.reduced import Reduced


def four() -> Search:
    table = [Var(f"x{i}", "", 1.0, 5.0, x) for i, x in enumerate((1.0, 5.0, 5.0, 1.0), 1)]
    equations = Equations(
        table,
        lambda q: [Eq("squares", sum(q[v.name] ** 2 for v in table) - 40.0, 40.0)],
        lambda q: [Report("product", q["x1"] * q["x2"] * q["x3"] * q["x4"], scale=25.0)],
    )
    return Search(equations, lambda q, _: -(q["x1"] * q["x4"] * (q["x1"] + q["x2"] + q["x3"])
                                            + q["x3"]), limited=["product", "x1"])  # fmt: skip


def test_problem_71_and_the_price_of_its_limit() -> None:
    search = four()
    found = search.best({}, {"product": (25.0, 1e30)})
    assert found.aim == pytest.approx(-17.0140173, abs=1e-7)
    assert [found[f"x{i}"] for i in range(1, 5)] == pytest.approx(
        [1.0, 4.7429994, 3.8211503, 1.3794082], abs=1e-6
    )
    looser = search.best({}, {"product": (25.0 - 1e-3, 1e30)}, found.values)
    assert found.price("product", "low") == pytest.approx((looser.aim - found.aim) / 1e-3, rel=1e-4)
    assert [p.own for p in found.prices if p.address == "x1"] == [True]  # nobody stated that limit


def test_problem_71_in_what_is_free_alone() -> None:
    """Three of the four are free, as the squares add up to forty; the solver finds which."""
    found = Reduced(four(), []).best({}, {"product": (25.0, 1e30)})
    assert found.aim == pytest.approx(-17.0140173, abs=1e-6)
    assert found.price("product", "low") == pytest.approx(
        four().best({}, {"product": (25.0, 1e30)}).price("product", "low"), rel=1e-4
    )


def test_what_is_only_told_holds_no_search_up() -> None:
    """A store that fills in no time one way of the best, and empties the other way of the start."""
    table = [Var("flow", start=0.5), Var("time", start=2.0), Var("days", scale=10.0, start=2.0)]
    equations = Equations(table, lambda q: [
        Eq("time", q["time"] - 1.0 / (q["flow"] ** 2 + 1e-18) ** 0.5),
        Eq("days", q["days"] - 2.0 * q["time"], 10.0),
    ])  # fmt: skip
    search = Search(equations, lambda q, _: -((q["flow"] - 1e-8) ** 2), limited=["flow"])
    found = Reduced(search, ["flow"]).best({}, {"flow": (-1.0, 1.0)}, {"flow": -0.5})
    assert found["flow"] == pytest.approx(1e-8, abs=1e-9)
    assert found["days"] == pytest.approx(2e8, rel=1e-2)


def test_problem_113() -> None:
    start = (2.0, 3.0, 5.0, 5.0, 1.0, 2.0, 7.0, 3.0, 6.0, 10.0)
    table = [Var(f"x{i}", start=x) for i, x in enumerate(start, 1)]

    def rows(q):  # type: ignore[no-untyped-def]
        x = [None, *(q[v.name] for v in table)]
        held = (
            105 - 4 * x[1] - 5 * x[2] + 3 * x[7] - 9 * x[8],
            -10 * x[1] + 8 * x[2] + 17 * x[7] - 2 * x[8],
            8 * x[1] - 2 * x[2] - 5 * x[9] + 2 * x[10] + 12,
            -3 * (x[1] - 2) ** 2 - 4 * (x[2] - 3) ** 2 - 2 * x[3] ** 2 + 7 * x[4] + 120,
            -5 * x[1] ** 2 - 8 * x[2] - (x[3] - 6) ** 2 + 2 * x[4] + 40,
            -0.5 * (x[1] - 8) ** 2 - 2 * (x[2] - 4) ** 2 - 3 * x[5] ** 2 + x[6] + 30,
            -(x[1] ** 2) - 2 * (x[2] - 2) ** 2 + 2 * x[1] * x[2] - 14 * x[5] + 6 * x[6],
            3 * x[1] - 6 * x[2] - 12 * (x[9] - 8) ** 2 + 7 * x[10],
        )
        return [Report(f"g{k}", g) for k, g in enumerate(held)]

    def aim(q, _):  # type: ignore[no-untyped-def]
        x = [None, *(q[v.name] for v in table)]
        return -(
            x[1] ** 2 + x[2] ** 2 + x[1] * x[2] - 14 * x[1] - 16 * x[2] + (x[3] - 10) ** 2
            + 4 * (x[4] - 5) ** 2 + (x[5] - 3) ** 2 + 2 * (x[6] - 1) ** 2 + 5 * x[7] ** 2
            + 7 * (x[8] - 11) ** 2 + 2 * (x[9] - 10) ** 2 + (x[10] - 7) ** 2 + 45
        )  # fmt: skip

    limits = [f"g{k}" for k in range(8)]
    search = Search(Equations(table, lambda q: (), rows), aim, free=[v.name for v in table],
                    limited=limits)  # fmt: skip
    for solver in (search, Reduced(search, [v.name for v in table])):
        found = solver.best({}, dict.fromkeys(limits, (0.0, 1e30)))
        assert found.aim == pytest.approx(-24.3062091, abs=1e-6)


def test_what_cannot_be_is_refused_in_one_line() -> None:
    search = four()
    with pytest.raises(NoneFound, match="no best state was found"):
        search.best({}, {"product": (1e4, 1e30)})
    with pytest.raises(BadInput, match="not among what this search limits"):
        search.best({}, {"x2": (1.0, 2.0)})
    with pytest.raises(BadInput, match="are not a range"):
        search.best({}, {"x1": (3.0, 2.0)})
