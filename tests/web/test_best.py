"""The page of the best settings: kept in the records, or made aside while a page says so."""

import datetime

import pytest
from fastapi.testclient import TestClient

from ratoon.base.as_json import from_json, to_json
from ratoon.jobs.best.of_day import KINDS, kept_best
from ratoon.jobs.mills import in_mill, open_mill
from ratoon.jobs.pool import Refused
from ratoon.jobs.sheet.day import kept_day
from ratoon.plans.best.result import BestOfDay, BestResult
from ratoon.reports.compose import morning_sheet
from ratoon.store.answers import newest_result
from ratoon.web.app import create_app

from .conftest import copied

DAY, OTHER = "2031-06-12", "2031-06-13"


@pytest.fixture(scope="module")
def kept(works_mill):
    return in_mill(works_mill, kept_best, datetime.date.fromisoformat(DAY))


@pytest.fixture
def client(works_mill, tmp_path):
    folder = copied(works_mill, tmp_path / "mill")
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as asking:
        asking.folder = folder
        yield asking


def test_the_page_and_its_json_are_the_kept_answer(works_client, kept):
    assert works_client.get(f"/best/{DAY}?format=json").json() == to_json(kept.best)
    ladder = works_client.get(f"/best/{DAY}?part=ladder&format=json").json()
    assert ladder == to_json(kept.ladder) and len(ladder["at_best"]) > 1
    page = works_client.get(f"/best/{DAY}").text
    for one in kept.best.settings.values():
        assert one.source.replace("'", "&#39;") in page
    moved = [s for s in kept.best.settings.values() if s.at]
    assert len(moved) > 2 and page.count('class="drawing setting"') > len(moved)
    assert page.count('class="drawing curve"') == len(kept.best.curves) > 0
    dear = [x for x in kept.best.limits if x.binds]
    assert page.count('class="drawing price"') == len(dear) > 2
    assert page.count('class="drawing ladder"') == 1


def test_a_setting_opens_try_with_it_set(works_client, kept):
    page = works_client.get(f"/best/{DAY}").text
    address = next(part.split('"')[0] for part in page.split('href="')
                   if part.startswith(f"/try/{DAY}?imbibition"))  # fmt: skip
    tried = works_client.get(f"{address}&format=json").json()
    assert not tried["line"] and tried["changed"]
    best = kept.best.settings["imbibition.on_fibre"]
    assert float(address.rpartition("=")[2]) == pytest.approx(best.best, abs=0.1)


def test_the_sheet_shows_the_moves_and_asks_for_nothing_against_them(
    works_client, works_mill, kept
):
    with open_mill(works_mill) as opened:
        result = kept_day(opened, datetime.date.fromisoformat(DAY))
    assert result.moves == kept.moves and kept.moves.moves
    sheet = morning_sheet(result)
    assert [m.address for m in sheet.moves.lines] == [m.address for m in kept.best.moves]
    page = works_client.get(f"/morning/{DAY}").text
    for line in sheet.moves.lines:
        assert line.name in page and line.money.text in page and line.stop in page


def test_a_job_against_a_move_is_left_out_and_said(works_mill, kept):
    """A figure that is short of its target while the best settings move it further away."""
    from dataclasses import replace

    from ratoon.account.results.actions import ActionResult

    with open_mill(works_mill) as opened:
        result = kept_day(opened, datetime.date.fromisoformat(DAY))
    job = ActionResult("Open the imbibition water", "mills", "millwright", 900.0, 90.0, "", "",
                       "loss", about=("account.imbibition_on_fibre",))  # fmt: skip
    said = {}
    for against in ((), ("account.imbibition_on_fibre",)):
        moves = replace(kept.moves, against=against)
        sheet = morning_sheet(replace(result, actions=(job,), moves=moves))
        said[against] = [a.text for a in sheet.actions], sheet.moves.left_out
    (asked, nothing), (rest, left_out) = said.values()
    assert job.what in asked and not nothing
    assert job.what not in rest and job.what in left_out


def test_what_is_not_kept_is_made_aside_while_a_page_says_so(client, monkeypatch):
    """Of a stand-in for the worker: it keeps the other day's answer as this day's."""
    asked = []

    def work(pool, function, folder, mark, day, rate, limit):
        asked.append((day, rate))
        with open_mill(client.folder) as opened:
            ask, period = opened.store.ask, opened.mill.calendar.period
            answer = ask(newest_result, KINDS["held"], period(datetime.date(2031, 6, 12))).answer
            from ratoon.jobs.best.of_day import _made_from

            account = ask(newest_result, "day", period(day))
            opened.store.add_result(
                KINDS[rate], account.period, _made_from(opened, account), {}, answer
            )

    monkeypatch.setattr("ratoon.jobs.pool.SolverPool.call", work)
    first = client.get(f"/best/{OTHER}?rate=free")
    assert first.status_code == 202 and "Being worked out" in first.text
    assert "/static/best.js" in first.text and f'href="/best/{OTHER}?rate=free"' in first.text
    told = client.get(f"/best/{OTHER}?rate=free&format=json")  # waits for it
    assert told.status_code == 200 and from_json(BestResult, told.json()).moves
    assert client.get(f"/best/{OTHER}?rate=free").status_code == 200
    assert set(asked) == {(datetime.date(2031, 6, 13), "free")}


def test_a_refusal_is_one_line_and_is_asked_once(client, monkeypatch):
    asked = []

    def refuse(pool, *what, limit):
        asked.append(what)
        raise Refused("sugar has no price: prices.sugar is missing")

    monkeypatch.setattr("ratoon.jobs.pool.SolverPool.call", refuse)
    for _ in range(2):
        told = client.get(f"/best/{OTHER}?format=json")
        assert told.status_code == 422 and "sugar has no price" in told.text
    assert len(asked) == 1
    for address in (f"/best/{DAY}?rate=much", "/best/2031-13-01", "/best/2040-01-01"):
        assert client.get(f"{address}{'&' if '?' in address else '?'}format=json").status_code in (
            404,
            422,
        )


def test_a_mill_that_frees_nothing_says_so_on_page_and_sheet(client):
    path = client.folder / "mill.toml"
    text = path.read_text(encoding="utf-8")
    head, _, rest = text.partition("[best]")
    tail = rest[rest.index("\n[targets]") :]
    path.write_text(head + tail, encoding="utf-8")
    told = client.get(f"/best/{DAY}?format=json")
    assert told.status_code == 422 and "[best.free]" in told.text
    assert "No best settings: the mill file says of nothing" in client.get(f"/morning/{DAY}").text


def test_an_answer_of_another_form_of_the_mill_file_is_not_shown(client):
    path = client.folder / "mill.toml"
    day = datetime.date.fromisoformat(DAY)
    assert isinstance(in_mill(client.folder, kept_best, day), BestOfDay)
    path.write_text(path.read_text(encoding="utf-8") + "\n# another\n", encoding="utf-8")
    assert in_mill(client.folder, kept_best, day) is None
