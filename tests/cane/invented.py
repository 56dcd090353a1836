"""An invented day of cane with its truth, made by throwing particles, not by the mixing matrix."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np

from ratoon.cane.records import (
    Bin,
    Block,
    Consignment,
    FibreSample,
    NirSeries,
    Sample,
    SpeedSeries,
    Tip,
)  # fmt: skip
from ratoon.cane.rules import AnalysisRules, Carrier, TrackRules

START = datetime(2031, 6, 10, 20, tzinfo=UTC)
TRACK = TrackRules(carriers=(Carrier(name="carrier", length=40.0),), dispersion=22.0)
RULES = AnalysisRules(
    brix_sigma=0.0010, pol_sigma=0.0010, nir_brix=0.0016, nir_pol=0.0018, nir_noise=0.0020
)
RATE = 470e3 / 3600.0
BLOCK_SD, PARCEL_SD, BIN_SD = 0.0080, 0.0030, 0.0010  # of CCS-like figures, kg/kg


@dataclass
class Day:
    """Inputs of a day, and the truth: (brix, pol, fibre) by consignment."""

    bins: list[Bin] = field(default_factory=list)
    tips: list[Tip] = field(default_factory=list)
    notes: dict[str, Consignment] = field(default_factory=dict)
    blocks: dict[str, Block] = field(default_factory=dict)
    speeds: dict[str, SpeedSeries] = field(default_factory=dict)
    samples: dict[str, Sample] = field(default_factory=dict)
    fibre_samples: list[FibreSample] = field(default_factory=list)
    series: NirSeries | None = None
    truth: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    bin_truth: dict[str, np.ndarray] = field(default_factory=dict)  # by tag


def make_day(seed: int, consignments: int = 120, inside_sd: float = BIN_SD) -> Day:
    """A day of consignments of 1 to 24 bins, a stop, a slow hour, series every 10 s."""
    random = np.random.default_rng(seed)
    day = Day()
    sizes = np.where(random.random(consignments) < 0.3, random.integers(1, 5, consignments),
                     random.integers(8, 24, consignments))  # fmt: skip
    seconds, figures, masses = [], [], []
    now = 0.0
    for number, size in enumerate(sizes):
        name = f"C{number:04d}"
        brix, pol, fibre = _figures(random, BLOCK_SD)
        block = Block(f"B{number}", f"F{number % 60}", f"G{number % 60}", f"V{number % 4}",
                      f"V{number % 4}")  # fmt: skip
        day.blocks[block.block] = block
        day.notes[name] = Consignment(
            name, block.grower, block.farm, block.block, block.variety,
            START - timedelta(hours=10), "green", None, int(size), (), block.fibre_class,
        )  # fmt: skip
        inside = random.normal(0.0, inside_sd, (size, 3)) * (1.0, 1.0, 1.0)
        inside -= inside.mean(axis=0)
        day.truth[name] = (brix, pol, fibre)
        for each in range(size):
            kg = int(random.normal(6000, 350))
            tag = f"{len(day.bins):05d}"
            gross = START + timedelta(seconds=now - 3600)
            day.bins.append(Bin(tag, name, gross, kg + 1900, 1900, gross, "weighed"))
            day.tips.append(Tip(tag, START + timedelta(seconds=now)))
            seconds.append(now)
            figures.append(np.array([brix, pol, fibre]) + inside[each])
            day.bin_truth[tag] = figures[-1]
            masses.append(kg)
            now += float(round(kg / RATE))
    _run(day, random, np.array(seconds), np.array(figures), np.array(masses), now)
    _laboratory(day, random)
    return day


def _figures(random: np.random.Generator, sd: float) -> tuple[float, float, float]:
    level = random.normal(0.0, sd)
    brix = 0.214 + 1.1 * level + random.normal(0.0, PARCEL_SD)
    return brix, brix * (0.885 + 1.2 * level), 0.15 + random.normal(0.0, 0.004)


def _run(day: Day, random: np.random.Generator, tipped: np.ndarray, figures: np.ndarray,
         masses: np.ndarray, until: float) -> None:  # fmt: skip
    """Speeds with a slow spell and a stop during which nothing is tipped; then the series."""
    zero = START.timestamp()
    stop_at, stop_for = float(tipped[tipped.size // 2]) + 20.0, 1500.0
    shift = np.where(tipped > stop_at, stop_for, 0.0)
    moved = tipped + shift
    for place, tip in enumerate(day.tips):
        when = START + timedelta(seconds=float(moved[place]))
        day.tips[place] = Tip(tip.tag, when)
    times = np.array([-7200.0, stop_at, stop_at + stop_for, until + stop_for + 4000.0])
    speeds = np.array([1.0, 0.0, 1.0, 1.0])
    day.speeds = {
        "carrier": SpeedSeries("carrier", zero + times, 0.12 * speeds),
        "mills": SpeedSeries("mills", zero + times, 0.230 * speeds),
    }
    per = 400
    laid = np.append(np.diff(tipped), 45.0).clip(1.0, 120.0)
    clock = np.repeat(tipped, per) + np.repeat(laid, per) * random.random(tipped.size * per)
    clock += 40.0 / 0.12 + 25.0 + random.normal(0.0, 22.0, clock.size)
    edges = np.arange(0.0, until + 600.0, 10.0)
    cell = np.digitize(clock, edges)
    weight = np.repeat(masses / per, per)
    total = np.bincount(cell, weights=weight, minlength=edges.size + 1)
    read = np.flatnonzero(total > 0.5 * RATE * 10.0)
    read = read[(read > 0) & (read < edges.size)]
    columns = [
        np.bincount(cell, weights=weight * np.repeat(figures[:, q], per), minlength=total.size)
        for q in range(3)
    ]
    juice = np.stack([c[read] / total[read] for c in columns], axis=1)
    # near-infrared: its own error for each consignment is added by the caller of each parcel
    parcel = {n: random.normal(0.0, (0.0016, 0.0018, 0.004)) for n in day.truth}
    index = {n: i for i, n in enumerate(day.truth)}
    error = np.array([parcel[n] for n in index])
    of_bin = np.array([index[b.consignment] for b in day.bins])
    for q in range(3):
        bent = np.bincount(cell, weights=weight * np.repeat(error[of_bin, q], per),
                           minlength=total.size)  # fmt: skip
        juice[:, q] += bent[read] / total[read]
    juice += np.array([0.0012, -0.0008, 0.001]) + random.normal(0.0, 0.0020, juice.shape)
    middle = edges[read - 1] + 5.0
    at = middle + np.where(middle > stop_at, stop_for, 0.0)
    day.series = NirSeries(zero + at, juice[:, 0], juice[:, 1], juice[:, 2])


def _laboratory(day: Day, random: np.random.Generator) -> None:
    for number, (name, (brix, pol, fibre)) in enumerate(day.truth.items()):
        day.samples[name] = Sample(
            f"S{number:04d}", name, START, START,
            brix + float(random.normal(0, 0.0010)), pol + float(random.normal(0, 0.0010)),
        )  # fmt: skip
        if number % 5 == 0:
            note = day.notes[name]
            day.fibre_samples.append(
                FibreSample(f"F{number}", note.fibre_class, name, START,
                            fibre + float(random.normal(0, 0.004)))
            )  # fmt: skip
