"""How hard a centrifugal presses: its gravity factor."""

from __future__ import annotations

import math

from ratoon.base.maths import Quantity

GRAVITY = 9.80665  # [m/s2]


def gravity_factor(diameter: Quantity, rotation: Quantity) -> Quantity:
    """Acceleration at the basket's wall over that of gravity [-].

    Parameters
    ----------
    diameter : of the basket [m]. rotation : [1/s].

    Notes
    -----
    Exact. [Perk1953] writes it 14.2 D (n/1000)^2 with inches and rpm.

    Examples
    --------
    >>> round(gravity_factor(1.22, 1200.0 / 60.0))
    982
    """
    return 2.0 * (math.pi * rotation) ** 2 * diameter / GRAVITY
