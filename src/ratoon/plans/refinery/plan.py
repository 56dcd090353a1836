"""The refinery's year solved: the plan, prices of its limits, the rule, what may come of it."""

from __future__ import annotations

import json
import time
from collections.abc import Mapping
from typing import Any

import numpy as np

from ratoon.base.errors import BadInput
from ratoon.plans.refinery.case import Array, Case
from ratoon.plans.refinery.futures import (
    Answers,
    Came,
    Whole,
    drawn,
    lived,
    unanswered,
    uncertain,
    whole_of,
)
from ratoon.plans.refinery.kilograms import weeks_of
from ratoon.plans.refinery.model import year_of
from ratoon.plans.refinery.prices import contradicting, priced
from ratoon.plans.refinery.reading import read_case
from ratoon.plans.refinery.result import (
    Answered,
    Chances,
    Lived,
    RefineryAnswer,
)
from ratoon.plans.refinery.rule import FUTURES, rule_for
from ratoon.plans.season.answer import Spread
from ratoon.plans.shed.answer import ShedWeek

OTHERS = 10_000
"""Futures from which it is told what may come."""
SEED = 0
HIRE = "hire"
LEVELS = (0.05, 0.25, 0.5, 0.75, 0.95)


def plan_year(case: Mapping[str, Any], *, prices: bool = True, seed: int = SEED) -> RefineryAnswer:
    """The best plan of a refinery's year, from a case as its JSON has it.

    Parameters
    ----------
    prices : whether limits are priced; each takes some solves more.

    Raises
    ------
    BadInput, UnknownName : one line, naming key, value and what is allowed.
    """
    try:
        text = json.dumps(case, allow_nan=False)
    except (TypeError, ValueError, RecursionError) as error:
        raise BadInput(f"is not JSON: {error}", where="case") from None
    return solve(read_case(text, "case"), prices=prices, seed=seed)


def solve(
    case: Case, *, prices: bool = True, seed: int = SEED, currency: str = "$"
) -> RefineryAnswer:
    """The best plan of a case."""
    began = time.process_time()
    year = year_of(case)
    found = year.program.solved()
    seconds = time.process_time() - began
    if found is None:
        return RefineryAnswer(
            case.week(0), "none found", None, (), (), (), None, None, None, contradicting(case),
            currency=currency, lacking=case.lacking, seconds=seconds)  # fmt: skip
    whole = whole_of(case, year, found)
    answers, came, plain = _ahead(case, whole, seed)
    told = _lived(came)
    return RefineryAnswer(
        case.week(0), "best", round(found.money, 2), weeks_of(case, year, found),
        priced(case, year, found) if prices else (),
        _told(case, whole, answers) if uncertain(case) else (),
        told.chance, told.spill, told.shortage, (), _lived(plain), _path(case, came),
        round(float(whole.room[0]), 3), round(float(whole.heel[0]), 3), currency, case.lacking,
        round(seconds, 3),
    )  # fmt: skip


def _ahead(case: Case, whole: Whole, seed: int) -> tuple[Answers, Came, Came]:
    """The rule, what comes of it in other futures, and what comes of the plan as it is."""
    plain = unanswered(whole)
    if not uncertain(case):
        came = lived(whole, plain, whole.make[None, :])
        return plain, came, came
    first, others = (np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(2))
    answers = rule_for(whole, drawn(case, first, FUTURES))
    make = drawn(case, others, OTHERS)
    return answers, lived(whole, answers, make), lived(whole, plain, make)


def _told(case: Case, whole: Whole, answers: Answers) -> tuple[Answered, ...]:
    """Weeks and buyers to which something is told."""
    lines = [*zip(whole.buyers, answers.sold, answers.sold_more, strict=True),
             (HIRE, answers.hired, answers.hired_more)]  # fmt: skip
    return tuple(
        Answered(case.week(w), name, round(float(plan[w]), 3), round(float(more[w]), 6))
        for w in range(case.weeks) for name, plan, more in lines
        if plan[w] > 5e-4 or abs(more[w]) > 5e-7
    )  # fmt: skip


def spread(values: Array) -> Spread:
    """Quantiles over futures [t]."""
    return Spread(*(round(float(q), 3) for q in np.quantile(values, LEVELS)))


def _lived(came: Came) -> Lived:
    chance = Chances(float(came.full.mean()), float(came.empty.mean()),
                     float((came.short > 0.5).mean()))  # fmt: skip
    return Lived(chance, spread(came.spilt), spread(came.short))


def _path(case: Case, came: Came) -> tuple[ShedWeek, ...]:
    """Raw sugar in all sheds when each week ends."""
    return tuple(
        ShedWeek(case.week(w + 1), *(round(float(q), 3) for q in np.quantile(line, LEVELS)))
        for w, line in enumerate(came.stock)
    )
