"""The laboratory's sheets: results as typed, ranges, reasons for corrections, drafts that stay."""

import re

import pytest
from fastapi.testclient import TestClient

from ratoon.account.mill import read_mill
from ratoon.base.errors import BadInput
from ratoon.laboratory.repeats import note_of, result_of, results_of
from ratoon.web.app import create_app
from ratoon.web.laboratory.page import worked

from .conftest import copied

DAY = "2031-06-12"
NEW = "2031-06-20"


@pytest.fixture(scope="module")
def folder(works_mill, tmp_path_factory):
    return copied(works_mill, tmp_path_factory.mktemp("laboratory") / "mill")


@pytest.fixture(scope="module")
def client(folder):
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as asking:
        yield asking


def send(client, day=NEW, path="", **form):
    page = client.get(f"/laboratory/{day}").text
    token = re.search(r'name="form-token" content="(\w+)"', page)[1]
    address = f"/laboratory/{day}{path}"
    return client.post(address, data={"token": token, **form}, follow_redirects=False)


def rows(client, day=NEW, round_="day"):
    page = client.get(f"/laboratory/{day}?round={round_}&format=json").json()
    return {r["address"]: r for s in page["sheets"] for r in s["rows"]}


def test_sheets_hold_what_this_mill_reads(client):
    page = client.get(f"/laboratory/{DAY}?format=json").json()
    assert [s["key"] for s in page["sheets"]] == [
        "juice", "bagasse", "mud", "liquor", "massecuites", "molasses", "sugar", "other"
    ]  # fmt: skip
    found = rows(client, DAY)
    assert found["mixed_juice.brix"]["stands"] and found["mixed_juice.brix"]["unit"] == "%"
    assert "cane.weight" not in found and "final_molasses.purity" in found


def test_what_was_kept_is_said_and_what_was_not_by_its_name(client):
    answer = send(client, "2031-06-19", **{"bagasse.pol": "1.52", "cake.pol": "abc"})
    assert answer.status_code == 422
    assert "Not all was kept: 1 kept, 1 refused." in answer.text
    assert "<li>Pol in filter cake: abc: not a number" in answer.text
    answer = send(client, "2031-06-19", **{"cake.pol": "1.1"})
    assert answer.status_code == 303
    assert "1 kept." in client.get(answer.headers["location"]).text


def test_ranges_have_the_same_decimals_at_both_ends(client):
    found = rows(client, DAY)
    ends = [t.split(" to ") for r in found.values() for t in (r["usual"], r["ever"]) if " to " in t]
    assert ends
    for low, high in ends:
        assert len(low.partition(".")[2]) == len(high.partition(".")[2])


def test_results_are_worked_as_typed(works_mill):
    """Purity and CCS by hand: brix 21, pol 18.5, fibre 15: 1.5 x 18.5 x 0.80 - 0.5 x 21 x 0.82.

    The formula and its allowances of 5 and 3 are the first-juice formula of common practice in
    this trade, stated in the laboratory room; the arithmetic here is our own.
    """
    roles = read_mill(works_mill).roles
    found = worked(
        roles,
        {"first_juice.brix": 21.0, "first_juice.pol": 18.5, "cane.fibre_laboratory": 15.0},
    )
    assert found["first_juice.purity"][1] == "88.10"
    assert float(found["ccs"][1]) == pytest.approx(1.5 * 18.5 * 0.80 - 0.5 * 21.0 * 0.82, abs=0.006)
    # 100 x moisture / (100 - pol - moisture): 0.3 over 0.9
    assert (
        worked(roles, {"sugar.pol": 98.8, "sugar.moisture": 0.3})["dilution_indicator"][1] == "33.3"
    )
    assert worked(roles, {"sugar.pol": 100.0, "sugar.moisture": 0.3}) == {}
    assert worked(roles, {"mixed_juice.pol": 12.0, "mixed_juice.brix": 0.0}) == {}


def test_worked_results_are_asked_while_typing(client):
    answer = client.get(f"/laboratory/{NEW}/worked?mixed_juice.brix=15&mixed_juice.pol=12,9&x=no")
    assert answer.json() == {"mixed_juice.purity": "86.00"}


def test_what_is_typed_is_kept_with_who_and_either_decimal_mark(client):
    answer = send(client, **{"mixed_juice.brix": "16,42", "mixed_juice.pol": "14.1"})
    assert answer.status_code == 303, answer.text
    found = rows(client)
    assert found["mixed_juice.brix"]["stands"] == "16.42" and found["mixed_juice.brix"]["stands_by"]
    entered = client.get(f"/readings/{NEW}/mixed_juice.brix?format=json")
    assert entered.status_code == 404  # that day is not accounted; its rows are there all the same


def test_a_repeat_needs_its_reason_and_stays_to_be_seen(client):
    send(client, **{"sugar.pol": "98.80"})
    refused = send(client, **{"sugar.pol": "98.91"})
    assert refused.status_code == 422 and "reason" in refused.text and "98.91" in refused.text
    kept = send(client, **{"sugar.pol": "98.91", "reason": "repeated: bubble in the tube"})
    assert kept.status_code == 303
    row = rows(client)["sugar.pol"]
    assert row["stands"] == "98.91" and "bubble" in row["stands_by"]


def test_a_repeat_keeps_both_results_and_says_which_stands(client):
    """98.80, 98.91 and 98.87: the mean of two is 98.855, of three 98.86."""
    day = "2031-06-23"
    send(client, day, **{"sugar.pol": "98.80"})
    assert send(client, day, **{"sugar.pol": "98.91"}).status_code == 422
    assert send(client, day, **{"sugar.pol": "98.91", "kind": "repeat"}).status_code == 303
    row = rows(client, day)["sugar.pol"]
    assert row["stands"] == "98.855"
    assert "repeat" in row["stands_by"] and "98.8; 98.91, the mean stands" in row["stands_by"]
    send(client, day, **{"sugar.pol": "98.87", "kind": "repeat", "reason": "third tube"})
    row = rows(client, day)["sugar.pol"]
    assert row["stands"] == "98.86" and "98.8; 98.91; 98.87" in row["stands_by"]
    assert "third tube" in row["stands_by"]
    # a correction says that all of them were wrong
    send(client, day, **{"sugar.pol": "98.40", "kind": "correction", "reason": "wrong sample"})
    row = rows(client, day)["sugar.pol"]
    assert row["stands"] == "98.4" and "98.91" not in row["stands_by"]
    assert "their mean counts" in client.get(f"/laboratory/{day}").text


def test_a_repeat_that_finds_the_same_counts_as_one_more(client):
    """98.80 twice, then 99.10: the mean of the three is 98.90, and no longer that of two."""
    day = "2031-06-29"
    send(client, day, **{"sugar.pol": "98.80"})
    send(client, day, **{"sugar.pol": "98.80", "kind": "repeat"})
    assert "98.8; 98.8, the mean stands" in rows(client, day)["sugar.pol"]["stands_by"]
    send(client, day, **{"sugar.pol": "99.10", "kind": "repeat"})
    assert rows(client, day)["sugar.pol"]["stands"] == "98.9"


def test_the_laboratorys_rule_may_be_the_last_result():
    assert result_of((98.80, 98.91, 98.87), "last") == 98.87
    assert results_of(note_of((98.80, 98.91), "last"), 98.91) == (98.80, 98.91)
    with pytest.raises(BadInput, match="allowed: mean, last"):
        result_of((1.0, 2.0), "best")


def test_an_odd_figure_is_said_by_the_quantitys_own_range(client):
    found = rows(client)
    assert found["mixed_juice.brix"]["ever"] == "9 to 21"
    assert found["bagasse.moisture"]["ever"] == "42 to 58"
    assert len({r["ever"] for r in found.values()}) > 12
    send(client, "2031-06-24", path="/draft", **{"bagasse.moisture": "5.1"})
    row = rows(client, "2031-06-24")["bagasse.moisture"]
    assert row["unusual"] == "outside the usual range 42 to 58 %: look again"
    page = client.get("/laboratory/2031-06-24").text
    assert 'aria-describedby="u-bagasse.moisture"' in page
    assert f'id="u-bagasse.moisture">{row["unusual"]}<' in page


def test_an_odd_figure_that_was_kept_stays_told_as_odd(client):
    answer = send(client, "2031-06-25", **{"bagasse.moisture": "5.1", "bagasse.pol": "1.5"})
    page = client.get(answer.headers["location"]).text
    assert "5.1 is on record, outside the usual range 42 to 58 %: look again" in page
    found = rows(client, "2031-06-25")
    assert found["bagasse.pol"]["stands_oddly"] == found["cake.pol"]["stands_oddly"] == ""


def test_one_bad_cell_is_told_and_the_others_are_kept(client):
    answer = send(client, **{"liquor.brix": "680", "liquor.purity": "88.2", "cake.pol": "l.5"})
    assert answer.status_code == 422
    assert "liquor.brix" in answer.text and "cake.pol" in answer.text
    assert 'value="680"' in answer.text and 'value="l.5"' in answer.text
    found = rows(client)
    assert found["liquor.purity"]["stands"] == "88.2" and found["liquor.brix"]["stands"] == ""


def test_rounds_are_kept_apart(client):
    send(client, **{"round": "night", "bagasse.pol": "1.61"})
    assert rows(client, round_="night")["bagasse.pol"]["stands"] == "1.61"
    assert rows(client)["bagasse.pol"]["stands"] == ""
    assert client.get(f"/laboratory/{NEW}?round=noon").status_code == 404


def test_a_draft_outlives_the_server(client, folder):
    answer = send(
        client, day="2031-06-21", path="/draft", **{"cake.pol": "1.7", "liquor.brix": "6"}
    )
    assert answer.json() == {"kept": 2}
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as restarted:
        found = rows(restarted, "2031-06-21")
        assert (found["cake.pol"]["typed"], found["liquor.brix"]["typed"]) == ("1.7", "6")
        assert "Draft of" in restarted.get("/laboratory/2031-06-21").text
    send(client, day="2031-06-21", **{"cake.pol": "1.7"})
    assert rows(client, "2031-06-21")["cake.pol"]["typed"] == ""


def test_what_is_outside_the_last_days_is_marked(client):
    found = rows(client, "2031-06-14")
    assert found["mixed_juice.brix"]["usual"] == "–"  # fewer than five days to compare with
    found = rows(client, "2031-06-16")
    low, high = map(float, found["mixed_juice.brix"]["usual"].split(" to "))
    assert low < high
    send(client, day="2031-06-16", path="/draft", **{"mixed_juice.brix": f"{high + 1}"})
    assert rows(client, "2031-06-16")["mixed_juice.brix"]["unusual"]


def test_a_figure_beyond_the_formula_leaves_the_sheet_open(client):
    """45 % fibre is a slip that is no bar to opening the sheet and putting it right."""
    day = "2031-06-25"
    typed = {"first_juice.brix": "20", "first_juice.pol": "18", "cane.fibre_laboratory": "45"}
    assert send(client, day, "/draft", **typed).status_code == 200
    page = client.get(f"/laboratory/{day}")
    assert page.status_code == 200 and 'value="45"' in page.text
    found = client.get(f"/laboratory/{day}/worked", params=typed)
    assert found.json() == {"first_juice.purity": "90.00"}
    assert send(client, day, round="night", act="keep", **typed).status_code == 303
    assert rows(client, day, "night")["cane.fibre_laboratory"]["stands"] == "45"


def test_two_people_who_correct_one_figure_hear_of_each_other(client):
    day = "2031-06-26"
    assert send(client, day, **{"bagasse.pol": "1.9"}).status_code == 303
    seen = client.get(f"/laboratory/{day}?format=json").json()["seen"]
    assert f'name="seen" value="{seen}"' in client.get(f"/laboratory/{day}").text
    first = send(client, day, seen=seen, reason="typed wrong", **{"bagasse.pol": "1.8"})
    assert first.status_code == 303
    second = {"seen": seen, "reason": "read again", "bagasse.pol": "1.7", "bagasse.moisture": "50"}
    told = send(client, day, **second)
    assert told.status_code == 422
    assert "1.8 % was entered by somebody else since this page was opened" in told.text
    now = rows(client, day)
    assert (now["bagasse.pol"]["stands"], now["bagasse.pol"]["typed"]) == ("1.8", "1.7")
    assert now["bagasse.moisture"]["stands"] == "50"  # beside which nothing new stood
    seen = client.get(f"/laboratory/{day}?format=json").json()["seen"]
    again = send(client, day, seen=seen, reason="read again", **{"bagasse.pol": "1.7"})
    assert again.status_code == 303 and rows(client, day)["bagasse.pol"]["stands"] == "1.7"


def test_of_two_repeats_at_once_both_count(client):
    day = "2031-06-27"
    send(client, day, **{"bagasse.pol": "1.9"})
    seen = client.get(f"/laboratory/{day}?format=json").json()["seen"]
    for result in ("1.8", "1.7"):
        told = send(client, day, seen=seen, kind="repeat", **{"bagasse.pol": result})
        assert told.status_code == 303
    assert rows(client, day)["bagasse.pol"]["stands"] == "1.8"  # mean of 1.9, 1.8, 1.7
