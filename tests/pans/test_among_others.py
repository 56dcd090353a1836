"""A strike beside the others of its mill: false grain, what went wrong, the drop to be expected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from statistics import NormalDist

import numpy as np
import pytest

from ratoon.base.strikes import StrikeRow, TraceRow
from ratoon.plant.pan.expected import expected
from ratoon.plant.pan.faults import faults
from ratoon.plant.pan.grain import grains, least_called, threshold
from ratoon.plant.pan.records import StrikeRecord

BEGAN = datetime(2031, 8, 1, tzinfo=UTC)
SIEVES = (1.18, 0.85, 0.6, 0.425, 0.3)
HOUR = timedelta(hours=1)


def strike(
    k: int, grade: str = "A", hours: float = 3.0, rows: Sequence[tuple[str, float, str, float]] = ()
) -> StrikeRecord:
    """A strike with rows of event, part of its time, quantity and value."""
    start, name = BEGAN + k * 4 * HOUR, f"{grade}{k}"
    told = [("start", 0.0, "volume", 34.0), ("drop", 1.0, "volume", 90.0), *rows]
    return StrikeRecord(name, tuple(
        StrikeRow(name, f"{grade}1", grade, event, start + part * hours * HOUR, quantity, value,
                  note="basis=mass")
        for event, part, quantity, value in told
    ))  # fmt: skip


def sieved(k: int, rng: np.random.Generator, fines: float = 0.0) -> StrikeRecord:
    """Sizes normal by mass, not log-normal; each strike its own MA and CV; sieves err by 0.6 %."""
    ma, cv = 0.82 + 0.03 * rng.standard_normal(), 0.27 + 0.015 * rng.standard_normal()
    kept = [(1.0 - fines) * (1.0 - NormalDist(ma, cv * ma).cdf(a)) for a in SIEVES]
    rows = [("sieve", 1.2, f"retained@{a:g}", float(x + 0.006 * rng.standard_normal()))
            for a, x in zip(SIEVES, kept)]  # fmt: skip
    slides = [("slide", p, "fines", 0.002 + fines * (p > 0.5)) for p in (0.35, 0.7)]
    return strike(k, rows=[*rows, *slides])


def test_false_grain_is_called_where_it_is_and_not_where_it_is_not() -> None:
    rng = np.random.default_rng(20311314)
    planted = {10: 0.05, 45: 0.05, 80: 0.01}
    many = [sieved(k, rng, planted.get(k, 0.0)) for k in range(120)]
    found = grains(many, 1000)
    assert len(found) == 120
    called = {name for name, g in found.items() if g.called}
    assert called == {"A10", "A45"}
    one = found["A10"]
    assert one.fines == pytest.approx(0.05, abs=0.02) and one.chance > 0.95
    # made after the last clean slide, before the first that shows it
    start = many[10].start
    assert (one.since, one.until) == (start + 0.35 * 3 * HOUR, start + 0.7 * 3 * HOUR)
    # what is below the least that can be told is not called, whatever it is
    assert found["A80"].fines < found["A80"].least and found["A80"].chance < 0.9


def test_a_few_strikes_tell_nothing_of_grain_and_longer_seasons_ask_for_more() -> None:
    rng = np.random.default_rng(1)
    assert grains([sieved(k, rng) for k in range(15)], 1000) == {}
    assert grains([], 1000) == {}
    assert threshold(10) == threshold(100) < threshold(1000)
    assert NormalDist().cdf(threshold(1000)) == pytest.approx(0.999)
    assert least_called(0.01, 1000) == pytest.approx(0.0437, abs=1e-4)


def traced(s: StrikeRecord, **series: Sequence[float]) -> StrikeRecord:
    """The strike with traces, evenly over its time."""
    assert s.drop is not None
    count = len(next(iter(series.values())))
    step = (s.drop - s.start) / (count - 1)
    return replace(s, trace=tuple(
        TraceRow(s.id, s.start + n * step, tuple((k, v[n]) for k, v in series.items()))
        for n in range(count)
    ))  # fmt: skip


def clock(at: datetime) -> str:
    return f"{at:%H:%M}"


def test_what_went_wrong_is_named_and_nothing_else() -> None:
    rng = np.random.default_rng(3)

    def usual(k: int, grade: str) -> StrikeRecord:
        night = (k * 4) % 24 >= 16
        hours = 3.0 * (1.15 if night and grade == "A" else 1.0) * float(
            np.exp(0.03 * rng.standard_normal()))  # fmt: skip
        purity = (0.87 if grade == "A" else 0.76) + 0.01 * float(rng.standard_normal())
        nutsch = purity - (0.17 if grade == "A" else 0.22) + 0.003 * float(rng.standard_normal())
        rows = [("set", 0.0, "pressure", 14e3), ("drop", 1.0, "purity", purity),
                ("nutsch", 1.1, "purity", nutsch)]  # fmt: skip
        s = strike(k, grade, hours, rows)
        return traced(s, pressure=14e3 + 300 * rng.standard_normal(13),
                      steam_flow=5.5 * np.exp(0.05 * rng.standard_normal(13)))  # fmt: skip

    grades = {g: [usual(k, g) for k in range(60)] for g in "AB"}

    def shift(at: datetime) -> str:
        return "the night shift" if at.hour >= 16 else "the day shift"

    clean = faults({"B": grades["B"]}, shift, clock)
    assert clean == {}
    lost = [t.values for t in grades["B"][7].trace]
    pressures = [v + 9e3 * (4 <= n <= 8) for n, v in enumerate(dict(x)["pressure"] for x in lost)]
    grades["B"][7] = traced(grades["B"][7], pressure=pressures, steam_flow=[5.5] * 13)
    slow = strike(20, "A", 5.0)
    grades["A"][20] = traced(slow, pressure=[14e3] * 13, steam_flow=[2.2] * 13)
    a, b = grades["A"][32], grades["B"][32]
    for one, other in ((a, b), (b, a)):
        read = other.row("nutsch", "purity")
        assert read is not None
        rows = [replace(r, value=read.value) if r.event == "nutsch" else r for r in one.rows]
        grades[one.grade][32] = replace(one, rows=tuple(rows))
    said = faults(grades, shift, clock)
    assert said["B7"][0].startswith("the vacuum leaks or is not drawn: 9.")
    assert said["A20"] and "poor circulation" in said["A20"][0] and "% longer" in said["A20"][0]
    assert "swapped label" in said["A32"][-1] and "fits B32" in said["A32"][-1]
    assert "swapped label" in said["B32"][-1]
    rest = {k: v for k, v in said.items() if k not in ("B7", "A20", "A32", "B32")}
    night = {f"A{k}" for k in range(60) if (k * 4) % 24 >= 16} - {"A20", "A32"}
    assert set(rest) == night
    assert all("a slow shift" in v[0] and "the night shift" in v[0] for v in rest.values())


def test_a_running_strike_is_told_its_drop_by_those_before() -> None:
    rng = np.random.default_rng(20311315)

    def boiled(k: int) -> tuple[StrikeRecord, float, float]:
        hours = 3.0 * float(np.exp(0.08 * rng.standard_normal()))
        brix = 0.92 + 0.008 * float(rng.standard_normal())
        share = np.linspace(0.0, 1.0, 19)
        s = strike(k, "A", hours, [("drop", 1.0, "brix", brix + 0.002 * rng.standard_normal())])
        level = 34.0 + 56.0 * share + 0.3 * rng.standard_normal(19)
        dry = 0.86 + (brix - 0.86) * share + 0.001 * rng.standard_normal(19)
        return traced(s, level=level, brix=dry), hours, brix

    many = [boiled(k) for k in range(90)]
    before = [s for s, _, _ in many[:60]]
    off, held, average = [], [], []
    for s, hours, brix in many[60:]:
        cut = s.start + 2.0 / 3.0 * hours * HOUR
        running = replace(s, rows=tuple(r for r in s.rows if r.time <= cut),
                          trace=tuple(t for t in s.trace if t.time <= cut))  # fmt: skip
        found = expected(running, before)
        assert found is not None and found.brix is not None and found.brix.sigma is not None
        told = (found.at - s.start) / HOUR
        off.append(((told - hours) ** 2, (found.brix.value - 100 * brix) ** 2))
        average.append(((3.0 - hours) ** 2, (92.0 - 100 * brix) ** 2))
        held.append((abs(told - hours) < 1.96 * (found.sigma / HOUR),
                     abs(found.brix.value - 100 * brix) < 1.96 * found.brix.sigma))  # fmt: skip
    # half the error of the average at most, and the intervals hold
    assert (np.mean(off, axis=0) ** 0.5 < 0.5 * np.mean(average, axis=0) ** 0.5).all()
    assert (np.mean(held, axis=0) > 0.83).all()
    assert expected(many[0][0], before) is None  # dropped already
    assert expected(running, before[:10]) is None  # too few before it
