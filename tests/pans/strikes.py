"""Strikes of three grades, and strikes in which anything is done at any time."""

from __future__ import annotations

import random

from ratoon.plant.pan.batch import BatchPan
from ratoon.plant.pan.growth import Crystallisation
from ratoon.plant.pan.strike import Boiling, Event, Floats, Switches, charge

A, B, C = (BatchPan(volume, 6.0 * volume) for volume in (95.0, 75.0, 90.0))
Asked = tuple[Boiling, Floats, Switches, list[Event], float]


def a_strike(law: Crystallisation | None = None) -> Asked:
    """Magma, then liquor, cut once."""
    start = charge(36.0, 0.865, 0.87, 66.0, (0.30, 0.36e-3, 0.28))
    feed = Switches(10.2, 0.68, 0.873, 68.0, 14_000.0, 100.0)
    events = [Event(5400.0, Switches(9.0, 0.68, 0.873, 68.0, 14_000.0, 100.0), cut=10.0)]
    return Boiling(A, law or Crystallisation(400.0)), start, feed, events, 3.0 * 3600.0


def b_strike() -> Asked:
    """Magma, liquor, then A molasses; a shower on the way."""
    start = charge(30.0, 0.855, 0.80, 66.0, (0.24, 0.30e-3, 0.32))
    liquor = Switches(5.0, 0.68, 0.873, 68.0, 14_000.0, 88.0)
    molasses = Switches(4.0, 0.725, 0.719, 68.0, 14_000.0, 88.0)
    events = [Event(3600.0, molasses), Event(5000.0, fines=(200.0, 0.05e-3, 0.3))]
    return Boiling(B, Crystallisation(400.0, 1e-3, 0.8, 5e-6)), start, liquor, events, 4.0 * 3600.0


def c_strike() -> Asked:
    """A blend is thickened, seeded, and fed with molasses."""
    start = charge(35.0, 0.75, 0.68, 60.0)
    off = Switches(0.0, 0.73, 0.62, 68.0, 14_000.0, 95.0)
    fed = Switches(2.2, 0.73, 0.60, 68.0, 14_000.0, 82.0)
    slow = Switches(0.3, 0.73, 0.60, 68.0, 14_000.0, 70.0)
    events = [Event(2100.0, slow, seed=(60.0, 30e-6, 0.35)), Event(6000.0, fed)]
    return Boiling(C, Crystallisation(650.0)), start, off, events, 6.0 * 3600.0


def anything(seed: int, operations: int = 10) -> Asked:
    """A pan in which feed is cut, vacuum lost, steam shut off, water fed, the seed missed..."""
    draw = random.Random(seed)
    # the same few constants again and again, so that few pans are compiled
    law = draw.choice((Crystallisation(400.0), Crystallisation(650.0, 1e-3, 0.5, 5e-6)))
    pan = draw.choice((A, C))
    purity = draw.uniform(0.55, 0.92)
    footing = None
    if draw.random() < 0.75:
        footing = (draw.uniform(0.05, 0.4), draw.uniform(0.05, 0.5) * 1e-3, draw.uniform(0.15, 0.6))
    brix = draw.uniform(0.72, 0.90) if footing else draw.uniform(0.60, 0.80)
    now = switches(draw, purity)
    events = []
    for _ in range(operations):
        what = draw.choice(("set", "set", "set", "set", "cut", "seed", "shower"))
        at = draw.uniform(0.0, 6.0 * 3600.0)
        if what == "set":
            events.append(Event(at, switches(draw, purity)))
        elif what == "cut":
            events.append(Event(at, cut=draw.uniform(1.0, 60.0)))
        else:
            crystals = (draw.uniform(0.1, 500.0), draw.uniform(5e-6, 60e-6), draw.uniform(0.2, 0.6))
            kinds = {"seed": crystals} if what == "seed" else {"fines": crystals}
            events.append(Event(at, **kinds))
    start = charge(draw.uniform(20.0, 60.0), brix, purity, draw.uniform(40.0, 95.0), footing)
    return Boiling(pan, law), start, now, events, draw.uniform(2.0, 8.0) * 3600.0


def switches(draw: random.Random, purity: float) -> Switches:
    """Feed, vacuum and steam as somebody may set them, or as they may fail."""
    feed = draw.choice((0.0, draw.uniform(0.5, 20.0)))
    brix = draw.choice((0.0, draw.uniform(0.55, 0.76)))
    pressure = draw.choice((draw.uniform(9_000.0, 20_000.0), draw.uniform(20_000.0, 101_000.0)))
    steam = draw.choice((0.0, draw.uniform(85.0, 125.0), draw.uniform(85.0, 125.0)))
    return Switches(feed, brix, purity, draw.uniform(30.0, 80.0), pressure, steam)
