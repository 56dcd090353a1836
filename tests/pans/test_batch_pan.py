"""Laws of the batch pan: balances, growth, heat, and an answer or a reason whatever is done."""

from __future__ import annotations

import re
from functools import partial
from math import comb
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from ratoon.base.errors import BadInput
from ratoon.equations.motion import Motion
from ratoon.laboratory.crystal_sizes import mean_aperture_and_cv
from ratoon.plant.pan.batch import (
    FINES,
    FOOTING,
    GONE,
    HEAT,
    MASS,
    SCALES,
    liquor_of,
    rates,
    transferred,
    vapour_enthalpy,
)
from ratoon.plant.pan.growth import Crystallisation, moment_rates
from ratoon.plant.pan.strike import (
    FIGURES,
    Boiling,
    Event,
    Floats,
    Strike,
    Switches,
    balances,
    charge,
    given_of,
)
from ratoon.properties import solution

from .strikes import A, a_strike, anything, b_strike, c_strike

GRADES = {"A": a_strike, "B": b_strike, "C": c_strike}


def boiled(grade: str) -> Strike:
    pan, start, switches, events, seconds = GRADES[grade]()
    return pan.strike(start, switches, events, seconds)


def sizes(strike: Strike) -> tuple[float, float]:
    state = strike.states[-1] * np.array(SCALES)
    return mean_aperture_and_cv([state[FOOTING], state[FINES]])


@pytest.mark.parametrize("grade", GRADES)
def test_balances_close_along_a_strike(grade: str) -> None:
    strike = boiled(grade)
    assert strike.why == ""
    assert strike.figure("crystal")[-1] > 15_000.0 and strike.states[-1][GONE] * MASS > 5_000.0
    assert max(map(abs, balances(strike).values())) < 1e-12


@pytest.mark.parametrize("grade", GRADES)
def test_each_point_is_that_of_another_integrator(grade: str) -> None:
    pan, start, switches, events, seconds = GRADES[grade]()
    strike = pan.strike(start, switches, events, seconds)
    first = [k for k, t in enumerate(strike.times) if k == 0 or t == strike.times[k - 1]]
    sets = [switches]
    for event in sorted(events, key=lambda e: e.at):
        sets.append(event.switches or sets[-1])
    assert len(first) == len(sets)
    compared = 0
    for begin, end, by in zip(first, [*first[1:], len(strike.times)], sets):
        if min(f[FIGURES.index("evaporation")] for f in strike.figures[begin:end]) <= 0.0:
            continue  # it warms first
        ours, times = np.array(strike.states[begin:end]), strike.times[begin:end]
        motion = pan.motion(True, bool(ours[0][FOOTING][0] > 0.0))
        rate = partial(by_time, motion, given_of(by))
        span = (times[0], times[-1])
        other = solve_ivp(rate, span, ours[0], "LSODA", times, rtol=1e-10, atol=1e-12).y.T
        assert (np.abs(other - ours) < 1e-6 * np.abs(ours).clip(0.1)).all()
        compared += 1
    assert compared >= 2


def by_time(motion: Motion, given: Floats, _: float, state: Floats) -> Floats:
    return motion.rates(state, given)


def test_constant_growth_is_followed_to_nine_digits() -> None:
    # 1e9 crystals of 50 um at 3e-8 m/s for 3 h [own arithmetic]; sizes in units of 100 um here
    start = np.array([0.5**j for j in range(6)])
    grown = 3e-8 * 3.0 * 3600.0 / 1e-4
    motion = Motion(lambda y, p: moment_rates(y, p[0], 1.0, 0.0), lambda y, p: [y[0]], 6, 1)
    end = motion.run(start, np.array([grown]), 1.0)[-1]
    by_hand = [
        sum(comb(j, k) * grown ** (j - k) * start[k] for k in range(j + 1)) for j in range(6)
    ]
    assert end == pytest.approx(by_hand, rel=1e-9)
    assert 100.0 * end[1] == pytest.approx(374.0) and end[3] * 1e-3 == pytest.approx(
        0.052314, abs=5e-7
    )


def test_spread_of_size_stays_from_footing_to_product() -> None:
    """Growth in proportion to size keeps the CV [Iswanto et al. 2007]; not so constant growth."""
    pan, start, switches, events, seconds = a_strike()
    assert sizes(pan.strike(start, switches, events, seconds))[1] == pytest.approx(0.28, abs=1e-8)
    narrowed, *rest = a_strike(Crystallisation(400.0, proportional=0.0))
    assert sizes(narrowed.strike(*rest))[1] < 0.25


def test_crystals_grow_as_their_mass_says() -> None:
    pan, start, switches, _, seconds = a_strike()
    strike = pan.strike(start, switches, [], seconds)
    crystal = strike.figure("crystal")
    grown = (crystal[-1] / crystal[0]) ** (1.0 / 3.0)
    assert sizes(strike)[0] == pytest.approx(0.36e-3 * grown, rel=1e-6)


def test_fines_widen_the_spread_and_are_told_apart() -> None:
    pan, start, switches, _, seconds = a_strike()
    clean = pan.strike(start, switches, [], seconds)
    shower = pan.strike(start, switches, [Event(3600.0, fines=(300.0, 0.06e-3, 0.3))], seconds)
    moments = shower.states[-1] * np.array(SCALES)
    fines = moments[FINES][3] / (moments[FOOTING][3] + moments[FINES][3])
    assert 0.02 < fines < 0.5 and sizes(shower)[1] > sizes(clean)[1] + 0.02


# ------------------------------------------------------------------------------------------ heat


def test_heat_in_is_heat_held_and_heat_gone() -> None:
    """The heat held rises by what the calandria and the feed bring, less the vapour's."""
    pan, start, switches, *_ = a_strike()
    given = given_of(switches)
    motion = pan.motion(True, True)
    at = liquor_of(start)
    boils = motion.figures(start[None, :], given)[0, FIGURES.index("boiling_point")]
    start[3] = boils / HEAT
    moved = np.array(rates(pan.pan, pan.law, True, True)(start, given), dtype=float)
    assert moved == pytest.approx(motion.rates(start, given), rel=1e-12, abs=1e-18)
    near = [motion.figures((start + s * moved)[None, :], given)[0] for s in (-5.0, 5.0)]
    held = (near[1] - near[0])[FIGURES.index("content")] / 10.0
    at = liquor_of(start)
    fed = switches.feed * float(
        solution.enthalpy(switches.brix, switches.purity, switches.temperature, "Bubnik1995")
    )
    vapour = moved[GONE] * MASS * float(vapour_enthalpy(given[5] * HEAT, at.temperature))
    through = float(transferred(pan.pan, at, switches.steam))
    assert held == pytest.approx(through + fed - vapour, rel=1e-5)
    # and it stays as hot as it boils
    assert (near[1] - near[0])[FIGURES.index("boiling_point")] / 10.0 == pytest.approx(
        moved[3] * HEAT, rel=1e-4
    )


def test_a_pan_hotter_than_it_boils_flashes_and_keeps_its_heat() -> None:
    pan, start, switches, _, _ = a_strike()
    start[3] = 80.0 / HEAT
    strike = pan.strike(start, switches, [], 60.0)
    before = pan.motion(False, True).figures(start[None, :], given_of(switches))[0]
    after, flashed = strike.figures[0], strike.states[0][GONE] * MASS
    assert strike.states[0][3] * HEAT == pytest.approx(after[FIGURES.index("boiling_point")])
    assert 500.0 < flashed < 2_000.0  # about a fiftieth of 53 t for 18 K
    content = FIGURES.index("content")
    lost = (before[content] - after[content]) / flashed
    assert lost == pytest.approx(2.63e6, rel=0.01)


def test_vacuum_lost_stops_the_boiling_until_it_is_hot_enough() -> None:
    pan, start, switches, _, _ = a_strike()
    lost = Switches(0.0, 0.68, 0.873, 68.0, 40_000.0, 100.0)
    strike = pan.strike(start, switches, [Event(600.0, lost)], 3600.0)
    times, gone = np.array(strike.times), np.array(strike.states)[:, GONE]
    hot = np.array(strike.states)[:, 3] * HEAT
    still = (times > 600.0) & (gone == gone[times <= 600.0][-1])
    assert np.ptp(times[still]) > 60.0 and strike.states[-1][GONE] > gone[still][-1]
    assert hot[-1] > 80.0 and strike.figures[-1][FIGURES.index("boiling_point")] == pytest.approx(
        hot[-1], abs=1e-5
    )


def test_no_steam_and_no_feed_ends_near_saturation_with_little_gone() -> None:
    pan, start, *_ = a_strike()
    strike = pan.strike(start, Switches(pressure=14_000.0, steam=0.0), [], 8.0 * 3600.0)
    assert strike.why == "" and strike.figure("supersaturation")[-1] < 1.05
    assert strike.states[-1][GONE] * MASS < 1_000.0


def test_water_dissolves_crystals_in_proportion_and_none_comes_of_it() -> None:
    pan, start, *_ = a_strike()
    water = Switches(4.0, 0.0, 1.0, 70.0, 14_000.0, 0.0)
    strike = pan.strike(start, water, [], 3600.0)
    assert strike.figure("supersaturation")[-1] < 1.0
    assert 0.0 < strike.figure("crystal")[-1] < strike.figure("crystal")[0]
    assert sizes(strike)[1] == pytest.approx(0.28, abs=1e-6)


def test_both_solubilities_are_told() -> None:
    strike = boiled("C")
    apart = strike.figure("by_other_form") / strike.figure("supersaturation") - 1.0
    assert 1e-4 < np.abs(apart).max() < 0.01


# --------------------------------------------------------------------------- an answer or a reason


def test_a_hundred_things_done_end_in_figures_or_a_reason() -> None:
    done, reasons, seed = 0, set(), 1
    while done < 100:
        pan, start, switches, events, seconds = anything(seed)
        strike = pan.strike(start, switches, events, seconds)
        assert np.isfinite(strike.states).all() and np.isfinite(strike.figures).all()
        assert max(map(abs, balances(strike).values())) < 1e-12
        assert strike.why or strike.times[-1] == pytest.approx(seconds)
        reasons.add(strike.why.split(":")[0])
        done, seed = done + len(events), seed + 1
    assert len(reasons) > 2


def test_a_footing_of_more_crystal_than_sucrose_is_refused() -> None:
    with pytest.raises(BadInput, match="more crystal than sucrose"):
        charge(30.0, 0.85, 0.4, 65.0, (0.36, 0.3e-3, 0.3))


def test_a_full_pan_ends_where_it_is_full() -> None:
    pan, start, *_ = a_strike()
    flooded = Switches(20.0, 0.68, 0.873, 68.0, 14_000.0, 100.0)
    strike = Boiling(A, pan.law).strike(start, flooded, [], 6.0 * 3600.0)
    assert strike.why == "the pan is full"
    assert strike.figure("volume")[-1] == pytest.approx(95.0, rel=1e-4)


def test_the_example_of_the_page_runs() -> None:
    page = Path(__file__).parents[2] / "docs/explanations/batch-pan.md"
    (code,) = re.findall(r"```python\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL)
    names: dict[str, Any] = {}
    exec(code, names)
    assert names["strike"].why == "" and names["strike"].figure("volume")[-1] > 60.0
