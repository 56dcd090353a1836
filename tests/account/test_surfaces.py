"""Vessels of an effect: told apart only by what is read of one, and the uncertainty that stays."""

from datetime import date, timedelta

import pytest

from ratoon.account.figures.since_clean import SHARED, DayFigure, since_clean
from ratoon.account.figures.surfaces import (
    PARTLY,
    TOLD,
    Season,
    VesselDay,
    assumed_variance,
    cleans_of,
    day_figures,
    left_assumed,
)
from ratoon.account.mill import Mill
from ratoon.base.errors import BadInput
from ratoon.base.records import Reading
from ratoon.base.units import from_inside, spread_to_inside
from ratoon.demo.write import mill_text
from ratoon.reports.numbers import COVERAGE
from ratoon.settings.read import parse_settings

DAY = date(2031, 6, 24)
ALIKE = assumed_variance((2600.0, 2600.0), (0.10,), 2)


@pytest.fixture(scope="module")
def kestrel() -> Mill:
    return Mill(parse_settings(mill_text()))


def accounted(mill: Mill, *more: tuple[str, float]) -> VesselDay:
    """Vessel 2 of effect 1 on a day read without error; `more` are read with a relative sigma."""
    true = mill.plant.solve()
    readings = []
    for address, s in mill.settings.readings.items():
        if address.startswith("stock."):
            continue
        unit = mill.addresses[address].unit
        doubt = s.sigma if s.sigma is not None else (s.relative or 0.0) * abs(
            from_inside(true[address], unit)
        )  # fmt: skip
        readings.append(Reading(address, true[address], spread_to_inside(doubt, unit)))
    readings += [Reading(a, true[a], part * true[a]) for a, part in more]
    found = mill.plant.reconcile(readings)
    one, whole = "effect.1.vessel.2.htc", "effect.1.htc"
    return VesselDay(DAY, found.value(one), found.sigma(one), found.value(whole),
                     found.sigma(whole))  # fmt: skip


def test_first_order_doubt_of_two_equal_vessels() -> None:
    """A ratio known to 10 % divides as 5 % to each of two equal vessels."""
    assert pytest.approx(0.05) == ALIKE**0.5
    assert assumed_variance((2600.0, 2600.0), (0.10,), 1) ** 0.5 == pytest.approx(0.05)
    assert assumed_variance((5200.0,), (), 1) == 0.0


def test_without_readings_of_one_the_whole_assumption_is_left(kestrel: Mill) -> None:
    day = accounted(kestrel)
    assert left_assumed([day], ALIKE) == pytest.approx(1.0, abs=0.01)
    (figure,) = day_figures([day], 1.0)
    assert figure.shared > SHARED


def test_brix_of_one_tells_in_part_and_its_condensate_outright(kestrel: Mill) -> None:
    brix = left_assumed([accounted(kestrel, ("effect.1.vessel.2.brix", 0.01))], ALIKE)
    condensate = ("effect.1.vessel.2.condensate.flow", 0.02)
    assert TOLD < brix < PARTLY
    assert left_assumed([accounted(kestrel, condensate)], ALIKE) < TOLD


def test_vessels_share_the_condensate_by_heat(kestrel: Mill) -> None:
    true = kestrel.plant.solve()
    parts = [true[f"effect.1.vessel.{j}.condensate.flow"] for j in (1, 2)]
    assert sum(parts) == pytest.approx(true["effect.1.condensate.flow"], rel=1e-9)


def test_the_assumption_does_not_average_out() -> None:
    """Thirty days narrow what is each day's own, never the part that rests on the assumption."""
    days = [VesselDay(DAY + timedelta(k), 2.5, 2.5 * 0.08, 2.5, 2.5 * 0.0625) for k in range(30)]
    crushed = {d.day: 0.9 for d in days}
    rests = since_clean(day_figures(days, 1.0), [DAY], crushed)
    plain = since_clean([DayFigure(d.day, d.value, d.sigma) for d in days], [DAY], crushed)
    assert rests is not None and plain is not None
    wide, narrow = (s.at(s.crushed)[1] for s in (rests, plain))
    assert 2.5 * 0.05 < wide < 2.5 * 0.08
    assert narrow < wide and COVERAGE * wide < 0.5


def test_a_clean_of_the_effect_cleans_all_and_one_vessel_only_itself() -> None:
    whole, alone = [DAY], [[DAY + timedelta(9)], []]
    assert cleans_of(whole, alone, 1, True) == [DAY, DAY + timedelta(9)]
    assert cleans_of(whole, alone, 2, True) == [DAY]
    # Not told apart, both show the effect's figure, and that jumps with either's clean.
    assert cleans_of(whole, alone, 2, False) == [DAY, DAY + timedelta(9)]
    assert cleans_of(whole, alone, 0, False) == [DAY, DAY + timedelta(9)]


def test_cleans_by_vessel_need_a_list_for_each() -> None:
    one = mill_text().replace("cleaned = [2031-06-24, 2031-07-22]\n",
                              "vessels_cleaned = [[2031-06-24]]\n", 1)  # fmt: skip
    with pytest.raises(BadInput, match=r"a list of days for each vessel.*2 lists"):
        _ = Mill(parse_settings(one)).plant


def test_thick_juice_is_brought_to_the_usual_brix(kestrel: Mill) -> None:
    """A coefficient that only falls with brix has no scale, and its size is that at usual brix."""
    figures, crushed = {}, {}
    for k in range(12):
        brix = 60.0 + k
        day = DAY + timedelta(k)
        figures[day] = {"effect.5.htc": (0.6 * (100.0 - brix) / 34.0, 0.02),
                        "effect.5.brix": (brix, 0.2)}  # fmt: skip
        crushed[day] = 0.9
    since = Season(kestrel, figures, crushed).effect(5)
    assert since is not None
    assert since.laws[0].slope == pytest.approx(0.0, abs=1e-9)
    assert since.at(5.0)[0] == pytest.approx(0.6 * 34.5 / 34.0, rel=1e-6)
