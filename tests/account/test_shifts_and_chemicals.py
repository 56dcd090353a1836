"""A day's total and its shifts are the same tonnes; chemicals by dose, target and price."""

from datetime import timedelta

import pytest

from ratoon.account.figures.chemicals import chemicals
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount, account
from ratoon.account.readings.gather import gather
from ratoon.account.readings.gathered import Gathered
from ratoon.account.readings.shifts import shift_parts, shifts_apart
from ratoon.base.clock import parse_date
from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Period, Reading, Stop
from ratoon.base.units import spread_to_inside, to_inside
from ratoon.demo.write import mill_text
from ratoon.settings.read import parse_settings

DAY = parse_date("2031-07-01")
CANE = (3400.0, 3500.0, 3450.0)  # t in each shift
WHOLE = sum(CANE)


def row(address: str, value: float, unit: str, period: Period, sigma: float | None = None):  # type: ignore[no-untyped-def]
    return Reading(address, to_inside(value, unit),
                   None if sigma is None else spread_to_inside(sigma, unit), start=period.start,
                   end=period.end, unit=unit, given=value)  # fmt: skip


def rows_of(mill: Mill, address: str, values: tuple[float, ...], unit: str) -> list[Reading]:
    shifts = mill.calendar.shift_periods(DAY)
    return [row(address, v, unit, p) for v, (_, p) in zip(values, shifts)]


def cane_of(gathered: Gathered) -> Reading:
    (found,) = [r for r in gathered.readings if r.address == "cane.weight"]
    return found


def test_shifts_beside_a_days_total_change_nothing(mill: Mill) -> None:
    period = mill.calendar.period(DAY)
    day = row("cane.weight", WHOLE, "t", period)
    shifts = rows_of(mill, "cane.weight", CANE, "t")
    alone = cane_of(gather(mill, period, [day], []))
    both = gather(mill, period, [*shifts, day], [])
    assert cane_of(both) == alone
    assert alone.value == pytest.approx(WHOLE * 1000.0 / 86400.0)
    said = [k.why for k in both.shown if k.row.address == "cane.weight"]
    assert len(said) == 3
    assert all(why.startswith("kept, not used") for why in said)


def test_shifts_alone_make_the_day_and_a_missing_one_widens_it(mill: Mill) -> None:
    period = mill.calendar.period(DAY)
    shifts = rows_of(mill, "cane.weight", CANE, "t")
    whole = cane_of(gather(mill, period, shifts, []))
    assert whole.value == pytest.approx(WHOLE * 1000.0 / 86400.0)
    two = gather(mill, period, shifts[:2], [])
    less = cane_of(two)
    assert less.value == pytest.approx(6900e3 / (16 * 3600.0))  # the same flow over less time
    assert less.sigma / less.value > whole.sigma / whole.value  # type: ignore[operator]
    assert any("covers 67 %" in note.words for note in two.notes)


def test_totals_that_only_add_count_once_too(mill: Mill) -> None:
    period = mill.calendar.period(DAY)
    sent = "final_molasses.despatched"
    twice = [row(sent, 30.0, "t", period), *rows_of(mill, sent, (10.0, 10.0, 10.0), "t")]
    hours = [row("hours.evaporator", 24.0, "h", period),
             *rows_of(mill, "hours.evaporator", (8.0, 8.0, 8.0), "h")]  # fmt: skip
    found = gather(mill, period, [*twice, *hours], [])
    assert found.constants[sent] == pytest.approx(30e3 / 86400.0)
    assert found.evaporator == pytest.approx(86400.0)
    parts = gather(mill, period, twice[1:], [])
    assert parts.constants[sent] == pytest.approx(30e3 / 86400.0)


def test_a_day_without_cane_counts_once_to_date(mill: Mill) -> None:
    """The sugar end works on: what its shifts weighed is what the day weighed."""
    period = mill.calendar.period(DAY)
    stop = Stop(period.start, period.end, "mills", "rain, no cane")
    sugar = [row("sugar.weight", 90.0, "t", period),
             *rows_of(mill, "sugar.weight", (50.0, 40.0, 0.0), "t")]  # fmt: skip
    found = gather(mill, period, sugar, [stop])
    assert found.amounts["sugar.weight"][0] == pytest.approx(90e3)
    parts = gather(mill, period, sugar[1:], [stop])
    assert parts.amounts["sugar.weight"][0] == pytest.approx(90e3)


def test_shifts_that_do_not_add_to_the_day_are_said(mill: Mill) -> None:
    period = mill.calendar.period(DAY)
    shifts = rows_of(mill, "cane.weight", CANE, "t")
    fits = PeriodAccount(mill, gather(mill, period, [row("cane.weight", WHOLE + 5, "t", period),
                                                     *shifts], []), None)  # fmt: skip
    assert shifts_apart(fits) == ()
    off = PeriodAccount(mill, gather(mill, period, [row("cane.weight", WHOLE - 400, "t", period),
                                                    *shifts], []), None)  # fmt: skip
    (words,) = shifts_apart(off)
    assert "the shifts add to 10350 t, the day's own total is 9950" in words
    parts = shift_parts(off)
    assert [p.readings[0].value for p in parts] == pytest.approx(list(CANE))


def test_an_hourly_log_inside_a_shift_is_not_added_to_the_shift(mill: Mill) -> None:
    period = mill.calendar.period(DAY)
    shifts = rows_of(mill, "cane.weight", CANE, "t")
    begin = period.start
    hour = Period(begin, begin + timedelta(hours=1))
    one = PeriodAccount(mill, gather(mill, period, [*shifts, row("cane.weight", 420.0, "t", hour)],
                                     []), None)  # fmt: skip
    assert shift_parts(one)[0].readings[0].value == pytest.approx(CANE[0])


@pytest.fixture(scope="module")
def dosed(mill: Mill) -> PeriodAccount:
    """A day at the mill file's own settings, with what came out of the chemical store."""
    period, base = mill.calendar.period(DAY), mill.plant.solve().values
    noted = [row("flocculant.used", 30.0, "kg", period, 1.2),
             *rows_of(mill, "flocculant.used", (10.0, 10.0, 10.0), "kg"),
             *rows_of(mill, "biocide.used", (30.0, 28.0, 31.0), "kg"),
             row("caustic_soda.used", 2.4, "t", period)]  # fmt: skip
    gathered = gather(mill, period, noted, [])
    for address, setting in mill.settings.readings.items():
        if address in base and not address.startswith("stock."):
            unit = mill.addresses[address].unit
            sigma = spread_to_inside(setting.sigma, unit) if setting.sigma else (
                (setting.relative or 0.0) * abs(base[address]))  # fmt: skip
            gathered.readings.append(Reading(address, base[address], sigma, unit=unit))
    return account(mill, gathered, base)


def test_chemicals_by_dose_target_and_price(mill: Mill, dosed: PeriodAccount) -> None:
    found = {c.address: c for c in chemicals(dosed)}
    assert list(found) == ["lime.used", "flocculant.used", "biocide.used", "caustic_soda.used"]
    lime = found["lime.used"]
    assert lime.dose == pytest.approx(0.55, rel=1e-3)  # as the clarifier is set
    assert (lime.balanced, lime.dose_unit) == (True, "kg/t cane")
    assert 0.0 < lime.dose_sigma < 0.05 * lime.dose
    flocculant = found["flocculant.used"]
    assert flocculant.kg == pytest.approx(30.0)  # the day's, not the day's and its shifts'
    juice = dosed.figure("mixed_juice.flow").value * 24.0
    assert flocculant.dose == pytest.approx(30.0 / juice * 1000.0, rel=1e-6)
    assert 2.0 < flocculant.dose < 4.0  # ppm, the usual: common practice, no source
    assert flocculant.money == pytest.approx(0.030 * 5200.0)
    assert found["biocide.used"].kg == pytest.approx(89.0)
    caustic = found["caustic_soda.used"]
    assert (caustic.kg, caustic.dose) == (pytest.approx(2400.0), None)


def test_without_a_price_there_is_no_money(mill: Mill, dosed: PeriodAccount) -> None:
    text = mill_text().replace("price = 5200.0\n", "")
    bare = PeriodAccount(Mill(parse_settings(text)), dosed.gathered, dosed.answer)
    found = {c.address: c.money for c in chemicals(bare)}
    assert found["flocculant.used"] is None
    assert found["lime.used"] is not None


def test_chemicals_of_the_mill_file_are_checked() -> None:
    with pytest.raises(UnknownName, match=r"floculant\.used.*flocculant\.used"):
        _ = Mill(parse_settings(mill_text().replace('chemicals."floc', 'chemicals."flo'))).plant
    wrong = mill_text().replace('on = "juice"', 'on = "water"', 1)
    with pytest.raises(BadInput, match=r"water.*cane, juice, steam, none"):
        _ = Mill(parse_settings(wrong)).plant
