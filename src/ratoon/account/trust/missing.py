"""Readings worth having: which figures each would open or sharpen, the most useful first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ratoon.account.period import PeriodAccount
from ratoon.account.readings.combine import doubt
from ratoon.base import units
from ratoon.base.records import Reading
from ratoon.equations.one_more import OneMore
from ratoon.plant.stations.stocks import ENDS, called_of, end_of, is_stock
from ratoon.settings.records import ReadingSettings
from ratoon.settings.rounds import usual_reads
from ratoon.settings.usual_readings import usual_reading

LEAST_GAIN = 0.1  # of a figure's uncertainty; less is not worth naming
MOST_TOGETHER = 40
"""Most readings that are named together to open a figure."""


BLUNTER = 2.0
"""Times as wide as with all that were named that a figure may become with one of them left out."""
Spreads = Sequence[tuple[str, float]]
"""Quantities that a reading tells, each with the spread of it in the plant's inside unit."""


@dataclass(frozen=True)
class Opens:
    """A figure that a reading opens or sharpens.

    `sigma_before` : standard uncertainty now, in the figure's unit; None where not determined.
    `sigma_after` : with the reading, and with those named before it where `together`.
    """

    address: str
    sigma_before: float | None
    sigma_after: float | None


@dataclass(frozen=True)
class Worth:
    """A reading worth having."""

    address: str
    name: str
    opens: tuple[Opens, ...]


def readings_worth_having(account: PeriodAccount, target: str | None = None) -> list[Worth]:
    """The readings that would open or sharpen figures most, the most useful first.

    Parameters
    ----------
    target : one figure; none for all that a result has. For one figure that no single reading
        opens, the fewest that open it together, in order; what they open stands at the last.
    """
    if account.answer is None:
        return []
    state, spreads = _read_or_not(account, targets := [target] if target else _figures(account))
    before = {a: state.sigma(a) for a in targets if a in state.at}
    after = {name: _with(state, spreads[name]) for name in spreads}
    opens = {name: _opened(account, before, now) for name, now in after.items()}
    worth = [_worth(account, name, found) for name, found in opens.items() if found]
    worth.sort(key=lambda w: (-sum(_gain(o) for o in w.opens), w.address))
    if worth or target not in before or before[target] is not None:
        return worth
    chain = together(state, spreads, target)
    found = _opened(account, before, _with(state, [x for n in chain for x in spreads[n]]))
    return [_worth(account, n, found if n == chain[-1] else ()) for n in chain]


def opened_by(account: PeriodAccount, figures: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """For each figure that is not determined the fewest readings found that would open it."""
    if account.answer is None:
        return {}
    state, spreads = _read_or_not(account, figures)
    return {f: together(state, spreads, f) for f in figures if f in state.at}


def _read_or_not(
    account: PeriodAccount, figures: Iterable[str]
) -> tuple[OneMore, Mapping[str, Spreads]]:
    """The figures of an account beside what could be read, and the spread of each."""
    assert account.answer is not None
    spreads = _spreads(account)
    tells = (a for given in spreads.values() for a, _ in given)
    return OneMore(account.answer, [*dict.fromkeys((*figures, *tells))]), spreads


def together(state: OneMore, spreads: Mapping[str, Spreads], target: str) -> tuple[str, ...]:
    """Few readings that determine a figure: each time the one that tells most of it.

    Then each is left out again where the others hardly need it. Empty where none were found.
    """
    chain: list[str] = []
    now = state
    while now.sigma(target) is None:
        trials = {n: _with(now, s) for n, s in spreads.items() if n not in chain}
        if not trials or len(chain) == MOST_TOGETHER:
            return ()
        best = min(trials, key=lambda n: (*trials[n].left_open(target), n))
        chain.append(best)
        now = trials[best]
    most = BLUNTER * (now.sigma(target) or 0.0)
    for name in chain[:-1]:
        rest = [n for n in chain if n != name]
        without = _with(state, [x for n in rest for x in spreads[n]]).sigma(target)
        if without is not None and without <= most:
            chain = rest
    return tuple(chain)


def _with(state: OneMore, given: Spreads) -> OneMore:
    for address, spread in given:
        state = state.read(address, spread)
    return state


def _figures(account: PeriodAccount) -> list[str]:
    """Figures that a result has and whose uncertainty is worth a reading."""
    return [a for a in account.mill.always if a in account.mill.plant.addresses]


def _opened(
    account: PeriodAccount, before: Mapping[str, float | None], state: OneMore
) -> tuple[Opens, ...]:
    found = []
    for a, now in before.items():
        then = state.sigma(a)
        if then is None or (now is not None and then > (1.0 - LEAST_GAIN) * now):
            continue
        unit = account.mill.addresses[a].unit
        over = account.seconds_of(a, unit)
        shown = None if now is None else units.spread_from_inside(now * over, unit)
        found.append(Opens(a, shown, units.spread_from_inside(then * over, unit)))
    found.sort(key=lambda o: (-_gain(o), o.address))
    return tuple(found)


def _gain(opens: Opens) -> float:
    """Worth of a reading for a figure: one for opening it, else the share by which it sharpens."""
    if opens.sigma_before is None or not opens.sigma_after:
        return 1.0
    return 1.0 - opens.sigma_after / opens.sigma_before


def _worth(account: PeriodAccount, name: str, opens: tuple[Opens, ...]) -> Worth:
    return Worth(name, account.mill.addresses[name].name, opens)


def _spreads(account: PeriodAccount) -> dict[str, Spreads]:
    """What is not read and could be, each with the quantities that it tells and their spread."""
    mill, answer = account.mill, account.answer
    assert answer is not None
    read = {r.address for r in account.gathered.readings if r.kind == "measured"}
    found: dict[str, Spreads] = {}
    open_ = [a for a, i in mill.addresses.items() if i.readable and a not in read]
    usual = {a: usual_reading(a) for a in usual_reads(open_)}
    for named in open_:
        setting = mill.settings.readings.get(named) or usual.get(named)
        if setting is None:
            continue
        called = called_of(named) if is_stock(named) else ""
        tells = [end_of(called, e) for e in ENDS] if called else [named]
        rows = [(a, s) for a in tells if a not in read
                and (s := _spread(account, a, named, setting))]  # fmt: skip
        if rows:
            found[named] = rows
    return found


def _spread(
    account: PeriodAccount, address: str, named: str, setting: ReadingSettings
) -> float | None:
    """Standard uncertainty of one reading, in the plant's inside unit."""
    mill, answer = account.mill, account.answer
    assert answer is not None
    known = answer.problem.equations
    if address not in known.report_index and address not in known.index:
        return None
    info = mill.addresses[named]
    if setting.relative is None and units.is_total(info.unit) and not is_stock(address):
        return None  # an uncertainty in tonnes of the period against a flow
    parts = doubt(info, setting, Reading(address, answer.at(address), None), info.unit)
    return None if parts is None else (parts[0] ** 2 + parts[1] ** 2) ** 0.5


__all__ = ["Opens", "Worth", "opened_by", "readings_worth_having"]
