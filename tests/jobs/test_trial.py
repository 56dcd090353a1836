"""A trial from the works as they are set: soil leaves true fibre, cane is paid, refusals help."""

import pytest

from ratoon.account.mill import Mill
from ratoon.base.errors import NotSolved
from ratoon.demo.write import mill_text
from ratoon.jobs.cases import solve_case
from ratoon.jobs.trial import cautions_of, left_out
from ratoon.settings.read import parse_settings


@pytest.fixture(scope="module")
def mill() -> Mill:
    return Mill(parse_settings(mill_text()))


@pytest.fixture(scope="module")
def case(mill: Mill):
    state = mill.plant.solve().values
    assumed = {v.name: v.start for v in mill.plant.equations.variables.values()
               if v.kind == "assumed"}  # fmt: skip
    return lambda **changes: solve_case(
        mill, {**mill.plant.set_values, **assumed}, state,
        {a.replace("__", "."): v for a, v in changes.items()},
    )  # fmt: skip


def test_more_soil_leaves_true_fibre_as_it_was(case) -> None:
    soil = case(cane__insolubles=2.0)
    for when in ("before", "after"):
        true = soil[when]["cane.fibre_laboratory"] - soil[when]["cane.insolubles"]
        assert true == pytest.approx(14.35, abs=1e-6)


def test_money_is_net_of_cane_and_variable_cost(case, mill: Mill) -> None:
    more = case(cane__rate=480.0)
    hours = 1.0
    paid = mill.settings.prices.cane + mill.settings.prices.variable
    gross = more["money_before"] + paid * 470.0 * hours
    assert more["money_before"] == pytest.approx(gross - 56.0 * 470.0)
    gain = more["money"] - more["money_before"]
    assert 0.0 < gain < 10.0 * (gross / 470.0) - 10.0 * paid + 1.0


def test_a_refusal_names_the_nearest_setting_that_holds(case) -> None:
    with pytest.raises(NotSolved, match=r"the nearest that holds: cane\.pol 16\.\d+ %") as refused:
        case(cane__pol=16.9, cane__brix=17.0)
    told = str(refused.value).split("nearest that holds: ")[1]
    pol, brix = (float(part.split()[1]) for part in told.split(". ")[0].split(", "))
    assert 15.3 < pol < 16.9 and 17.0 < brix < 17.65
    case(cane__pol=pol, cane__brix=brix)  # it does hold


def test_a_trial_says_what_it_leaves_out_and_what_can_hurt(mill: Mill) -> None:
    assert "\u221240 t of pol" in left_out(-40.2, True)[0]
    assert any("gross of both" in line for line in left_out(None, False))
    told = " ".join(cautions_of(mill.plant, ["effect.1.htc", "pan.A.at_work"]))
    assert "confined spaces" in told and "Local codes" in told
