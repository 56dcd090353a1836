"""Pools of sugar from the clarifier to the bins before the shed, and where what leaves each goes.

They are the stocks of the account. What is made in a grade's pans is cured to its sugar and its
molasses; sugar that is not shipped comes round as magma or remelt.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ratoon.plant.flowsheet import Works
from ratoon.plant.stations.scheme import LIQUOR, Scheme
from ratoon.plant.stations.stocks import ENDS, KNOWN, end_of
from ratoon.plant.streams import read

CANE, SHED = "cane", "shed"
JUICE, SUGAR = "juice", "sugar"
T_PER_HOUR = 3.6
"""t/h of one kg/s."""


@dataclass(frozen=True)
class Pool:
    """A pool: in words, what leaves it in an hour of crushing [t], where to, and the addresses of
    its sucrose at both ends of a period; none where the account has no such stock."""

    name: str
    text: str
    flow: float
    goes: tuple[tuple[str, float], ...]
    ends: tuple[str, ...]


def pools_of(works: Works, q: Mapping[str, float]) -> tuple[Pool, ...]:
    """The pools in the order of flow, by the quantities of a period [kg/s].

    Cane goes to the first of them, and what leaves the last to `SHED`.
    """
    pans, made = works.pans, dict[str, tuple[float, tuple[tuple[str, float], ...]]]()
    made[JUICE] = (float(read(q, "clear_juice").sucrose), ((LIQUOR, 1.0),))
    made[LIQUOR] = (float(pans.pool(q, LIQUOR).all_sucrose), tuple(_drawn(pans, q, LIQUOR)))
    for g in pans.grades:
        sugar = float(read(q, f"sugar.{g.letter}").sucrose)
        run_off = float(read(q, pans.run_off(g.letter)).sucrose)
        whole = max(sugar + run_off, 1e-9)
        to = SUGAR if g.shipped else next(p.name for p in pans.magmas if p.letter == g.letter)
        made[_of(g.letter)] = (sugar + run_off, ((to, sugar / whole),
                               (f"{g.letter}_molasses", run_off / whole)))  # fmt: skip
    for name in pans.pools:
        if name != LIQUOR:
            flow = float(pans.pool(q, name).all_sucrose)
            made[name] = (max(flow, 0.0), tuple(_drawn(pans, q, name)))
    made[SUGAR] = (float(read(q, SUGAR).sucrose), ((SHED, 1.0),))
    return tuple(
        Pool(name, KNOWN[name].text if name in KNOWN else name.replace("_", " "),
             T_PER_HOUR * flow, tuple(g for g in goes if g[0] in made or g[0] == SHED),
             tuple(f"{end_of(name, end)}_pol" for end in ENDS) if name in works.stocks else ())
        for name, (flow, goes) in made.items()
    )  # fmt: skip


def _of(letter: str) -> str:
    return f"{letter}_massecuite"


def _drawn(pans: Scheme, q: Mapping[str, float], pool: str) -> Iterator[tuple[str, float]]:
    """Who draws from a pool, and what share; the shares of a kept day sum to one but for digits."""
    takers = pans.takers(pool)
    shares = [max(float(pans.share(q, pool, taker)), 0.0) for taker in takers]
    for taker, share in zip(takers, shares):
        to = LIQUOR if taker == "remelt" else _of(taker.removeprefix("pan."))
        yield to, share / max(sum(shares), 1e-9)
