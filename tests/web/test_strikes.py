"""Pages of strikes: a day's list, one strike, an event typed; what they show is what is kept."""

from datetime import date

import pytest
from fastapi.testclient import TestClient

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.jobs.mills import open_mill
from ratoon.jobs.sheet.history import History
from ratoon.jobs.strikes.exhaustion import exhaustion_of
from ratoon.web.app import create_app

from .conftest import copied, form_token

DAY = "2031-06-12"
KEPT = {"event": "drop", "strike": "C2-12", "pan": "C2", "grade": "C", "time": f"{DAY}T23:40",
        "note": "to=crystalliser", "volume": "88,5", "brix": "94.6"}  # fmt: skip


def test_the_list_and_one_strike_are_what_the_commands_tell(works_client):
    found = works_client.get(f"/strikes/{DAY}?format=json").json()
    assert [(s["id"], s["status"]) for s in found] == [
        ("A1-101", "dropped"), ("B1-44", "contradictory"), ("C2-12", "running")]  # fmt: skip
    page = works_client.get(f"/strikes/{DAY}").text
    assert 'href="/strike/A1-101"' in page and "dropped before it started" in page
    assert f'href="/strikes/{DAY}" aria-current="page"' in page and "92.3 ± 0.8" in page
    detail = works_client.get("/strike/A1-101?format=json").json()
    assert len(detail["trace"]) == 3 and detail["fit"] == {}
    one = works_client.get("/strike/A1-101").text
    assert "Supersaturation" in one and "2031-06-12-strikes.csv row 4" in one
    missing = works_client.get("/strike/A1-1")
    assert missing.status_code == 422 and "unknown strike" in missing.text
    assert works_client.get("/strikes/2031-02-30").status_code == 404
    assert "No strike of this day" in works_client.get("/strikes/2031-06-14").text


def test_exhaustion_is_what_the_command_tells(works_client, works_mill):
    with open_mill(works_mill) as opened:
        history = History(opened.folder, lambda: opened.store)
        told = exhaustion_of(history, date.fromisoformat(DAY))
        with pytest.raises(BadInput, match="is not accounted"):
            exhaustion_of(history, date(2031, 7, 1))
    assert works_client.get(f"/exhaustion/{DAY}?format=json").json() == to_json(told)
    steps = {f"{s.grade} {s.step}": s for s in told.steps}
    assert len(steps) == 8 and [d.date for d in told.days] == ["2031-06-10", "2031-06-11", DAY]
    for s in told.steps:
        assert s.fall.value == pytest.approx(s.before.value - s.after.value)
        assert s.usual is None and not s.lost and s.look  # three days tell nothing of a change
    whole, parts = steps["C pans to crystallisers"], (steps["C pans"], steps["C crystallisers"])
    assert whole.fall.value == pytest.approx(sum(s.fall.value for s in parts))
    assert whole.fall.sigma < min(s.fall.sigma for s in parts)  # nobody took that nutsch
    assert steps["C centrifugals"].worth > 10 * abs(steps["C pans"].worth)
    page = works_client.get(f"/exhaustion/{DAY}").text
    assert "No step lost more than the days scatter" in page and page.count("<svg") >= 7
    assert f'href="/exhaustion/{DAY}" aria-current="page"' in page
    assert works_client.get("/exhaustion/2031-02-30").status_code == 404


@pytest.fixture(scope="module")
def own(works_mill, tmp_path_factory):
    folder = copied(works_mill, tmp_path_factory.mktemp("typed") / "mill")
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as asking:
        yield asking


def send(own, **form):
    token = form_token(own, f"/strikes/{DAY}")
    return own.post(f"/strikes/{DAY}/events", data={"token": token, **form})


def test_an_event_is_typed_corrected_and_refused(own):
    done = send(own, **KEPT)
    assert done.status_code == 200 and "2 kept" in done.text and "94.6" in done.text
    again = send(own, **KEPT | {"volume": "91"})
    assert again.status_code == 422 and "reason for the correction" in again.text
    assert "1 corrected" in send(own, **KEPT | {"volume": "91", "reason": "read again"}).text
    late = {**KEPT, "event": "feed", "time": f"{DAY}T23:50", "flow": "20", "note": "of=B"}
    refused = send(own, **late)
    assert refused.status_code == 422 and "was dropped before" in refused.text
    assert 'value="C2-12"' in refused.text and 'value="20"' in refused.text  # nothing typed is lost
    for bad, words in (({"brix": "n/a"}, "not a number"), ({"pan": "X"}, "unknown pan"),
                       ({"event": "stir"}, "unknown event"), ({"time": "6"}, "YYYY-MM-DD"),
                       ({"brix": "", "volume": ""}, "empty")):  # fmt: skip
        assert words in send(own, **KEPT | bad).text, bad
