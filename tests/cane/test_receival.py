"""Receival: what is missing, impossible or contradictory is flagged and held, never guessed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from ratoon.cane.decisions import Decisions
from ratoon.cane.receival import receive
from ratoon.cane.records import Bin, Block, Consignment, Tip
from ratoon.cane.rules import ReceivalRules

T = datetime(2031, 6, 11, 3, tzinfo=UTC)
BLOCK = Block("B1", "F1", "G1", "V1")
NOTE = Consignment("C1", "G1", "F1", "B1", "V1", T - timedelta(hours=9), "green", None, 2,
                   ("101", "102"))  # fmt: skip
BINS = [Bin(tag, "C1", T, 7900, 1900, T, "weighed") for tag in ("101", "102")]
TIPS = [Tip("101", T + timedelta(minutes=10)), Tip("102", T + timedelta(minutes=11))]


def codes(bins=BINS, tips=TIPS, notes=(NOTE,), **more):
    found = receive(bins, tips, notes, {"B1": BLOCK}, ReceivalRules(), **more)
    return {f.code for b in found.bins for f in b.flags} | {f.code for f in found.flags}, found


def test_a_sound_consignment_is_paid():
    flags, found = codes()
    assert flags == set()
    assert [b.net_kg for b in found.bins] == [6000, 6000]
    assert not found.held and found.net_kg == 12000


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"gross_kg": None}, "gross missing"),
        ({"tare_kg": None}, "tare missing"),
        ({"gross_kg": 1800}, "no net weight"),
        ({"gross_kg": 19000}, "impossible weight"),
        ({"tare_kind": "stored", "tare_time": T - timedelta(days=60)}, "tare old"),
        ({"tare_kind": "stored", "tare_time": None}, "tare undated"),
    ],
)
def test_a_doubtful_weight_holds_that_bin_alone(change, code):
    flags, found = codes([replace(BINS[0], **change), BINS[1]])
    assert code in flags
    assert [b.held for b in found.bins] == [True, False]
    if code.endswith("missing") or change.get("gross_kg") == 1800:
        assert found.bins[0].net_kg is None


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"variety": "V9"}, "note contradictory"),
        ({"grower": "G9"}, "note contradictory"),
        ({"block": "B9"}, "unknown block"),
        ({"block": ""}, "note incomplete"),
        ({"cut_time": None}, "note incomplete"),
        ({"cut_time": T + timedelta(hours=1)}, "note contradictory"),
        ({"burnt_time": T - timedelta(hours=9)}, "note contradictory"),
        ({"bins_noted": 3}, "count differs"),
        ({"tags": ("101", "103")}, "tags differ"),
        ({"cut_time": T - timedelta(days=9)}, "old cane"),
    ],
)
def test_a_doubtful_note_holds_all_its_bins(change, code):
    flags, found = codes(notes=(replace(NOTE, **change),))
    assert code in flags
    assert found.bins and all(b.held for b in found.bins)


def test_no_note_and_two_notes_that_differ():
    assert "note missing" in codes(notes=())[0]
    assert "note contradictory" in codes(notes=(NOTE, replace(NOTE, bins_noted=5)))[0]
    assert codes(notes=(NOTE, NOTE))[0] == set()


def test_tips_out_of_order_missing_or_doubled():
    assert "not tipped" in codes(tips=TIPS[:1])[0]
    early = [Tip("101", T - timedelta(minutes=1)), TIPS[1]]
    flags, _ = codes(tips=early)
    assert {"not tipped", "tip without weighing"} <= flags
    twice = [*TIPS, Tip("101", T + timedelta(minutes=20))]
    assert "tipped twice" in codes(tips=twice)[0]
    again = replace(BINS[0], gross_time=T + timedelta(minutes=5))
    assert "weighed twice" in codes([*BINS, again])[0]
    assert codes([*BINS, BINS[0]])[0] == set()  # the same row twice is one row


def test_tare_drift_against_earlier_tares():
    assert "tare drift" in codes(tare_history={"101": [1700, 1710, 1690]})[0]
    assert codes(tare_history={"101": [1890, 1910]})[0] == set()


def test_what_a_person_cleared_no_longer_holds():
    cleared = {(BINS[0].key, "impossible weight"): frozenset({"gross 12900, tare 1900"})}
    bins = [replace(BINS[0], gross_kg=12900), BINS[1]]
    flags, found = codes(bins, decisions=Decisions(cleared))
    assert flags == set() and not found.held
    # of another weight nobody said anything
    bins[0] = replace(bins[0], gross_kg=12950)
    assert codes(bins, decisions=Decisions(cleared))[0] == {"impossible weight"}


def test_a_bin_without_a_tare_is_held_until_it_has_one_or_is_refused():
    bins = [replace(BINS[0], tare_kg=None), BINS[1]]
    cleared = Decisions(
        {(BINS[0].key, "tare missing"): frozenset({"held", "gross 7900, tare None"})}
    )
    flags, found = codes(bins, decisions=cleared)
    assert flags == {"tare missing"} and [b.held for b in found.bins] == [True, False]
    refused = Decisions(refused={BINS[0].key: "the roll is lost"})
    found = codes(bins, decisions=refused)[1]
    assert not found.held and [b.refused for b in found.bins] == ["the roll is lost", ""]


def test_a_tip_read_again_after_the_days_end_takes_no_second_day():
    """The bin's tip is the first after its weighing, whichever stretch is looked at."""
    late = [*TIPS, Tip("101", T + timedelta(hours=20))]
    flags, found = codes(tips=late)
    assert flags == {"tipped twice"} and found.bins[0].tip_time == TIPS[0].time


def test_burnt_cane_without_its_time_is_payable_and_says_so():
    flags, found = codes(notes=(replace(NOTE, harvest="burnt"),))
    assert flags == {"burn time missing"} and not found.held


def test_weighed_twice_tells_the_yards_usual_time_at_once():
    again = replace(BINS[0], gross_time=T + timedelta(minutes=5))
    found = codes([*BINS, again])[1]
    (flag,) = (f for b in found.bins for f in b.flags if f.code == "weighed twice")
    assert "0.1 h later" in flag.text and "usually takes" in flag.text


def test_exchanged_tags_name_each_other():
    other = replace(NOTE, consignment="C2", tags=("201", "202"))
    more = [Bin(tag, "C2", T, 7900, 1900, T, "weighed") for tag in ("201", "102")]
    tips = [*TIPS, Tip("201", T + timedelta(minutes=12))]
    bins = [BINS[0], replace(BINS[1], tag="202"), *more]
    found = codes(bins, [*tips, Tip("202", T + timedelta(minutes=13))], (NOTE, other))[1]
    differ = [f for f in found.flags if f.code == "tags differ"]
    assert {(f.subject, f.others) for f in differ} == {("C1", ("C2",)), ("C2", ("C1",))}


def test_bins_tipped_inside_each_others_consignment_are_held():
    notes = [replace(NOTE, consignment=c, bins_noted=9, tags=()) for c in ("C1", "C2")]
    bins = [Bin(f"{n}", "C1" if n < 9 else "C2", T, 7900, 1900, T, "weighed") for n in range(18)]
    tips = [Tip(b.tag, T + timedelta(minutes=n)) for n, b in enumerate(bins)]
    assert codes(bins, tips, notes)[0] == set()
    bins[2], bins[13] = replace(bins[2], consignment="C2"), replace(bins[13], consignment="C1")
    flags, found = codes(bins, tips, notes)
    assert flags == {"stray bin"}
    held = {b.bin.tag: b.flags[0].others for b in found.held}
    assert held == {"2": (bins[13].key,), "13": (bins[2].key,)}
    # a parcel of one bin between others is a small parcel, not a stray
    small = [
        replace(NOTE, consignment=c, bins_noted=n, tags=()) for c, n in (("C1", 17), ("C3", 1))
    ]
    one = [replace(b, consignment="C1") for b in bins]
    one[4] = replace(one[4], consignment="C3")
    assert codes(one, tips, small)[0] == set()
