"""Readings that a period is accounted without: those that cannot be, and those far off.

One reading that is far off bends every figure. So a period is accounted with all its readings, and
again without those that the others speak against by more than `PAST` standard uncertainties: a
suspect, or the whole set of which the readings cannot tell which is wrong. A member of a set that
the rest then finds right is taken back, where another is found wrong. A set is not left out where
a headline figure would lose its value or become `WIDER` times as uncertain: then all readings
count, and the figures are marked. A person's word counts first.

On a day whose readings have no answer together, those that stand far off the usual plant, as the
others see it, are left out before; each that fits what the rest then finds is taken back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from ratoon.base.errors import RatoonError
from ratoon.base.records import Reading
from ratoon.equations import Reconciled
from ratoon.equations.records import Suspect

PAST = 4.0
"""Standard uncertainties from which a suspect is set aside: 1 sound reading in 16,000 is."""
WIDER = 3.0
"""Times as uncertain that a headline figure may become when a set is left out."""
GROSS = 6.0
"""Standard uncertainties from which a first look is taken from the usual plant."""
SURE, CANNOT_BE = 5.0, 10.0
"""Standard uncertainties from which a lone suspect, and a set, is left out whatever becomes wider.

A wide interval that holds the truth is worth more than a narrow one that does not."""
FITS = 3.0
"""Standard uncertainties within which a reading left out at first is taken back."""
MOST = 12


@dataclass
class Settled:
    """The account of a period without what is set aside.

    Attributes
    ----------
    answer : without the readings set aside. whole : with every reading; None where they have no
        answer together. aside : what is set aside, and as which suspect; None by a person's word.
    marked : members of sets in which all readings count, for a headline figure would rest on too
        little without them. exchanged : readings set aside that each have the size of another.
    """

    answer: Reconciled
    whole: Reconciled | None
    aside: dict[str, Suspect | None] = field(default_factory=dict)
    marked: set[str] = field(default_factory=set)
    exchanged: dict[str, str] = field(default_factory=dict)


@dataclass
class Settling:
    """One period's readings on the way to an account that stands.

    Parameters
    ----------
    readings : of the period. ask : reconciles readings, from a start where one is given.
    look : names what stands far off the usual plant. far : tells of every
    reading how far it stands off it. instead : what stands in the place of a
    reading or an assumption that is left out. headline : figures that must keep their value.
    keep, out : addresses that a person keeps, and sets aside. never : readings that cannot be.
    """

    readings: list[Reading]
    ask: Callable[[list[Reading], Mapping[str, float] | None], Reconciled]
    look: Callable[[list[Reading]], Iterable[Suspect]]
    far: Callable[[list[Reading]], Iterable[Suspect]]
    instead: Callable[[str], Reading | None]
    headline: tuple[str, ...]
    keep: frozenset[str] = frozenset()
    out: frozenset[str] = frozenset()
    never: frozenset[str] = frozenset()

    def settle(self) -> Settled:
        """The account without what is set aside.

        Raises
        ------
        RatoonError : no account is found, not even without every reading that may be left out.
        """
        never = self.never - self.keep
        out = (self.out | never) & self._read.keys()
        aside: dict[str, Suspect | None] = dict.fromkeys(sorted(out))
        try:
            # with what cannot be there is no account, and a long search for one
            whole = None if never & out else self.ask(self.readings, None)
            begin = whole.state if whole else None
            answer = self._without(aside, begin) if aside or whole is None else whole
        except RatoonError as error:
            done = self._robust(None, aside, error)
        else:
            done = Settled(answer, whole, dict(aside))
            self._pair(done)
            far = any(abs(s.standardised) > GROSS for s in done.answer.suspects[:1])
            if answer.forced or (whole is not None and whole.forced) or far:
                done = self._robust(done, aside)
        for _ in range(MOST):
            if not self._one_more(done):
                break
        return done

    def _robust(
        self, plain: Settled | None, aside: dict[str, Suspect | None],
        refused: RatoonError | None = None,
    ) -> Settled:  # fmt: skip
        """The account without what stands far off the usual plant; what fits it is taken back.

        Far off, the equations bend: what the account with everything says of a reading is of no
        use there.
        """
        for far in self._ways_out(aside, plain is None):
            try:
                answer = self._without({**aside, **far}, None)
            except RatoonError:
                continue
            if plain is None or not answer.forced:
                done = Settled(answer, plain.whole if plain else None, {**aside, **far})
                self._take_back(done, far)
                # of two that were exchanged both are wrong: neither stands for the other
                pairs = {a: s for a, s in done.aside.items()
                         if s is not None and np.isinf(s.statistic) and s.equivalent}  # fmt: skip
                done.aside |= {a: replace(s, equivalent=(), each=()) for a, s in pairs.items()}
                done.exchanged = {a: s.equivalent[0] for a, s in pairs.items()}
                return done
        if plain is None:
            assert refused is not None
            raise refused
        return plain

    def _ways_out(self, aside: Iterable[str], last: bool) -> Iterator[dict[str, Suspect]]:
        """What may be left out beside, one choice after another.

        First the sets that a look from the usual plant names, then the first of each. At `last`
        one, two, four and more of all readings, those farthest off first: without any the plant is
        as it usually runs, which is an account.
        """
        rest = [r for r in self.readings if r.address not in set(aside)]
        mine = {r.address for r in rest if r.kind == "measured"} - self.keep
        found = [s for s in self.look(rest) if s.address in mine]
        firsts = {s.address: s for s in found}
        sets = {a: s for s in found for a in s.equivalent if a in mine} | firsts
        if len(sets) > len(firsts):
            yield sets
        if firsts:
            yield firsts
        if last:
            order = sorted((s for s in self.far(rest) if s.address in mine),
                           key=lambda s: -abs(s.standardised))  # fmt: skip
            for doublings in range(len(order).bit_length() + 1):
                yield {s.address: s for s in order[: 2**doublings]}

    def _take_back(self, done: Settled, far: Mapping[str, Suspect]) -> None:
        """Take back what fits, the best first, then what the others say nothing of."""
        tried: set[str] = set()
        while True:
            off = {a: self._unlike(done.answer, a, far[a])
                   for a in far if a in done.aside and a not in tried}  # fmt: skip
            best = min(off, key=lambda a: off[a], default="")
            if not best or off[best] > FITS:
                return
            tried.add(best)
            left = {a: s for a, s in done.aside.items() if a != best}
            try:
                answer = self._without(left, done.answer.state)
            except RatoonError:
                continue
            if answer.forced <= done.answer.forced and not any(
                abs(s.standardised) > PAST and best in (s.address, *s.equivalent)
                for s in answer.suspects[:1]
            ):
                done.answer, done.aside = answer, left

    def _unlike(self, answer: Reconciled, address: str, suspect: Suspect) -> float:
        """How far a reading left out is from what the others say, in standard uncertainties.

        Where they say little, one that was named with another it was exchanged with is far off.
        """
        off = self.off(answer, address)
        if suspect.equivalent and np.isinf(suspect.statistic):
            told = off is not None and abs(suspect.size) > PAST * self._spread(answer, address)
            return abs(off) if off is not None and told else float(np.inf)
        return 0.5 * FITS if off is None else abs(off)

    def _without(self, out: Iterable[str], start: Mapping[str, float] | None) -> Reconciled:
        """The account without some readings and assumptions."""
        gone = set(out)
        used = [r for r in self.readings if r.address not in gone]
        return self.ask([*used, *filter(None, map(self.instead, sorted(gone)))], start)

    def off(self, answer: Reconciled, address: str) -> float | None:
        """How far a reading that is left out is from what the others say; None: they say nothing.

        In standard uncertainties of the difference.
        """
        reading = self._read.get(address)
        if reading is None or not answer.determined(address):
            return None
        return (reading.value - answer.value(address)) / self._spread(answer, address)

    def _spread(self, answer: Reconciled, address: str) -> float:
        """Standard uncertainty of a reading that is left out less what the others say of it."""
        r = self._read[address]
        told = answer.sigma(address) or 0.0
        return float(np.sqrt(told**2 + float(r.sigma or 0.0) ** 2 + r.common**2))

    @cached_property
    def _read(self) -> dict[str, Reading]:
        return {r.address: r for r in self.readings}

    def _one_more(self, done: Settled) -> bool:
        """Set aside the next suspect, or the set that it stands in; False when there is none."""
        if self._pair(done):
            return True
        for suspect in done.answer.suspects:
            members = [a for a in (suspect.address, *suspect.equivalent)
                       if a not in self.keep and a not in done.aside]  # fmt: skip
            if abs(suspect.standardised) < PAST or done.marked.issuperset(members):
                continue
            found = self._left_out(done, suspect, members)
            if found is None:
                done.marked.update(members)
            else:
                done.answer, out = found
                done.aside |= dict.fromkeys(out, suspect)
            return True
        return False

    def _pair(self, done: Settled) -> bool:
        """Set aside two readings that were taken for one another."""
        pair = done.answer.tests.exchanged()
        if pair is None or abs(pair[0].standardised) < PAST:
            return False
        names = [s.address for s in pair]
        if not self.keep.isdisjoint(names) or not done.marked.isdisjoint(names):
            return False
        try:
            answer = self._without({*done.aside, *names}, done.answer.state)
        except RatoonError:
            answer = None
        if answer is None or (
            abs(pair[0].standardised) < CANNOT_BE and not self._stands(done.answer, answer)
        ):
            done.marked.update(names)
            return False
        done.answer = answer
        done.aside |= {s.address: s for s in pair}
        done.exchanged |= dict(zip(names, reversed(names)))
        return True

    def _left_out(
        self, done: Settled, suspect: Suspect, members: list[str]
    ) -> tuple[Reconciled, list[str]] | None:
        """The account without a set, or without those of it that the rest finds wrong.

        None where a headline figure would rest on too little.
        """
        state, out = done.answer.state, members
        sizes = dict(zip(suspect.equivalent, (size for _, size in suspect.each)))
        sizes[suspect.address] = suspect.size
        try:
            answer = self._without({*done.aside, *members}, state)
            off = {a: z for a in members if (z := self.off(answer, a)) is not None}
            wrong = [a for a in members if abs(off.get(a, 0.0)) > PAST]
            # right is what would stand out there, were it wrong by as much as would explain it all
            right = {
                a
                for a, z in off.items()
                if abs(z) <= FITS and abs(sizes[a]) > PAST * self._spread(answer, a)
            }
            left = wrong or [a for a in members if a not in right]
            if left and len(left) < len(members):
                out = left
                answer = self._without({*done.aside, *left}, state)
        except RatoonError:
            return None
        far = max((abs(off.get(a, suspect.standardised)) for a in out), default=0.0)
        sure = SURE if len(out) == 1 else CANNOT_BE
        if far < sure and not self._stands(done.answer, answer):
            return None
        return answer, out

    def _stands(self, before: Reconciled, after: Reconciled) -> bool:
        """Whether each headline figure keeps its value and most of its certainty."""
        for address in self.headline:
            was = before.sigma(address)
            now = after.sigma(address)
            if was and (now is None or now > WIDER * was):
                return False
        return True
