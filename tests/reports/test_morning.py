"""The sheet says what the account says, no more: verdicts, doubts, actions, ordinary odd days."""

import json

import pytest
from invented import morning_sheet

from ratoon.account.results import LOSSES
from ratoon.reports.figures import verdict


def row(sheet, address):
    return next(r for r in sheet.rows() if r.address == address)


def test_every_figure_of_the_account_stands_on_the_sheet(any_day):
    sheet = morning_sheet(any_day)
    shown = {r.address: r for r in sheet.rows()}
    assert set(shown) == set(any_day["figures"])
    for address, part in any_day["figures"].items():
        assert shown[address].day.value == part["value"]
        assert shown[address].day.sigma == part["sigma"]


def test_a_figure_nobody_laid_out_is_not_lost(invented):
    day = invented["ordinary"]()
    day["figures"]["account.lime_on_cane"] = {
        "value": 0.55,
        "unit": "kg/t",
        "sigma": 0.01,
        "kind": "found",
        "name": "Lime on cane",
    }
    sheet = morning_sheet(day)
    assert sheet.groups[-1].title == "More"
    assert row(sheet, "account.lime_on_cane").day.text == "0.550"


def test_losses_keep_value_sigma_and_money(any_day):
    sheet = morning_sheet(any_day)
    for key in LOSSES:
        part = any_day["losses"][key]
        shown = sheet.loss(key).day
        assert (shown.t.value, shown.pct.value, shown.money.value) == (
            part["t"],
            part["pct"],
            part["money"],
        )


@pytest.mark.parametrize(
    ("value", "half", "target", "said"),
    [
        (96.06, 0.29, 96.2, "not told apart"),
        (66.0, 0.5, 68.0, "below"),
        (43.0, 0.7, 41.3, "above"),
        (2.3, None, 1.68, "above"),
        (5.0, None, 5.0, "on target"),
        (None, None, 5.0, ""),
        (5.0, 0.1, None, ""),
    ],
)
def test_a_target_is_missed_only_when_the_interval_leaves_it_out(value, half, target, said):
    assert verdict(value, half, target) == said


def test_bad_is_only_what_is_surely_on_the_worse_side(invented):
    sheet = morning_sheet(invented["ordinary"]())
    assert row(sheet, "account.liquor_brix").bad
    assert row(sheet, "account.molasses_purity").bad
    assert not row(sheet, "account.extraction").bad
    day = invented["ordinary"]()
    day["figures"]["account.liquor_brix"]["value"] = 71.0
    better = row(morning_sheet(day), "account.liquor_brix")
    assert (better.verdict, better.bad) == ("above", False)


def test_a_figure_is_doubted_through_its_reading_or_a_weighty_share(invented):
    sheet = morning_sheet(invented["ordinary"]())
    assert row(sheet, "account.mixed_juice_purity").doubted  # its own reading is suspect
    assert row(sheet, "account.overall_recovery").doubted  # 44 % of its variance
    assert not row(sheet, "account.extraction").doubted


def test_suspects_carry_equivalents_and_checks(invented):
    sheet = morning_sheet(invented["ordinary"]())
    second = sheet.doubts[1]
    assert second.name == "Sugar weight"
    assert second.equivalent == ("stock.a_massecuite", "Undetermined loss")
    checks = [a.text for a in sheet.actions if a.kind == "check"]
    assert checks[1].startswith("Sugar weight: weigh a known mass")


def test_missed_targets_come_dearest_first_and_nothing_is_invented(invented):
    day = invented["ordinary"]()
    day["suspects"] = []
    sheet = morning_sheet(day)
    priced = [a.money.value for a in sheet.actions if a.money]
    assert priced == sorted(priced, reverse=True) == [12200.0, 4700.0]
    unpriced = [a for a in sheet.actions if a.kind == "target" and a.money is None]
    assert len(unpriced) == 1
    assert "; liquor brix 66.0\u202f%, target 68.0\u202f%; " in unpriced[0].text


def test_no_price_stands_on_a_suspect_and_none_is_a_gain_by_missing(invented):
    """A slip of typing must not become an action; nor is a target missed to the good."""
    day = invented["ordinary"]()
    before = {a.text: a for a in morning_sheet(day).actions if a.kind == "target"}
    assert not any(a.money for t, a in before.items() if "ecovery" in t)  # rests on sugar weight
    molasses = next(text for text in before if text.lower().startswith("molasses purity"))
    assert before[molasses].money is not None
    day["moved"] = {
        "account.molasses_purity": {
            "reading": "sugar.weight",
            "name": "Sugar weight",
            "sigmas": 2.0,
        }
    }
    told = [a for a in morning_sheet(day).actions if a.kind == "target"]
    waiting = [a for a in told if a.why.startswith("off target, but a suspect")]
    assert len(waiting) == 1 and waiting[0].money is None and molasses in waiting[0].text
    assert not any(a.money for a in told if "olasses purity" in a.text)
    day = invented["ordinary"]()
    day["target_worth"]["account.molasses_purity"]["money"] = -310.0
    assert not any(a.money for a in morning_sheet(day).actions if "olasses purity" in a.text)


def test_a_target_missed_for_good_reason_has_no_price_and_says_so(invented):
    result = invented["ordinary"]()
    words = "no worse than the expected purity of 41.9"
    result["target_worth"]["account.molasses_purity"] = {
        "money": None, "money_sigma": None, "words": words}  # fmt: skip
    told = [a for a in morning_sheet(result).actions if a.kind == "target" and a.why == words]
    assert len(told) == 1 and told[0].money is None and "olasses" in told[0].text


def test_the_week_stands_beside_the_day(invented):
    sheet = morning_sheet(invented["ordinary"]())
    assert "The week to date: 1.1\u00a0±\u00a01.1" in sheet.week_words
    assert "within what the instruments allow" in sheet.week_words


def test_a_partial_day_names_what_is_not_determined(invented):
    sheet = morning_sheet(invented["partial"]())
    assert "everything under Sugar and recovery" in sheet.missing
    assert "Expected purity, true" in sheet.missing
    assert row(sheet, "account.sugar").day.value is None
    assert row(sheet, "account.sugar").verdict == ""
    assert sheet.coverage[0].startswith("Clear juice flow covers 64 %")
    assert any(a.text.startswith("Not used:") for a in sheet.actions)


def test_a_day_without_crushing_is_not_an_error(invented):
    sheet = morning_sheet(invented["no_crush"]())
    assert [r.address for r in sheet.key] == ["account.hours", "account.lost_time"]
    assert not sheet.ribbon.crushing
    assert sheet.ribbon.cuts[0].hours == 24.0
    assert not [a for a in sheet.actions if a.kind == "target"]


def test_a_stop_without_a_cause_is_asked_for(invented):
    sheet = morning_sheet(invented["many_suspects"]())
    asked = [a.text for a in sheet.actions if a.text.startswith("Write down the cause")]
    assert len(asked) == 1
    assert "10:10" in asked[0]


def test_a_real_loss_asks_for_a_search(invented):
    day = invented["ordinary"]() | {"undetermined_is_real": True}
    assert any(a.kind == "loss" for a in morning_sheet(day).actions)
    assert not any(a.kind == "loss" for a in morning_sheet(invented["ordinary"]()).actions)


def test_without_anything_to_date_the_day_stands_alone(invented):
    day = invented["ordinary"]()
    day["to_date"] = {}
    sheet = morning_sheet(day)
    assert (sheet.week_of, sheet.week_words) == ("", "")
    assert row(sheet, "account.cane").week.value is None


def test_the_sheet_is_json_with_sigma(any_day):
    text = json.dumps(morning_sheet(any_day).json(), allow_nan=False)
    read = json.loads(text)
    figures = {r["address"]: r for g in read["groups"] for r in g["rows"]}
    for address, part in any_day["figures"].items():
        assert figures[address]["day"]["sigma"] == part["sigma"]


def test_a_set_of_suspects_stands_whole_with_every_check(invented):
    """Two readings that explain the day equally well: neither is picked."""
    day = invented["ordinary"]()
    members = [
        {"reading": "cane.weight", "name": "Cane crushed", "standardised": -5.5, "size": -510.0,
         "unit": "t", "check": "Check the weighbridge.", "kind": "measured", "has_own_check": True},
        {"reading": "mixed_juice.flow", "name": "Flow of mixed juice", "standardised": 5.4,
         "size": 24.6, "unit": "t/h", "check": "Check the meter's zero.", "kind": "measured",
         "has_own_check": True},
    ]  # fmt: skip
    day["suspects"] = [{**members[0], "equivalent": ["mixed_juice.flow"], "members": members}]
    day["words"]["suspects"] = ["the readings cannot tell which."]
    sheet = morning_sheet(day)
    assert sheet.doubts[0].name == "Cane crushed or flow of mixed juice"
    assert sheet.doubts[0].equivalent == ()
    check = next(a for a in sheet.actions if a.kind == "check")
    assert "weighbridge" in check.text and "meter's zero" in check.why
    assert "weighbridge" in sheet.doubts[0].check and "meter's zero" in sheet.doubts[0].check


def test_a_figure_that_a_suspect_moves_and_one_that_rests_on_stock_are_marked(invented):
    day = invented["ordinary"]()
    day["moved"] = {"account.ccs": {"reading": "cane.weight", "name": "Cane", "sigmas": -1.4}}
    day["swing"] = {"figures": ["account.overall_recovery"], "words": "Stock fell by 11 %."}
    sheet = morning_sheet(day)
    assert row(sheet, "account.ccs").doubted
    assert row(sheet, "account.overall_recovery").rests_on_stock
    assert not row(sheet, "account.ccs").rests_on_stock
    assert any("Stock fell" in line for line in sheet.coverage)
