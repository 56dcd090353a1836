"""First expressed juice of the season: what is in it at each moment, and what is read of it.

The true path has a shape of its own (a bin is spread over the carrier, then four mixed stages in
shredder and chute), not the one that tracking assumes, so that its intervals are earned.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ratoon.demo.district import District, Floats, Ints
from ratoon.demo.truth import TrueDay
from ratoon.demo.yard import LOADING, USUAL_SPEED, Drive, Yard

CARRIER, CHUTE, STAGES = 40.0, 25.0, 4  # m, s at usual speed, mixed stages
SMEAR = 1.6  # m over which the carrier spreads an edge, one standard deviation
GRID = 0.5  # m
PURGE, LEAST = 60.0, 120.0  # s
EVERY = 20.0  # s between near-infrared readings
CONSIGNMENT_CCS, CONSIGNMENT_PURITY, CONSIGNMENT_FIBRE = 0.32, 0.45, 0.30  # % about its block
BIN_CCS, BIN_FIBRE = 0.22, 0.20
BOTTLE = (0.10, 0.10)  # brix, pol of one bottle [%]
NIR_NOISE = (0.25, 0.26, 0.55)  # brix, pol, fibre of one reading
NIR_MATRIX = (0.10, 0.11, 0.35)  # the same over a consignment, new for the next
NIR_COMMON = (0.05, 0.05, 0.15)  # the same until the next calibration, a week
FIBRE_SPREAD = 0.35  # of one laboratory determination
WEEK = 7


@dataclass(frozen=True)
class Juice:
    """True brix, pol [% juice] and fibre [% cane]; shape (n, 3) of bins and of consignments."""

    bins: Floats
    consignments: Floats
    mass: Floats  # kg of consignments
    day: Ints  # of consignments


@dataclass(frozen=True)
class Read:
    """What instruments and laboratory read, in per cent; times in s UTC."""

    nir_time: Floats
    nir: Floats  # (n, 3)
    sampled: Ints  # consignments with a bottle
    start: Floats
    end: Floats
    bottle: Floats  # (m, 2)
    fibre: list[tuple[int, str, float, float]]  # day, class, time, fibre


def ccs(values: Floats) -> Floats:
    """CCS [%] of brix, pol, fibre [%] in columns."""
    b, p, f = values[..., 0], values[..., 1], values[..., 2]
    found: Floats = 1.5 * p * (1 - (f + 5) / 100) - 0.5 * b * (1 - (f + 3) / 100)
    return found


def true_juice(
    district: District, days: list[TrueDay], yard: Yard, rng: np.random.Generator
) -> Juice:
    """Brix, pol and fibre of every bin, whose mean over a day is the day's."""
    of, block = yard.consignment, yard.block
    n, m = len(block), len(of)
    own = district.ccs[block] + CONSIGNMENT_CCS * rng.standard_normal(n)
    pure = 0.9 * own + district.purity[block] + CONSIGNMENT_PURITY * rng.standard_normal(n)
    fibre = district.fibre[block] + CONSIGNMENT_FIBRE * rng.standard_normal(n)
    day_ccs, day_purity, day_fibre = (np.zeros(len(days)) for _ in range(3))
    target = np.zeros((len(days), 3))
    for i, day in enumerate(days):
        if day.values:
            target[i] = [100 * day.values[a] for a in (
                "first_juice.brix", "first_juice.pol", "cane.fibre_laboratory")]  # fmt: skip
            day_ccs[i] = ccs(target[i])
            day_purity[i], day_fibre[i] = 100 * target[i, 1] / target[i, 0], target[i, 2]
    want = day_ccs[yard.day] + own[of] + BIN_CCS * rng.standard_normal(m)
    purity = np.clip(day_purity[yard.day] + pure[of], 78.0, 93.5) / 100
    f = day_fibre[yard.day] + fibre[of] + BIN_FIBRE * rng.standard_normal(m)
    brix = want / (1.5 * purity * (1 - (f + 5) / 100) - 0.5 * (1 - (f + 3) / 100))
    values = np.column_stack([brix, purity * brix, f])
    for i in np.unique(yard.day):
        mine = yard.day == i
        values[mine] += target[i] - np.average(values[mine], axis=0, weights=yard.net[mine])
    mass: Floats = np.bincount(of, weights=yard.net, minlength=n).astype(float)
    mean = np.column_stack(
        [np.bincount(of, weights=yard.net * values[:, k], minlength=n) / mass for k in range(3)]
    )
    day_of = yard.day[np.searchsorted(of, np.arange(n))]
    return Juice(values, mean, mass, day_of)


def flowing(yard: Yard, juice: Juice) -> Floats:
    """Brix, pol, fibre at the sampler by carrier gone, at steps of `GRID`; shape (n, 3)."""
    edges = np.concatenate([yard.begins, [yard.begins[-1] + yard.net[-1] / LOADING]])
    at = np.arange(0.0, edges[-1] + CARRIER + 20.0, GRID)
    bins = np.clip(np.searchsorted(edges, at, side="right") - 1, 0, len(yard.net) - 1)
    cane = juice.bins[bins]
    stage = CHUTE * USUAL_SPEED / STAGES
    x = np.arange(0.0, 25.0, GRID)
    chute = x ** (STAGES - 1) * np.exp(-x / stage)
    y = np.arange(-8.0, 8.0 + GRID, GRID)
    smear = np.exp(-0.5 * (y / SMEAR) ** 2)
    kernel = np.convolve(chute / chute.sum(), smear / smear.sum())
    shift = round((CARRIER + y[0]) / GRID)
    out = np.empty_like(cane)
    for k in range(3):
        spread = np.convolve(cane[:, k] - cane[0, k], kernel)[: len(at)]
        out[:, k] = cane[0, k] + np.concatenate([np.zeros(shift), spread])[: len(at)]
    return out


def read_juice(
    district: District, days: list[TrueDay], yard: Yard, juice: Juice, drive: Drive,
    lab_bias: Floats, rng: np.random.Generator,
) -> Read:  # fmt: skip
    """Near-infrared series, bottles and fibre. `lab_bias` : by day, brix, pol, fibre [%]."""
    flow = flowing(yard, juice)
    grid = np.arange(len(flow)) * GRID
    time = np.arange(drive.time[0] + 7.0, drive.time[-1], EVERY)
    runs = drive.speed[np.searchsorted(drive.time, time, side="right") - 1] > 0.01
    time = time[runs & (rng.random(len(time)) > 0.01)]  # one in a hundred is not sound
    gone = drive.where(time)
    true = np.column_stack([np.interp(gone, grid, flow[:, k]) for k in range(3)])
    lag = CARRIER + CHUTE * USUAL_SPEED
    which = np.clip(np.searchsorted(yard.begins, gone - lag, side="right") - 1, 0, None)
    parcel = yard.consignment[which]
    weeks = rng.standard_normal((len(days) // WEEK + 1, 3)) * NIR_COMMON
    matrix = rng.standard_normal((len(yard.block), 3)) * NIR_MATRIX
    nir = true + rng.standard_normal(true.shape) * NIR_NOISE
    nir += weeks[yard.day[which] // WEEK] + matrix[parcel]
    spikes = np.flatnonzero(rng.random(len(time)) < 0.0005)
    nir[spikes, 0] += 6.0
    first = np.searchsorted(yard.consignment, np.arange(len(yard.block)))
    last = np.concatenate([first[1:], [len(yard.consignment)]]) - 1
    purge = PURGE * USUAL_SPEED
    begin = yard.begins[first] + lag + purge
    end = yard.begins[last] + yard.net[last] / LOADING + lag - purge
    sampled = np.flatnonzero(end - begin >= LEAST * USUAL_SPEED)
    sums = np.vstack([np.zeros(3), np.cumsum(flow, axis=0)])
    a = np.round((begin[sampled] + rng.normal(0, 0.8, len(sampled))) / GRID).astype(int)
    b = np.round((end[sampled] + rng.normal(0, 0.8, len(sampled))) / GRID).astype(int)
    b = np.minimum(np.maximum(b, a + 1), len(flow))
    mean = (sums[b] - sums[a]) / (b - a)[:, None]
    bottle = mean[:, :2] + rng.standard_normal((len(sampled), 2)) * BOTTLE
    bottle += lab_bias[juice.day[sampled], :2]
    when = drive.when(np.vstack([begin[sampled], end[sampled]]))
    whole = when[1] - when[0] >= LEAST / 2  # the last one of the season may still be running
    sampled, bottle, when = sampled[whole], bottle[whole], when[:, whole]
    fibre = _fibre(district, yard, juice, sampled, when[1], lab_bias, days, rng)
    return Read(time, nir, sampled, np.floor(when[0]), np.floor(when[1]), bottle, fibre)


def _fibre(
    district: District, yard: Yard, juice: Juice, sampled: Ints, end: Floats, bias: Floats,
    days: list[TrueDay], rng: np.random.Generator,
) -> list[tuple[int, str, float, float]]:  # fmt: skip
    """Eight determinations a class and day, each of one consignment's cane; none on Sundays."""
    kind = np.array(district.fibre_class)[yard.block[sampled]]
    out = []
    for i, day in enumerate(days):
        if day.date.weekday() == 6 or not day.values:
            continue
        for name in ("hard", "medium", "soft"):
            mine = np.flatnonzero((juice.day[sampled] == i) & (kind == name))
            for at in sorted(rng.choice(mine, min(8, len(mine)), replace=False).tolist()):
                value = juice.consignments[sampled[at], 2] + bias[i, 2]
                value += FIBRE_SPREAD * float(rng.standard_normal())
                out.append((i, name, float(np.floor(end[at])), float(value)))
    return out
