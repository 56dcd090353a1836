"""Readings that cannot be or stand far off are set aside, named, and move no headline figure."""

from dataclasses import replace

import pytest

from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount, account
from ratoon.account.readings.gather import gather
from ratoon.account.readings.gathered import WhyNot
from ratoon.account.result import with_all
from ratoon.account.trust import suspects as doubts
from ratoon.account.trust.drift import with_drifts
from ratoon.account.trust.slips import slip_of
from ratoon.base.clock import parse_date
from ratoon.base.records import Decision, Reading
from ratoon.base.units import to_inside

Works = dict[str, float]


def as_read(mill: Mill, base: Works) -> dict[str, Reading]:
    """The plant as it is set, read without error, stocks at both ends."""
    out = {}
    for address, setting in mill.settings.readings.items():
        if not address.startswith("stock.") and address in base:
            unit = mill.addresses[address].unit
            sigma = abs(to_inside(setting.sigma or 0.0, unit) - to_inside(0.0, unit))
            sigma = setting.relative * abs(base[address]) if setting.relative else sigma
            out[address] = Reading(address, base[address], sigma, unit=unit)
    for called in mill.settings.stocks:
        for end in ("opening", "closing"):
            address = f"stock.{called}.{end}"
            if address in base:
                out[address] = Reading(address, base[address], 0.02 * base[address])
    return out


def day(mill: Mill, base: Works, wrong: Works, *said: Decision) -> PeriodAccount:
    """Such a day with some readings given as they were written down."""
    gathered = gather(mill, mill.calendar.period(parse_date("2031-07-01")), [], [])
    read = as_read(mill, base)
    gathered.readings[:] = [replace(r, value=wrong.get(a, r.value)) for a, r in read.items()]
    gathered.decisions = {d.address: d for d in said}
    return account(mill, gathered, base)


@pytest.fixture(scope="module")
def sound(mill: Mill, base: Works) -> PeriodAccount:
    return day(mill, base, {})


def same_headline(one: PeriodAccount, other: PeriodAccount) -> bool:
    """Whether each headline figure lies within two of the other's standard uncertainties."""
    for address in one.mill.always:
        a, b = one.figure(address), other.figure(address)
        if b.sigma and b.value is not None:
            assert a.value is not None, address
            if abs(a.value - b.value) > 2.0 * b.sigma:
                return False
    return True


def test_a_sound_day_sets_nothing_aside(sound: PeriodAccount) -> None:
    assert (dict(sound.aside), sound.with_all, doubts.set_aside(sound)) == ({}, None, ())


@pytest.mark.parametrize(
    ("wrong", "slip"),
    [
        ({"mixed_juice.flow": 10.0}, "decimal point"),
        ({"final_molasses.purity": 0.1}, "decimal point"),
        ({"mill.5.juice.brix": -1.0}, "sign"),
    ],
)
def test_a_slip_is_named_and_moves_no_headline(
    mill: Mill, base: Works, sound: PeriodAccount, wrong: Works, slip: str
) -> None:
    spoilt = day(mill, base, {a: base[a] * times for a, times in wrong.items()})
    (address,) = wrong
    assert set(spoilt.aside) == {address}
    assert slip_of(spoilt, address) == slip
    assert same_headline(spoilt, sound)
    (aside,) = doubts.set_aside(spoilt)
    assert (aside.reading, aside.by) == (address, "account")
    assert "likely a slip" in aside.why
    row = next(r for r in doubts.reading_parts(spoilt) if r.address == address)
    assert (row.used, row.why_not_kind) == (False, WhyNot.SET_ASIDE)


@pytest.mark.parametrize(
    "pair",
    [
        ("effect.4.vapour.pressure", "effect.5.vapour.pressure"),  # bends the whole account
        ("power.back_pressure", "power.condensing"),  # the others know their sum alone
    ],
)
def test_two_swapped_readings_still_have_an_answer(
    mill: Mill, base: Works, sound: PeriodAccount, pair: tuple[str, str]
) -> None:
    spoilt = day(mill, base, {pair[0]: base[pair[1]], pair[1]: base[pair[0]]})
    assert set(pair) <= set(spoilt.aside)
    assert all("swapped with" in (slip_of(spoilt, a) or "") for a in pair)
    assert same_headline(spoilt, sound)


def test_a_person_has_the_last_word(mill: Mill, base: Works, sound: PeriodAccount) -> None:
    wrong = {"mixed_juice.flow": base["mixed_juice.flow"] * 1.12}
    by_itself = day(mill, base, wrong)
    assert "mixed_juice.flow" in by_itself.aside and by_itself.with_all is not None
    whole = with_all(by_itself)
    assert whole is not None
    cane = by_itself.figure("account.cane").value
    assert cane is not None and whole["account.cane"].value != pytest.approx(cane, rel=1e-3)
    period = by_itself.gathered.period

    def said(reading: str, aside: bool, why: str, who: str) -> Decision:
        return Decision(period.start, period.end, reading, aside, why, who)

    keep = said("mixed_juice.flow", False, "the meter was proved today", "foreman")
    kept = day(mill, base, wrong, keep)
    assert "mixed_juice.flow" not in kept.aside
    out = said("bagasse.pol", True, "the bottle broke", "chemist")
    without = day(mill, base, {}, out)
    assert [(s.reading, s.why, s.by) for s in doubts.set_aside(without)] == [
        ("bagasse.pol", "the bottle broke", "chemist")
    ]
    narrow, wide = (a.figure("account.extraction").sigma for a in (sound, without))
    assert narrow and wide and wide > narrow


def test_contradiction_that_stays_widens_every_interval(
    mill: Mill, base: Works, sound: PeriodAccount
) -> None:
    """By the root of the global statistic over its degrees of freedom, where it fails at 1 %."""
    far = {"mixed_juice.flow": base["mixed_juice.flow"] * 1.12}
    kept = day(
        mill,
        base,
        far,
        *(
            Decision(sound.gathered.period.start, sound.gathered.period.end, a, False, "kept", "x")
            for a in base
        ),
    )
    answer = kept.answer
    assert answer is not None and not kept.aside
    test = answer.global_test
    assert test.p < 0.01
    wider = (test.statistic / test.dof) ** 0.5
    before, after = (a.figure("account.sugar").sigma for a in (sound, kept))
    assert before and after == pytest.approx(wider * before, rel=0.1)


def test_a_drift_that_a_week_saw_counts_as_lasting_error(mill: Mill, sound: PeriodAccount) -> None:
    drifts = {"mixed_juice.flow": (2.0, "%"), "liquor.brix": (-1.5, "%"), "cake.none": (1.0, "%")}
    wider = with_drifts(mill, sound.gathered, drifts, "the week ending 2031-06-30")
    before = {r.address: r for r in sound.gathered.readings}
    after = {r.address: r for r in wider.readings}
    flow = before["mixed_juice.flow"]
    assert after["mixed_juice.flow"].common == pytest.approx(0.02 * flow.value)
    assert after["liquor.brix"].common == pytest.approx(0.015)
    assert sum("drift" in n.words for n in wider.notes) == 2
    assert {a for a in after if after[a] != before[a]} == {"mixed_juice.flow", "liquor.brix"}
    assert with_drifts(mill, sound.gathered, {}, "") is sound.gathered
