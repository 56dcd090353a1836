"""Brands as stocks of their own: what of each comes and is drawn, and what that leaves to sell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from ratoon.plans.shed.books import Told
from ratoon.plans.shed.ledger import KG, Ledger, keeps
from ratoon.plans.shed.path import Array, parted

UNDRAWN = timedelta(weeks=4)
"""A brand that comes, and is not drawn for so long, is named (mill's choice)."""
LATELY = timedelta(weeks=8)
"""Weeks by which a brand's share of what comes and is drawn is told (mill's choice)."""
NAMELESS = 0.02
"""Share of what came without a brand from which brands are no stocks of their own."""


@dataclass(frozen=True, slots=True)
class Brand:
    """A brand: in store [t], its share of all that comes, is sold and is melted, and what of all
    that comes is of it from other mills."""

    name: str
    held: float
    comes: float
    sold: float
    melted: float
    brought: float = 0.0


def brands_of(told: Told, book: Ledger) -> tuple[Brand, ...]:
    """Brands by what came and went lately; none where there is one, or where it is not told."""
    brand = {lot.lot: lot.brand for lot in told.lots}
    since = told.now - LATELY
    sums: dict[str, dict[str, float]] = {k: {} for k in ("came", "load", "melt", "in", "held")}
    for m in book.moves:
        into, out = keeps(m.to), keeps(m.from_)
        kinds = []
        if into and not out and m.kind in ("made", "in"):
            kinds = ["came", "in"] if m.kind == "in" else ["came"]
        elif out and m.kind in ("load", "melt"):
            kinds = [m.kind]
        name = brand.get(m.lot, "")
        for kind in kinds if m.time >= since else ():
            sums[kind][name] = sums[kind].get(name, 0.0) + m.kg
    for lots in book.stock.values():
        for lot, kg in lots.items():
            name = brand.get(lot, "")
            sums["held"][name] = sums["held"].get(name, 0.0) + kg
    came = sum(sums["came"].values())
    if not came or sums["came"].get("", 0.0) > NAMELESS * came:
        return ()
    names = sorted({n for kind in sums.values() for n in kind})
    all_ = {kind: sum(some.values()) or 1.0 for kind, some in sums.items()}
    all_["in"] = came
    made = tuple(Brand(n, sums["held"].get(n, 0.0) / KG, *(
        sums[k].get(n, 0.0) / all_[k] for k in ("came", "load", "melt", "in")))
        for n in names)  # fmt: skip
    return made if sum(b.comes > 0.0 for b in made) > 1 else ()


def drawn_by_brand(
    brands: Sequence[Brand], comes: Array, melted: Array, sold: Array
) -> tuple[Array, Array]:
    """What is drawn in each week of each future, and what of each future cannot be sold since its
    brand is not there [t].

    Sales are of their brands; the melt takes its usual brands first, and then what there is. What
    finds no room is taken to be of every brand alike.
    """
    goes = melted + sold
    lack = np.zeros(goes.shape[1])
    if not brands:
        return goes, lack
    held, into, out, melt = (np.array([[getattr(b, n)] for b in brands])
                             for n in ("held", "comes", "sold", "melted"))  # fmt: skip
    for week, came in enumerate(comes):
        held = held + into * came
        wanted = out * sold[week]
        given = np.minimum(wanted, held)
        missing = (wanted - given).sum(axis=0)
        taken, _ = parted(melt * melted[week], held - given)
        held = held - given - taken
        goes[week] -= missing
        lack += missing
    return goes, lack


def slowed(brands: Sequence[Brand], slow: Brand, by: float, other: Brand | None) -> list[Brand]:
    """Brands when `by`, a share of all that comes, is no longer of one: of another, or of none."""
    rest = 1.0 if other is not None else 1.0 - by
    step = {slow.name: -by} | ({other.name: by} if other is not None else {})
    return [replace(b, comes=(b.comes + step.get(b.name, 0.0)) / rest) for b in brands]


def undrawn(told: Told, book: Ledger) -> Iterator[str]:
    """Brands that came into the sheds lately while nobody drew any of them, in words."""
    since = told.now - UNDRAWN
    brand = {lot.lot: lot.brand for lot in told.lots}
    came, went = dict[str, int](), set[str]()
    for m in book.moves:
        name = brand.get(m.lot, "")
        if m.time >= since and name and m.kind in ("made", "in"):
            came[name] = came.get(name, 0) + m.kg
        elif m.time >= since and m.kind in ("melt", "load"):
            went.add(name)
    for name, kg in came.items():
        if name not in went and len(set(brand.values())) > 1:
            held = sum(some for lots in book.stock.values() for lot, some in lots.items()
                       if brand.get(lot) == name)  # fmt: skip
            yield (f"{name}: {kg / KG:,.0f} t came in {UNDRAWN.days // 7} weeks and nobody drew"
                   f" any; {held / KG:,.0f} t are in store")  # fmt: skip
