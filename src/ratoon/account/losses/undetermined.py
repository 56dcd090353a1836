"""What a period can say of its undetermined loss: from noise to a loss that is shown.

A 95 % interval leaves zero out on one sound day in twenty, so that alone shows nothing. A loss is
called shown when it stands three standard deviations clear of zero, the readings do not contradict
one another, it stays clear when the suspects are left out, and the day before does not take it
back. A gain is never a loss: pol is not made, so a reading or a stock is out. How often that is
right: `docs/explanations/reconciliation.md`.
"""

from __future__ import annotations

from dataclasses import replace

from ratoon.account.period import PeriodAccount
from ratoon.account.readings.as_read import called, reading_unit, show
from ratoon.account.results.trust import Check, Grade, Judged, LossEstimate
from ratoon.equations.left_out import left_out
from ratoon.plant.stations.stocks import ENDS, without_end

FIGURE = "account.undetermined"
LOOKS = 1.959964
"""Standard deviations from zero beyond which a loss is more than chance usually gives."""
SHOWN = 3.0
"""Standard deviations from which it is shown: chance alone gives that on one day in 740."""
OPPOSITE = 1.0
"""Standard deviations from which the day before stands on the other side."""
SOUND = 0.01
"""Probability of the global test below which the readings contradict one another."""
MOST_CHECKS = 2
WEIGHTY = 0.05  # least share of the figure's variance of a reading that is worth reading again


IN_SHORT: dict[Grade, str] = {
    "none": "not judged",
    "within": "within what the instruments allow",
    "looks": "more than chance usually gives, not shown",
    "shown": "shown",
    "gain": "a gain, so a reading or a stock is out",
    "taken back": "taken back by the day before",
    "contradicted": "not judged, its readings contradict one another",
}
"""A few words for each grade, where a line has no more room."""


def _judged(
    grade: Grade, score: float | None, words: str, checks: tuple[Check, ...] = (),
    together: tuple[float, float] | None = None,
) -> Judged:  # fmt: skip
    return Judged(grade, score, words, checks, together, IN_SHORT[grade])


def score_of(account: PeriodAccount) -> float | None:
    """The undetermined loss over its standard uncertainty; None when it is not determined."""
    figure = account.figure(FIGURE)
    if account.answer is None or figure.value is None or not figure.sigma:
        return None
    return figure.value / figure.sigma


def asks_for_more(account: PeriodAccount) -> bool:
    """Whether the day before is to be asked too: beyond the interval, by readings that agree."""
    score = score_of(account)
    if score is None or account.answer is None:
        return False
    return abs(score) > LOOKS and account.answer.global_test.p >= SOUND


def judge(
    account: PeriodAccount,
    before: PeriodAccount | None = None,
    together: PeriodAccount | None = None,
    called_it: str = "day",
) -> Judged:
    """Grade the undetermined loss of a period and put it in words.

    Parameters
    ----------
    before, together : the day before, and both days accounted as one, where they are at hand.
    called_it : what the period is called: day, week, season.
    """
    figure = account.figure(FIGURE)
    alone = None
    if figure.value is not None and figure.sigma is not None:
        alone = LossEstimate(figure.value, figure.sigma)
    return replace(_graded(account, before, together, called_it), alone=alone)


def _graded(
    account: PeriodAccount, before: PeriodAccount | None, together: PeriodAccount | None,
    called_it: str,
) -> Judged:  # fmt: skip
    score, pair = score_of(account), _pair(together)
    if account.gathered.crushing <= 0.0:
        return _judged(
            "none", None, f"No cane was crushed: there is no pol account of this {called_it}."
        )
    if score is None:
        words = "The undetermined loss is not determined: too little was read."
        return _judged("none", None, words)
    assert account.answer is not None
    if abs(score) <= LOOKS:
        least = SHOWN * (account.figure(FIGURE).sigma or 0.0)
        words = (f"Within what the instruments allow: a loss below {least:.1f} % of pol in cane "
                 f"would not show in this {called_it}.")  # fmt: skip
        return _judged("within", score, words, (), pair)
    if account.answer.global_test.p < SOUND:
        words = ("It lies beyond its interval, but the readings contradict one another: clear the "
                 "suspects first.")  # fmt: skip
        return _judged("contradicted", score, words, checks_of(account), pair)
    back = score_of(before) if before is not None else None
    if back is not None and pair is not None and _taken_back(score, back, pair):
        checks = checks_of(account, f".{ENDS[0]}")
        return _judged("taken back", score, _back_words(score, pair) + _again(checks), checks, pair)
    checks = checks_of(account)
    grade: Grade = "shown" if _shown(account, score, pair) else "gain" if score < 0.0 else "looks"
    words = _words(grade, score, called_it, pair) + _again(checks)
    return _judged(grade, score, words, checks, pair)


def _words(grade: Grade, score: float, called_it: str, pair: tuple[float, float] | None) -> str:
    """A grade beyond the interval in words; `pair` is that of the day with the day before."""
    if grade == "shown":
        return ("Shown: three standard deviations clear of zero, and the readings agree. Walk "
                "drains, overflows and condensers.")  # fmt: skip
    chance = f"chance alone gives as much on one {called_it} in forty"
    if grade == "gain":
        unless = "" if score < -SHOWN else f", unless it is chance: {chance}"
        return ("More pol was found than the cane brought, and none is made: a reading or a stock "
                f"is out{unless}.")  # fmt: skip
    watch = " Watch tomorrow." if called_it == "day" else ""
    if score > SHOWN and pair is not None and _within(pair):
        return ("More than chance gives in one day, yet with the day before it stands within: not "
                f"shown.{watch}")  # fmt: skip
    if score > SHOWN:
        return f"More than chance gives, yet not shown while a suspect may make it.{watch}"
    return f"More than the instruments usually give, yet {chance}: not shown.{watch}"


def _back_words(score: float, pair: tuple[float, float]) -> str:
    """What it says when the day before takes a loss, or a gain, back."""
    found = "lost" if score > 0.0 else "found"
    return (f"The day before stands on the other side, and both days together at {pair[0]:.1f} ± "
            f"{LOOKS * pair[1]:.1f} %: a stock read between them is more likely out than pol "
            f"{found}.")  # fmt: skip


def _pair(together: PeriodAccount | None) -> tuple[float, float] | None:
    """The undetermined loss of two days as one, with its sigma [% of pol in cane]."""
    figure = together.figure(FIGURE) if together is not None else None
    if figure is None or figure.value is None or not figure.sigma:
        return None
    return figure.value, figure.sigma


def _taken_back(score: float, before: float, pair: tuple[float, float]) -> bool:
    """Whether the day before stands on the other side and both together stand within."""
    opposite = score * before < 0.0 and abs(before) > OPPOSITE
    return opposite and abs(pair[0]) <= LOOKS * pair[1]


def _within(pair: tuple[float, float]) -> bool:
    """Whether two days as one show no loss beyond their interval."""
    return pair[0] <= LOOKS * pair[1]


def _shown(account: PeriodAccount, score: float, pair: tuple[float, float] | None) -> bool:
    """Clear of zero by three standard deviations, with the suspects too and without them."""
    if score <= SHOWN or (pair is not None and _within(pair)):
        return False
    assert account.answer is not None
    suspects = [s.address for s in account.answer.suspects]
    if not suspects:
        return True
    without = left_out(account.answer, suspects, [FIGURE])
    value = account.answer.value(FIGURE) + float(without.shift[0])
    return value > SHOWN * float(without.sigma[0])


def checks_of(account: PeriodAccount, ending: str = "") -> tuple[Check, ...]:
    """The readings that carry most of a figure's uncertainty, and the error that would explain it.

    Parameters
    ----------
    ending : only addresses that end so, such as ".opening" for stocks at the start of the day.
    """
    answer = account.answer
    if answer is None:
        return ()
    value = answer.value(FIGURE)
    slopes = answer.gradient(FIGURE)
    by_address = {r.address: j for j, r in enumerate(answer.problem.readings)
                  if r.kind == "measured"}  # fmt: skip
    out: list[Check] = []
    stocks: set[str] = set()  # a stock is read again at one end: the other would be named alike
    for address, share in answer.shares(FIGURE):
        if len(out) == MOST_CHECKS or share < WEIGHTY:
            break
        j = by_address.get(address)
        stock = without_end(address)
        if j is None or not address.endswith(ending) or not slopes[j] or stock in stocks:
            continue
        stocks.add(stock)
        size = show(account, address, value / float(slopes[j]), True)
        if size is not None:
            name = called(account, address)
            out.append(Check(address, name, size, reading_unit(account, address)[0]))
    return tuple(out)


def _again(checks: tuple[Check, ...]) -> str:
    """What to read again, with the error that would explain the whole of it by itself."""
    if not checks:
        return ""
    told = ", ".join(f"{c.name[:1].lower()}{c.name[1:]} ({_sized(c)})" for c in checks)
    return f" Read again: {told}; one such error alone would look the same."


def _sized(check: Check) -> str:
    digits = 0 if abs(check.size) >= 10.0 else 1
    return f"{check.size:+.{digits}f} {check.unit}".strip()
