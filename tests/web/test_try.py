"""The page of trials: solves beside the pages, says differences, regimes and limits in words."""

import os
import re
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

import pytest

from ratoon.account.mill import Mill, read_mill
from ratoon.base.errors import UnknownName
from ratoon.demo.write import mill_text
from ratoon.jobs.mills import in_mill
from ratoon.jobs.pool import Refused, SolverPool, TooLong
from ratoon.jobs.trial.changes import limits
from ratoon.jobs.trial.levers import levers_of, routes_of
from ratoon.plant.declared import GROUPS
from ratoon.settings.read import parse_settings
from ratoon.web.shared import Pages
from ratoon.web.trial.controls import decimals_of_step, groups
from ratoon.web.trial.page import case_changes, case_text
from ratoon.web.trial.regimes import regimes

DAY = "2031-06-12"


@pytest.fixture(scope="module")
def plant():
    return Mill(parse_settings(mill_text())).plant


def asked(client, query=""):
    answer = client.get(f"/try/{DAY}?format=json{query}")
    assert answer.status_code == 200, answer.text
    return answer.json()


def row(page, address):
    groups = [page["money"], *page["rows"]]
    return next(r for g in groups for r in g["rows"] if r["address"] == address)


def number(text):
    return float(re.sub("[\u202f$+]", "", text).replace("\u2212", "-"))


def test_without_changes_nothing_differs(works_client):
    page = asked(works_client)
    rows = [r for g in [page["money"], *page["rows"]] for r in g["rows"]]
    assert len(rows) > 30
    assert {r["now"]["difference"] for r in rows} == {""}
    assert not any(r["crossed"] for r in page["regimes"])


def test_the_day_in_a_trial_is_the_day_of_the_account(works_client):
    """Stocks stand still in a trial, so totals agree with the account to a few per cent."""
    page = asked(works_client)
    account = works_client.get(f"/morning/{DAY}?format=json").json()["sheet"]
    known = {r["address"]: r["day"]["value"] for g in account["groups"] for r in g["rows"]}
    for address in ("account.cane", "account.extraction", "account.overall_recovery"):
        assert number(row(page, address)["day"]) == pytest.approx(known[address], rel=0.04)
    assert number(row(page, "final_molasses.weight")["day"]) > 100


def test_more_cane_makes_more_sugar_and_money(works_client):
    page = asked(works_client)
    rate = number(row(page, "account.rate")["day"])
    page = asked(works_client, f"&cane.rate={rate + 25}")
    assert row(page, "account.rate")["now"]["difference"].startswith("+2")
    assert number(row(page, "account.sugar")["now"]["difference"]) > 20
    assert row(page, "money.hours")["now"]["difference"].startswith("+$")
    assert page["seconds"] < 1.0


def test_a_slider_that_crosses_a_regime_says_so(works_client):
    day = asked(works_client)
    rate = number(row(day, "account.rate")["day"])
    crossed = set()
    for factor in (0.8, 1.2):
        page = asked(works_client, f"&cane.rate={rate * factor}")
        crossed |= {r["name"] for r in page["regimes"] if r["crossed"]}
    assert crossed & {"Liquor brix", "Exhaust steam"}


def test_regimes_are_told_apart(plant):
    held = {"liquor.brix": 68.0, "liquor.brix_set": 68.0, "vent.flow": 2.0}
    short = {"liquor.brix": 66.0, "liquor.brix_set": 68.0, "let_down.flow": 3.0}
    made = {r.name: r for r in regimes(plant, held, short)}
    assert made["Liquor brix"].crossed and "66.0" in made["Liquor brix"].now
    assert made["Exhaust steam"].crossed and "blown off" in made["Exhaust steam"].day
    assert made["Exhaust steam"].now == "short: let-down adds 3.0 t/h of HP steam"
    assert made["Bagasse"].now == "0.0 t/h goes to the store" and not made["Bagasse"].crossed


def test_what_is_further_from_its_set_point_is_told(plant):
    day = {"liquor.brix": 67.0, "liquor.brix_set": 68.0}
    for brix, crossed in ((66.8, False), (66.6, True)):
        made = {r.name: r for r in regimes(plant, day, {**day, "liquor.brix": brix})}
        assert made["Liquor brix"].crossed == crossed


def test_a_set_that_stands_still_is_not_held_by_a_limit(plant):
    """No steam flows to a set of which nothing is asked: nothing holds it at zero."""
    assert limits(plant, plant.solve({"power.condensing": 0.0})) == []
    short = plant.solve({"pan.A.magma_share": 0.25})
    assert [one["address"] for one in limits(plant, short)] == ["remelt.magma.share"]


def test_cases_stand_side_by_side_in_the_address(works_client):
    answer = works_client.get(
        f"/try/{DAY}?imbibition.on_fibre=250&keep=yes", follow_redirects=False
    )
    assert answer.status_code == 303
    page = works_client.get(answer.headers["location"])
    assert "Case 1" in page.text and "take Case 1 away" in page.text
    kept = asked(works_client, "&case=imbibition.on_fibre:250&case=imbibition.on_fibre:200")
    cells = row(kept, "account.extraction")["cases"]
    assert number(cells[0]["value"]) > number(cells[1]["value"])


def test_a_case_is_one_word_of_an_address():
    changes = {"cane.rate": 480.0, "liquor.brix_set": 66.5}
    assert case_changes(case_text(changes)) == changes
    assert case_changes("cane.rate:much,,x,cane.pol:nan,cane.brix:inf") == {}


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("&cane.rate=-5", "Crushing rate: -5 t/h cannot be tried; the box takes"),
        ("&cane.rate=9999", "Crushing rate: 9999 t/h cannot be tried; the box takes"),
        ("&liquor.brix_set=99", "Liquor brix, set point: 99 % cannot be tried"),
        ("&exhaust.temperature=400", "outside its limits"),
        ("&cane.rate=fast", "is not a number"),
        ("&cane.rat=480", "cane.rate"),
        ("&account.ccs=14", "account.ccs"),
        ("&cane.rate=nan", "not a number"),
        ("&cane.rate=", "Crushing rate: nothing is typed; the box takes"),
        ("&cane.rate=4_8_0", "Crushing rate: '4_8_0' is not a number; the box takes"),
    ],
)
def test_what_cannot_be_is_said_in_one_line(works_client, query, words):
    page = asked(works_client, query)
    assert words in page["line"] and "\n" not in page["line"]
    assert row(page, "account.rate")["now"]["value"] == "–"


def test_sliders_are_grouped_as_the_juice_flows_those_of_one_kind_together(plant):
    can = set(plant.settable())
    made = groups(plant, can, dict.fromkeys(can, 1.0), {})
    assert tuple(g.name for g in made) == GROUPS
    shown = {g.name: [c.address for c in g.controls] for g in made}
    assert shown["Juice"] == [
        "heater.primary.set_point", "heater.secondary.set_point", "filter.wash_on_cake",
    ]  # fmt: skip
    assert shown["Mills"][-1] == "mill.5.fibre_content"
    kinds = [a.rpartition(".")[2] for a in shown["Pans"]]
    assert kinds == sorted(kinds, key=("purity_set", "dry_substance", "movement_water").index)
    assert not any(a.startswith("stock.") for a in can)  # stocks stand still in a trial


def test_steps_have_as_many_decimals_as_they_move():
    assert [decimals_of_step(s) for s in (1.0, 0.5, 0.05, 0.005)] == [0, 1, 2, 3]


def test_a_call_that_takes_too_long_is_refused_and_the_next_one_answered():
    pool = SolverPool(workers=1, limit=3.0)
    try:
        assert pool.call(abs, -1) == 1
        with pytest.raises(TooLong):
            pool.call(time.sleep, 30)
        assert pool.call(abs, -2) == 2
    finally:
        pool.close()


def test_those_in_line_behind_a_call_that_takes_too_long_are_answered():
    """Its pool is ended under them, before they had a turn."""
    pool = SolverPool(workers=1, limit=6.0)
    try:
        assert pool.call(abs, -1) == 1
        with ThreadPoolExecutor(9) as asking:
            long = asking.submit(pool.call, time.sleep, 30)
            time.sleep(1.0)
            others = [asking.submit(pool.call, abs, -n) for n in range(8)]
            assert [one.result() for one in others] == list(range(8))
            assert isinstance(long.exception(), TooLong)
    finally:
        pool.close()


def test_a_worker_that_dies_is_replaced():
    import os

    pool = SolverPool(workers=1, limit=20.0)
    try:
        mine = pool.call(os.getpid)
        os.kill(mine, 9)
        time.sleep(0.2)
        assert pool.call(os.getpid) != mine
    finally:
        pool.close()


def refuses(address):
    raise UnknownName("address to set", address, ["cane.rate"])


def test_what_is_refused_ahead_leaves_the_workers_as_they_are():
    """An error that cannot be sent between processes would end the pool it is sent to."""
    pool = SolverPool()
    try:
        pool.call(os.getpid)
        workers = pool._running()._processes.copy()
        for told in pool.warm(refuses, "cane.rat"):
            assert "cane.rat" in told.result(60)[1]
        assert workers.keys() <= pool._running()._processes.keys()
        assert pool.call(len, "abc") == 3
    finally:
        pool.close()
    with pytest.raises(Refused, match="ending"):
        pool.call(len, "abc")


def test_what_nobody_waits_for_goes_one_after_the_other_and_leaves_a_worker_free(tmp_path):
    pool, marks = SolverPool(), [tmp_path / "first", tmp_path / "second"]
    try:
        pool.aside(120.0, refuses, "cane.rat")  # told to nobody, and the next goes on
        for mark in marks:
            pool.aside(120.0, marked, str(mark))
        assert pool.call(len, "abc") == 3
        ends = time.monotonic() + 120.0
        while not marks[1].exists() and time.monotonic() < ends:
            time.sleep(0.02)
        assert marks[1].stat().st_mtime_ns - marks[0].stat().st_mtime_ns >= 99_000_000
    finally:
        pool.close()
    pool.aside(120.0, len, "abc")  # ended: nothing is begun, and nothing said


def marked(path):
    time.sleep(0.1)
    Path(path).touch()


class Noted:
    """A pool that runs nothing and tells what it was asked."""

    def __init__(self):
        self.waited, self.later = [], []

    def call(self, _, folder, job, *given, limit):
        self.waited.append((job.__name__, *given))

    def aside(self, limit, _, folder, job, *given):
        self.later.append((job.__name__, *given))

    def close(self):
        pass


def test_a_day_accounted_on_the_pages_has_its_moves_made_and_nobody_waits(tmp_path):
    noted, day = Noted(), date(2031, 6, 12)
    Pages(tmp_path, None, None, None, noted).account_anew(day)
    assert noted.waited == [("account_day", day)]
    assert noted.later == [("keep_week", day), ("account_day", day, False, True)]


def test_every_bleed_is_made_ahead_the_nearest_first(works_mill):
    plant = read_mill(works_mill).plant
    routes = routes_of(plant)
    moved = {a: lever for a, lever in levers_of(plant).items() if a.endswith(".vapour_from")}
    assert len(moved) == 5 and len(set(routes)) == len(routes)
    for address, lever in moved.items():
        made = {effect for a, effect in routes if a == address}
        assert made | {lever.day} == set(range(int(lever.low), int(lever.high) + 1))
    steps = [abs(effect - moved[a].day) for a, effect in routes]
    assert steps == sorted(steps) and min(steps) == 1


def test_a_vessel_off_line_is_half_the_surface(works_client):
    """Exactly half the coefficient: the two occur as their product alone."""
    page = asked(works_client)
    controls = {c["address"]: c for g in page["controls"] for c in g["controls"]}
    surface, htc = controls["effect.1.surface"], controls["effect.1.htc_set"]
    assert (surface["day"], surface["step"], surface["unit"]) == (100.0, 50.0, "%")
    half = asked(works_client, "&effect.1.surface=50")
    same = asked(works_client, f"&effect.1.htc_set={htc['day'] / 2}")
    brix = [number(row(p, "liquor.brix")["now"]["value"]) for p in (page, half, same)]
    assert brix[1] == pytest.approx(brix[2], abs=0.06)  # the box rounds the coefficient
    assert brix[1] < brix[0] - 1
    told = next(r for r in half["regimes"] if r["name"] == "Effect 1")
    assert told["crossed"] and "50 % of its surface" in told["now"]
    reach = next(r for r in half["regimes"] if r["name"] == "Liquor brix")
    assert "cannot reach" in reach["now"]


def test_an_effect_by_passed_is_told_and_takes_steam(works_client):
    page = asked(works_client, "&effect.3.surface=0")
    assert not page["line"] and not page["refused"]
    told = next(r for r in page["regimes"] if r["name"] == "Effect 3")
    assert told["crossed"] and "by-passed" in told["now"]
    steam = row(page, "account.process_steam_on_cane")
    assert number(steam["now"]["value"]) > number(steam["day"]) + 1.0
    sliders = {c["address"]: c for g in page["controls"] for c in g["controls"]}
    assert (sliders["effect.1.surface"]["low"], sliders["effect.3.surface"]["low"]) == (0.0, 10.0)


def test_a_bleed_from_a_later_effect_saves_steam(works_client):
    """Vapour of a later effect has boiled water once more on its way: common practice."""
    page = asked(works_client)
    controls = {c["address"]: c["day"] for g in page["controls"] for c in g["controls"]}
    assert controls["pan.A.vapour_from"] == 1.0
    steam = number(row(page, "account.process_steam_on_cane")["day"])
    later = asked(works_client, "&pan.A.vapour_from=2")
    exhaust = asked(works_client, "&pan.A.vapour_from=0")
    found = [number(row(p, "account.process_steam_on_cane")["now"]["value"])
             for p in (later, exhaust)]  # fmt: skip
    assert found[0] < steam < found[1]
    told = next(r for r in later["regimes"] if r["name"] == "A pans")
    assert told == {"name": "A pans", "day": "takes vapour of effect 1",
                    "now": "takes vapour of effect 2", "crossed": True}  # fmt: skip
    back = asked(works_client, "&pan.A.vapour_from=1")
    assert not any(r["crossed"] for r in back["regimes"])


def test_a_pan_off_line_asks_more_of_the_others(works_client):
    """The balances stay; the strikes of the pans left must be shorter by the room that is gone."""
    page = asked(works_client)
    controls = {c["address"]: c for g in page["controls"] for c in g["controls"]}
    at_work = controls["pan.A.at_work"]
    assert (at_work["day"], at_work["low"], at_work["step"]) == (3.0, 1.0, 1.0)
    one = asked(works_client, "&pan.A.at_work=1")
    before, now = row(one, "pan.A.load")["day"], row(one, "pan.A.load")["now"]["value"]
    assert number(now) == pytest.approx(3.0 * number(before), abs=0.02)
    assert row(one, "account.sugar")["now"]["difference"] == ""
    told = next(r for r in one["regimes"] if r["name"] == "A pans")
    assert (told["day"], told["now"]) == ("3 of 3 at work", "1 of 3 at work")
    said = [w for w in one["limits"] if w.startswith("Load of the A pans")]
    assert said == [f"Load of the A pans: {number(now):.0f} %. It is asked for more than it can"
                    " give."]  # fmt: skip
    assert not any("A pans" in w for w in page["limits"])
    assert [r["now"]["value"] for r in one["money"]["rows"]] == ["–", "–"]
    assert "–" not in [r["now"]["value"] for r in page["money"]["rows"]]


def test_what_is_asked_for_too_much_is_told_and_not_priced(works_client):
    """Twice the cane: the mills choke, whatever the sugar would be worth."""
    page = asked(works_client, "&cane.rate=640")
    told = " ".join(page["limits"])
    assert "Load of the mills: " in told and "filters" in told
    assert page["money"]["rows"][0]["now"]["value"] == "–"


def test_liquor_that_falls_further_short_is_told(works_client):
    """Thin liquor is another regime's depth: the pans boil off what the evaporators did not."""
    day = asked(works_client)
    thin = asked(works_client, "&effect.1.surface=50&liquor.brix_set=70")
    told = next(r for r in thin["regimes"] if r["name"] == "Liquor brix")
    assert told["crossed"]
    thinner = asked(works_client, "&effect.1.surface=50&liquor.brix_set=70&effect.2.surface=50")
    loads = [number(row(p, "pan.A.load")["now"]["value"]) for p in (day, thin, thinner)]
    assert loads[0] < loads[1] < loads[2]


def test_a_main_that_nobody_draws_from_any_more(works_client):
    """C pans alone boil on exhaust: with them on vapour 1, nothing reports exhaust to pans."""
    page = asked(works_client, "&pan.C.vapour_from=1")
    assert page["line"] == ""
    assert next(r for r in page["regimes"] if r["name"] == "C pans")["crossed"]


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("pan.A.at_work=0", "1 to 3"),
        ("pan.A.at_work=1.5", "whole numbers"),
        ("effect.1.surface=20", "0 for the effect by-passed, or 50 to 100 %"),
        ("effect.2.surface=9", "0 for the effect by-passed, or 10 to 100 %"),
        ("pan.A.vapour_from=1.5", "whole numbers"),
        ("pan.A.vapour_from=9", "0 to 4"),
        ("heater.primary.vapour_from=0", "1 to 4"),
        ("effect.9.surface=50", "effect.5.surface"),
    ],
)
def test_levers_have_limits_in_words(works_client, query, said):
    page = asked(works_client, f"&{query}")
    assert said in page["line"]


def test_what_was_changed_is_said_for_the_print(works_client):
    page = asked(works_client)
    assert page["changed"] == [] and page["little_read"] == ""
    assert {r["known"] for g in page["rows"] for r in g["rows"]} == {True}
    boxes = {c["address"]: c for g in page["controls"] for c in g["controls"]}
    day = boxes["cane.rate"]["day"]
    page = asked(works_client, f"&cane.rate={day + 20:g}&pan.A.movement_water=8")
    assert page["changed"][0] == f"crushing rate {day:g} to {day + 20:g} t/h"
    assert page["changed"][1].startswith("A pans, movement water")


def test_what_the_day_did_not_determine_is_the_mill_files_and_gives_no_money(tmp_path):
    from importlib.resources import files

    from fastapi.testclient import TestClient

    from ratoon.jobs.files.imports import import_files
    from ratoon.jobs.sheet.day import account_day
    from ratoon.web.app import create_app

    folder = tmp_path / "mill"
    folder.mkdir()
    text = files("ratoon.demo").joinpath("data/mill.toml").read_text(encoding="utf-8")
    (folder / "mill.toml").write_text(text, encoding="utf-8")
    rows = [
        "address,start,end,value,unit,sigma,source,note",
        f"cane.weight,{DAY},,10466,t,,,",
        f"bagasse.pol,{DAY},,1.41,%,,,",
        f"mixed_juice.brix,{DAY},,16.82,%,,,",
        f"sugar.weight,{DAY},,1350,t,,,",
    ]
    (folder / "few.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    import_files(folder, [folder / "few.csv"])
    in_mill(folder, account_day, date.fromisoformat(DAY))
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as client:
        page = asked(client)
        html = client.get(f"/try/{DAY}").text
    assert row(page, "account.rate")["known"]
    for address in ("account.extraction", "liquor.brix", "account.molasses_purity"):
        assert not row(page, address)["known"]
    assert page["money"]["rows"] == [] and "mill file" in page["little_read"]
    boxes = {c["address"]: c["known"] for g in page["controls"] for c in g["controls"]}
    assert boxes["cane.rate"] and not boxes["cane.brix"]
    assert not boxes["mill.1.fibre_content"]
    assert "%, mill file" in html
