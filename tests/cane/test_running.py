"""Running comparisons: a shift of an instrument is told, noise is not; receival against account."""

import numpy as np
import pytest

from ratoon.cane.bias import DECIDE, cusum
from ratoon.cane.history import FEWEST, History, Parcel
from ratoon.cane.labels import mislabelled_blocks
from ratoon.cane.records import Block
from ratoon.cane.sums import Sums
from ratoon.cane.totals import against_account


def beyond(values):
    return [max(high, -low) > DECIDE for high, low in cusum(values)]


def test_a_shift_of_two_sigma_is_told_within_a_fortnight_and_noise_is_not():
    told = false = 0
    for seed in range(40):
        days = np.random.default_rng(seed).normal(0.0, 0.1, 60)
        false += any(beyond(days.tolist())[:40])
        days[40:] -= 0.25
        told += any(beyond(days.tolist())[40:54])
    assert told >= 36
    assert false <= 6


def test_a_few_days_decide_nothing():
    assert cusum([]) == []
    assert cusum([0.3, -0.2]) == [(0.0, 0.0)] * 2


def test_tonnes_and_pol_off_the_account_are_told():
    same = against_account(10_000_000, (10_010_000, 30_000), 0.145, (0.1452, 0.001))
    assert same == []
    codes = [f.code for f in against_account(
        10_200_000, (10_010_000, 30_000), 0.149, (0.1452, 0.001)
    )]  # fmt: skip
    assert codes == ["tonnes differ", "parcels against account"]
    assert {f.severity for f in against_account(1, (2, 0.1))} == {"look"}


def test_sums_of_days_are_the_sums_of_all():
    random = np.random.default_rng(3)
    parts, whole = [Sums(), Sums()], Sums()
    masses, values = random.uniform(1e3, 2e5, 30), random.uniform(0.11, 0.16, 30)
    for n, (mass, value) in enumerate(zip(masses.tolist(), values.tolist(), strict=True)):
        for sums in (parts[n % 2], whole):
            sums.with_analysis(mass, value, 0.004, 0.002, 0.15)
            sums.with_age(mass, 10.0 + n)
    parts[0].add(parts[1])
    assert parts[0].mean_ccs == pytest.approx(np.average(values, weights=masses), rel=1e-12)
    assert parts[0].mean_ccs == pytest.approx(whole.mean_ccs, rel=1e-12)
    assert parts[0].sigma_ccs == pytest.approx(whole.sigma_ccs, rel=1e-12)
    assert whole.sigma_ccs > 0.002  # the common part does not average out
    assert parts[0].oldest == whole.oldest == 39.0
    assert Sums.of_json(whole.as_json()) == whole


def test_a_block_cut_under_another_name_is_told_with_the_block_it_is_like():
    blocks = {n: Block(n, "F1", "G1", "K") for n in ("F1-1", "F1-2")}
    blocks |= {f"F{k}-1": Block(f"F{k}-1", f"F{k}", f"G{k}", "K") for k in range(2, 30)}
    random = np.random.default_rng(5)
    level = dict(zip(blocks, random.normal(0.0, 0.01, len(blocks)), strict=True))
    level |= {"F1-1": 0.020, "F1-2": -0.010}
    past = [Parcel(f"{b}/{d}", b, "K", d, level[b] + random.normal(0, 0.003), 0.003)
            for b in blocks if b != "F1-2" for d in range(14)]  # fmt: skip
    history = History(past, blocks)
    week = [Parcel(f"w{d}", "F1-2", "K", 20 + d, 0.020 + random.normal(0, 0.003), 0.003)
            for d in range(FEWEST + 3)]  # fmt: skip
    low = mislabelled_blocks(week, history, stranger=1.5, alone=99.0)
    assert len(low) == 1
    assert "like F1-1 of the same farm" in low[0].text
    assert mislabelled_blocks([p for p in past if p.day > 7], history) == []
