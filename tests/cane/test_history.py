"""Exchanged notes and mislabelled blocks, scored by size of the difference on invented blocks."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import replace

import numpy as np
import pytest

from ratoon.cane.history import History, Parcel, levelled
from ratoon.cane.labels import judge_parcels, mislabelled_blocks
from ratoon.cane.misidentified import LEAST_GAIN, exchanges
from ratoon.cane.records import Block, BlockSeason

BLOCKS, WITHIN, BETWEEN = 150, 0.0035, 0.0080  # of CCS, kg/kg: one parcel, and block from block


def invented(seed: int, days: int = 12, per_day: int = 60):
    """Parcels of `days` days, block means known, none exchanged."""
    random = np.random.default_rng(seed)
    mean = random.normal(0.0, BETWEEN, BLOCKS)
    parcels = []
    for day in range(days):
        for number, block in enumerate(random.integers(0, BLOCKS, per_day)):
            value = mean[block] + random.normal(0.0, WITHIN)
            parcels.append(
                Parcel(f"D{day:02d}-{number:03d}", f"B{block}", f"V{block % 4}", day, value, 0.002)
            )
    blocks = {f"B{n}": Block(f"B{n}", f"F{n}", f"G{n}", f"V{n % 4}", neighbours=())
              for n in range(BLOCKS)}  # fmt: skip
    return parcels, blocks, mean


def exchanged(today: list[Parcel], step: int = 10) -> tuple[list[Parcel], list[tuple[int, int]]]:
    """Every `step`-th parcel's cane under the next one's note: the juices change places."""
    today, pairs = list(today), []
    for k in range(0, len(today) - 1, step):
        a, b = today[k], today[k + 1]
        if a.block == b.block:
            continue
        today[k], today[k + 1] = (replace(a, relative=b.relative), replace(b, relative=a.relative))
        pairs.append((k, k + 1))
    return today, pairs


def test_exchanged_notes_are_found_by_size_of_difference():
    score: dict[int, list[bool]] = defaultdict(list)
    alarms = right = 0
    for seed in range(25):
        parcels, blocks, mean = invented(seed, days=40)
        history = History([p for p in parcels if p.day < 39], blocks)
        today, pairs = exchanged([p for p in parcels if p.day == 39])
        flags = [f for f in judge_parcels(today, {}, history) if f.code == "notes exchanged"]
        told = {f.subject: f.others for f in flags}
        swapped = {today[k].consignment for pair in pairs for k in pair}
        alarms, right = alarms + len(told), right + len(set(told) & swapped)
        for k, j in pairs:
            a, b = today[k], today[j]
            both = [history.expected(p.block, p.variety).sigma for p in (a, b)]
            size = abs(mean[int(a.block[1:])] - mean[int(b.block[1:])]) / np.hypot(*both)
            score[min(int(size), 4)].append(told.get(a.consignment) == (b.consignment,))
    assert len(score[4]) >= 5
    assert np.mean(score[4]) >= 0.95
    assert np.mean(score[0]) < 0.2 < np.mean(score[3])
    assert right >= 0.5 * alarms


def test_nothing_exchanged_raises_few_alarms():
    alarms = parcels_seen = 0
    for seed in range(10):
        parcels, blocks, _ = invented(100 + seed, days=40)
        history = History([p for p in parcels if p.day < 39], blocks)
        today = [p for p in parcels if p.day == 39]
        parcels_seen += len(today)
        alarms += sum(f.code == "notes exchanged" for f in judge_parcels(today, {}, history))
    assert alarms <= 0.01 * parcels_seen


def test_a_block_mislabelled_for_a_week_is_found():
    parcels, blocks, mean = invented(7, days=40)
    rich, poor = f"B{int(np.argmax(mean))}", f"B{int(np.argmin(mean))}"
    history = History([p for p in parcels if p.day < 33], blocks)
    week = [p for p in parcels if p.day >= 33 and p.block != rich]
    random = np.random.default_rng(1)
    wrong = [Parcel(f"W{k}", rich, "V0", 34 + k, float(mean[int(poor[1:])]
                    + random.normal(0, WITHIN)), 0.002) for k in range(4)]  # fmt: skip
    flags = mislabelled_blocks([*week, *wrong], history)
    assert [f.subject for f in flags if abs(f.score) > 6] == [rich]
    assert len(flags) <= 3


def test_a_block_without_history_takes_its_neighbours_then_its_variety():
    parcels, blocks, mean = invented(3)
    known = {p.block for p in parcels}
    two = [b for b in sorted(known) if sum(p.block == b for p in parcels) >= 4][:2]
    blocks["new"] = Block("new", "F", "G", "V0", neighbours=tuple(two))
    history = History(parcels, blocks)
    assert history.expected("new", "V0").source == "neighbours"
    assert history.expected("elsewhere", "V1").source == "variety"
    own = history.expected(two[0], "V0")
    assert own.source == "block" and own.sigma < history.expected("new", "V0").sigma
    assert own.value == pytest.approx(mean[int(two[0][1:])], abs=4 * own.sigma)


def test_history_judges_nobody_before_it_has_settled():
    parcels, blocks, _ = invented(11, days=12)
    few = [p for p in parcels if p.day < 3]  # enough parcels, of too few days
    assert len(few) > 100 and not History(few, blocks).settled
    alone = list({p.block: p for p in parcels}.values())  # many days, no block twice
    assert len({p.day for p in alone}) >= 4 and not History(alone, blocks).settled
    assert History([p for p in parcels if p.day < 6], blocks).settled


def test_one_earlier_parcel_counts_with_its_weight():
    parcels, blocks, _ = invented(11)
    others = [p for p in parcels if p.block != "B3"]
    variety = History(others, blocks).expected("B3", "V3")
    one = replace(next(p for p in parcels if p.block == "B3"), relative=variety.value + 0.010)
    history = History([*others, one], blocks)
    found, spread = history.expected("B3", "V3"), history.spreads
    weight = spread.variety**2 / (spread.variety**2 + spread.within**2)
    assert found.value == pytest.approx(variety.value + weight * 0.010, abs=3e-4)
    assert found.source == "one parcel and its variety"
    assert spread.within < found.sigma < variety.sigma


def test_earlier_seasons_tell_of_a_block_before_this_one_does():
    parcels, blocks, mean = invented(11)
    random = np.random.default_rng(2)
    seasons = [BlockSeason(f"B{n}", year, 4 + n % 3, 0.13 + mean[n] + random.normal(0, 0.002), 0.13)
               for n in range(BLOCKS) for year in (2029, 2030)]  # fmt: skip
    others = [p for p in parcels if p.block not in ("B3", "B5")]
    before, after = History(others, blocks), History(others, blocks, seasons)
    for n in (3, 5):
        told, guessed = (h.expected(f"B{n}", f"V{n % 4}") for h in (after, before))
        assert told.source == "earlier seasons" and told.sigma < 0.8 * guessed.sigma
        assert abs(told.value - mean[n]) < 2.5 * told.sigma
    # by number of parcels; and the block's own parcels of this season come first
    two = [BlockSeason("B3", 2029, 1, 0.120, 0.130), BlockSeason("B3", 2030, 3, 0.130, 0.130)]
    assert History(others, blocks, two).expected("B3", "V3").value == pytest.approx(-0.0025)
    assert History(parcels, blocks, seasons).expected("B3", "V3").source == "block"


def test_a_label_wrong_by_three_and_a_half_sigma_is_named_four_times_in_five():
    """Of what history can tell of one parcel; and few sound ones are looked at for nothing."""
    named, sound = [], []
    for seed in range(8):
        parcels, blocks, mean = invented(200 + seed, days=40)
        random = np.random.default_rng(seed)
        count = Counter(p.block for p in parcels if p.day < 39)
        known = [n for n in range(BLOCKS) if count[f"B{n}"] >= 4][:8]
        wrong = []
        for k, n in enumerate(known):
            sigma = WITHIN * np.sqrt(1 + 1 / count[f"B{n}"])
            value = mean[n] + random.choice([-1, 1]) * 3.5 * sigma + random.normal(0, WITHIN)
            wrong.append(Parcel(f"W{k}", f"B{n}", f"V{n % 4}", 39, float(value), 0.002))
        every = levelled([*parcels, *wrong])
        history = History([p for p in every if p.day < 39], blocks)
        today = [p for p in every if p.day == 39]
        told = {f.subject for f in judge_parcels(today, {}, history)}
        named += [p.consignment in told for p in wrong]
        sound += [p.consignment in told for p in today if not p.consignment.startswith("W")]
    assert np.mean(named) >= 0.71  # four fifths, less two standard errors of so many
    assert np.mean(sound) <= 0.02


def test_a_days_level_is_not_what_blocks_were_cut_on_it():
    """The best blocks on one day and the worst on the next all look like their own."""
    parcels, _, mean = invented(5, days=30)
    order = np.argsort(mean)
    extremes = []
    for day, ones in ((30, order[-3:]), (31, order[:3])):
        own = [float(mean[n]) for n in ones]
        extremes += [Parcel(f"E{n}", f"B{n}", f"V{n % 4}", day, v - float(np.mean(own)), 0.002)
                     for n, v in zip(ones, own, strict=True)]  # fmt: skip
    flat = {p.consignment: p.relative for p in levelled([*parcels, *extremes])}
    middle = float(np.median([p.relative - mean[int(p.block[1:])] for p in levelled(parcels)]))
    for n in (*order[-3:], *order[:3]):
        assert abs(flat[f"E{n}"] - mean[n] - middle) < 3 * WITHIN


def test_a_pair_that_does_not_fit_exchanged_either_is_not_proposed():
    """Of three bottles the first lies far off: the partner with which it fits is not here."""
    expected, variance = np.array([[20.0], [18.0], [17.0]]), np.full((3, 1, 1), 0.25**2)
    far = np.array([[14.0], [18.1], [16.9]])
    assert exchanges(far, expected, variance) == []
    swapped = np.array([[18.1], [20.1], [16.9]])
    (one,) = exchanges(swapped, expected, variance)
    assert (one.first, one.second) == (0, 1) and one.gain > LEAST_GAIN
