"""Notes, drafts and every version of a reading, on both databases."""

import importlib.util
from pathlib import Path

import pytest

from ratoon.base.errors import StoreError
from ratoon.base.records import Period
from ratoon.store import Note, Store
from ratoon.store.answers import results_after
from ratoon.store.written import draft_of, notes_in, reading_versions, stop_versions

_spec = importlib.util.spec_from_file_location("store_help", Path(__file__).parent / "conftest.py")
assert _spec and _spec.loader
help_ = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(help_)
at, reading, stop, entries, input_file = (
    help_.at, help_.reading, help_.stop, help_.entries, help_.input_file
)  # fmt: skip
DAY = Period(at(10), at(11))


def note(text: str, **more: object) -> Note:
    return Note(at(10), at(10, 14), "note", "", text, **more)  # type: ignore[arg-type]


def test_notes_are_replaced_by_new_ones_and_once(store: Store) -> None:
    with store.writing("ann") as transaction:
        first = transaction.add_note(note("pump 2 drips"))
    with store.writing("ben") as transaction:
        transaction.add_note(note("pump 3 drips", replaces=first, reason="misread"))
    kept = store.ask(notes_in, DAY)
    assert [(n.text, n.who, n.in_force) for n in kept] == [
        ("pump 2 drips", "ann", False), ("pump 3 drips", "ben", True)
    ]  # fmt: skip
    with pytest.raises(StoreError, match="meanwhile"), store.writing("cat") as transaction:
        transaction.add_note(note("late", replaces=first, reason="x"))
    with pytest.raises(StoreError, match="no such note"), store.writing("cat") as transaction:
        transaction.add_note(note("late", replaces=99, reason="x"))
    assert len(store.ask(notes_in, DAY)) == 2 and store.verify() == []


def test_a_draft_is_one_persons_and_goes_when_empty(store: Store) -> None:
    for text in ('{"a": "1"}', '{"a": "12"}'):
        with store.writing("ann") as transaction:
            transaction.keep_draft("ann", "sheet", text)
    kept = store.ask(draft_of, "ann", "sheet")
    assert kept is not None and kept[0] == '{"a": "12"}'
    assert store.ask(draft_of, "ben", "sheet") is None
    with pytest.raises(StoreError, match="too long"), store.writing("ann") as transaction:
        transaction.keep_draft("ann", "sheet", "x" * 70_000)
    with store.writing("ann") as transaction:
        transaction.keep_draft("ann", "sheet", "")
    assert store.ask(draft_of, "ann", "sheet") is None


def test_every_version_of_a_reading_and_a_stop_is_told(store: Store) -> None:
    first = [reading("mixed_juice.brix", 10, 0.15), stop(10, 2)]
    second = [reading("mixed_juice.brix", 10, 0.16), stop(10, 3)]
    with store.writing("ann") as transaction:
        transaction.add_file(input_file("one.csv"), entries(*first))
    with store.writing("ben") as transaction:
        transaction.add_file(input_file("two.csv"), entries(*second), "read again")
    told = store.ask(reading_versions, ["mixed_juice.brix"], Period(at(10), at(12)))
    assert [(v.version, v.in_force, v.who, v.reason) for v in told] == [
        (told[0].version, False, "ann", ""), (told[1].version, True, "ben", "read again")
    ]  # fmt: skip
    stops = store.ask(stop_versions, DAY)
    assert [v.in_force for v in stops] == [False, True]
    assert store.ask(reading_versions, [], DAY) == []


def test_results_are_told_from_a_number_on(store: Store) -> None:
    for n in range(3):
        store.add_result("works", DAY, f"{n}", {}, {"n": n})
    store.add_result("other", DAY, "x", {}, {})
    told = store.ask(results_after, ("works", "day"), 0)
    assert [r.answer["n"] for _, r in told] == [0, 1, 2]
    assert [r.answer["n"] for _, r in store.ask(results_after, ("works",), told[1][0])] == [2]
