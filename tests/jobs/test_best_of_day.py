"""What the best settings leave alone: a setting whose own reading is suspect or set aside."""

from types import SimpleNamespace

import pytest

from ratoon.account.results.day import YardLine
from ratoon.jobs.best.of_day import rate_of
from ratoon.jobs.best.solve import _Question


@pytest.mark.parametrize(
    ("suspects", "aside", "barred"),
    [
        ([("liquor.brix", ("liquor.purity",))], {}, {"liquor.brix", "liquor.purity"}),
        ([], {"exhaust.pressure": None}, {"exhaust.pressure"}),
        ([], {}, set()),
    ],
)
def test_no_move_stands_on_a_suspect(suspects, aside, barred):
    answer = SimpleNamespace(suspects=[SimpleNamespace(address=a, equivalent=e)
                                       for a, e in suspects])  # fmt: skip
    today = SimpleNamespace(answer=answer, settled=SimpleNamespace(aside=aside))
    assert _Question(None, None, today, "held", {}, {}).suspects() == barred


@pytest.mark.parametrize(
    ("yard", "rate"),
    [
        (None, "held"),
        (YardLine("cane runs out at 03:00", True, 460.0), "held"),
        (YardLine("cane lasts the day", False, 0.0), "free"),
    ],
)
def test_moves_go_by_what_the_yard_has(yard, rate):
    assert rate_of(yard) == rate
