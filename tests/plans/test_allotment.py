"""Allotments: against every allotment in whole tonnes, and prices against finite differences."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from ratoon.plans.yard.allotment import Allotment, Limit, Supplier, allot


def value(found: Allotment) -> float:
    """Cane to the mill less what growers lack to the equity limit: what the prices are of."""
    return found.total - found.behind


def best_of_all(
    suppliers: list[Supplier], capacities: dict[str, float], need: float, band: float, bins: float
) -> float:
    """The best value over every allotment in whole tonnes, written without the programme."""
    whole = sum(s.estimate for s in suppliers)
    target = min((sum(s.delivered for s in suppliers) + need) / whole, 1.0)
    best = -np.inf
    growers = {s.grower for s in suppliers}
    for cane in itertools.product(*(range(int(s.left) + 1) for s in suppliers)):
        if sum(cane) > min(need, bins):
            continue
        groups: dict[str, float] = dict.fromkeys(capacities, 0.0)
        for tonnes, s in zip(cane, suppliers):
            groups[s.group] += tonnes
        if any(t > capacities[g] for g, t in groups.items()):
            continue
        lack = 0.0
        for grower in growers:
            mine = [(t, s) for t, s in zip(cane, suppliers) if s.grower == grower]
            estimate = sum(s.estimate for _, s in mine)
            came = sum(s.delivered for _, s in mine)
            got = sum(t for t, _ in mine)
            ahead = (target + band) * estimate - came
            if got > max(ahead, 0.0) + 1e-9:
                break
            lack += max((target - band) * estimate - came - got, 0.0)
        else:
            best = max(best, sum(cane) - lack)
    return best


def small(seed: int) -> tuple[list[Supplier], dict[str, float], float, float, float]:
    """A district of four suppliers whose limits all fall on whole tonnes."""
    rng = np.random.default_rng(seed)
    suppliers = [Supplier("AB"[i % 2], f"G{i % 3}", 20.0, float(rng.integers(2, 11)),
                          float(rng.integers(1, 6))) for i in range(4)]  # fmt: skip
    delivered = sum(s.delivered for s in suppliers)
    need = float(4 * rng.integers(2, 5)) - delivered % 4  # the target falls on whole tonnes, too
    capacities = {g: float(rng.integers(2, 9)) for g in "AB"}
    return suppliers, capacities, max(need, 1.0), 0.05 * float(rng.integers(0, 4)), 12.0


@pytest.mark.parametrize("seed", range(25))
def test_no_allotment_in_whole_tonnes_is_better(seed: int) -> None:
    given = small(seed)
    found = allot(*given[:4], bins=given[4])
    assert value(found) == pytest.approx(best_of_all(*given), abs=1e-6)


def district(rng: np.random.Generator) -> tuple[list[Supplier], dict[str, float]]:
    suppliers = []
    for i in range(8):
        estimate = float(rng.uniform(500, 2000))
        delivered = float(rng.uniform(0.2, 0.6)) * estimate
        left = float(rng.uniform(0, 1)) * (estimate - delivered)
        suppliers.append(Supplier("ABC"[i % 3], f"G{i}", estimate, delivered, left))
    suppliers.append(Supplier("A", "G1", 300.0, 100.0, 150.0))  # with cane in two groups
    return suppliers, {g: float(rng.uniform(200, 900)) for g in "ABC"}


def changed(
    limit: Limit, by: float, given: tuple[list[Supplier], dict[str, float], float, float, float]
) -> float:
    """The value when one limit is moved, everything else as it was."""
    suppliers, capacities, need, band, bins = given
    if limit.kind == "mill":
        need += by
    elif limit.kind == "bins":
        bins += by
    elif limit.kind == "group":
        capacities = {**capacities, limit.name: capacities[limit.name] + by}
    elif limit.kind == "equity":
        band += by
    else:
        suppliers = [replace(s, left=s.left + by)
                     if s.grower == limit.name and s.left == limit.limit else s
                     for s in suppliers]  # fmt: skip
    return value(allot(suppliers, capacities, need, band, bins))


@pytest.mark.parametrize("seed", range(6))
def test_every_price_is_a_finite_difference(seed: int) -> None:
    rng = np.random.default_rng([seed, 77])
    suppliers, capacities = district(rng)
    given = (suppliers, capacities, float(rng.uniform(500, 2500)), float(rng.uniform(0.0, 0.08)),
             float(rng.uniform(500, 2500)))  # fmt: skip
    found = allot(*given[:4], bins=given[4])
    here, kinds, held = value(found), set(), 0
    for limit in found.limits:
        step = 1e-6 if limit.kind == "equity" else 1e-3
        more = (changed(limit, step, given) - here) / step
        less = (here - changed(limit, -step, given)) / step
        near = 1e-3 * max(abs(limit.price), 1.0)
        # where two limits meet the two differ, and the price lies between them
        assert min(more, less) - near <= limit.price <= max(more, less) + near, limit
        kinds.add(limit.kind)
        held += limit.price > 0.0
    assert {"mill", "bins", "group", "equity"} <= kinds and held
    # what is not in the list is no limit: more of such a crop, and less, change nothing
    priced = {(x.name, x.limit) for x in found.limits if x.kind == "crop"}
    for s in suppliers:
        if (s.grower, s.left) not in priced:
            one = Limit("crop", s.grower, s.left, 0.0, 0.0)
            differences = [(changed(one, by, given) - here) / by for by in (1e-3, -1e-3)]
            assert min(differences) == pytest.approx(0.0, abs=1e-3), s


def test_limits_hold_and_nobody_gets_more_than_stands() -> None:
    for seed in range(12):
        rng = np.random.default_rng([seed, 5])
        suppliers, capacities = district(rng)
        need, band, bins = 1500.0, 0.03, 1400.0
        found = allot(suppliers, capacities, need, band, bins)
        assert found.total <= min(need, bins) + 1e-6
        for s, row in zip(suppliers, found.rows):
            assert (s.group, s.grower) == (row.group, row.grower)
            assert -1e-9 <= row.tonnes <= s.left + 1e-9
        for group, room in capacities.items():
            assert sum(r.tonnes for r in found.rows if r.group == group) <= room + 1e-6
        for row in found.rows:
            assert row.after <= max(found.target + band, row.before) + 1e-9


def test_a_group_that_is_ahead_waits_and_the_one_behind_is_served() -> None:
    suppliers = [Supplier("ahead", "A", 1000.0, 500.0, 500.0),
                 Supplier("behind", "B", 1000.0, 300.0, 700.0),
                 Supplier("even", "C", 1000.0, 400.0, 600.0)]  # fmt: skip
    found = allot(suppliers, dict.fromkeys(("ahead", "behind", "even"), 900.0), 300.0, 0.10)
    cane = {r.grower: r.tonnes for r in found.rows}
    # 1 500 t of 3 000 t is a half each: A has it already; even to within a grade of 7.5 t
    assert cane["A"] == pytest.approx(0.0, abs=3.0)
    assert cane["B"] == pytest.approx(200.0, abs=7.6) and cane["C"] == pytest.approx(100.0, abs=7.6)
    assert found.short == pytest.approx(0.0, abs=1e-3)


def test_what_cannot_be_is_told_and_not_hidden() -> None:
    suppliers = [Supplier("A", "G1", 1000.0, 0.0, 1000.0), Supplier("B", "G2", 0.0, 0.0, 0.0)]
    found = allot(suppliers, {"A": 100.0}, 400.0, 0.03)
    assert found.total == pytest.approx(100.0) and found.short == pytest.approx(300.0)
    assert found.behind == pytest.approx(0.37 * 1000.0 - 100.0)
    prices = {(x.kind, x.name): x.price for x in found.limits}
    assert prices["group", "A"] == pytest.approx(2.0)  # one to the mill, one to the grower behind
    assert allot([], {}, 100.0, 0.03).short == 100.0
