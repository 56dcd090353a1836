"""The sheet says what the account says, no more: verdicts, suspects, actions, ordinary odd days."""

import json

import pytest
from invented import morning_sheet

from ratoon.account.results.day import LOSSES
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
    assert sheet.doubts[1].check.startswith("Sugar weight: weigh a known mass")


def test_jobs_stand_in_their_order_with_place_person_gain_and_limit(invented):
    sheet = morning_sheet(invented["ordinary"]())
    first, second, third = sheet.actions
    assert [a.kind for a in sheet.actions] == ["loss", "loss", "reading"]
    assert first.money is not None and first.money.value == 4700.0
    assert first.why == "Molasses purity, true 43.0\u202f% against 41.3\u202f%"
    assert first.limited_by.startswith("load of the C centrifugals")
    assert (second.place, second.who) == ("evaporator", "shift supervisor")
    assert third.money is None and third.why == ""


def test_a_job_of_safety_stands_first_and_red_in_every_body(invented):
    from ratoon.reports.html import morning_html
    from ratoon.reports.paper import _paper_data

    day = invented["ordinary"]()
    day["actions"].insert(0, {
        "kind": "safety", "what": "Keep this water out of the boilers now", "where": "boilers",
        "who": "boiler attendant", "gain_a_day": None, "sigma": None, "limited_by": "",
        "caution": "Never by-pass a low-water trip.", "figure": "sugar in feed water",
        "value": 80.0, "level": 50.0, "unit": "ppm",
    })  # fmt: skip
    sheet = morning_sheet(day)
    assert sheet.actions[0].kind == "safety"
    page = morning_html(sheet)
    todo = page[page.index("What to do") :]
    assert todo.index('<li class="bad"><strong>Safety: Keep this water') < todo.index(
        "torn screens"
    )
    assert "Never by-pass a low-water trip." in todo
    assert _paper_data(sheet, 9.0, 7.0)["sheet"]["actions"][0]["kind"] == "safety"


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


def test_a_day_without_crushing_is_not_an_error(invented):
    sheet = morning_sheet(invented["no_crush"]())
    assert [r.address for r in sheet.key] == ["account.hours", "account.lost_time"]
    assert not sheet.ribbon.crushing
    assert sheet.ribbon.cuts[0].hours == 24.0
    assert not sheet.actions


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


def test_the_day_in_four_lines(invented):
    day = invented["ordinary"]()
    day["loads"] = [
        {"address": "mills.load", "name": "load of the mills, of the fibre they take",
         "value": 88.0, "sigma": 1.5},
        {"address": "boiler.1.load", "name": "load of boiler 1, of its rating",
         "value": 71.0, "sigma": None},
    ]  # fmt: skip
    sheet = morning_sheet(day)
    told = {line.name: line.lines for line in sheet.brief}
    assert list(told) == ["Limited by", "Happened", "Suspect", "To do"]
    (limited,) = told["Limited by"]
    assert "ullest: the mills at 88.0 ± 2.9\u202f%" in limited and " lost, " in limited
    assert told["Happened"][0].startswith("Significantly worse than target: ")
    assert "dearest loss: " in told["Happened"][0]
    assert len(told["To do"]) == 3
    assert all(line.endswith(f"({a.who})") for line, a in zip(told["To do"], sheet.actions))
    full = morning_sheet(day | {"loads": [day["loads"][0] | {"value": 99.0}]})
    assert full.brief[0].lines[0].startswith("The mills at 99.0")


def test_a_day_without_cane_in_four_lines(invented):
    told = {line.name: line.lines[0] for line in morning_sheet(invented["no_crush"]()).brief}
    assert told["Limited by"].startswith("No cane was crushed")
    assert told["Suspect"] == "Without cane there was nothing to balance"
