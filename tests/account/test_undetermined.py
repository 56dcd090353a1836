"""What is said of an undetermined loss, and figures with readings left out."""

from dataclasses import replace

import numpy as np
import pytest

from ratoon.account.losses.by_place import loss_parts
from ratoon.account.losses.evidence import loss_evidence
from ratoon.account.losses.swing import steadier, swing_part
from ratoon.account.losses.undetermined import FIGURE, judge
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount, account
from ratoon.account.readings.gather import gather
from ratoon.account.readings.moved import moved_part
from ratoon.account.trust.robust import robust_part
from ratoon.account.trust.suspects import suspect_words, suspects
from ratoon.base.clock import parse_date
from ratoon.base.records import Reading
from ratoon.base.units import to_inside
from ratoon.equations.left_out import left_out
from ratoon.plant.stations.stocks import PRODUCTS

CLOSING = "stock.A_massecuite.closing"
HEADLINES = ("account.cane", "account.pol_in_cane", "account.boiling_house_recovery",
             "account.imbibition_on_fibre", FIGURE)  # fmt: skip


def readings(mill: Mill, base: dict[str, float]) -> list[Reading]:
    """The plant as it is set, read without error, stocks at both ends."""
    out = []
    for address, setting in mill.settings.readings.items():
        if address.startswith("stock.") or address not in base:
            continue
        unit = mill.addresses[address].unit
        sd = abs(to_inside(setting.sigma or 0.0, unit) - to_inside(0.0, unit))
        if setting.relative:
            sd = setting.relative * abs(base[address])
        out.append(Reading(address, base[address], sd))
    for called in mill.settings.stocks:
        for end in ("opening", "closing"):
            address = f"stock.{called}.{end}"
            if address in base:
                out.append(Reading(address, base[address], 0.02 * base[address]))
    return out


def day(mill: Mill, base: dict[str, float], **wrong: float) -> PeriodAccount:
    """Such a day, with some readings wrong by so many sigmas."""
    gathered = gather(mill, mill.calendar.period(parse_date("2031-07-01")), [], [])
    gathered.readings[:] = [
        replace(r, value=r.value + wrong.get(r.address.replace(".", "_"), 0.0) * (r.sigma or 0.0))
        for r in readings(mill, base)
    ]
    return account(mill, gathered, base)


@pytest.fixture(scope="module")
def a_sigma(mill: Mill, base: dict[str, float]) -> float:
    """Score of the undetermined loss for each sigma that the closing stock is read low."""
    return judge(day(mill, base, stock_A_massecuite_closing=-1.0)).score or 0.0


def stock_wrong(mill: Mill, base: dict[str, float], a_sigma: float, score: float,
                **more: float) -> PeriodAccount:  # fmt: skip
    return day(mill, base, stock_A_massecuite_closing=-score / a_sigma, **more)


def test_a_sound_day_says_what_it_cannot_show(mill: Mill, base: dict[str, float]) -> None:
    sound = day(mill, base)
    judged = judge(sound)
    assert (judged.grade, judged.shown, judged.checks) == ("within", False, ())
    assert f"below {3.0 * (sound.figure(FIGURE).sigma or 0.0):.1f} %" in judged.words


@pytest.mark.parametrize(("score", "grade"), [(1.9, "within"), (2.5, "looks"), (3.3, "shown"),
                                              (-2.5, "gain"), (-3.3, "gain")])  # fmt: skip
def test_grades_follow_the_distance_from_zero(mill: Mill, base: dict[str, float], a_sigma: float,
                                              score: float, grade: str) -> None:  # fmt: skip
    judged = judge(stock_wrong(mill, base, a_sigma, score))
    assert judged.score == pytest.approx(score, abs=0.1)
    assert judged.grade == grade
    assert ("chance" in judged.words) == (1.96 < abs(score) < 3.0)


def test_an_error_of_the_size_said_makes_the_whole_loss(mill: Mill, base: dict[str, float],
                                                        a_sigma: float) -> None:  # fmt: skip
    checks = judge(stock_wrong(mill, base, a_sigma, 3.3)).checks
    stocks = [c for c in checks if c.unit == "m3" and c.reading.startswith("stock.")]
    assert stocks
    for check in stocks:
        sigmas = check.size / (0.02 * base[check.reading])
        alone = day(mill, base, **{check.reading.replace(".", "_"): sigmas})
        # an error as large as that may be set aside: then the account with every reading has it
        assert judge(alone.with_all or alone).score == pytest.approx(3.3, rel=0.1)


def test_a_loss_that_the_day_before_takes_back_is_a_stock(mill: Mill, base: dict[str, float],
                                                          a_sigma: float) -> None:  # fmt: skip
    today = stock_wrong(mill, base, a_sigma, 3.3)
    yesterday = stock_wrong(mill, base, a_sigma, -3.3)
    judged = judge(today, yesterday, day(mill, base))
    assert (judged.grade, judged.shown) == ("taken back", False)
    assert judged.checks and all(c.reading.endswith(".opening") for c in judged.checks)
    alone = judge(today, day(mill, base), day(mill, base))  # the day before says nothing of it
    assert (alone.grade, alone.shown) == ("looks", False)
    assert "with the day before" in alone.words and "suspect" not in alone.words
    lasting = judge(today, stock_wrong(mill, base, a_sigma, 2.0), today)
    assert lasting.grade == "shown"


def test_readings_that_contradict_one_another_show_no_loss(mill: Mill, base: dict[str, float],
                                                           a_sigma: float) -> None:  # fmt: skip
    wrong = stock_wrong(mill, base, a_sigma, 4.0, mixed_juice_flow=12.0)
    assert wrong.with_all is not None
    assert judge(wrong.with_all).grade == "contradicted"
    assert "mixed_juice.flow" in wrong.aside


def test_left_out_is_what_another_solve_finds(mill: Mill, base: dict[str, float]) -> None:
    wrong = day(mill, base, mixed_juice_flow=3.0)
    assert wrong.answer is not None
    fast = left_out(wrong.answer, ["mixed_juice.flow"], HEADLINES)
    rest = [r for r in wrong.gathered.readings if r.address != "mixed_juice.flow"]
    slow = mill.plant.reconcile(rest, wrong.gathered.constants, base)
    for i, name in enumerate(HEADLINES):
        moved = slow.value(name) - wrong.answer.value(name)
        assert fast.shift[i] == pytest.approx(moved, abs=0.1 * (slow.sigma(name) or 0.0))
        assert fast.sigma[i] == pytest.approx(slow.sigma(name), rel=0.05)


def test_a_figure_that_a_suspect_moves_is_marked(mill: Mill, base: dict[str, float]) -> None:
    """Mixed juice eight uncertainties high: cane, pol in cane and recovery move, sugar does not."""
    wrong = day(mill, base, mixed_juice_flow=8.0)
    moved = moved_part(wrong, mill.always)
    assert {"account.cane", "account.pol_in_cane", "account.boiling_house_recovery"} <= set(moved)
    assert not {"account.sugar", "account.molasses_purity", "account.hours"} & set(moved)
    assert all(abs(m.sigmas) > 1.0 for m in moved.values())
    assert moved_part(day(mill, base), mill.always) == {}


def test_robust_account_stands_beside_contradiction(mill: Mill, base: dict[str, float]) -> None:
    wrong = day(mill, base, mixed_juice_flow=12.0)
    assert wrong.with_all is not None and wrong.with_all.answer is not None
    assert wrong.with_all.answer.global_test.p < 0.01
    part = robust_part(wrong)
    assert part is not None and "contradict one another" in part.words


def test_every_member_of_a_set_has_size_and_check(mill: Mill, base: dict[str, float]) -> None:
    first = suspects(day(mill, base, mixed_juice_flow=8.0))[0]
    members = {m.reading: m for m in first.members}
    assert {"mixed_juice.flow", "cane.weight"} <= set(members)
    assert set(members) == {first.reading, *first.equivalent}
    assert members["mixed_juice.flow"].standardised > 3.0
    assert members["cane.weight"].standardised < -3.0
    assert all(m.check for m in members.values())
    assert "cannot tell which" in suspect_words([first])[0]


def test_a_day_that_rests_on_stock_says_so(mill: Mill, base: dict[str, float]) -> None:
    """Half of what stood in the tanks was worked up: losses are priced at a steadier recovery."""
    steady = day(mill, base)
    long = dict.fromkeys(("hours.crushing", "hours.evaporator", "hours.period"), 86400.0)
    drawn = {f"stock.{s}.closing": 0.5 * base[f"stock.{s}.closing"]
             for s in mill.settings.stocks if s not in PRODUCTS}  # fmt: skip
    swung = day(mill, mill.plant.solve(long | drawn).values)
    change = swung.figure("account.pol.stock_change_share").value
    assert change is not None and change < -5.0
    part = swing_part(swung, steadier(swung, steady))
    assert part is not None and f"fell by {-change:.1f}" in part.words
    assert "The season to date" in part.words  # the week rests on stock itself
    assert swing_part(steady, (steady, "week")) is None
    recovery = f"at {steady.figure('account.boiling_house_recovery').value:.1f} %"
    assert recovery in loss_parts(swung, (steady, "season"))["mud"].money_net
    assert "to date" not in loss_parts(swung)["mud"].money_net


def test_purities_tell_inversion_from_a_spill(mill: Mill, base: dict[str, float]) -> None:
    """Liquor half a unit low in purity looks inverted; juice lost as it is moves no purity."""
    purity = {e.kind: e for e in loss_evidence(day(mill, base))}["purity"]
    liquor = next(a for a in ("liquor.purity", "liquor.pol") if a in mill.settings.readings)
    fallen = day(mill, base, **{liquor.replace(".", "_"): -4.0})
    inverted = {e.kind: e for e in loss_evidence(fallen)}["purity"]
    assert inverted.pct > purity.pct + 0.5 * (purity.pct_sigma or 0.0)
    spilt = day(mill, base, sugar_weight=-4.0)
    lost = {e.kind: e for e in loss_evidence(spilt)}["purity"]
    assert abs(lost.pct - purity.pct) < 0.3 * (purity.pct_sigma or 0.0)
    assert "at most" in lost.words


def test_what_nothing_checks_stays_in(mill: Mill, base: dict[str, float]) -> None:
    answer = day(mill, base).answer
    assert answer is not None
    same = left_out(answer, [], HEADLINES)
    assert not np.any(same.shift)
    alone = [r.address for r in answer.readings if r.used and not r.redundant]
    assert not np.any(left_out(answer, alone, HEADLINES).shift)
