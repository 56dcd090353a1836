"""The plant page: made from the mill's description, whatever its numbers of mills and effects."""

import datetime
import re
import threading
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from ratoon.account.mill import Mill, read_mill
from ratoon.demo.write import mill_text
from ratoon.jobs.cane.account import account_figures, against_the_account
from ratoon.jobs.cane.season import days_in_short
from ratoon.jobs.mills import in_mill, store_of
from ratoon.jobs.sheet.day import accounted_days, kept_day
from ratoon.jobs.sheet.history import DayFacts, History
from ratoon.plant.stages import owner, places, stages
from ratoon.reports.numbers import Shown
from ratoon.reports.svg import text_width
from ratoon.settings.read import parse_settings
from ratoon.store.answers import results_after
from ratoon.web.app import create_app
from ratoon.web.days import DayPlace
from ratoon.web.plant.stage_drawing import (
    CLOSER,
    NARROW,
    SIZE,
    SMALL,
    TALLEST,
    WIDTH,
    Box,
    Ribbon,
    StageDrawing,
    scale_of,
    stage_drawing,
)
from ratoon.web.plant.works import works_page

from .conftest import copied

DAY = "2031-06-12"
PLACE = DayPlace(DAY, "", "", DAY, DAY)
MILLS = Path(__file__).parent.parent / "mills"


def solved_page(text):
    """The plant page of a mill that runs at its file's own settings."""
    mill = Mill(parse_settings(text))
    values = mill.plant.solve().values
    works = {"figures": {a: [v, None] for a, v in values.items()}}
    return mill, works_page(mill, DayFacts(DAY, 0, None), works, PLACE)


@pytest.fixture(scope="module")
def second():
    return solved_page((MILLS / "second.toml").read_text(encoding="utf-8"))


def test_another_mill_is_drawn_from_its_own_description(second):
    _, page = second
    titles = [b.title for s in page.stages for b in s.drawing.boxes]
    assert [t for t in titles if t.startswith("Mill ")] == [f"Mill {n}" for n in (1, 2, 3, 4)]
    assert [t for t in titles if t.startswith("Effect ")] == [f"Effect {n}" for n in (1, 2, 3, 4)]
    assert [t for t in titles if t.endswith(" pans")] == ["A pans", "C pans"]
    for stage in page.stages:
        picture = stage_drawing(stage.drawing)
        assert picture.count("<a ") == len(stage.drawing.boxes)
        assert "nan" not in picture.lower()


def test_seven_mills_and_six_effects_find_room():
    text = (MILLS / "second.toml").read_text(encoding="utf-8")
    mill = "[[mills]]\nfibre_content = 44.0\nfines = 1.0\ninsolubles_to_juice = 12.0\n\n"
    effect = "[[effects]]\narea = 2600.0\nhtc = 1.6\ninversion = 0.003\n\n"
    text = text.replace("[tandem]", mill * 3 + "[tandem]")
    text = text.replace("[evaporator]", effect * 2 + "[evaporator]")
    made = Mill(parse_settings(text))
    page = works_page(made, DayFacts(DAY, 0, None), {}, PLACE)
    drawn = {s.key: s.drawing for s in page.stages}
    assert len(drawn["milling"].boxes) == 7 and len(drawn["evaporation"].boxes) == 6
    for drawing in drawn.values():
        lefts = [float(x) for x in re.findall(r'<rect x="([\d.]+)"', stage_drawing(drawing))]
        assert max(lefts) < 1180 and min(lefts) >= 0
        rows = list(drawing.rows())
        assert [b for row in rows for b in row.boxes] == list(drawing.boxes)
        assert [s for row in rows for s in row.streams] == list(drawing.streams)
        assert [s for row in rows for s in row.back] == list(drawing.back)
        for row in rows:
            assert scale_of(row) == scale_of(drawing) and len(row.boxes) <= 3
            lefts = re.findall(r'<rect x="([\d.]+)"', stage_drawing(row, SMALL))
            assert max(map(float, lefts)) < SMALL


@pytest.mark.parametrize(
    ("boxes", "width"),
    [*((n, w) for n in (2, 5, 7) for w in (WIDTH, NARROW)), (2, SMALL), (3, SMALL)],
)
def test_words_of_side_streams_pass_each_other(boxes, width):
    def stream(name, flow=15.5):
        return Ribbon(name, "vapour", Shown(flow, 0.4, f"{flow}", "0.4", "t/h", 0.8))

    names = ("vapour 1", "to secondary heater", "to primary heater")
    goes = [tuple(map(stream, names[: 1 + (boxes - 1 - i) % 3])) for i in range(boxes)]
    row = tuple(Box(f"/{n}", f"Effect {n}", (), (), sides) for n, sides in enumerate(goes))
    steady = (stream("final bagasse", 150.5),) * (boxes + 1)
    drawing = stage_drawing(StageDrawing("Row", row, steady, ()), width)
    told = _told(drawing)
    assert sum(text.startswith(names) for *_, text in told) == sum(map(len, goes))
    for i, (left, right, y, text) in enumerate(told):
        assert left > -1 and right < width + 1, text
        for begin, end, level, other in told[:i]:
            apart = abs(y - level) > 10 or right < begin + 1 or end < left + 1
            assert apart, (text, other)
    stubs = [(float(x), float(x) + float(w), float(y), float(y) + float(h)) for x, y, w, h in
             re.findall(r'<rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"',
                        drawing) if float(w) < 40]  # fmt: skip
    for left, right, y, text in told:
        if text.startswith(names):
            assert not any(
                x < right - 1 and end > left + 1 and top < y - 3 < foot
                for x, end, top, foot in stubs
            ), text


def _told(drawing):
    """Where the words of a drawing begin and end, their height, and the words."""
    told = []
    for given, text in re.findall(r"<text ([^>]*)>([^<]*)</text>", drawing):
        x, y = (float(re.search(rf'\b{k}="([\d.-]+)"', given)[1]) for k in "xy")
        long = text_width(text, SIZE) / CLOSER
        share = 1.0 if 'anchor="end"' in given else 0.5 if 'anchor="middle"' in given else 0.0
        told.append((x - share * long, x + (1 - share) * long, y, text))
    return told


def test_ribbons_are_as_wide_as_their_flow(second):
    _, page = second
    evaporation = next(s.drawing for s in page.stages if s.key == "evaporation")
    scale = scale_of(evaporation)
    first, last = evaporation.streams[0], evaporation.streams[-1]
    assert first.flow.value * scale == pytest.approx(TALLEST)
    assert last.flow.value < 0.5 * first.flow.value


def test_every_quantity_of_a_station_has_one_home(second):
    mill, _ = second
    known = places(mill.plant.works)
    homeless = {a.split(".")[0] for a in mill.plant.equations.variables if not owner(a, known)}
    assert homeless <= {"hours", "day", "undetermined", "stock", "exhaust"}
    assert owner("sugar.A.pol", known) == "centrifugal.A"
    assert owner("sugar.pol", known) == "dryer"


def test_stores_have_their_place_where_they_are_described(second, works_client):
    mill = Mill(parse_settings(mill_text()))
    known = places(mill.plant.works)
    stored = [a for a in mill.plant.equations.variables if a.startswith("store.")]
    assert len(stored) == 16
    assert {owner(a, known) for a in stored} == {
        f"store.{s}" for s in ("bagasse", "mud", "molasses", "sugar", "ash")
    }
    other = second[0]
    assert not any(k.startswith("store") for k in places(other.plant.works))
    assert "Stores of by-products" in works_client.get(f"/works/{DAY}").text
    for key, words in (("bagasse", "dust can explode"), ("molasses", "confined spaces")):
        page = works_client.get(f"/works/{DAY}/store.{key}")
        assert page.status_code == 200
        assert f"store.{key}.fill" in page.text and words in page.text


def test_places_name_flows_that_the_plant_has(second):
    mill, _ = second
    variables = {*mill.plant.equations.variables, *mill.plant.equations.reports}
    places = [place for stage in stages(mill.plant.works) for place in stage.places]
    assert len(places) > 10
    for place in places:
        for flow in (*place.comes, *place.goes):
            whole = flow.flow_address in variables
            parts = any(v.startswith(f"{flow.stem}.flow.") for v in variables)
            assert whole or parts, flow
        for _, address in place.figures:
            assert address in variables


def test_works_shows_the_reconciled_figures_with_intervals(works_client):
    page = works_client.get(f"/works/{DAY}")
    assert page.status_code == 200
    found = works_client.get(f"/works/{DAY}?format=json").json()
    clear = next(r for s in found["stages"] for r in s["rows"] if r["name"] == "Clear juice")
    assert clear["flow"]["sigma"] > 0 and clear["flow"]["unit"] == "t/h"
    assert clear["flow"]["text"] in page.text


def test_a_station_shows_readings_trend_limits_and_cautions(works_client):
    page = works_client.get(f"/works/{DAY}/effect.3")
    for words in ("Over the last days", "Figures and limits", "Readings", "Cautions", "vacuum"):
        assert words in page.text
    found = works_client.get(f"/works/{DAY}/effect.3?format=json").json()
    assert {r["address"] for r in found["readings"]} >= {"effect.3.brix"}
    htc = next(q for q in found["quantities"] if q["address"] == "effect.3.htc")
    assert htc["shown"]["sigma"] > 0
    assert len(found["trends"][0]["points"]) == 3


def test_a_station_that_is_not_there_is_said_so(works_client):
    answer = works_client.get(f"/works/{DAY}/effect.9")
    assert answer.status_code == 404 and "no page at" in answer.text.lower()


def test_a_mill_without_records_says_what_to_do(works_mill, tmp_path):
    (tmp_path / "mill.toml").write_bytes((works_mill / "mill.toml").read_bytes())
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1") as client:
        first = client.get("/")
        assert first.status_code == 200 and "ratoon import" in first.text
        assert client.get("/mill").status_code == 200
        for address in (f"/works/{DAY}", f"/account/{DAY}", f"/try/{DAY}"):
            assert client.get(address).status_code == 404
        records = client.get(f"/laboratory/{DAY}")  # where the bar's group of records leads
        assert 'href="/laboratory"' in first.text and f'href="/journal/{DAY}"' in records.text
        for page in ("journal", "laboratory"):
            today = client.get(f"/{page}", follow_redirects=False)
            now = datetime.datetime.now(datetime.UTC)
            assert today.headers["location"] in {
                f"/{page}/{read_mill(works_mill / 'mill.toml').calendar.day_of(at)}"
                for at in (now, now - datetime.timedelta(minutes=1))
            }
            assert client.get(f"/{page}/{DAY}").status_code == 200
        assert not list(tmp_path.glob("*.db"))  # looking makes nothing


def test_a_new_mill_begins_in_the_browser(works_mill, tmp_path):
    """What is typed first makes the records; a chosen date is as good as today."""
    (tmp_path / "mill.toml").write_bytes((works_mill / "mill.toml").read_bytes())
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1") as client:
        picked = client.get(f"/morning?date={DAY}&page=journal", follow_redirects=False)
        assert picked.headers["location"] == f"/journal/{DAY}"
        page = client.get(f"/laboratory/{DAY}").text
        token = re.search(r'name="form-token" content="(\w+)"', page)[1]
        typed = {"token": token, "mixed_juice.brix": "15.2"}
        assert client.post(f"/laboratory/{DAY}", data=typed).status_code == 200
        told = {"token": token, "start": f"{DAY}T09:00", "end": f"{DAY}T09:30",
                "station": "mills", "cause": "chute choked"}  # fmt: skip
        assert "Kept: mills" in client.post(f"/journal/{DAY}/stops", data=told).text
        assert client.post(f"/account/{DAY}", data={"token": token}).status_code == 200
        assert client.get(f"/journal/{DAY}?format=json").json()["accounted"]


def test_vessels_have_their_own_trends_and_say_what_they_rest_on(works_client):
    page = works_client.get(f"/works/{DAY}/effect.1")
    trends = works_client.get(f"/works/{DAY}/effect.1?format=json").json()["trends"]
    assert [t["address"] for t in trends][-2:] == [f"effect.1.vessel.{j}.htc" for j in (1, 2)]
    effect = next(t for t in trends if t["address"] == "effect.1.htc")
    vessel = trends[-1]["points"][-1]
    assert vessel["sigma"] > effect["points"][-1]["sigma"]
    assert page.text.count("Nothing read tells the vessels apart") == 1
    one = works_client.get(f"/works/{DAY}/effect.3?format=json").json()["trends"]
    assert not any(".vessel." in t["address"] for t in one)


def test_what_is_at_hand_of_other_days_is_what_the_store_tells(works_mill):
    """A day's trend and its cane's comparison, from memory and from the records."""
    with store_of(works_mill) as store:
        history = History(works_mill, lambda: store)
        calendar = read_mill(works_mill / "mill.toml").calendar
        sums = history.cane_sums()
        for day in in_mill(works_mill, accounted_days):
            at = datetime.date.fromisoformat(day)
            told = kept_day(history.opened, at)
            assert kept_day(history.opened, at, history.known()) == told
            assert len(told.trend["account.rate"]) == len([d for d in history.days() if d <= day])
            figures = account_figures(store, calendar)
            beside = against_the_account(store, calendar, at, figures)
            assert against_the_account(store, calendar, at, figures, sums) == beside
        assert days_in_short(store, None, sums) == days_in_short(store) != []


def test_who_asks_first_waits_for_the_plant_and_is_answered(works_mill, tmp_path):
    """Nobody has made the plant of this mill file yet, in this process or another."""
    folder, told = tmp_path / "mill", []
    copied(works_mill, folder)
    with (folder / "mill.toml").open("a", encoding="utf-8") as text:
        text.write("# never read before\n")
    client = TestClient(create_app(folder, checks=list), base_url="http://127.0.0.1")
    asking = threading.Thread(
        target=lambda: told.append(client.get(f"/morning/{DAY}").status_code), daemon=True
    )
    asking.start()
    asking.join(120.0)
    assert told == [200]


def test_the_store_is_asked_again_only_when_the_records_may_have_changed(works_mill, monkeypatch):
    state, asked = "one", []
    with store_of(works_mill) as store:
        ask = store.ask
        monkeypatch.setattr(
            store, "ask", lambda q, *a: (q is results_after and asked.append(1)) or ask(q, *a)
        )
        history = History(works_mill, lambda: store, state=lambda: state)
        assert history.days() and len(asked) == 1
        assert history.days() is history.days() and len(asked) == 1
        state = "two"
        assert history.days() and history.cane_sums() and len(asked) == 2
        state = ""  # one who cannot say asks each time
        assert history.days() and history.days() and len(asked) == 4


def steam_row(text):
    _, page = solved_page(text)
    return next(s.drawing for s in page.stages if s.key == "steam")


def test_exhaust_of_the_turbines_runs_to_its_main():
    """What the turbines pass on and what condenses is the HP steam that comes to them."""
    drawing = steam_row((MILLS / "second.toml").read_text(encoding="utf-8"))
    live, exhaust = (drawing.streams[i].flow.value for i in (1, 2))
    (condensing,) = drawing.boxes[1].goes
    assert drawing.streams[2].text == "from turbines" and exhaust > 10.0
    told = sum(r.flow.value for r in drawing.boxes[2].comes if r.text == "let-down")
    assert exhaust + condensing.flow.value + told == pytest.approx(live, abs=2.5)  # other HP steam
    assert "mill drives" in dict(drawing.boxes[1].figures)


def test_drives_that_a_mill_has_not_are_not_drawn():
    text = (MILLS / "second.toml").read_text(encoding="utf-8")
    drawing = steam_row(text.replace("[tandem]", '[tandem]\ndrives = "electric"'))
    assert "mill drives" not in dict(drawing.boxes[1].figures)
    assert [r.text for r in drawing.boxes[1].goes] == ["condensing set"]


def test_a_store_that_does_not_fill_says_so_in_words():
    mill = Mill(parse_settings(mill_text()))
    works = {"figures": {"store.bagasse.days_to_full": [346605.0, 9e4],
                         "store.molasses.days_to_full": [21.0, 3.0]}}  # fmt: skip
    page = works_page(mill, DayFacts(DAY, 0, None), works, PLACE)
    stored = next(s for s in page.stages if s.key == "stores")
    told = {b.title: dict(b.figures) for b in stored.drawing.boxes}
    assert told["Bagasse store"]["full in"] == "not filling"
    assert told["Molasses tanks"]["full in"].startswith("21")


def test_a_figure_in_which_a_suspect_reading_weighs_is_marked_in_the_picture():
    works = {"figures": {"store.molasses.fill": [40.0, 3.0], "store.bagasse.fill": [60.0, 3.0]},
             "doubted": ["store.molasses.fill"]}  # fmt: skip
    page = works_page(Mill(parse_settings(mill_text())), DayFacts(DAY, 0, None), works, PLACE)
    stored = next(s for s in page.stages if s.key == "stores")
    told = {b.title: dict(b.figures)["filled"] for b in stored.drawing.boxes
            if "filled" in dict(b.figures)}  # fmt: skip
    assert told["Molasses tanks"].endswith("(?)")
    assert "(?)" not in told["Bagasse store"]


def table(works_client, day=DAY):
    found = works_client.get(f"/works/{day}?format=json").json()
    return {s["key"]: s for s in found["stages"]}


def test_a_juice_carries_what_is_known_where_it_is(works_client):
    """Hot juice is as warm as its heater leaves it; juice between effects has their brix."""
    account = works_client.get(f"/works/{DAY}/heater.secondary?format=json").json()
    heated = next(q for q in account["quantities"]
                  if q["address"] == "heater.secondary.temperature")  # fmt: skip
    stages_ = table(works_client)
    rows = {r["name"]: r["cells"] for r in stages_["juice"]["rows"]}
    assert rows["Hot juice"][-1]["value"] == heated["shown"]["value"]
    assert rows["Hot juice"][-1]["value"] > rows["Limed juice"][-1]["value"] + 15.0
    brix = [s["more"] for s in stages_["evaporation"]["drawing"]["streams"]]
    assert brix and all(any(m.startswith("brix ") for m in more) for more in brix)


def test_pans_are_fed_tonnes_that_add_up(works_client):
    stage = table(works_client)["boiling"]["drawing"]
    feeds = [c for b in stage["boxes"] for c in b["comes"] if c["text"] == "liquor"]
    assert len(feeds) == 3 and all(f["flow"]["unit"] == "t/h" for f in feeds)
    whole = stage["streams"][0]["flow"]
    fed = sum(f["flow"]["value"] for f in feeds)
    assert 0.99 * whole["value"] <= fed <= whole["value"] * (1.0 + 1e-9)  # some may mingle magma


def test_no_interval_is_dropped_from_a_drawing():
    boxes = tuple(
        Box("/a", f"Effect {n}", (("coefficient", "2.230 ± 0.060\u202fkW/m2.K"),), (), ())
        for n in range(6)
    )
    flow = Shown(495.0, 4.0, "495.12", "8.34", "t/h", 8.34)
    ribbons = tuple(Ribbon("clear juice", "juice", flow, ("brix 15.90 ± 0.20\u202f%",))
                    for _ in range(7))  # fmt: skip
    picture = stage_drawing(StageDrawing("Evaporation", boxes, ribbons, ()))
    assert picture.count("± 0.060") == 6 and picture.count("2.230") == 6
    assert picture.count("± 8.34") == 7 and picture.count("± 0.20") == 7


def test_machines_limits_are_told_apart_from_plausible_ranges(works_client):
    def limits(station):
        found = works_client.get(f"/works/{DAY}/{station}?format=json").json()
        return {q["address"]: q["limit"] for q in found["quantities"] if q["limit"]}

    assert limits("clarifier") == {
        "clarifier.rise_rate": "at most 72 mm/min",
        "clarifier.load": "at most 100 %",
    }
    pans = limits("pan.A")
    assert pans["pan.A.strike_time"].startswith("at least ") and pans["pan.A.load"]
    assert limits("boiler")["boiler.1.steam.flow"] == "at most 140 t/h"
    assert limits("effect.3")["effect.3.vapour.velocity"].startswith("at most ")
    assert limits("mill.2") == {}  # its load is its share of the tandem's power
    page = works_client.get(f"/works/{DAY}/clarifier").text
    assert "plausible from" in page and ">lowest<" not in page
