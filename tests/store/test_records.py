"""Readings, stops, mill files and answers: appended, corrected, seen as of any date."""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from ratoon.base.clock import Calendar
from ratoon.base.errors import BadInput, StoreError
from ratoon.base.records import Period
from ratoon.store import Store
from ratoon.store.answers import (
    newest_parts,
    newest_result,
    newest_results,
    periods_with_result,
    settings_on,
)
from ratoon.store.chain import events as chain
from ratoon.store.entries import (
    addresses,
    changed_since,
    mill_days,
    newest_day,
    readings_in,
    stops_in,
)

from .conftest import at, entries, input_file, reading, stop

AUGUST = Period(at(1), at(31))


def test_reading_comes_back_as_it_was_given(store: Store) -> None:
    level = reading("tank.stock", 14, 250.0, end=None, unit="m3", given=250.0, sigma=None)
    store.add_file(
        input_file(), entries(reading("cane.weight", 14, 10_199_000.0, note="dry"), level)
    )
    cane, tank = store.ask(readings_in, AUGUST)
    assert (cane.address, cane.value, cane.unit, cane.given) == (
        "cane.weight", 10_199_000.0, "t", 10_199.0,
    )  # fmt: skip
    assert (cane.start, cane.end, cane.sigma, cane.note) == (at(14), at(15), 5.0, "dry")
    assert cane.source == "day.csv row 2"
    assert (tank.end, tank.sigma) == (None, None)


def test_same_value_again_changes_nothing(store: Store) -> None:
    rows = entries(reading("cane.weight", 14, 1e6), stop(14, 2))
    first = store.add_file(input_file(), rows)
    head = store.ask(chain.head)
    again = store.add_file(input_file("copy.csv"), rows)
    assert (first.accepted, first.unchanged) == (2, 0)
    assert (again.accepted, again.unchanged) == (0, 2)
    assert store.ask(chain.head) == head
    assert len(store.ask(readings_in, AUGUST)) == len(store.ask(stops_in, AUGUST)) == 1


def test_same_amount_in_another_unit_is_the_same_value(store: Store) -> None:
    store.add_file(input_file(), entries(reading("cane.weight", 14, 0.1 * 3 * 1000)))
    other = reading("cane.weight", 14, 300.0, unit="kg", given=300.0)
    assert store.add_file(input_file(), entries(other)).unchanged == 1


def test_other_value_is_rejected_and_names_the_row_that_stands(store: Store) -> None:
    store.add_file(input_file(), entries(reading("cane.weight", 14, 1e6)))
    outcome = store.add_file(input_file("b.csv"), entries(reading("cane.weight", 14, 2e6)))
    assert outcome.accepted == 0
    assert "1000 t in day.csv row 2" in outcome.rejected[0].reason
    assert "--correct" in outcome.rejected[0].reason
    assert store.ask(readings_in, AUGUST)[0].value == 1e6


def test_correction_is_a_new_row_and_the_old_figure_can_still_be_seen(store: Store) -> None:
    store.add_file(input_file(), entries(reading("cane.weight", 14, 1e6), stop(14, 2)))
    before = datetime.now(UTC)
    right = entries(reading("cane.weight", 14, 2e6), stop(14, 3))
    outcome = store.add_file(input_file("b.csv"), right, correct="bin list read twice")
    assert (outcome.corrected, outcome.accepted) == (2, 0)
    assert [r.value for r in store.ask(readings_in, AUGUST)] == [2e6]
    assert [r.value for r in store.ask(readings_in, AUGUST, as_of=before)] == [1e6]
    assert [s.hours for s in store.ask(stops_in, AUGUST)] == [3]
    assert [s.hours for s in store.ask(stops_in, AUGUST, as_of=before)] == [2]
    assert store.ask(readings_in, AUGUST, as_of=before - timedelta(days=1)) == []
    assert store.verify() == []


def test_correction_can_change_the_sigma_alone(store: Store) -> None:
    store.add_file(input_file(), entries(reading("cane.weight", 14, 1e6)))
    new = entries(reading("cane.weight", 14, 1e6, sigma=9.0))
    assert store.add_file(input_file(), new).unchanged == 1
    assert store.add_file(input_file(), new, correct="scale serviced").corrected == 1
    assert store.ask(readings_in, AUGUST)[0].sigma == 9.0


def test_correction_can_change_the_note_alone_and_keeps_the_sigma(store: Store) -> None:
    store.add_file(input_file(), entries(reading("cane.weight", 14, 1e6, note="wet")))
    new = entries(reading("cane.weight", 14, 1e6, sigma=None, note="dry"))
    assert store.add_file(input_file(), new).unchanged == 1
    assert store.add_file(input_file(), new, correct="wrong shift").corrected == 1
    (stands,) = store.ask(readings_in, AUGUST)
    assert (stands.note, stands.sigma) == ("dry", 5.0)
    assert store.add_file(input_file(), new, correct="wrong shift").unchanged == 1
    without = entries(reading("cane.weight", 14, 1e6, sigma=9.0))
    assert store.add_file(input_file(), without, correct="scale serviced").corrected == 1
    (stands,) = store.ask(readings_in, AUGUST)
    assert (stands.note, stands.sigma) == ("dry", 9.0)


def test_a_file_that_contradicts_itself_is_rejected_even_as_a_correction(store: Store) -> None:
    rows = entries(reading("cane.weight", 14, 1e6), reading("cane.weight", 14, 2e6))
    outcome = store.add_file(input_file(), rows, correct="because")
    assert outcome.accepted == 1
    assert "row 2 of this file" in outcome.rejected[0].reason


def test_readings_within_a_period_and_levels_at_both_its_ends(store: Store) -> None:
    levels = [reading("tank.stock", day, 1.0, end=None) for day in (13, 14, 15, 16)]
    days = [reading("cane.weight", day, 1e6) for day in (13, 14, 15)]
    store.add_file(input_file(), entries(*levels, *days))
    found = store.ask(readings_in, Period(at(14), at(15)))
    assert [(r.address, r.start.day) for r in found if r.start] == [
        ("cane.weight", 14), ("tank.stock", 14), ("tank.stock", 15),
    ]  # fmt: skip
    assert len(store.ask(readings_in, AUGUST, addresses=["tank.stock"])) == 4


def test_stop_that_spans_two_days_belongs_to_both(store: Store) -> None:
    store.add_file(input_file(), entries(stop(14, 4)))
    assert store.ask(stops_in, Period(at(14, 10), at(15)))[0].hours == 4
    assert store.ask(stops_in, Period(at(15), at(16))) == []


def test_days_with_readings(store: Store) -> None:
    calendar = Calendar("UTC", time(6))
    store.add_file(
        input_file(),
        entries(
            reading("cane.weight", 13, 1e6), reading("tank.stock", 15, 1.0, end=None), stop(14, 2)
        ),
    )
    assert store.ask(mill_days, calendar) == [date(2031, 8, 13), date(2031, 8, 14)]
    assert store.ask(newest_day, calendar) == date(2031, 8, 13)
    assert store.ask(addresses) == ["cane.weight", "tank.stock"]


def test_an_error_inside_a_transaction_stores_nothing(store: Store) -> None:
    with pytest.raises(ZeroDivisionError), store.writing() as transaction:
        transaction.add_file(input_file(), entries(reading("cane.weight", 14, 1e6)))
        _ = 1 / 0
    assert store.ask(readings_in, AUGUST) == []
    assert store.verify() == []


def test_mill_file_is_kept_with_the_day_from_which_it_holds(store: Store) -> None:
    assert store.keep_settings("a = 1", date(2031, 6, 10))
    assert not store.keep_settings("a = 1", date(2031, 7, 1))
    assert store.keep_settings("a = 2", date(2031, 8, 1))
    held = [store.ask(settings_on, date(2031, month, 15)) for month in (1, 6, 7, 8)]
    assert [kept.text for kept in held if kept] == ["a = 1", "a = 1", "a = 1", "a = 2"]


def test_newest_answer_is_shown_and_older_ones_stay(store: Store) -> None:
    period = Period(at(14), at(15))
    assert store.ask(newest_result, "day", period) is None
    for value in (1.0, 2.5):
        store.add_result("day", period, "d" * 64, {"program": "1"}, {"figure": value, "none": None})
    newest = store.ask(newest_result, "day", period)
    assert newest is not None
    assert newest.answer == {"figure": 2.5, "none": None}
    assert newest.versions == {"program": "1", "event": "2"}
    assert store.ask(periods_with_result, "day") == [period]
    assert [r.answer for r in store.ask(newest_results, "day")] == [newest.answer]
    parts = [store.ask(newest_parts, "day", key, period) for key in ("figure", "none", "other")]
    assert parts == [[(period, "d" * 64, told)] for told in (2.5, None, None)]
    assert store.verify() == []


def test_a_number_that_is_not_finite_is_refused(store: Store) -> None:
    with pytest.raises(BadInput, match="not finite"):
        store.add_result("day", AUGUST, "", {}, {"x": float("nan")})
    assert store.verify() == []


def test_times_without_zone_are_refused(store: Store) -> None:
    naive = reading("cane.weight", 14, 1.0, end=datetime(2031, 8, 15))
    with pytest.raises((StoreError, TypeError)):
        store.add_file(input_file(), entries(naive))


def test_same_files_give_the_same_contents(store: Store, tmp_path: object) -> None:
    from pathlib import Path

    rows = entries(reading("cane.weight", 14, 1e6), reading("a.b", 14, 3.0), stop(14, 1))
    store.add_file(input_file(), rows)
    store.keep_settings("x = 1", date(2031, 6, 10))
    elsewhere = Path(str(tmp_path)) / "elsewhere"  # a store's anchors lie in its folder
    elsewhere.mkdir()
    with Store.open(elsewhere / "other.db") as other:
        other.add_file(input_file(), rows)
        other.keep_settings("x = 1", date(2031, 6, 10))
        assert other.contents_digest() == store.contents_digest()
        other.add_readings([reading("a.c", 14, 3.0)], "person")
        assert other.contents_digest() != store.contents_digest()


def test_a_clock_set_back_leaves_one_version_in_force_and_hides_no_change(
    store: Store, monkeypatch
):
    """What comes later is told by the order of the records, not by the machine's clock."""
    day, morning = Period(at(14), at(15)), datetime(2031, 8, 15, 6, tzinfo=UTC)
    for value, minutes in ((1e6, 0), (2e6, 60), (3e6, 30)):  # set back before the third
        now = morning + timedelta(minutes=minutes)
        monkeypatch.setattr(chain, "now", lambda now=now: now)
        if value == 3e6:
            store.add_result("day", day, "d" * 64, {}, {})
        row = entries(reading("cane.weight", 14, value))
        store.add_file(input_file(f"{value}.csv"), row, correct="counted again")
    for minutes, values in ((-1, []), (0, [1e6]), (30, [3e6]), (40, [3e6]), (60, [3e6])):
        as_of = morning + timedelta(minutes=minutes)
        found = [r.value for r in store.ask(readings_in, AUGUST, as_of=as_of)]
        assert found == values, minutes
    kept = store.ask(newest_result, "day", day)
    assert kept is not None and store.ask(chain.seen_by, kept) == 3
    assert store.ask(changed_since, 3, day, day.end)
    assert not store.ask(changed_since, 5, day, day.end)
