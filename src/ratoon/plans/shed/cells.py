"""The cells of a shed as they are now: lots, age, keeping, what to look at, what to draw first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime

import numpy as np

from ratoon.base.sugar import Lot, place
from ratoon.plans.shed.answer import Draw, LotPart, ShedCell
from ratoon.plans.shed.keeping import HEATS_ABOVE, Kept, caution_of, kept
from ratoon.plans.shed.ledger import KG, Ledger
from ratoon.plans.shed.pile import Pile
from ratoon.settings.sugar import KeepingRow

DAY = 86400.0


def cells_of(
    shed: str, names: Sequence[str], pile: Pile | None, book: Ledger, lots: Mapping[str, Lot],
    laws: Sequence[KeepingRow], at: datetime, local: Callable[[datetime], datetime],
) -> tuple[ShedCell, ...]:  # fmt: skip
    """Every cell of a shed that is named or holds anything, in the shed's order.

    Parameters
    ----------
    names : cells in order along the shed, where the mill file gives them. pile : the whole shed.
    local : a moment by the clock of the mill.
    """
    held = book.of_shed(shed)
    order = [*names, *sorted(c for c in held if c not in names)]
    filled = [bool(held.get(c)) for c in order]
    part = pile.part(1.0 / len(names)) if pile is not None and names else None
    made = []
    for n, cell in enumerate(order):
        parts = held.get(cell, {})
        tonnes = sum(parts.values()) / KG
        known = {name: kept(lots[name], (at - book.began[name]).total_seconds() / DAY, laws)
                 for name in parts if name in lots}  # fmt: skip
        # a face can be worked from the shed's end, or from an empty cell beside it
        beside = [k for k in (n - 1, n + 1) if 0 <= k < len(order)]
        reached = not names or len(beside) < 2 or not all(filled[k] for k in beside)
        oldest = min((book.began[name] for name in parts), default=None)
        made.append(ShedCell(
            cell, tonnes, None if oldest is None else (at - oldest).total_seconds() / DAY,
            tuple(LotPart(name, kg / KG) for name, kg in parts.items()),
            _mean(parts, {k: v.pol for k, v in known.items()}),
            _mean(parts, {k: v.safety for k, v in known.items()}),
            _caution(place(shed, cell), parts, lots, known, book, local),
            _mean(parts, {k: v.dilution for k, v in known.items()}),
            _mean(parts, {k: v.colour for k, v in known.items()}),
            None if part is None else part.height_of(tonnes), bool(tonnes) and reached,
        ))  # fmt: skip
    return tuple(made)


def _mean(parts: Mapping[str, int], figures: Mapping[str, float | None]) -> float | None:
    """Mean by mass over the lots that have the figure."""
    has = [(parts[name], value) for name, value in figures.items() if value is not None]
    weight = sum(kg for kg, _ in has)
    return sum(kg * value for kg, value in has) / weight if weight else None


def _caution(
    at: str, parts: Iterable[str], lots: Mapping[str, Lot], known: Mapping[str, Kept],
    book: Ledger, local: Callable[[datetime], datetime],
) -> str:  # fmt: skip
    """The worst of a cell's lots in one line, with place and hour; "" where there is none."""
    found = [(rank(lots[name]), name, text) for name in parts if name in lots
             and (text := caution_of(lots[name], known[name].safety))]  # fmt: skip
    if not found:
        return ""
    _, name, text = max(found)
    return f"{at}, put in until {local(book.began[name]):%d %b %H:%M}: {text}"


def rank(lot: Lot) -> tuple[bool, float]:
    """How pressing a lot's caution is: what may heat by itself first, then the hottest."""
    hot = lot.temperature or 0.0
    return hot > HEATS_ABOVE, hot


def draws(
    cells: Mapping[str, ShedCell], wanted: float, pol_least: float | None,
    colour_most: float | None,
) -> tuple[Draw, ...]:  # fmt: skip
    """Three ways to draw so many tonnes from cells that can be reached: oldest, worst, blended.

    Parameters
    ----------
    cells : by their place. wanted : [t]. pol_least, colour_most : what the melt asks [%, IU].
    """
    open_ = {at: c for at, c in cells.items() if c.reached and c.t > 0.0}
    wanted = min(wanted, sum(c.t for c in open_.values()))
    if wanted <= 0.0:
        return ()
    by_age = sorted(open_, key=lambda at: -(open_[at].oldest_days or 0.0))
    by_worst = sorted(open_, key=lambda at: (-(open_[at].safety_factor or 0.0), at))
    asked = pol_least, colour_most
    made = [_draw("oldest first", open_, _first(open_, by_age, wanted), asked),
            _draw("worst first", open_, _first(open_, by_worst, wanted), asked)]  # fmt: skip
    if pol_least is not None or colour_most is not None:
        mixed = _blend(open_, by_age, wanted, asked)
        if mixed is not None:
            made.append(_draw("blended to what the melt asks", open_, mixed, asked))
    return tuple(made)


def _first(cells: Mapping[str, ShedCell], order: Sequence[str], wanted: float) -> dict[str, float]:
    took = {}
    for at in order:
        some = min(cells[at].t, wanted)
        if some > 0.0:
            took[at] = some
        wanted -= some
    return took


def _blend(
    cells: Mapping[str, ShedCell], order: Sequence[str], wanted: float,
    asked: tuple[float | None, float | None],
) -> dict[str, float] | None:  # fmt: skip
    """The oldest draw that the melt can take: a small linear programme; None where there is none.

    Cells that were not analysed are left out.
    """
    from scipy.optimize import linprog

    pol_least, colour_most = asked
    can = [at for at in order
           if (pol_least is None or cells[at].pol is not None)
           and (colour_most is None or cells[at].colour is not None)]  # fmt: skip
    if not can:
        return None
    rows, most = [], []
    if pol_least is not None:
        rows.append([pol_least - (cells[at].pol or 0.0) for at in can])
        most.append(0.0)
    if colour_most is not None:
        rows.append([(cells[at].colour or 0.0) - colour_most for at in can])
        most.append(0.0)
    age = np.array([cells[at].oldest_days or 0.0 for at in can])
    found = linprog(-age, A_ub=rows, b_ub=most, A_eq=[[1.0] * len(can)], b_eq=[wanted],
                    bounds=[(0.0, cells[at].t) for at in can])  # fmt: skip
    if not found.success:
        return None
    return {at: float(t) for at, t in zip(can, found.x, strict=True) if t > 1e-6}


def _draw(
    order: str, cells: Mapping[str, ShedCell], took: Mapping[str, float],
    asked: tuple[float | None, float | None],
) -> Draw:  # fmt: skip
    pol, colour = (_of_draw(took, {at: getattr(cells[at], n) for at in took})
                   for n in ("pol", "colour"))  # fmt: skip
    return Draw(order, tuple(took.items()), pol, colour, _meets(pol, colour, *asked))


def _of_draw(took: Mapping[str, float], figures: Mapping[str, float | None]) -> float | None:
    """Mean over a draw; None where a part of it was never analysed."""
    if any(v is None for v in figures.values()):
        return None
    return sum(t * (figures[at] or 0.0) for at, t in took.items()) / sum(took.values())


def _meets(
    pol: float | None, colour: float | None, pol_least: float | None, colour_most: float | None
) -> bool | None:
    """Whether a draw is what the melt asks; None where it asks nothing or nobody knows."""
    told: list[bool | None] = []
    if pol_least is not None:
        told.append(None if pol is None else pol >= pol_least - 1e-9)
    if colour_most is not None:
        told.append(None if colour is None else colour <= colour_most + 1e-6)
    if not told or (None in told and False not in told):
        return None
    return all(told)


def cautions(cells: Mapping[str, ShedCell], lots: Mapping[str, Lot]) -> Iterator[str]:
    """Every cell's caution, the most pressing first."""

    def pressing(cell: ShedCell) -> tuple[bool, float]:
        return max((rank(lots[p.lot]) for p in cell.lots if p.lot in lots), default=(False, 0.0))

    found = [c for c in cells.values() if c.caution]
    yield from (c.caution for c in sorted(found, key=pressing, reverse=True))
