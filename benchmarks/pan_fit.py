"""Whether a fit's intervals hold: `python benchmarks/pan_fit.py [--repeats 100] [--grades ABC]`.

Each repeat draws a grade's constants from what is known of them beforehand, boils 60 strikes by the
batch pan's own equations (in half as long steps as the fit's), each a little otherwise than its
record says, reads drops, slides and traces with errors new and lasting, and fits. Counted: how
often each constant lies in its 95 % interval. A truth of the model's own equations tests the
statistics of the fit and nothing else; what a fit says of strikes of other laws is told by
`benchmarks/false_grain.py`.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import numpy as np

from ratoon.plant.pan.batch import GIVEN, vapour_of
from ratoon.plant.pan.course import (
    APERTURES,
    OWN,
    USUAL,
    Course,
    Series,
    courses,
    edges,
    predicted,
    steps_for,
)
from ratoon.plant.pan.fit import CONSTANTS, Fit, Floats, constants_of, fit
from ratoon.plant.pan.together import TOLD, boiled

SEED, STRIKES, Z95 = 20311310, 60, 1.96
HOURS = {"A": 3.0, "B": 4.0, "C": 5.4}
CHARGE = {"A": (36.0, 0.865, 0.87, (0.30, 0.36e-3, 0.28)),
          "B": (32.0, 0.855, 0.78, (0.26, 0.32e-3, 0.30)),
          "C": (38.0, 0.84, 0.68, (2.0, 20e-6, 0.35))}  # fmt: skip
"""Volume, brix, purity; crystal on massecuite, MA and CV of the footing, or seed in kg."""
FEED = {"A": (0.68, 0.873), "B": (0.715, 0.735), "C": (0.73, 0.60)}
FULL = {"A": 88.0, "B": 70.0, "C": 84.0}
SIEVES = {"A": (1.18, 0.85, 0.6, 0.425, 0.3), "B": (1.18, 0.85, 0.6, 0.425, 0.3),
          "C": (0.425, 0.355, 0.3, 0.212, 0.15)}  # fmt: skip
DRY = 0.915


def recipe(grade: str, rng: np.random.Generator, fine: int = 1) -> Course:
    """One strike as it is written down: no two are charged, fed or evacuated alike."""
    volume, brix, purity, (crystals, size, cv) = CHARGE[grade]
    seconds = 3600.0 * HOURS[grade] * float(np.exp(0.05 * rng.standard_normal()))
    seeded = 0.08 * seconds if grade == "C" else 0.0
    steps = steps_for(3600.0 * HOURS[grade] * 1.1, grade == "C")
    at = edges(seconds, seeded, steps)
    mass = volume * 1430.0 * float(np.exp(0.03 * rng.standard_normal()))
    if grade != "C":
        crystals *= mass
    given = np.zeros((steps, len(GIVEN)))
    dry = FULL[grade] * 1480.0 * DRY - mass * brix
    middle = (at[1:] + at[:-1]) / 2.0 / seconds
    shape = 1.0 - 0.35 * middle
    mean = float(shape @ np.diag(np.diff(at)).sum(axis=0)) / seconds
    given[:, 0] = dry / FEED[grade][0] / seconds * shape / mean / 1e4
    given[:, 0] *= float(np.exp(0.04 * rng.standard_normal()))
    given[:, 1] = FEED[grade][0] + 0.006 * rng.standard_normal()
    given[:, 2] = FEED[grade][1] + 0.012 * rng.standard_normal()
    given[:, 3], given[:, 4] = 0.68, 1.05
    given[:, 5] = vapour_of(13_500.0 + 500.0 * rng.standard_normal())
    unsure = np.array([USUAL[n] for n in OWN])
    if grade == "C":
        unsure[0] = 0.15
    return Course("", mass, brix + 0.006 * rng.standard_normal(),
                  purity + 0.012 * rng.standard_normal(), (crystals, size, cv), seeded, unsure, at,
                  given, (1.08 * FULL[grade], 6.5 * FULL[grade]))  # fmt: skip


def boil(many: list[Course], constants: Floats, own: Floats) -> list[tuple[Course, Floats]]:
    """The true strikes, in half as long steps; each with what it told."""
    fine = [replace(c, edges=np.sort(np.concatenate([c.edges, (c.edges[1:] + c.edges[:-1]) / 2])),
                    given=np.repeat(c.given, 2, 0)) for c in many]  # fmt: skip
    asked, circulation = courses(fine, own[:, None])
    told = boiled(asked, np.tile(constants[:, None], (1, len(many))), circulation)
    return [(c, told[:, :, k : k + 1]) for k, c in enumerate(fine)]


def steamed(many: list[Course], constants: Floats, own: Floats) -> list[Course]:
    """The strikes with steam by which half of them come to the dry substance that is wanted."""
    low, high = 0.75, 1.60
    for _ in range(12):
        steam = (low + high) / 2.0
        for c in many:
            c.given[:, 4] = steam
        dry = [told[-1, TOLD.index("brix"), 0] for _, told in boil(many, constants, own)]
        low, high = (low, steam) if not np.nanmedian(dry) < DRY else (steam, high)
    return many


def read(c: Course, told: Floats, grade: str, rng: np.random.Generator) -> tuple[Series, ...]:
    """What instruments and people read of a true strike, with errors new and lasting."""
    end = c.seconds
    trace = np.arange(600.0, end, 900.0)
    slides = np.array([0.35, 0.7]) * end
    drop = np.array([end])
    sieves = 1e-3 * np.array(SIEVES[grade])
    asked = [
        Series("level", trace, trace, np.full(len(trace), 0.7), 1.2),
        Series("brix", trace, trace, np.full(len(trace), 0.003), 0.005),
        Series("temperature", trace, trace, np.full(len(trace), 0.5), 0.7),
        Series("evaporation", trace, trace, np.full(len(trace), 0.12), 0.15),
        Series("level", drop, drop, np.array([1.4])), Series("brix", drop, drop, np.array([0.005])),
        Series("purity", drop, drop, np.array([0.005])),
        Series("mother", drop, drop, np.array([0.007])),
        Series("ma", slides, slides, np.full(2, 1.0)), Series("cv", slides, slides,
                                                              np.full(2, 0.015)),
        Series(APERTURES, np.full(5, end), sieves, np.full(5, 0.012), 0.0, sieves),
    ]  # fmt: skip
    found = []
    for s in asked:
        true = predicted(c, s, told)[:, 0]
        if s.name == "ma":
            s = replace(s, sigma=0.02 * true)
        off = s.sigma * rng.standard_normal(len(true)) + s.common * rng.standard_normal()
        found.append(replace(s, values=true + off))
    return tuple(found)


def once(grade: str, rng: np.random.Generator) -> tuple[Floats, Fit, float]:
    """One repeat: the true constants in parts of the priors' uncertainties, the fit, its seconds"""
    truth = rng.standard_normal(len(CONSTANTS))
    constants = constants_of(grade, truth[:, None])[:, 0]
    many = [recipe(grade, rng) for _ in range(STRIKES)]
    own = rng.standard_normal((STRIKES, len(OWN)))
    true = boil(steamed(many, constants, own), constants, own)
    pairs = [(m, c, told) for m, (c, told) in zip(many, true) if np.isfinite(told).all()]
    many = [replace(m, id=str(k), series=read(c, told, grade, rng))
            for k, (m, c, told) in enumerate(pairs)]  # fmt: skip
    began = time.process_time()
    return truth, fit(grade, many), time.process_time() - began


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--repeats", type=int, default=100)
    asked.add_argument("--grades", default="ABC")
    asked.add_argument("--seed", type=int, default=SEED)
    given = asked.parse_args()
    every: list[np.ndarray] = []
    for grade in given.grades:
        held, seconds, converged, steps, told, strikes = [], [], [], [], [], []
        for k in range(given.repeats):
            truth, found, took = once(grade, np.random.default_rng([given.seed, ord(grade), k]))
            sd = np.sqrt(np.diag(found.covariance))
            held.append(np.abs(found.at - truth) <= Z95 * sd)
            seconds.append(took)
            converged.append(found.converged)
            steps.append(found.steps)
            told.append(sd)
            strikes.append(len(found.strikes))
        every += held
        print(f"{grade}: {given.repeats} fits of {min(strikes)} to {max(strikes)} strikes, "
              f"{sum(converged)} converged in {np.median(steps):.0f} steps (most {max(steps)}), "
              f"{np.median(seconds):.0f} s of processor (most {max(seconds):.0f}); in their 95 % "
              f"intervals {100 * np.mean(held):.1f} %", flush=True)  # fmt: skip
        for j, name in enumerate(CONSTANTS):
            print(f"   {name:13s} {100 * np.mean([h[j] for h in held]):5.1f} %, left of the "
                  f"prior's uncertainty {np.median([t[j] for t in told]):.2f}")  # fmt: skip
    print(f"all: {100 * np.mean(every):.1f} % (93 to 97)")


if __name__ == "__main__":
    main()
