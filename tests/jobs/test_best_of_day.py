"""What the best settings leave alone: a setting whose own reading is suspect or set aside."""

from types import SimpleNamespace

import pytest

from ratoon.jobs.best import _Question


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
