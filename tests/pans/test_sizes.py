"""The model's crystals beside a strike's slides: they begin as the footing and grow as told."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from ratoon.base.strikes import StrikeRow
from ratoon.plant.pan.constants import Constant
from ratoon.plant.pan.fit import BY_PRACTICE, PRIORS
from ratoon.plant.pan.records import StrikeRecord
from ratoon.plant.pan.sizes import model_sizes
from ratoon.plant.pan.together import CONSTANTS

START = datetime(2031, 6, 12, tzinfo=UTC)
WRITTEN = (
    ("start", 0.0, {"volume": 36.0, "brix": 0.875, "purity": 0.86}, ""),
    ("footing", 0.0, {"volume": 24.0, "crystal": 0.42, "ma": 0.40e-3, "cv": 0.24}, "from=magma"),
    ("set", 0.0, {"pressure": 15e3}, ""),
    ("feed", 0.1, {"flow": 8.0, "brix": 0.68, "purity": 0.88}, "of=liquor"),
    ("feed", 2.6, {"flow": 0.0, "brix": 0.68, "purity": 0.88}, "of=liquor"),
    ("drop", 2.9, {"volume": 85.0, "brix": 0.92, "purity": 0.87}, ""),
)


def told(*left_out: str) -> StrikeRecord:
    rows = [
        StrikeRow("A1", "A1", "A", event, START + timedelta(hours=at), name, value, note=note)
        for event, at, values, note in WRITTEN if event not in left_out
        for name, value in values.items()
    ]  # fmt: skip
    return StrikeRecord("A1", tuple(rows))


def known(part: float) -> dict[str, Constant]:
    """Constants as usual, each known to a part of what is usual of it."""
    found = {}
    for name in CONSTANTS:
        value, sigma, by_log = PRIORS[name]
        value = BY_PRACTICE["A"] if name == "growth" else value
        spread = part * sigma * (value if by_log else 1.0)
        found[name] = Constant(value, spread, "found", "strikes")
    return found


def test_crystals_grow_from_the_footing_in_a_band_that_a_fit_makes_narrow() -> None:
    usual, fitted = (model_sizes(told(), 0.98, 90.0, c) for c in (None, known(0.1)))
    assert len(usual) == len(fitted) == 25
    sizes = [m.ma[0] for m in fitted]
    assert 0.40e-3 < sizes[0] < 0.46e-3 and sizes[-1] > 1.4 * sizes[0]
    assert sizes == sorted(sizes)
    for wide, narrow in zip(usual[4:], fitted[4:]):
        assert narrow.ma[1] < narrow.ma[0] < narrow.ma[2]
        assert narrow.ma[2] - narrow.ma[1] < 0.8 * (wide.ma[2] - wide.ma[1])
    assert fitted[0].cv[0] == pytest.approx(0.24, abs=0.03)
    assert fitted[-1].time == START + timedelta(hours=2.9)
    assert model_sizes(told(), 0.98, 90.0, None) == usual  # the same strike, the same band


def test_what_is_not_told_has_no_model() -> None:
    for event in ("start", "footing", "feed", "set"):
        assert model_sizes(told(event), 0.98, 90.0, None) == [], event
    running = model_sizes(told("drop"), 0.98, 90.0, None)
    assert running[-1].time == START + timedelta(hours=2.6)
    other = replace(told(), rows=tuple(replace(r, grade="X") for r in told().rows))
    assert model_sizes(other, 0.98, 90.0, None) == []
