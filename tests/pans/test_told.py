"""Strikes as they were told: contradictions, what pans hold, figures, what is followed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from ratoon.base.strikes import StrikeRow, TraceRow
from ratoon.plant.pan.batch import liquor_of
from ratoon.plant.pan.followed import HEAD, followed
from ratoon.plant.pan.records import figures_of, in_pans, strikes_of

from .strikes import a_strike

BEGIN = datetime(2031, 8, 14, 2, tzinfo=UTC)
SIGMA = {"massecuite.brix": 0.004, "massecuite.purity": 0.004, "nutsch.purity": 0.005}


def row(event: str, quantity: str, value: float, hours: float = 0.0, note: str = "",
        strike: str = "S1", pan: str = "A1", grade: str = "A") -> StrikeRow:  # fmt: skip
    return StrikeRow(strike, pan, grade, event, BEGIN + timedelta(hours=hours), quantity, value,
                     note=note)  # fmt: skip


def whole(strike: str = "S1", pan: str = "A1", begin: float = 0.0, end: float = 3.0,
          volume: float = 90.0) -> list[StrikeRow]:  # fmt: skip
    """A sound strike that contradicts nothing."""

    def of(event: str, quantity: str, value: float, at: float) -> StrikeRow:
        return row(event, quantity, value, at, strike=strike, pan=pan)

    return [of("start", "volume", 35.0, begin), of("footing", "crystal", 0.6, begin),
            of("footing", "brix", 0.885, begin), of("drop", "volume", volume, end),
            of("drop", "brix", 0.912, end), of("drop", "purity", 0.87, end),
            of("nutsch", "purity", 0.70, end + 0.2)]  # fmt: skip


def usual(grade: str, name: str, value: float) -> float | None:
    return SIGMA.get(name)


def test_a_sound_strike_contradicts_nothing_and_tells_its_crystal() -> None:
    (s,) = strikes_of(whole())
    assert s.status == "dropped" and not s.contradictions
    f = figures_of(s, usual)
    # (87 - 70)/(100 - 70) x 91.2, by hand; spread by hand from 0.4, 0.4 and 0.5
    assert f.crystal is not None and f.crystal.value == pytest.approx(51.68)
    assert f.crystal.sigma == pytest.approx(1.4014, abs=1e-3)
    assert f.crystal.kind == "found" and f.brix is not None and f.brix.kind == "measured"


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ([replace(r, value=0.9) if r.quantity == "crystal" else r for r in whole()],
         "more crystal (90.0 %) than dry substance (88.5 %)"),
        (whole(end=-1.0), "dropped before it started"),
        ([*whole(), row("set", "pressure", 14e3, pan="A2")], "told in pans A1 and A2"),
        ([*whole(), row("set", "pressure", 14e3, grade="B")], "told in grades A and B"),
        ([*whole(), row("drop", "temperature", 65.0, 3.5)], "two times of its drop"),
        ([*whole(), *whole("S2", begin=2.0, end=5.0)], "in pan A1 together with S2"),
    ],
)  # fmt: skip
def test_what_contradicts_itself_is_marked(changed: list[StrikeRow], words: str) -> None:
    first = next(s for s in strikes_of(changed) if s.id == "S1")
    assert any(words in said for said in first.contradictions)
    assert first.status == "contradictory"


def test_strikes_that_meet_or_lie_in_two_pans_do_not_clash() -> None:
    rows = [*whole(), *whole("S2", begin=3.0, end=6.0), *whole("S3", "A2", begin=1.0, end=4.0)]
    assert not any(s.contradictions for s in strikes_of(rows))


@pytest.mark.parametrize(
    ("footing", "cut", "clashes"), [(40.0, None, False), (95.0, None, True), (30.0, 20.0, True)]
)
def test_a_footing_is_no_larger_than_what_was_left(
    footing: float, cut: float | None, clashes: bool
) -> None:
    rows = [*whole(), *whole("S2", "A2", begin=3.0, end=6.0),
            row("footing", "volume", footing, 3.0, "from=S1", "S2", "A2")]  # fmt: skip
    if cut is not None:
        rows.append(row("cut", "volume", cut, 2.0, "to=S2"))
    second = next(s for s in strikes_of(rows) if s.id == "S2")
    assert bool(second.contradictions) == clashes
    assert not clashes or "S1 had left" in second.contradictions[0]


def test_what_is_in_the_pans_goes_by_the_trace_or_by_the_line() -> None:
    traced = [TraceRow("S1", BEGIN + timedelta(hours=h), (("level", v),))
              for h, v in ((0.5, 40.0), (1.5, 60.0))]  # fmt: skip
    (s,) = strikes_of(whole(), traced)
    at = BEGIN + timedelta(hours=1.0)
    assert s.volume_at(at) == (pytest.approx(50.0), pytest.approx(1.0))
    (s,) = strikes_of(whole())
    held = in_pans([s], at)["A"]
    assert held == (pytest.approx(35.0 + 55.0 / 3.0), pytest.approx(13.5))
    assert in_pans([s], at + timedelta(hours=5)) == {}
    (clash,) = strikes_of(whole(end=-1.0))
    assert in_pans([clash], at) == {}


def test_the_followed_strike_gives_back_the_mother_liquor_that_was_boiled() -> None:
    """A simulated strike read without error: what was boiled comes out of its instruments."""
    pan, start, feed, events, _ = a_strike()
    strike = pan.strike(start, feed, events[:0], 6_000.0)
    picked = range(10, len(strike.times), 25)
    rows = [row("start", "purity", 0.87)]
    traced, true = [], []
    for k in picked:
        liquor = liquor_of(strike.states[k])
        at = BEGIN + timedelta(seconds=strike.times[k])
        purity = (liquor.sucrose + liquor.crystal) / (
            liquor.sucrose + liquor.crystal + liquor.nonsucrose)  # fmt: skip
        rows.append(row("drop", "purity", purity, strike.times[k] / 3600.0))
        boils = float(np.asarray(strike.figure("boiling_point"))[k])
        shown = (("temperature", boils + HEAD), ("pressure", feed.pressure),
                 ("brix", float(liquor.brix)))  # fmt: skip
        (s,) = strikes_of([row("start", "purity", purity)], [TraceRow("S1", at, shown)])
        (moment,) = followed(s, 1.0, datetime.isoformat)
        assert moment.supersaturation is not None and moment.crystal is not None
        traced.append((moment.supersaturation.value, moment.crystal.value / 100.0))
        true.append((liquor.supersaturation(), liquor.crystal / liquor.mass))
    assert np.array(traced) == pytest.approx(np.array(true, dtype=float), abs=2e-3)
