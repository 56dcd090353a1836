"""The robust account beside the plain one, on days whose readings contradict one another.

Plain least squares lets each bad reading pull the whole day. The robust account gives readings that
stand out less and less weight. Where the two agree, the bad readings did little harm; where they
differ, the readings are to be cleared first. It is no proof: a bad reading that no other checks
pulls both alike.
"""

from __future__ import annotations

from ratoon.account.losses.undetermined import SOUND
from ratoon.account.period import PeriodAccount
from ratoon.account.results.trust import Robust, RobustFigure
from ratoon.base.errors import RatoonError
from ratoon.plant.plant import UNDETERMINED

SEVERAL = 3  # suspects from which on the robust account is made
COMPARED = ("extraction", "boiling_house_recovery", "overall_recovery", "molasses_purity",
            "undetermined")  # fmt: skip


def robust_part(account: PeriodAccount) -> Robust | None:
    """Headline figures of both accounts; None on days with few bad readings that agree."""
    plain, answer = account.with_all or account, account.answer
    if answer is None or plain.answer is None:
        return None
    test = plain.answer.global_test
    if len(account.suspects) < SEVERAL and test.p >= SOUND:
        return None
    gathered = account.gathered
    try:
        other = account.mill.plant.equations.reconcile(
            gathered.readings,
            answer.state,
            gathered.constants,
            leaks=UNDETERMINED,
            robust=True,
            sizes=True,
        )
    except RatoonError as error:
        return Robust(f"the robust account found no answer: {error}", {})
    beside = PeriodAccount(account.mill, gathered, other)
    rows = {}
    for name in COMPARED:
        whole, robust = plain.figure(f"account.{name}"), beside.figure(f"account.{name}")
        rows[whole.address] = RobustFigure(whole.name, whole.unit, whole.value, whole.sigma,
                                           robust.value, robust.sigma)  # fmt: skip
    contradict = f"the readings contradict one another (global test p {test.p:.2g})"
    several = f"{len(account.suspects)} readings stand out"
    return Robust(contradict if test.p < SOUND else several, rows)
