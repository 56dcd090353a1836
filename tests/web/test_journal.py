"""The journal: stops and notes are kept, corrected by new rows, and count once accounted again."""

import re

import pytest
from fastapi.testclient import TestClient

from ratoon.web.app import create_app

from .conftest import copied

DAY = "2031-06-12"


@pytest.fixture(scope="module")
def client(works_mill, tmp_path_factory):
    folder = copied(works_mill, tmp_path_factory.mktemp("journal") / "mill")
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as asking:
        yield asking


def send(client, address, **form):
    token = re.search(r'name="form-token" content="(\w+)"', client.get(f"/journal/{DAY}").text)[1]
    return client.post(address, data={"token": token, **form}, follow_redirects=False)


def journal(client, day=DAY):
    return client.get(f"/journal/{day}?format=json").json()


def stop(client, **form):
    given = {"station": "mills", "cause": "chute choked", "note": ""} | form
    return send(client, f"/journal/{DAY}/stops", **given)


def test_a_stop_is_kept_with_who_and_drawn(client):
    answer = stop(client, start=f"{DAY}T09:10", end=f"{DAY}T09:55")
    assert answer.status_code == 303, answer.text
    page = journal(client)
    kept = next(s for s in page["stops"] if s["cause"] == "chute choked")
    assert kept["length"] == "45\u202fmin" and kept["who"]
    assert any("chute choked" in c["label"] for c in page["ribbon"]["cuts"])
    assert next(c for c in page["causes"] if c["cause"] == "chute choked")["day"] == 0.75


def test_a_correction_is_a_new_row_with_its_reason(client):
    stop(client, start=f"{DAY}T11:00", end=f"{DAY}T11:30")
    refused = stop(client, start=f"{DAY}T11:00", end=f"{DAY}T12:00")
    assert refused.status_code == 422 and "reason" in refused.text
    assert (
        stop(client, start=f"{DAY}T11:00", end=f"{DAY}T12:00", reason="log read").status_code == 303
    )
    kept = next(s for s in journal(client)["stops"] if s["start"] == f"{DAY}T11:00")
    assert kept["length"] == "1\u202fh" and kept["reason"] == "log read"
    assert [b["end"] for b in kept["before"]] == [f"{DAY}T11:30"]


def test_a_stop_that_never_was_stays_to_be_seen(client):
    form = {"start": f"{DAY}T13:00", "end": f"{DAY}T13:20"}
    stop(client, **form)
    assert stop(client, **form, act="withdraw").status_code == 422
    assert stop(client, **form, act="withdraw", reason="wrong day").status_code == 303
    page = journal(client)
    kept = next(s for s in page["stops"] if s["start"] == f"{DAY}T13:00")
    assert kept["withdrawn"] and not any(c["clock"] == "13:00" for c in page["ribbon"]["cuts"])


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"start": f"{DAY}T15:00", "end": f"{DAY}T14:00"}, "not after the start"),
        ({"start": "soon", "end": f"{DAY}T14:00"}, "start"),
        ({"start": f"{DAY}T15:00", "end": f"{DAY}T15:10", "cause": ""}, "cause"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(client, form, words):
    answer = stop(client, note="typed with care", **form)
    assert answer.status_code == 422 and words in answer.text
    assert "typed with care" in answer.text


def test_notes_and_handover_belong_to_a_shift(client):
    send(client, f"/journal/{DAY}/notes", shift="day", text="Pump 2 drips.\nTold the fitter.")
    send(client, f"/journal/{DAY}/notes", shift="day", kind="handover", text="Watch pump 2.")
    notes = next(s for s in journal(client)["shifts"] if s["name"] == "day")["notes"]
    assert [n["kind"] for n in notes] == ["note", "handover"]
    first = notes[0]["number"]
    again = {"shift": "day", "text": "Pump 3 drips.", "replaces": str(first)}
    assert send(client, f"/journal/{DAY}/notes", **again).status_code == 422
    assert send(client, f"/journal/{DAY}/notes", **again, reason="misread").status_code == 303
    changed = next(s for s in journal(client)["shifts"] if s["name"] == "day")["notes"]
    assert "Pump 2 drips.\nTold the fitter." in [b[0] for n in changed for b in n["before"]]
    twice = send(client, f"/journal/{DAY}/notes", **again, reason="again")
    assert twice.status_code == 422 and "meanwhile" in twice.text


def test_a_note_is_text_and_nothing_else(client):
    send(client, f"/journal/{DAY}/notes", shift="night", text="<script>alert(1)</script>{{7*7}}")
    text = client.get(f"/journal/{DAY}").text
    assert "<script>alert" not in text and "&lt;script&gt;" in text and "{{7*7}}" in text


def test_a_day_not_yet_accounted_has_a_journal(client):
    page = journal(client, "2031-06-20")
    assert page["stops"] == [] and not page["accounted"] and len(page["shifts"]) == 3


def test_what_was_written_counts_once_accounted_again(client):
    before = client.get(f"/morning/{DAY}?format=json").json()["sheet"]["lost_time"]
    stop(client, start=f"{DAY}T20:00", end=f"{DAY}T21:00", cause="power dip")
    assert "power dip" not in str(before)
    answer = send(client, f"/account/{DAY}")
    assert answer.status_code == 303
    after = client.get(f"/morning/{DAY}?format=json").json()["sheet"]["lost_time"]
    assert "power dip" in str(after)


def test_a_form_from_elsewhere_changes_nothing(client):
    given = {"start": f"{DAY}T22:00", "end": f"{DAY}T22:30", "station": "mills", "cause": "x"}
    assert client.post(f"/journal/{DAY}/stops", data=given).status_code == 403
    assert not any(s["start"] == f"{DAY}T22:00" for s in journal(client)["stops"])


def refused_lines(client, **form):
    answer = stop(client, **form)
    assert answer.status_code == 422, answer.status_code
    return answer.text


def test_a_stop_past_the_mill_day_is_kept_only_when_it_is_meant(client):
    form = {"start": f"{DAY}T22:30", "end": "2031-06-18T22:40"}
    text = refused_lines(client, **form)
    assert "after the mill day 2031-06-12 is over" in text and "144.2 h" in text
    assert 'name="sure"' in text and "2031-06-18T22:40" in text
    assert not any(s["start"] == form["start"] for s in journal(client)["stops"])
    over_night = {"start": "2031-06-13T05:40", "end": "2031-06-13T06:20"}
    assert "2031-06-12 and 2031-06-13" in refused_lines(client, **over_night)
    assert stop(client, **over_night, sure="yes").status_code == 303
    for day in (DAY, "2031-06-13"):
        assert any(s["start"] == over_night["start"] for s in journal(client, day)["stops"])


def test_a_station_does_not_stand_twice_at_a_time(client):
    assert stop(client, start=f"{DAY}T16:00", end=f"{DAY}T16:40").status_code == 303
    for station in ("mills", "Mills", "mill"):
        text = refused_lines(
            client, start=f"{DAY}T16:20", end=f"{DAY}T17:00", station=station, sure="yes"
        )
        assert f"mills already stood from {DAY} 16:00 to 16:40" in text
    answer = stop(client, start=f"{DAY}T16:20", end=f"{DAY}T17:00", station="pans")
    assert answer.status_code == 303
    told = client.get(answer.headers["location"]).text
    assert "only stops of the station mills count" in told.replace("Only", "only")


def test_a_station_nobody_knows_is_asked_about_with_those_that_are_near(client):
    text = refused_lines(client, start=f"{DAY}T17:10", end=f"{DAY}T17:20", station="evaporator")
    assert "is not one of this mill" in text and "evaporators" in text
    answer = stop(
        client, start=f"{DAY}T17:10", end=f"{DAY}T17:20", station="cane crane", sure="yes"
    )
    assert answer.status_code == 303


def test_an_odd_cause_is_kept_and_said(client):
    answer = stop(client, start=f"{DAY}T18:00", end=f"{DAY}T18:05", cause="xyz cause")
    page = client.get(answer.headers["location"] + "&format=json").json()
    assert page["told"][0].startswith("Kept: mills, 2031-06-12 18:00 to 2031-06-12 18:05")
    assert any("'xyz cause'" in t for t in page["told"])


def test_a_stop_of_another_day_is_kept_there_and_said(client):
    answer = stop(client, start="2031-06-11T09:00", end="2031-06-11T09:15", station="pans")
    where = answer.headers["location"]
    assert where.startswith("/journal/2031-06-11?")
    told = " ".join(client.get(where + "&format=json").json()["told"])
    assert "typed on the page of 2031-06-12" in told
    far = refused_lines(client, start="2031-05-11T09:00", end="2031-05-11T09:15")
    assert "32 days from this page" in far


def kept_stop(client, start):
    return next(s for s in journal(client)["stops"] if s["start"] == start)


def test_two_people_who_correct_one_stop_hear_of_each_other(client):
    """Both have opened the page; who sends last is told of the first, and may send again."""
    start = f"{DAY}T07:00"
    stop(client, start=start, end=f"{DAY}T07:30")
    seen = str(kept_stop(client, start)["number"])
    assert f'name="seen" value="{seen}"' in client.get(f"/journal/{DAY}").text
    first = {"start": start, "end": f"{DAY}T07:40", "reason": "log read", "seen": seen}
    assert stop(client, **first).status_code == 303
    second = {"start": start, "end": f"{DAY}T07:50", "reason": "clock read", "seen": seen}
    for act in ("keep", "withdraw"):
        told = stop(client, **second, act=act)
        assert told.status_code == 422
        assert "was entered by somebody else since this page was opened" in told.text
    assert kept_stop(client, start)["end"] == f"{DAY}T07:40"
    again = second | {"seen": str(kept_stop(client, start)["number"])}
    assert stop(client, **again).status_code == 303
    now = kept_stop(client, start)
    assert now["end"] == f"{DAY}T07:50"
    assert [b["end"] for b in now["before"]] == [f"{DAY}T07:30", f"{DAY}T07:40"]


def test_a_note_changed_alone_is_a_correction_and_is_not_lost(client):
    form = {"start": f"{DAY}T08:00", "end": f"{DAY}T08:10"}
    assert stop(client, **form, note="belt slipped").status_code == 303
    told = stop(client, **form, note="belt torn")
    assert told.status_code == 422 and "write the reason" in told.text
    assert stop(client, **form, note="belt torn", reason="looked again").status_code == 303
    now = kept_stop(client, form["start"])
    assert (now["note"], now["reason"]) == ("belt torn", "looked again")
    assert [b["note"] for b in now["before"]] == ["belt slipped"]


def test_what_was_never_written_down_is_not_withdrawn(client):
    form = {"start": f"{DAY}T06:00", "end": f"{DAY}T06:10", "act": "withdraw", "reason": "x"}
    told = stop(client, **form, station="ghost")
    assert told.status_code == 422 and "no stop of this start and station" in told.text
    assert all(s["station"] != "ghost" for s in journal(client)["stops"])
    for wrong, said in (("y", "no such time"), (f"{DAY}T06:10+05:00", "this offset does not")):
        assert f"end: {said}" in stop(client, **form | {"end": wrong}).text


@pytest.mark.parametrize("number", ["9" * 20, "\u00b2", "-1", "x"])
def test_a_number_that_no_note_has_is_refused_in_a_line(client, number):
    told = send(client, f"/journal/{DAY}/notes", shift="day", text="a", reason="r", replaces=number)
    assert told.status_code == 422 and "is not the number of a note" in told.text


BACK = "2031-11-02"


@pytest.fixture(scope="module")
def where_clocks_change(works_mill, tmp_path_factory):
    folder = copied(works_mill, tmp_path_factory.mktemp("clocks") / "mill")
    file = folder / "mill.toml"
    text = file.read_text().replace("Australia/Brisbane", "America/Chicago")
    file.write_text(text)
    assert "America/Chicago" in text
    with TestClient(create_app(folder), base_url="http://127.0.0.1") as asking:
        yield asking


def test_a_time_that_comes_twice_is_kept_and_taken_back_with_its_offset(where_clocks_change):
    asked = where_clocks_change
    day = "2031-11-01"  # the mill day that lasts until the morning of the change
    assert f"{BACK}T01:00-05:00" in asked.get(f"/journal/{day}").text  # how it is written
    form = {"station": "mills", "cause": "chute choked", "note": ""}
    address = f"/journal/{day}/stops"
    which = send(asked, address, **form, start=f"{BACK}T01:10", end=f"{BACK}T02:10")
    assert which.status_code == 422 and "exists twice" in which.text
    ends = {"start": f"{BACK}T01:10-05:00", "end": f"{BACK}T01:10-06:00"}
    assert send(asked, address, **form, **ends).status_code == 303
    kept = next(s for s in journal(asked, day)["stops"] if not s["withdrawn"])
    assert {"start": kept["start"], "end": kept["end"]} == ends
    assert kept["length"] == "1\u202fh"
    gone = send(asked, address, **form, **ends, act="withdraw", reason="it ran", sure="yes")
    assert gone.status_code == 303, gone.text
    assert "datetime-local" in asked.get(f"/journal/{DAY}").text  # any other day


def test_a_stop_begins_with_a_button_runs_and_ends(client):
    """The times are this mill's own: it is invented, so no clock tells what is now."""
    day = "2031-06-16"
    address = f"/journal/{day}/stops"
    told = send(client, address, act="begin")
    assert told.status_code == 422 and "Write the time" in told.text
    assert send(client, address, act="begin", start=f"{day}T12:00").status_code == 303
    (now,) = [s for s in journal(client, day)["stops"] if s["running"]]
    assert (now["station"], now["cause"], now["end"]) == ("mills", "not known yet", "")
    twice = send(client, address, act="begin", start=f"{day}T12:10")
    assert twice.status_code == 422 and "cannot stand twice" in twice.text
    # until it is over it takes the rest of the day, and of no other day beyond what has run
    assert journal(client, day)["ribbon"]["cuts"][-1]["hours"] == 18.0
    ends = {"start": now["start"], "station": "mills", "cause": "mechanical",
            "equipment": "mill 2", "fault": "chain broken"}  # fmt: skip
    assert send(client, address, act="end", end=f"{day}T12:40", **ends).status_code == 303
    (over,) = [s for s in journal(client, day)["stops"] if s["start"] == now["start"]]
    assert over["cause"] == "mechanical > mill 2 > chain broken" and over["reason"] == "ended"
    assert [b["end"] for b in over["before"]] == [""]
    assert "mechanical" in {c["cause"] for c in journal(client, day)["causes"]}
    row = next(e for e in journal(client, day)["equipment"] if e["name"] == "mill 2")
    assert row["stops"] == 1 and row["hours"] == "40\u202fmin"


def test_start_and_station_are_corrected_too(client):
    day = "2031-06-17"
    address = f"/journal/{day}/stops"
    given = {"station": "mills", "cause": "mechanical", "end": f"{day}T13:20"}
    send(client, address, **given, start=f"{day}T13:00")
    was = {"was_start": f"{day}T13:00", "was_station": "mills"}
    moved = given | was | {"start": f"{day}T12:50"}
    assert "with a reason" in send(client, address, **moved).text
    assert send(client, address, **moved, reason="log read").status_code == 303
    by_start = {s["start"]: s for s in journal(client, day)["stops"]}
    old, new = by_start[f"{day}T13:00"], by_start[f"{day}T12:50"]
    assert old["withdrawn"] and old["reason"].startswith("log read: written at 2031-06-17 12:50")
    assert not new["withdrawn"] and new["length"] == "30\u202fmin"


def test_a_handover_is_shown_until_somebody_of_the_next_shift_has_read_it(client):
    day = "2031-06-13"
    send(client, f"/journal/{day}/notes", shift="night", kind="handover", text="Pump 4 is out.")
    shown = client.get("/morning/2031-06-13?format=json").json()["handovers"]
    assert shown[0]["text"] == "Pump 4 is out." and not shown[0]["read"]
    assert shown[0] in journal(client, "2031-06-14")["handovers"]
    number = str(shown[0]["number"])
    own = send(client, f"/journal/{day}/handover", number=number, name=shown[0]["who"])
    assert own.status_code == 422 and "the next shift" in own.text
    assert "must be told" in send(client, f"/journal/{day}/handover", number=number).text
    assert "no such handover" in send(
        client, f"/journal/{day}/handover", number="77", name="Mo").text  # fmt: skip
    for _ in range(2):  # sent twice, kept once
        there = send(client, f"/journal/{day}/handover", number=number, name="Mo", to="morning")
        assert there.headers["location"] == f"/morning/{day}"
    assert [by for by, _ in journal(client, day)["handovers"][0]["read"]] == ["Mo"]
    assert number not in [str(h["number"]) for h in journal(client, "2031-06-14")["handovers"]]


def test_a_job_of_ones_own_is_open_until_it_is_done_with_a_result(client):
    address = f"/journal/{DAY}/actions"
    given = {"what": "change the pump", "person": "Rhys", "due": "2031-06-11", "by": "Kay"}
    assert "due: no such day" in send(client, address, **given | {"due": "soon"}).text
    assert send(client, address, **given).status_code == 303
    (job,) = [j for j in journal(client)["jobs"] if j["kind"] == "own"]
    assert journal(client)["jobs"][0] == job and job["who"] == "Rhys"  # on top
    assert "late" in client.get(f"/journal/{DAY}").text
    assert client.get(f"/morning/{DAY}?format=json").json()["jobs"] == [job]
    assert "must be told" in send(client, address, done=job["id"], by="Rhys").text
    assert send(client, address, done=job["id"], by="Rhys", note="seal worn").status_code == 303
    assert not client.get(f"/morning/{DAY}?format=json").json()["jobs"]
    again = send(client, address, done=job["id"], by="Rhys", note="seal worn")
    assert again.status_code == 422 and "was done already" in again.text


def test_notes_of_any_day_are_found_by_their_words(client):
    send(client, f"/journal/{DAY}/notes", shift="day", text="Heron in the 100 % mud filter.")
    for words, hits in (("heron mud", 1), ("heron clarifier", 0), ("100 %", 1), ("_eron", 0)):
        page = client.get("/find", params={"q": words, "format": "json"}).json()
        notes = [row for kind in page["kinds"] if kind["kind"] == "Notes" for row in kind["rows"]]
        assert len(notes) == hits, words
    assert client.get("/find", params={"q": "heron mud"}).url.path == f"/journal/{DAY}"
