"""Jobs as records: one job for days in a row, done by somebody, asked for again, never lost."""

from __future__ import annotations

from typing import Any

from ratoon.jobs.sheet.actions import fold


def asked(key: str, value: float = 95.0) -> dict[str, Any]:
    return {"what": f"look at {key}", "where": "mills", "who": "milling supervisor",
            "gain_a_day": 900.0, "sigma": 100.0, "limited_by": "", "caution": "", "kind": "loss",
            "key": key, "about": [f"account.{key}"], "value": value, "unit": "%"}  # fmt: skip


def mark(name: str, on: str, **more: Any) -> dict[str, Any]:
    return {"id": name, "on": on, "by": "Anna Reed", "note": "cleared a nozzle", "job": more}


DAYS = {
    "2031-06-11": [asked("extraction")],
    "2031-06-12": [asked("extraction", 94.5), asked("liquor_brix")],
    "2031-06-13": [asked("extraction", 95.5)],
}


def test_days_in_a_row_ask_for_one_job() -> None:
    extraction, brix = fold(DAYS, [])
    assert (extraction.id, extraction.days) == ("2031-06-11/extraction", 3)
    assert (extraction.asked, extraction.last, extraction.before) == (
        "2031-06-11", "2031-06-13", 95.5)  # fmt: skip
    assert (brix.id, brix.state) == ("2031-06-12/liquor_brix", "open")


def test_a_job_done_closes_and_a_later_day_that_asks_again_opens_another() -> None:
    jobs = {j.id: j for j in fold(DAYS, [mark("2031-06-11/extraction", "2031-06-12")])}
    old, new = jobs["2031-06-11/extraction"], jobs["2031-06-13/extraction"]
    assert (old.state, old.by, old.again, old.days) == ("done", "Anna Reed", "2031-06-13", 2)
    assert (new.state, new.days) == ("open", 1)
    assert next(iter(jobs.values())).state == "open"  # the open ones stand first


def test_what_was_done_stays_when_its_day_asks_for_it_no_more() -> None:
    kept = next(j for j in fold(DAYS, []) if "brix" in j.id)
    from ratoon.base.as_json import to_json

    days = {day: [a for a in jobs if a["key"] != "liquor_brix"] for day, jobs in DAYS.items()}
    done = mark(kept.id, "2031-06-13", **to_json(kept))
    jobs = {j.id: j for j in fold(days, [done])}
    assert jobs[kept.id].state == "done" and jobs[kept.id].what == "look at liquor_brix"
