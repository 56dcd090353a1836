"""How honest the account is: random true days, read with errors, through the real account.

Two questions. Does a figure's 95 % interval hold the truth on 95 % of days? And is a reading that
is grossly wrong named, alone or in a short set of readings that look alike?
"""

from __future__ import annotations

import copy
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import timedelta

import numpy as np

from ratoon.account.losses.undetermined import judge
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.gather import gather
from ratoon.account.readings.gathered import Gathered
from ratoon.base.records import Stop
from ratoon.demo import measure
from ratoon.demo.hours import TruePlant
from ratoon.demo.random_days import random_day
from ratoon.demo.truth import TrueDay
from ratoon.equations.reconciled import Reconciled
from ratoon.settings.read import parse_settings

HEADLINES = (
    "cane", "rate", "ccs", "fibre_in_cane", "pol_in_cane", "extraction", "reduced_extraction",
    "imbibition_on_fibre", "bagasse_pol", "bagasse_moisture", "mixed_juice_purity",
    "clear_juice_purity", "liquor_brix", "a_massecuite_purity", "b_massecuite_purity",
    "c_massecuite_purity", "molasses_purity", "target_purity", "sugar", "sugar_pol",
    "sugar_moisture", "dilution_indicator", "boiling_house_recovery", "overall_recovery",
    "steam_on_cane", "process_steam_on_cane", "undetermined",
)  # fmt: skip
"""Headline figures with an uncertainty; hours and lost time are exact."""
CHECKED = 0.5
"""Detectability from which a reading counts as checked by the others."""
SHORT = 5
"""Longest set in which a wrong reading still counts as named."""


@dataclass
class Trial:
    """One day.

    Attributes
    ----------
    off : by headline figure, how far the account is from the truth in its own sigmas.
    named : by checked reading, whether an error of 5/d sigma was named; empty when not asked.
    score, grade : the undetermined loss over its sigma, and what the account says of it; the true
        days lose nothing unknown.
    failed : why the day could not be accounted; empty when it could.
    """

    number: int
    off: dict[str, float] = field(default_factory=dict)
    named: dict[str, bool] = field(default_factory=dict)
    global_p: float = 1.0
    score: float = 0.0
    grade: str = ""
    failed: str = ""


def run_trials(mill_text: str, seed: int, numbers: Iterable[int], faults_below: int) -> list[Trial]:
    """Trials with numbers; each has random numbers of its own, so order and chunks do not matter.

    Parameters
    ----------
    mill_text : a mill file. faults_below : days with a lower number also try every single fault.
    """
    mill = Mill(parse_settings(mill_text))
    plant = TruePlant(mill.settings)
    return [run_trial(mill, plant, seed, n, n < faults_below) for n in numbers]


def read_day(mill: Mill, day: TrueDay, rng: np.random.Generator) -> Gathered:
    """A true day as instruments and laboratory read it, each reading with an error of its own."""
    period = mill.calendar.period(day.date)
    lasting = measure.lasting_errors(mill, rng)
    rows = measure.read(mill, day, lasting, rng)
    rows += measure.stocks(mill, day.opening, period.start, lasting, rng)
    rows += measure.stocks(mill, day.closing, period.end, lasting, rng)
    stood = timedelta(seconds=day.period - day.crushing)
    stop = Stop(period.start, period.start + stood, "mills", "other")
    return gather(mill, period, [measure.as_reading(mill, r) for r in rows], [stop])


def run_trial(mill: Mill, plant: TruePlant, seed: int, number: int, faults: bool) -> Trial:
    """One random day through the account."""
    rng = np.random.default_rng([seed, number])
    trial = Trial(number)
    day = random_day(rng, plant)
    gathered = read_day(mill, day, rng)
    try:
        answer = mill.plant.reconcile(gathered.readings, constants=gathered.constants)
    except Exception as error:  # counted, never hidden: the test asks that there be none
        trial.failed = str(error)
        return trial
    for name in HEADLINES:
        sigma = answer.sigma(f"account.{name}")
        if sigma:
            found = answer.value(f"account.{name}")
            trial.off[name] = (found - day.figures[f"account.{name}"]) / sigma
    trial.global_p = answer.global_test.p
    judged = judge(PeriodAccount(mill, gathered, answer))
    trial.score, trial.grade = judged.score or 0.0, judged.grade
    if faults:
        trial.named = single_faults(answer)
    return trial


def single_faults(answer: Reconciled) -> dict[str, bool]:
    """For each checked reading: is an error of 5/d sigma in it named?

    The error is put on the reconciled day by the linear statistics, then goes through the real
    elimination. That is exact for a linear plant; the day's own errors stay in.
    """
    tests = answer.tests
    named = {}
    for j, result in enumerate(answer.readings):
        if result.kind == "assumed" or not result.redundant:
            continue
        if (result.detectability or 0.0) < CHECKED or result.address in named:
            continue
        size = 5.0 / float(result.detectability or 1.0) * float(np.sqrt(tests.variance[j]))
        wrong = copy.copy(answer)
        for kept in ("tests", "suspects", "readings", "global_test"):
            wrong.__dict__.pop(kept, None)
        wrong.white_residuals = answer.white_residuals + tests.projection @ (
            answer.factor_inverse[:, j] * size
        )
        again = copy.copy(tests)
        again.answer, again.d = wrong, answer.factor_inverse.T @ wrong.white_residuals
        suspects = again.eliminate()
        named[result.address] = bool(suspects) and _names(suspects[0], result.address)
    return named


def _names(suspect: object, address: str) -> bool:
    """First itself, or in a first set of at most five."""
    first, alike = suspect.address, suspect.equivalent  # type: ignore[attr-defined]
    return first == address or (address in alike and 1 + len(alike) <= SHORT)


def coverage(trials: Iterable[Trial]) -> dict[str, float]:
    """Share of days on which the 95 % interval held the truth, by figure; `all` together."""
    inside: dict[str, list[bool]] = {}
    for trial in trials:
        for name, off in trial.off.items():
            inside.setdefault(name, []).append(abs(off) < 1.959964)
    shares = {n: float(np.mean(v)) for n, v in inside.items()}
    shares["all"] = float(np.mean([x for v in inside.values() for x in v]))
    return shares


def share_named(trials: Iterable[Trial]) -> dict[str, tuple[float, int]]:
    """Share of days on which a reading's gross error was named, and how many days; by reading."""
    found: dict[str, list[bool]] = {}
    for trial in trials:
        for address, hit in trial.named.items():
            found.setdefault(address, []).append(hit)
    return {a: (float(np.mean(v)), len(v)) for a, v in found.items()}
