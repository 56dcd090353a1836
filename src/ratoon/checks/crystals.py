"""Registered formulas of crystals: growth, seed, moments, sieves."""

from __future__ import annotations

from functools import lru_cache

from ratoon.checks.registry import choice, formula, given
from ratoon.equations.motion import Motion
from ratoon.laboratory import crystal_sizes
from ratoon.laboratory.crystal_sizes import LogNormal
from ratoon.plant.pan.growth import growth_rate, moment_rates

Q = float
SIEVES = ("1.40", "1.18", "1.00", "0.85", "0.71", "0.60", "0.50", "0.355")


@formula("crystal_growth", "", t_C="degC", S="", purity="", Vc_over_Vm="")
def _growth(t_C: Q, S: Q, purity: Q, Vc_over_Vm: Q) -> Q:
    """Growth rate of crystals over the growth constant."""
    return float(growth_rate(S - 1.0, t_C, purity, Vc_over_Vm))


@formula("crystal_growth_ratio", "", Ea="", k="")
def _growth_ratio(Ea: Q | None = None, k: Q | None = None) -> Q:
    """Growth at 70 over that at 60 degC, or at 0.90 over that at 0.60 purity."""
    given(Ea=Ea, k=k)
    if Ea is not None:
        at = [growth_rate(0.1, t, 0.9, 0.2, activation=Ea) for t in (70.0, 60.0)]
    else:
        at = [growth_rate(0.1, 65.0, p, 0.2, fall=k) for p in (0.90, 0.60)]
    return float(at[0] / at[1])


@formula("crystal_in_massecuite", "t", V="m3", rho="kg/m3", crystal_pct="%")
def _crystal(V: Q, rho: Q, crystal_pct: Q) -> Q:
    """Crystal in a volume of massecuite."""
    return V * rho * crystal_pct


@formula("seed", "kg", crystal_t="t", L_final="um", L_seed="um")
def _seed(crystal_t: Q, L_final: Q, L_seed: Q) -> Q:
    """Seed for a mass of crystal of a size."""
    return crystal_sizes.seed_mass(crystal_t, L_final, L_seed)


@formula("seed_size", "um", seed_g="", crystal_t="t", L_final="um")
def _seed_size(seed_g: Q, crystal_t: Q, L_final: Q) -> Q:
    """Size of the seed of which so many grams grow to a mass of crystal of a size."""
    # what one metre of seed would weigh, over what there is, is the cube of one over the size
    return float(
        (seed_g / 1000.0 / crystal_sizes.seed_mass(crystal_t, L_final, 1.0)) ** (1.0 / 3.0)
    )


@formula("crystal_mass_ratio", "", L1="", L2="")
def _mass_ratio(L1: Q, L2: Q) -> Q:
    """Mass of grown crystals over that of the same before."""
    return 1.0 / crystal_sizes.seed_mass(1.0, L2, L1)


@formula("crystals_per_gram", "1/g", L_mm="", rho="", kv="")
def _per_gram(L_mm: Q, rho: Q, kv: Q) -> Q:
    """Crystals of one size in a gram."""
    return crystal_sizes.crystals_in(1e-3, L_mm * 1e-3, kv, rho)


@lru_cache(maxsize=1)
def _constant_growth() -> Motion:
    """Moments [of 1e9 crystals, sizes in mm] under growth of a given rate [mm/h]; time in hours."""
    return Motion(lambda y, p: moment_rates(y, p[0], 1.0, 0.0), lambda y, p: [y[0]], 6, 1)


@formula("moments", "", N0="", L0_um="", G="", hours="", kv="", rho="", output="text")
def _moments(N0: Q, L0_um: Q, G: Q, hours: Q, kv: Q, rho: Q, output: str) -> Q:
    """Crystals of one size that grow: output size [um], before, after [kg], mu3 [m3]."""
    import numpy as np

    size = L0_um * 1e-3
    start = np.array([N0 / 1e9 * size**j for j in range(6)])
    end = _constant_growth().run(start, np.array([G * 3600.0 * 1e3]), hours)[-1].tolist()
    mass = rho * kv  # 1e9 crystals of 1 mm are 1 m3 times the shape
    return float(choice("output", output, {"size": 1e3 * end[1] / end[0], "before": mass * start[3],
                                           "after": mass * end[3], "mu3": end[3]}))  # fmt: skip


@formula("log_normal_sizes", "", sigma_ln="", output="text", median="")
def _log_normal(sigma_ln: Q, output: str, median: Q = 1.0) -> Q:
    """Log-normal sizes: output mean (by number), cv (by number, %), L43 (mean by mass)."""
    law = LogNormal(median, sigma_ln)
    return float(choice("output", output, {"mean": law.number_mean, "cv": 100.0 * law.number_cv,
                                           "L43": law.mass_mean}))  # fmt: skip


@formula("sieve_retained", "%", MA="", CV="%", aperture_mm="")
def _retained(MA: Q, CV: Q, aperture_mm: Q) -> Q:
    """Share of a normal grist on and above a sieve."""
    return crystal_sizes.retained_of_normal(aperture_mm, MA, CV)


@formula("sieve_line", "", output="text", **{f"ret_{a}mm": "%" for a in SIEVES})
def _line(output: str, **inputs: Q) -> Q:
    """A line through sieves on probability paper: output MA [mm] or CV [%]."""
    found = crystal_sizes.probit_line([float(a) for a in SIEVES], list(inputs.values()))
    return float(choice("output", output, {"MA": found[0], "CV": 100.0 * found[1]}))


@formula("standard_error", "%", CV="%", n="")
def _standard_error(CV: Q, n: Q) -> Q:
    """Standard error of a mean size, on the mean."""
    return crystal_sizes.standard_error(CV, int(n))
