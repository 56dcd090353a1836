"""What must hold of cane whatever the numbers: mass, shares, money, least squares."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse
from scipy.optimize import lsq_linear

from ratoon.base.errors import BadInput
from ratoon.cane.lines import PayItem
from ratoon.cane.mixing import cane_at, cells, fit_step, mixing, passed
from ratoon.cane.paid import figure_of, relative_figure
from ratoon.cane.payment import Charge, PaymentRule, Pool
from ratoon.cane.records import Analysis, SpeedSeries
from ratoon.cane.rules import Carrier, TrackRules
from ratoon.cane.statement import make_statement, week_mean
from ratoon.cane.tracking import Path, arrivals
from ratoon.cane.unmix import unmix

RULES = TrackRules(carriers=(Carrier(name="carrier", length=40.0),))


def analysis(ccs: float, name: str = "C1") -> Analysis:
    return Analysis(name, "sample", 0.215, 0.190, 0.15, ccs, 1e-3, 1e-3, 4e-3, 2e-3)


def speeds(points: list[tuple[float, float]]) -> dict[str, SpeedSeries]:
    """Both series from (seconds, speed in metres a second of the carrier) points."""
    times = np.cumsum([0.0] + [seconds for seconds, _ in points[:-1]]) - 1.0
    run = np.array([speed for _, speed in points])
    return {
        "carrier": SpeedSeries("carrier", times, run),
        "mills": SpeedSeries("mills", times, run * 0.230 / 0.12),
    }


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.tuples(st.floats(1.0, 600.0), st.integers(1000, 9000)), min_size=1, max_size=40),
    st.floats(2.0, 80.0),
    st.floats(1.0, 60.0),
)
def test_mixing_keeps_every_kilogram(bins, dispersion, width):
    begins = np.cumsum([gap for gap, _ in bins])
    ends = begins + 45.0
    masses = np.array([kg for _, kg in bins])
    edges = cells(begins, ends, dispersion, width)
    found = mixing(begins, ends, masses, dispersion, edges)
    assert np.allclose(np.asarray(found.cane.sum(axis=0)).ravel(), masses, rtol=0, atol=1e-6)
    assert found.cane.min() >= -1e-9
    rows = np.asarray(found.shares.sum(axis=1)).ravel()
    assert np.allclose(rows[found.flow > 0.0], 1.0, atol=1e-9)


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.tuples(st.floats(5.0, 900.0), st.sampled_from([0.0, 0.06, 0.12, 0.2])),
             min_size=1, max_size=12),
    st.lists(st.floats(0.0, 3000.0), min_size=2, max_size=20, unique=True),
)  # fmt: skip
def test_cane_keeps_its_order_and_its_distance(points, tips):
    points = [(500.0, 0.12), *points, (1.0, 0.12)]
    tipped = np.sort(np.round(np.array(tips), 1))
    path = Path.of(speeds(points), RULES, 0.0, 90000.0)
    begins, ends = arrivals(path, tipped)
    assert np.all(np.diff(begins) >= -1e-9)
    assert np.all(ends > begins)
    # carrier and mills keep step, so the lag on the mill clock is one number whatever they do
    lag = 40.0 / 0.12 + RULES.shredder_and_chute
    assert np.allclose(begins - path.clock(tipped), lag, atol=1e-6)


def test_a_stop_delays_the_juice_by_the_stop():
    running = Path.of(speeds([(50000.0, 0.12)]), RULES, 0.0, 9000.0)
    stopped = Path.of(speeds([(201.0, 0.12), (1000.0, 0.0), (1.0, 0.12)]), RULES, 0.0, 9000.0)
    tipped = np.array([100.0])
    moments = [float(p.moment(p.arrival(tipped))[0]) for p in (running, stopped)]
    assert moments[1] - moments[0] == pytest.approx(1000.0, abs=1e-6)


def test_cane_that_has_not_arrived_has_no_moment_and_loses_no_mass():
    path = Path.of(speeds([(201.0, 0.12), (1.0, 0.0)]), RULES, 0.0, 9000.0)
    begins, ends = arrivals(path, np.array([0.0, 100.0]))
    assert np.all(np.isfinite(begins)) and np.all(ends > begins)
    assert np.all(np.isinf(path.moment(begins)))
    found = mixing(begins, ends, np.array([6000, 6100]), 20.0, cells(begins, ends, 20.0, 10.0))
    assert np.asarray(found.cane.sum(axis=0)).ravel() == pytest.approx([6000, 6100], abs=1e-6)


@pytest.mark.parametrize(
    ("points", "told"),
    [
        ([(100.0, 0.0)], "never moved"),
        ([(100.0, -0.1)], "negative"),
        ([(0.0, 0.1), (5.0, 0.1)], "do not rise"),
        ([(100.0, float("nan"))], "no number"),
    ],
)
def test_speeds_that_cannot_be_are_refused(points, told):
    with pytest.raises(BadInput, match=told):
        Path.of(speeds(points), RULES, 0.0, 100.0)
    with pytest.raises(BadInput, match="no speed at the first tip"):
        Path.of(speeds([(100.0, 0.1)]), RULES, -50.0, 100.0)
    with pytest.raises(BadInput, match="carrier"):
        Path.of({}, RULES, 0.0, 100.0)


def test_at_a_reading_and_in_a_cell_the_juice_is_the_same():
    begins = np.arange(0.0, 900.0, 45.0)
    masses = np.full(begins.size, 6000)
    edges = np.arange(-200.0, 1300.0, 5.0)
    by_cell = mixing(begins, begins + 45.0, masses, 20.0, edges).cane.toarray()
    centres = 0.5 * (edges[1:] + edges[:-1])
    by_scan = cane_at(begins, begins + 45.0, masses, 20.0, centres, 5.0).toarray()
    assert np.allclose(by_cell, by_scan, atol=0.01)


def test_a_step_gives_lag_and_dispersion_back():
    random = np.random.default_rng(5)
    clock = np.arange(0.0, 600.0, 5.0)
    share = passed(clock, np.array([309.999]), np.array([310.001]), 24.0)
    values = 0.20 + 0.02 * share + random.normal(0.0, 0.0005, clock.size)
    found, sigma = fit_step(clock, values, 300.0)
    assert abs(found[0] - 10.0) < 4 * sigma[0]
    assert abs(found[1] - 24.0) < 4 * sigma[1]


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000), st.integers(2, 8))
def test_unmixing_is_bounded_least_squares(seed, parcels):
    """Against SciPy's own bounded least squares on the full matrix."""
    random = np.random.default_rng(seed)
    shares = random.dirichlet(np.full(parcels, 0.5), 80)
    truth = random.uniform(0.15, 0.25, (parcels, 3))
    figures = shares @ truth + random.normal(0.0, 0.01, (80, 3))
    low, high = np.array([0.17, 0.17, 0.17]), np.array([0.23, 0.23, 0.23])
    found = unmix(figures, sparse.csr_array(shares), np.arange(80.0), low, high, 1e-4)
    for column in range(3):
        other = lsq_linear(shares, figures[:, column], (0.17, 0.23), tol=1e-13)
        cost = 0.5 * np.sum((shares @ found.values[:, column] - figures[:, column]) ** 2)
        assert cost == pytest.approx(other.cost, rel=1e-6)
        assert np.allclose(found.values[:, column], other.x, atol=2e-4)


def test_two_parcels_always_mixed_alike_have_a_large_doubt():
    random = np.random.default_rng(1)
    first = random.uniform(0.2, 0.8, 200)
    shares = np.stack([first, 0.4 * (1 - first), 0.6 * (1 - first)], axis=1)
    figures = shares @ np.full((3, 3), 0.2) + random.normal(0.0, 0.001, (200, 3))
    found = unmix(figures, sparse.csr_array(shares), np.arange(200.0), np.full(3, 0.05),
                  np.full(3, 0.4), 1e-4)  # fmt: skip
    sigma = np.sqrt(found.covariance[:, 0, 0])
    assert sigma[0] < 0.001
    assert sigma[1] > 1.0 and sigma[2] > 1.0


amounts = st.lists(
    st.tuples(st.integers(1, 200_000), st.floats(0.08, 0.18), st.sampled_from("ABC")),
    min_size=1, max_size=30,
)  # fmt: skip


def rule(**more) -> PaymentRule:
    constants = {"sugar_price": "431.27", "recovery": "0.90", "base_ccs": "4", "constant": "0.66"}
    return PaymentRule(name="test", form="sugar price",
                       constants={k: Decimal(v) for k, v in constants.items()}, **more)  # fmt: skip


def items_of(parcels) -> list[PayItem]:
    day = date(2031, 6, 10)
    return [PayItem(f"C{n}", grower, day, kg, analysis(ccs, f"C{n}"))
            for n, (kg, ccs, grower) in enumerate(parcels)]  # fmt: skip


@settings(deadline=None, max_examples=60)
@given(amounts, st.sampled_from(["none", "additive", "multiplicative"]))
def test_the_total_is_the_sum_of_its_lines_and_of_all_growers(parcels, relative):
    items = items_of(parcels)
    agreed = rule(relative=relative, season_figure=Decimal("13.20"), advance=Decimal("0.6"),
                  charges=(Charge("levy", "per tonne", Decimal("-0.37")),
                           Charge("green cane", "share", Decimal("0.013"))))  # fmt: skip
    mean = week_mean(items, agreed)
    day = date(2031, 6, 10)
    one = [make_statement(g, day, day, items, agreed, mean) for g in "ABC"]
    for statement in one:
        assert statement.total == sum((x.amount for x in statement.lines), Decimal(0))
        assert all(x.amount == x.amount.quantize(Decimal("0.01")) for x in statement.lines)
    assert sum(s.kilograms for s in one) == sum(kg for kg, _, _ in parcels)
    cents = [int(s.total * 100) for s in one]
    assert sum(cents) == int(sum((s.total for s in one), Decimal(0)) * 100)


@settings(deadline=None, max_examples=60)
@given(amounts)
def test_additive_relative_ccs_keeps_the_season_mean(parcels):
    """In any week the mean over all growers, by mass, is the season's, to the rounding."""
    items = items_of(parcels)
    agreed = rule(relative="additive", season_figure=Decimal("13.20"))
    mean = week_mean(items, agreed)
    relative = [relative_figure(figure_of(i.analysis, agreed), mean, agreed) for i in items]
    mass = sum(i.kilograms for i in items)
    found = sum((i.kilograms * r for i, r in zip(items, relative, strict=True)), Decimal(0)) / mass
    assert abs(found - Decimal("13.20")) <= Decimal("0.006")


@settings(deadline=None, max_examples=40)
@given(amounts)
def test_a_further_statement_pays_only_what_is_missing(parcels):
    items = items_of(parcels)
    day = date(2031, 6, 10)
    first = make_statement("A", day, day, items, rule(advance=Decimal("0.7")), None)
    last = make_statement("A", day, day, items, rule(), None, [("1", first.total)])
    whole = make_statement("A", day, day, items, rule(), None)
    assert first.total + last.total == whole.total


def test_pools_that_do_not_sum_to_one_are_refused():
    with pytest.raises(BadInput, match="do not sum to 1"):
        rule(pools={"A": (Pool("pool", Decimal("0.5"), Decimal("400")),)})
    pools = (Pool("pool", Decimal("0.6"), Decimal("400")), Pool("fixed", Decimal("0.4"),
                                                               Decimal("450")))  # fmt: skip
    assert rule(pools={"A": pools}).of_grower("A").constants["sugar_price"] == Decimal("420.0")
