"""Shape of a pile in a shed: tonnes from its height and back, against walls, part-full.

A pile lies along the shed with its ridge in the middle and slopes at the angle of repose. Where it
reaches the walls it rises against them, at most to the height of the push walls. Its ends are half
cones, or stand at end walls; push walls are taken to run round all four sides.

Formulas from solid geometry (common practice; the examples are our arithmetic).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Pile:
    """A shed, or a length of one, as sugar lies in it.

    Parameters
    ----------
    width, length : inside [m]. angle : of repose [degrees]. density : as stowed [t/m3].
    push_wall : height that sugar may lie against [m]. half_cones : how it ends.
    """

    width: float
    length: float
    angle: float = 37.0
    density: float = 0.85
    push_wall: float = 0.0
    half_cones: bool = True

    @property
    def slope(self) -> float:
        return math.tan(math.radians(self.angle))

    @property
    def free_height(self) -> float:
        """Ridge of a pile that just reaches the walls [m].

        Examples
        --------
        >>> round(Pile(45, 300).free_height, 2)
        16.95
        """
        return 0.5 * self.width * self.slope

    @property
    def height(self) -> float:
        """Ridge of a full shed [m]."""
        return self.free_height + self.push_wall

    @property
    def capacity(self) -> float:
        """What it holds, full [t].

        Examples
        --------
        >>> round(Pile(45, 300).capacity), round(Pile(45, 300, half_cones=False).capacity)
        (90328, 97279)
        >>> round(Pile(45, 300, push_wall=2.5, half_cones=False).capacity)
        125967
        """
        return self.tonnes(self.height)

    def volume(self, height: float) -> float:
        """Volume under a ridge of so many metres [m3]."""
        free = min(max(height, 0.0), self.free_height)
        base = 2.0 * free / self.slope
        if self.half_cones and base > self.length:  # no longer than its two ends: a cone
            base, free = self.length, 0.5 * self.length * self.slope
        section = 0.5 * base * free
        if self.half_cones:
            body = section * (self.length - base) + math.pi / 12.0 * base**2 * free
        else:
            body = section * self.length
        return body + self.width * self.length * max(height - self.free_height, 0.0)

    def tonnes(self, height: float) -> float:
        """Tonnes under a ridge of so many metres.

        Examples
        --------
        >>> round(Pile(45, 300).tonnes(10.0))
        32413
        """
        return self.density * self.volume(height)

    def height_of(self, tonnes: float) -> float:
        """Ridge of so many tonnes [m]; above a full shed it goes on rising.

        Examples
        --------
        >>> round(Pile(45, 300).height_of(32413), 2)
        10.0
        """
        wanted = max(tonnes, 0.0) / self.density
        over = wanted - self.volume(self.free_height)
        if over >= 0.0:
            return self.free_height + over / (self.width * self.length)
        low, high = 0.0, self.free_height
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.volume(middle) < wanted else (low, middle)
        return 0.5 * (low + high)

    def part(self, share: float) -> Pile:
        """A cell: so much of the length, its neighbours holding up its ends."""
        return replace(self, length=self.length * share, half_cones=False)


def cone_tonnes(height: float, angle: float, density: float) -> float:
    """A heap by itself [t].

    Examples
    --------
    >>> round(cone_tonnes(10, 37, 0.85)), round(cone_tonnes(15, 37, 0.85))
    (1568, 5290)
    """
    slope = math.tan(math.radians(angle))
    return density * math.pi * height**3 / (3.0 * slope**2)
