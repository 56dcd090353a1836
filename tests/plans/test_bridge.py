"""The bridge from plan to actual: it adds up, by hand, by another reckoning and over all orders."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest

from ratoon.base.season import PlanWeek
from ratoon.plans.bridge.factors import MEASURED, Came
from ratoon.plans.bridge.planned import Planned, planned
from ratoon.plans.bridge.steps import Bridged, bridged

MADE = date(2031, 5, 20)
HOW_TO = Path(__file__).parents[2] / "docs" / "how-to" / "plan.md"


def _by_hand() -> list[tuple[Planned, Came]]:
    one = Planned(MADE, 7, cane=60_000, ccs=13.0, rate=400, hours=150, sugar=7_800,
                  sugar_price=600, cane_price=50)  # fmt: skip
    fast = Came({"cane": 56_700, "ccs": 13.0, "sugar": 7_371}, 135, 168,
                {"mills": 20, "no cane": 13}, 600, 50)  # fmt: skip
    two = Planned(MADE, 7, cane=50_000, ccs=14.0, extraction=96, recovery=90, sugar=6_912)
    poor = Came({"cane": 50_000, "ccs": 14.0, "extraction": 95, "pol": 8_000, "sugar": 6_726,
                 "sugar_pol": 100, "molasses": 760, "known": 0, "undetermined": 76, "stock": 0},
                125, 168, {"mills": 43}, 500, 50)  # fmt: skip
    three = Planned(MADE, 7, cane=10_000, sugar=1_000, sugar_price=600, cane_price=50,
                    other_cost=40_000)  # fmt: skip
    money = Came({"cane": 10_000, "sugar": 1_000}, 25, 168, {"mills": 143}, 560, 48,
                 {"wages": 35_000, "repairs": 9_000})  # fmt: skip
    return [(one, fast), (two, poor), (three, money)]


def _number(text: str) -> float:
    """The last number of a cell of the how-to."""
    return float(re.findall(r"-?[\d,]+(?:\.\d+)?", text)[-1].replace(",", ""))


@pytest.mark.parametrize("week", [1, 2, 3])
def test_the_worked_weeks_of_the_how_to(week: int) -> None:
    text = HOW_TO.read_text(encoding="utf-8")
    table = text.split(f"| week {week} |")[1].split("\n\n")[0].splitlines()[2:]
    cells = [[c.strip() for c in row.strip("|").split("|")] for row in table]
    steps = bridged(*_by_hand()[week - 1]).steps
    assert [s.cause for s in steps] == [c[0] for c in cells]
    for step, (_, sugar, money, _, shapley) in zip(steps, cells):
        told = (step.sugar, step.money, step.shapley)
        assert told == pytest.approx([_number(x) for x in (sugar, money, shapley)], abs=1e-6)


def _random(rng: np.random.Generator) -> tuple[Planned, Came]:
    """A week and its plan, with figures left out on either side."""
    u = rng.uniform
    cane = u(10_000, 90_000)
    pol = cane * u(0.11, 0.17)
    extraction, sugar_pol = u(90, 98), u(97.5, 99.5)
    juice = pol * extraction / 100
    parts = dict(zip(("molasses", "known", "undetermined"), juice * u(0.0, [0.12, 0.01, 0.02])))
    stock = u(-100, 100)
    out = juice * (1 - u(0.001, 0.01)) - sum(parts.values()) - stock
    figures = {"cane": cane, "ccs": u(10, 16), "fibre": u(12, 18), "extraction": extraction,
               "pol": pol, "sugar": out / (sugar_pol / 100), "sugar_pol": sugar_pol, **parts,
               "stock": stock}  # fmt: skip
    for name in ("ccs", "fibre", "extraction", "pol", "undetermined"):
        if rng.random() < 0.1:
            del figures[name]
    causes = rng.choice(["mills", "rain", "no cane", "boilers"], rng.integers(1, 5), False)
    hours = u(40, 160)
    shares = rng.dirichlet(np.ones(len(causes))) * (168 - hours)
    costs = {"wages": u(1e5, 9e5), "repairs": u(-1e4, 5e5)} if rng.random() < 0.7 else {}
    came = Came(figures, hours, 168.0, dict(zip(map(str, causes), shares)), u(300, 900),
                u(20, 70), costs)  # fmt: skip
    plan = {"cane": u(5_000, 90_000), "ccs": u(10, 16), "fibre": u(12, 18), "rate": u(200, 900),
            "hours": u(40, 160), "extraction": u(90, 98), "recovery": u(80, 92),
            "sugar_price": u(300, 900), "cane_price": u(20, 70),
            "other_cost": u(1e5, 2e6)}  # fmt: skip
    plan["sugar"] = plan["cane"] * u(0.08, 0.15)
    return Planned(MADE, 7, **{k: v for k, v in plan.items() if rng.random() < 0.85}), came


def _adds_up(found: Bridged, money: float) -> None:
    """To 1e-9 of what is added, in the order of the steps and backwards."""
    for (plan, actual), parts in (
        (found.sugar, [s.sugar for s in found.steps]),
        (found.money, [s.money for s in found.steps]),
        (found.money, [s.shapley for s in found.steps]),
    ):
        assert sum(parts) == sum(reversed(parts)) == actual - plan
    assert found.money[1] == pytest.approx(money, rel=1e-9, abs=1e-6)


def test_a_hundred_random_weeks_add_up() -> None:
    """And end at the sugar that was made and the money that it left, reckoned without a product."""
    rng = np.random.default_rng(20310520)
    for _ in range(100):
        plan, came = _random(rng)
        found = bridged(plan, came)
        other = sum(came.costs.values()) if came.costs else plan.other_cost or 0.0
        money = (came.sugar_price * came.figures["sugar"] - came.cane_price * came.figures["cane"]
                 - other)  # fmt: skip
        _adds_up(found, money)
        assert found.sugar[1] == pytest.approx(came.figures["sugar"], rel=1e-9)
        if plan.sugar is not None:
            assert found.sugar[0] == pytest.approx(plan.sugar, rel=1e-9)
        for group in found.groups:
            own = found.steps[group.first : group.first + group.count]
            assert group.money == pytest.approx(sum(s.money for s in own), abs=1e-6)


def test_each_step_is_the_difference_of_two_weeks_reckoned_whole() -> None:
    """A full plan: each factor put into the plan's own reckoning one after the other."""
    rng = np.random.default_rng(20310521)
    plan, came = _random(rng)
    while len([v for v in (plan.cane, plan.ccs, plan.fibre, plan.rate, plan.hours, plan.recovery,
                           plan.extraction, plan.sugar, plan.sugar_price, plan.cane_price)
               if v is not None]) < 10 or len(came.figures) < len(MEASURED):  # fmt: skip
        plan, came = _random(rng)
    x = came.figures

    def reduced(extraction: float, fibre: float) -> float:
        return (100 - extraction) * (100 - fibre) / fibre

    def sugar(cane: float, ccs: float, fibre: float, lost: float, kept: float, per: float) -> float:
        extraction = 100 - lost * fibre / (100 - fibre)
        return cane * ccs / 100 * extraction / 100 * kept * per

    lost = [reduced(plan.extraction or 0, plan.fibre or 0), reduced(x["extraction"], x["fibre"])]
    out = x["sugar"] * x["sugar_pol"] / 100 + x["stock"]
    kept = [(plan.recovery or 0) / 100, out / (x["pol"] * x["extraction"] / 100)]
    per = [1.0, x["pol"] / (x["cane"] * x["ccs"] / 100) / (x["sugar_pol"] / 100)]
    assert plan.cane and plan.hours and plan.rate and plan.ccs and plan.fibre and plan.sugar
    per[0] = plan.sugar / sugar(plan.cane, plan.ccs, plan.fibre, lost[0], kept[0], 1.0)
    cane = [plan.cane, plan.rate * plan.hours, x["cane"] / came.hours * plan.hours, x["cane"]]
    states = [(c, plan.ccs, plan.fibre, lost[0], kept[0], per[0]) for c in cane]
    last = list(states[-1])
    for k, value in enumerate((x["ccs"], x["fibre"], lost[1], kept[1], per[1]), start=1):
        last[k] = value
        states.append((last[0], last[1], last[2], last[3], last[4], last[5]))
    by = np.diff([sugar(*s) for s in states]).tolist()
    by.append(-x["stock"] / (x["sugar_pol"] / 100))
    groups = [g.sugar for g in bridged(plan, came).groups][: len(by)]
    assert groups == pytest.approx(by, rel=1e-8, abs=1e-6)


def test_shapley_is_the_mean_over_all_orders() -> None:
    """Five factors, a hundred and twenty orders, each walked by itself."""
    plan = Planned(MADE, 7, rate=430, hours=140, ccs=13.1, sugar_price=580, cane_price=51)
    came = Came({"cane": 58_000, "ccs": 12.4, "sugar": 7_000}, 128, 168, {"mills": 40}, 610, 49)
    before = {"rate": 430.0, "hours": 140.0, "ccs": 13.1, "price": 580.0, "cane": 51.0}
    after = {"rate": 58_000 / 128, "hours": 128.0, "ccs": 12.4, "price": 610.0, "cane": 49.0}
    per = 7_000 / (58_000 * 12.4)

    def money(f: dict[str, float]) -> float:
        cane = f["rate"] * f["hours"]
        return f["price"] * cane * f["ccs"] * per - f["cane"] * cane

    total = dict.fromkeys(before, 0.0)
    orders = list(permutations(before))
    for order in orders:
        here = dict(before)
        for name in order:
            was = money(here)
            here[name] = after[name]
            total[name] += (money(here) - was) / len(orders)
    found = [g.shapley for g in bridged(plan, came).groups]
    assert found == pytest.approx(list(total.values()), rel=1e-9)


def test_intervals_are_what_drawn_accounts_scatter_by() -> None:
    plan, came = _by_hand()[1]
    rng = np.random.default_rng(7)
    figures = {**came.figures, "fibre": 15.0, "known": 20.0}
    sigma = np.array([abs(figures[n]) * 0.004 + 1e-3 for n in MEASURED])
    mix = rng.normal(size=(len(sigma), len(sigma)))
    shape = mix @ mix.T
    scale = sigma / np.sqrt(np.diag(shape))
    covariance = shape * np.outer(scale, scale)
    came = replace(came, figures=figures, covariance=covariance)
    told = bridged(plan, came)
    drawn = []
    for row in rng.multivariate_normal([figures[n] for n in MEASURED], covariance, 400):
        other = replace(came, figures=dict(zip(MEASURED, row)), covariance=None)
        by = {s.cause: s.money for s in bridged(plan, other).steps}
        drawn.append([by.get(s.cause, 0.0) for s in told.steps])
    scatter = np.std(drawn, axis=0)
    for step, spread in zip(told.steps, scatter):
        assert step.sigma == pytest.approx(spread, rel=0.15, abs=1.0), step.cause


def test_a_week_without_cane_takes_all_that_was_planned() -> None:
    plan = Planned(MADE, 7, cane=60_000, ccs=13, rate=400, hours=150, sugar=7_800, recovery=89)
    came = Came({"cane": 0.0, "sugar": 0.0}, 0, 168, {"rain": 168}, 600, 50)
    found = bridged(plan, came)
    assert found.sugar == (7_800, 0.0) and sum(s.sugar for s in found.steps) == -7_800
    assert {s.cause.partition(":")[0] for s in found.steps} == {"hours"}


MONDAY = date(2031, 6, 9)


def _weeks(made: date, cane: list[float | None], first: date = MONDAY) -> list[PlanWeek]:
    return [PlanWeek(made, first + timedelta(weeks=n), cane=c, ccs=12.0 + n, sugar_price=600.0)
            for n, c in enumerate(cane)]  # fmt: skip


def test_a_span_takes_its_share_of_each_week() -> None:
    """The season begins on a Tuesday: its first week has six days."""
    weeks = _weeks(MADE, [60_000, 70_000])
    start = MONDAY + timedelta(days=1)
    told = planned(weeks, start, start + timedelta(days=8), start)
    assert told is not None and told.days == 9
    assert told.cane == pytest.approx(60_000 + 70_000 * 3 / 7)
    assert told.ccs == pytest.approx((60_000 * 12 + 30_000 * 13) / 90_000)
    assert told.rate is None and not told.partly
    assert planned(weeks, date(2031, 7, 1), date(2031, 7, 5), start) is None


def test_a_figure_that_some_weeks_lack_counts_as_not_set() -> None:
    weeks = _weeks(MADE, [60_000, None, 0.0])
    told = planned(weeks, MONDAY, MONDAY + timedelta(days=20), MONDAY)
    assert told is not None and told.cane is None and told.partly == ("cane",)
    weeks[2] = replace(weeks[2], ccs=None)  # no cane, so no analyses
    assert planned(weeks, MONDAY, MONDAY + timedelta(days=20), MONDAY).ccs is not None  # type: ignore[union-attr]


def test_the_plan_in_force_is_the_newest_before_the_span() -> None:
    """The first stays for the season, the later counts for weeks after it; a patch for none."""
    later, patch = date(2031, 6, 18), date(2031, 6, 1)
    weeks = [*_weeks(MADE, [60_000] * 4), *_weeks(later, [1.0, 2.0], MONDAY + timedelta(weeks=2)),
             *_weeks(patch, [5.0])]  # fmt: skip
    whole = planned(weeks, MONDAY, MONDAY + timedelta(days=27), MONDAY)
    third = planned(weeks, MONDAY + timedelta(days=14), MONDAY + timedelta(days=20), MONDAY)
    assert whole is not None and (whole.made, whole.cane) == (MADE, 240_000)
    assert third is not None and (third.made, third.cane) == (later, 1.0)
    only = planned(_weeks(later, [7.0]), MONDAY, MONDAY + timedelta(days=6), MONDAY)
    assert only is not None and only.made == later
