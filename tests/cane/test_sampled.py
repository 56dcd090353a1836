"""Sampled parcels: what a bottle misses is learnt; bottle and near-infrared weighed; fibre."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from ratoon.cane.bias import weigh
from ratoon.cane.day import cane_day, track
from ratoon.cane.receival import receive
from ratoon.cane.records import NirSeries, Sample
from ratoon.cane.rules import ReceivalRules
from ratoon.laboratory.first_juice import ccs


def run(day, invented, rules):
    received = receive(day.bins, day.tips, day.notes.values(), day.blocks, ReceivalRules())
    return cane_day(
        received, day.notes, day.speeds, day.samples, day.fibre_samples, day.series,
        invented.TRACK, rules, invented.RATE,
    )  # fmt: skip


def of_method(found, method):
    return {c.note.consignment: c.analysis for c in found.consignments
            if c.analysis is not None and c.analysis.method == method}  # fmt: skip


@pytest.fixture(scope="module")
def partly_filled(invented_cane):
    """Bins of a parcel differ widely, and each bottle fills in the first third of its window."""
    day, random = invented_cane.make_day(5, 90, inside_sd=0.006), np.random.default_rng(9)
    received = receive(day.bins, day.tips, day.notes.values(), day.blocks, ReceivalRules())
    tracked = track(received.bins, day.speeds, invented_cane.TRACK, invented_cane.RATE)
    bins = {}
    for one in tracked.bins:
        bins.setdefault(one.bin.consignment, []).append(one.bin.tag)
    for window in tracked.windows:
        if not window.alone:
            continue
        name, fill = window.consignment, (window.end - window.start) / 3
        mine = np.array([day.bin_truth[t] for t in bins[name]])
        third = mine[: max(round(len(mine) / 3), 1)].mean(axis=0)
        brix, pol = third[:2] + random.normal(0, 0.0010, 2)
        day.samples[name] = Sample(f"S-{name}", name, window.start - timedelta(seconds=30),
                                   window.start + fill, brix, pol)  # fmt: skip
    return day


def test_what_a_bottle_misses_of_its_consignment_is_learnt(partly_filled, invented_cane):
    day = partly_filled
    found = run(day, invented_cane, invented_cane.RULES)
    learnt = found.analysed.sampling
    sampled = of_method(found, "sample")
    assert learnt.bottles >= 40
    off = np.array([[a.brix - day.truth[n][0], a.pol - day.truth[n][1]]
                    for n, a in sampled.items()])  # fmt: skip
    sigma = np.array([[a.sigma_brix, a.sigma_pol] for a in sampled.values()])
    instrument = np.hypot(invented_cane.RULES.brix_sigma, invented_cane.RULES.brix_common)
    assert np.mean(np.abs(off) < 1.96 * instrument) < 0.80  # the instrument's alone is too little
    assert 0.88 <= np.mean(np.abs(off) < 1.96 * sigma) <= 0.99
    missed = np.sqrt(np.diagonal(learnt.covariance))
    assert missed == pytest.approx(np.sqrt(np.mean(off**2, axis=0) - 0.0010**2), rel=0.35)


def test_bottles_of_the_whole_window_miss_next_to_nothing(cane_of, invented_cane):
    day = cane_of(2)  # nobody wrote when its bottles filled: nothing is learnt, nothing added
    learnt = run(day, invented_cane, invented_cane.RULES).analysed.sampling
    assert learnt.bottles == 0 and not learnt.covariance.any()


def test_a_figure_weighed_is_nearer_the_truth_and_both_are_shown(cane_of, invented_cane):
    error = {"sample": [], "weighed": []}
    z = []
    for seed in (1, 2):
        day = cane_of(seed)
        assert "weighed" not in {c.analysis.method for c in
                                 run(day, invented_cane, invented_cane.RULES).consignments
                                 if c.analysis}  # fmt: skip
        found = run(day, invented_cane, replace(invented_cane.RULES, sampled="weighed"))
        for name, one in of_method(found, "weighed").items():
            beside = {m: (value, sigma) for m, value, sigma in one.alternatives}
            assert {"sample", "unmixed"} <= set(beside) and one.bottle and one.individual
            low, high = sorted((beside["sample"][0], beside["unmixed"][0]))
            assert low - 0.001 <= one.ccs <= high + 0.001
            assert one.sigma_ccs < beside["sample"][1]
            truth = float(ccs(*day.truth[name]))
            # fibre is the same for both and hides what the juice gains: it is taken as known
            juice = float(ccs(one.brix, one.pol, day.truth[name][2]))
            alone = day.samples[name]
            error["weighed"].append(juice - truth)
            error["sample"].append(float(ccs(alone.brix, alone.pol, day.truth[name][2])) - truth)
            z.append((one.ccs - truth) / one.sigma_ccs)
    assert len(z) > 120
    assert np.std(error["weighed"]) < 0.9 * np.std(error["sample"])
    assert 0.92 <= np.mean(np.abs(z) < 1.96) <= 0.99


def test_weighing_is_by_the_inverse_of_the_covariances():
    """One figure twice as sure in sigma counts four times: (4 x 20 + 1 x 20.5)/5."""
    first, second = np.array([0.200, 0.180]), np.array([0.205, 0.175])
    found, whole = weigh(first, np.eye(2) * 1e-6, second, np.eye(2) * 4e-6)
    assert found == pytest.approx([0.201, 0.179])
    assert np.diagonal(whole) == pytest.approx([0.8e-6, 0.8e-6])


@pytest.mark.parametrize("named", [True, False])
def test_near_infrared_fibre_is_corrected_by_the_can_fibre(cane_of, invented_cane, named):
    """The instrument reads 1 % too high: with and without the note on the can's label."""
    day = cane_of(3)
    shifted = replace(day, series=NirSeries(day.series.times, day.series.brix, day.series.pol,
                                            day.series.fibre + 0.010))  # fmt: skip
    cans = [replace(s, time=s.time + timedelta(hours=2), consignment=s.consignment if named else "")
            for s in day.fibre_samples]  # fmt: skip
    shifted = replace(shifted, fibre_samples=cans)
    found = run(shifted, invented_cane, replace(invented_cane.RULES, fibre="near-infrared"))
    bias = found.analysed.fibre
    assert bias.pairs == len(cans) and bias.sigma < 0.003
    assert abs(bias.value + 0.011) < 2.5 * bias.sigma  # 1 %, and the 0.1 % of the invented day
    mine = {c.note.consignment: c.analysis for c in found.consignments if c.analysis}
    off = np.array([a.fibre - day.truth[n][2] for n, a in mine.items()])
    z = off / np.array([a.sigma_fibre for a in mine.values()])
    assert {a.fibre_method for a in mine.values()} == {"near-infrared"}
    assert abs(np.median(off)) < 0.004
    assert np.mean(np.abs(z) < 1.96) >= 0.93


def test_without_a_can_fibre_the_bias_is_not_known_and_says_so(cane_of, invented_cane):
    day = replace(cane_of(3), fibre_samples=[])
    found = run(day, invented_cane, replace(invented_cane.RULES, fibre="near-infrared"))
    bias = found.analysed.fibre
    assert (bias.value, bias.sigma, bias.pairs) == (0.0, invented_cane.RULES.nir_fibre, 0)
