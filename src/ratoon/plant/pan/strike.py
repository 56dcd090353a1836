"""A strike from its start to its end: pieces between what is switched, seeded, cut or comes about.

What happens in an instant (seed, cut, vacuum drawn) is done to the state between two pieces, never
inside an integration. A strike that cannot go on ends with the reason in words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput, NotSolved
from ratoon.equations.motion import Motion
from ratoon.laboratory.crystal_sizes import SHAPE, LogNormal
from ratoon.plant.pan.batch import (
    FINES,
    FOOTING,
    GIVEN,
    GONE,
    HEAT,
    MASS,
    SCALES,
    STATES,
    BatchPan,
    vapour_of,
)
from ratoon.plant.pan.growth import Crystallisation
from ratoon.plant.pan.phases import FIGURES, LITTLE, NEAR, drawn, motion
from ratoon.properties import crystal, massecuite, solution

Floats = NDArray[np.float64]
STIFF = 0.55
"""Share of crystal by volume at which a massecuite no longer moves, common practice about half."""
THICKEST, MOST_ON_WATER = 0.97, 6.0
"""Dry substance of a mother liquor, and non-sucrose on its water, past which no formula holds."""
MOST_PHASES = 60
SHORTEST = 1e-3
"""Shortest piece that is tried [s]."""
BOILS = FIGURES.index("boiling_point")


@dataclass(frozen=True, slots=True)
class Switches:
    """What is set until it is set again.

    Attributes
    ----------
    feed : [kg/s]; brix, purity [kg/kg] and temperature [degC] of it, water has brix 0.
    pressure : of the vapour [Pa]. steam : saturation temperature in the calandria [degC], 0 off.
    """

    feed: float = 0.0
    brix: float = 0.0
    purity: float = 1.0
    temperature: float = 65.0
    pressure: float = 15_000.0
    steam: float = 100.0


@dataclass(frozen=True, slots=True)
class Event:
    """Something done at a time [s]: switches set, then seed, shower or cut.

    Attributes
    ----------
    seed, fines : (mass [kg], MA [m], CV [-]) of crystals put in, or born in a shower.
    cut : volume let out [m3].
    """

    at: float
    switches: Switches | None = None
    seed: tuple[float, float, float] | None = None
    fines: tuple[float, float, float] | None = None
    cut: float = 0.0


@dataclass
class Strike:
    """What came of it: states (n, STATES) at `times` [s]; `why` it ended before its time, or "".

    `put` is what events added to sucrose, non-sucrose and water, as a state counts; cuts take away.
    """

    times: list[float] = field(default_factory=list)
    states: list[Floats] = field(default_factory=list)
    figures: list[Floats] = field(default_factory=list)
    why: str = ""
    put: Floats = field(default_factory=lambda: np.zeros(3))

    def figure(self, name: str) -> Floats:
        """One of `FIGURES` against time."""
        return np.array(self.figures)[:, FIGURES.index(name)]


def charge(
    volume: float,
    brix: float,
    purity: float,
    temperature: float,
    footing: tuple[float, float, float] | None = None,
) -> Floats:
    """The state of what is in a pan at the start.

    Parameters
    ----------
    volume : [m3]. brix, purity : of all that is in it, crystal included [kg/kg].
    footing : crystal on massecuite [kg/kg], MA [m], CV [-]; None for liquor alone.

    Raises
    ------
    BadInput : more crystal than sucrose.
    """  # fmt: skip
    share = footing[0] if footing else 0.0
    if not 0.0 <= share < brix * purity:
        raise BadInput("more crystal than sucrose", where="footing", value=share,
                       allowed=f"below {brix * purity:.3f}")  # fmt: skip
    dissolved = (brix - share) / (1.0 - share)
    liquor = float(solution.density(dissolved, temperature, method="Baloh"))
    mass = volume * float(massecuite.density(share, liquor))
    state = np.zeros(STATES)
    state[:4] = [(brix * purity - share) * mass / MASS, brix * (1.0 - purity) * mass / MASS,
                 (1.0 - brix) * mass / MASS, temperature / HEAT]  # fmt: skip
    if footing and share:
        _add(state, FOOTING, (share * mass, footing[1], footing[2]))
    return state


def _add(state: Floats, kind: slice, crystals: tuple[float, float, float]) -> None:
    mass, aperture, cv = crystals
    moments = LogNormal.of_mass(aperture, cv).moments(mass)
    state[kind] += np.array(moments) / np.array(SCALES[kind])


def given_of(switches: Switches) -> Floats:
    """What is switched, as rates take it."""
    return np.array([switches.feed / MASS, switches.brix, switches.purity,
                     switches.temperature / HEAT, switches.steam / HEAT,
                     vapour_of(switches.pressure)])  # fmt: skip


class Boiling:
    """A pan with its grade's constants, asked for strikes."""

    def __init__(self, pan: BatchPan, law: Crystallisation) -> None:
        self.pan, self.law = pan, law

    def motion(self, boiling: bool, grown: bool) -> Motion:
        """The compiled rates of one phase."""
        return motion(self.pan, self.law, boiling, grown)

    def strike(
        self, start: Floats, switches: Switches, events: Sequence[Event], seconds: float
    ) -> Strike:
        """Boil for so many seconds, or until it cannot go on."""
        strike = Strike()
        state, now = start.copy(), 0.0
        for event in [*sorted(events, key=lambda e: e.at), Event(seconds)]:
            state, now = self._until(strike, state, switches, now, min(event.at, seconds))
            if strike.why or event.at >= seconds:
                break
            switches = event.switches or switches
            after = state.copy()
            strike.why = self._done(after, event)
            if strike.why:
                break
            strike.put += _held(after) - _held(state)
            state = after
        return strike

    def _done(self, state: Floats, event: Event) -> str:
        """Do to a state what happens in an instant; why it cannot be, or ""."""
        if event.seed:
            _add(state, FOOTING, event.seed)
        if event.fines:
            if not state[FOOTING][0]:
                return "a shower into a pan without crystals: give it as seed"
            # born out of the liquor: the sucrose was dissolved before
            _add(state, FINES, event.fines)
            state[0] -= event.fines[0] / MASS
            if state[0] <= 0.0:
                return "the shower is more than the sucrose dissolved"
        if event.cut:
            figures = self.motion(False, False).figures(state[None, :], np.zeros(len(GIVEN)))
            volume = float(figures[0, FIGURES.index("volume")])
            if event.cut > 0.98 * volume:
                return f"the cut of {event.cut:.1f} m3 leaves no footing of {volume:.1f} m3"
            state[:3] *= 1.0 - event.cut / volume
            state[4:16] *= 1.0 - event.cut / volume
        return ""

    def _until(
        self, strike: Strike, state: Floats, switches: Switches, now: float, end: float
    ) -> tuple[Floats, float]:
        """Follow the state to a time with nothing switched, through its phases."""
        given = given_of(switches)
        grown = bool(state[FOOTING][0] > 0.0)
        boiling = drawn(self.motion(True, grown), state, given)
        first = state[None, :]
        _tell(strike, np.array([now]), first, self.motion(boiling, grown).figures(first, given))
        length = end - now
        phases = 0
        while now < end and not strike.why:
            motion = self.motion(boiling, grown)
            length = min(length, end - now)
            try:
                path = motion.run(state, given, length)
            except NotSolved:
                # past what the equations bear, often long past what ends a strike: look nearer
                length /= 8.0
                if length < SHORTEST:
                    strike.why = "the boiling cannot be followed further"
                continue
            times = np.linspace(now, now + length, len(path))
            figures = motion.figures(path, given)
            margins = self._margins(path, figures, boiling)
            short = np.argwhere(margins[1:].min(axis=1) < 0.0)
            if short.size:
                k = int(short[0, 0])
                which = int(margins[k + 1].argmin())
                part = self._reaches(
                    motion, path[k], given, times[k + 1] - times[k], which, boiling
                )
                last = motion.run(path[k], given, part)[-1] if part else path[k]
                path = np.vstack([path[: k + 1], last])
                times = np.append(times[: k + 1], times[k] + part)
                if which:
                    strike.why = _WHY[which]
                elif not boiling:
                    path[-1][3] = motion.figures(path[-1:], given)[0, BOILS] / HEAT
                figures = motion.figures(path, given)
                boiling = not boiling
                phases += 1
                if phases > MOST_PHASES and not strike.why:
                    strike.why = "the pan comes to the boil and off it without end"
            _tell(strike, times[1:], path[1:], figures[1:])
            state, now = path[-1].copy(), float(times[-1])
            length = end - now
        return state, now

    def _margins(self, path: Floats, figures: Floats, boiling: bool) -> Floats:
        """How far each state is from the end of its phase and from what ends a strike."""
        of = {name: figures[:, k] for k, name in enumerate(FIGURES)}
        below = of["boiling_point"] - HEAT * path[:, 3]
        return np.column_stack([
            LITTLE + of["evaporation"] if boiling else NEAR + below,
            self.pan.volume * (1.0 + 1e-6) - of["volume"],
            STIFF - of["share"],
            np.minimum(THICKEST - of["dry_substance"], MOST_ON_WATER - path[:, 1] / path[:, 2]),
        ])  # fmt: skip

    def _reaches(
        self,
        motion: Motion,
        state: Floats,
        given: Floats,
        seconds: float,
        which: int,
        boiling: bool,
    ) -> float:
        """Seconds to where a margin is used up."""
        from scipy.optimize import brentq

        def margin(length: float) -> float:
            path = motion.run(state, given, length) if length else state[None, :]
            return float(self._margins(path, motion.figures(path, given), boiling)[-1, which])

        if margin(0.0) <= 0.0:
            return 0.0
        if margin(seconds) >= 0.0:  # by less than the integration is exact
            return seconds
        return float(brentq(margin, 0.0, seconds, xtol=1e-6, rtol=1e-10))


def _tell(strike: Strike, times: Floats, path: Floats, figures: Floats) -> None:
    strike.times += [*map(float, times)]
    strike.states += [*path]
    strike.figures += [*figures]


_WHY = ("", "the pan is full", "the massecuite is too stiff to move: feed or water it",
        "the liquor is thicker than any formula holds for")  # fmt: skip


def _held(state: Floats) -> Floats:
    """Sucrose with crystal, non-sucrose and water in the pan, as a state counts."""
    third = (state[FOOTING][3] + state[FINES][3]) * SCALES[7]
    return np.array([state[0] + crystal.DENSITY * SHAPE * third / MASS, state[1], state[2]])


def balances(strike: Strike) -> dict[str, float]:
    """What each balance misses from start to end, on all that was charged and fed [-]."""
    start, end = strike.states[0], strike.states[-1]
    fed = end[16:19] - start[16:19] + strike.put
    left = _held(end) - _held(start) - fed
    left[2] += end[GONE] - start[GONE]
    charged = _held(start).sum() + np.abs(fed).sum()
    return {name: float(x / charged) for name, x in zip(("sucrose", "nonsucrose", "water"), left)}
