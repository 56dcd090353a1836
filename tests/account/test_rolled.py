"""What passes from day to day: stores from survey to survey, what closing stocks consist of."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount, account
from ratoon.account.readings.gather import gather
from ratoon.account.readings.levels import carried
from ratoon.account.readings.to_date import join
from ratoon.base.records import Period, Reading
from ratoon.jobs.sheet.to_date import Aside, Season

FIRST = date(2031, 7, 1)


def period(mill: Mill, day: int) -> Period:
    return mill.calendar.period(FIRST + timedelta(days=day))


def total(mill: Mill, day: int, address: str, tonnes: float) -> Reading:
    p = period(mill, day)
    return Reading(address, 1e3 * tonnes, None, start=p.start, end=p.end, unit="t")


def seen(at: datetime, address: str, value: float, sigma: float, unit: str) -> Reading:
    return Reading(address, value, sigma, start=at, unit=unit)


def held(season: Season, day: int, store: str = "bagasse") -> Reading | None:
    gathered = season.day(FIRST + timedelta(days=day))
    return next((r for r in gathered.readings if r.address == f"store.{store}.held"), None)


@pytest.fixture
def rows(mill: Mill) -> list[Reading]:
    survey = seen(period(mill, 0).start + timedelta(hours=4), "store.bagasse.held", 20e6, 1e6, "t")
    flows = [total(mill, d, "bagasse.store.weight", 600.0) for d in range(6) if d != 3]
    cane = [total(mill, d, "cane.weight", 10_000.0) for d in range(6)]
    return [survey, *flows, *cane]


def test_flows_are_added_and_the_uncertainty_grows(mill: Mill, rows: list[Reading]) -> None:
    season = Season(mill, rows, [])
    first = held(season, 0)
    assert first is not None and first.kind == "measured"
    assert first.value == pytest.approx(20e6 + 0.6e6, rel=0.01)
    later = [held(season, d) for d in (1, 2, 3, 4)]
    assert all(r is not None and r.kind == "assumed" for r in later)
    values, sigmas = [r.value for r in later if r], [r.sigma or 0.0 for r in later if r]
    # the survey was taken four hours into its day, whose total falls after it by more than half
    assert values[0] == pytest.approx(20e6 + 2 * 0.6e6, rel=0.01)
    assert values[1] - values[0] == pytest.approx(0.6e6, rel=0.01)
    assert values[2] - values[1] == pytest.approx(0.6e6, rel=0.2)  # a day nobody read
    assert sigmas == sorted(sigmas) and sigmas[0] > 1e6
    assert (
        sigmas[2] ** 2 - sigmas[1] ** 2 > (0.5e6) ** 2
    )  # which costs as much as it may have moved


def test_a_later_survey_counts_and_a_store_never_seen_is_left_alone(
    mill: Mill, rows: list[Reading]
) -> None:
    again = seen(period(mill, 2).start + timedelta(hours=1), "store.bagasse.held", 18e6, 5e5, "t")
    later = held(Season(mill, [*rows, again], []), 4)
    assert later is not None and later.value == pytest.approx(18e6 + 3 * 0.6e6, rel=0.05)
    assert held(Season(mill, rows[1:], []), 4) is None


def test_the_dip_tells_the_molasses(mill: Mill, rows: list[Reading]) -> None:
    dips = [seen(period(mill, d).start, "stock.final_molasses", 4000.0 + 100.0 * d, 12.0, "m3")
            for d in range(5)]  # fmt: skip
    told = held(Season(mill, [*rows, *dips], []), 3, "molasses")
    assert told is not None and told.value == pytest.approx(4400.0 * 1425.0)
    assert told.sigma == pytest.approx(12.0 * 1425.0, rel=0.01)


@pytest.mark.parametrize(
    ("store", "comes", "goes", "made"),
    [("mud", "cake.weight", "cake.despatched", 400.0),
     ("sugar", "sugar.weight", "sugar.despatched", 1_200.0)],
)  # fmt: skip
def test_mud_and_sugar_roll_by_what_is_made_and_sent_away(
    mill: Mill, store: str, comes: str, goes: str, made: float
) -> None:
    survey = seen(period(mill, 0).start, f"store.{store}.held", 30e3, 1e3, "t")
    rows = [survey, *(total(mill, d, "cane.weight", 10_000.0) for d in range(4)),
            *(total(mill, d, comes, made) for d in range(4))]  # fmt: skip
    sent = [total(mill, d, goes, made - 5.0) for d in range(4)]
    told = [held(Season(mill, [*rows, *sent], []), d, store) for d in range(4)]
    assert [r.value for r in told if r] == pytest.approx([35e3, 40e3, 45e3, 50e3])
    sigmas = [r.sigma or 0.0 for r in told if r]
    assert sigmas == sorted(sigmas) and sigmas[0] > 1e3
    room = mill.settings.stores.mud if store == "mud" and mill.settings.stores else 0.0
    if room:  # what left was written nowhere: four days' cake is more than the bin takes
        assert held(Season(mill, rows, []), 3, store) is None


def test_a_week_has_what_its_last_day_holds(mill: Mill, rows: list[Reading]) -> None:
    season = Season(mill, rows, [])
    days = [season.day(FIRST + timedelta(days=d)) for d in range(5)]
    (week,) = [r for r in join(mill, days).readings if r.address == "store.bagasse.held"]
    last = held(season, 4)
    assert last is not None and (week.value, week.sigma) == (last.value, last.sigma)


OPENED = "stock.C_massecuite.opening_{}"


def analysed(mill: Mill, day: int) -> list[Reading]:
    p = period(mill, day)
    rows = {"pan.C.massecuite.brix": 0.96, "pan.C.massecuite.purity": 0.62,
            "clear_juice.brix": 0.15, "clear_juice.pol": 0.129}  # fmt: skip
    return [
        total(mill, day, "cane.weight", 10_000.0),
        *(Reading(a, v, None, start=p.start, end=p.end, unit="%") for a, v in rows.items()),
    ]


def opened(season: Season, day: int) -> dict[str, Reading]:
    gathered = season.day(FIRST + timedelta(days=day))
    return {r.address: r for r in gathered.readings if ".opening_" in r.address}


def test_a_day_opens_with_what_the_day_before_closed_with(mill: Mill) -> None:
    rows = [*analysed(mill, 0), *analysed(mill, 1)]
    season = Season(mill, [*rows, total(mill, 2, "cane.weight", 10_000.0)], [])
    assert opened(season, 0) == {}  # nothing is known of the day before
    found = opened(season, 1)
    assert {a: pytest.approx(r.value) for a, r in found.items()} == {
        OPENED.format("brix"): 0.96, OPENED.format("purity"): 0.62,
        "stock.juice.opening_brix": 0.15, "stock.juice.opening_purity": 0.129 / 0.15,
    }  # fmt: skip
    brix = found[OPENED.format("brix")]
    laboratory = mill.settings.readings["pan.C.massecuite.brix"].sigma
    assert brix.sigma == pytest.approx(((0.01 * (laboratory or 0.0)) ** 2 + 0.005**2) ** 0.5)
    assert brix.kind == "assumed" and brix.source.startswith("analyses of 2031-07-01")
    # of a day's material that was not analysed, the day before would be all that tells
    assert opened(season, 2) == {}


def test_neither_a_reading_set_aside_nor_one_of_the_stock_itself_is_carried_over(
    mill: Mill,
) -> None:
    own = Reading(OPENED.format("brix"), 0.955, 0.004, start=period(mill, 1).start, unit="%")
    rows = [*analysed(mill, 0), *analysed(mill, 1), own]
    season = Season(mill, rows, [], accounted={
        period(mill, 0).start: Aside("", {"pan.C.massecuite.purity": None})})  # fmt: skip
    found = opened(season, 1)
    assert OPENED.format("purity") not in found
    assert found[OPENED.format("brix")].kind == "measured"


def accounted(mill: Mill, base: dict[str, float], **opening: float) -> PeriodAccount:
    """The plant as it is set, read without error, opened with other massecuite."""
    gathered = gather(mill, period(mill, 0), [], [])
    gathered.readings[:] = [
        Reading(a, base[a], 0.004 * abs(base[a]) + 1e-6, unit=mill.addresses[a].unit)
        for a in (*mill.settings.readings, *(f"stock.{c}.{end}" for c in mill.settings.stocks
                                             for end in ("opening", "closing"))) if a in base
    ]  # fmt: skip
    before = replace(gathered, readings=[
        replace(r, value=r.value + opening.get(r.address.rpartition(".")[2], 0.0))
        for r in gathered.readings if r.address.startswith("pan.C.massecuite.")])  # fmt: skip
    if opening:
        carried(mill, gathered, before)
    return account(mill, gathered, base)


def test_what_it_opened_with_moves_the_change_of_stock_and_hardly_the_days_analyses(
    mill: Mill, base: dict[str, float]
) -> None:
    plain, other = accounted(mill, base), accounted(mill, base, brix=-0.005, purity=-0.005)
    for analysis in ("brix", "purity"):  # half a unit lower, of which the balances take some back
        was, now = (a.figure(OPENED.format(analysis)).value or 0.0 for a in (plain, other))
        assert -0.5 < now - was < -0.1
    pol = "stock.C_massecuite.opening_pol_content"
    assert (other.figure(pol).value or 0.0) < (plain.figure(pol).value or 0.0) - 0.2
    for address in ("pan.C.massecuite.purity", "pan.C.massecuite.brix"):
        a, b = plain.figure(address), other.figure(address)
        assert a.sigma and b.value == pytest.approx(a.value, abs=0.25 * a.sigma)
        assert b.sigma == pytest.approx(a.sigma, rel=0.05)
