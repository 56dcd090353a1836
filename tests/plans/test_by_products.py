"""Molasses in its tanks, mud and ash on blocks: a printed table of nutrients, days, words."""

from __future__ import annotations

from datetime import datetime

import pytest

from ratoon.base.sugar import SpreadLoad
from ratoon.plans.recall.by_products import LOCAL, full_days, on_blocks, watch_words
from ratoon.settings.sugar import SpreadProductRow


def _table(name: str, limit: float | None = None, words: str = "", **kg: float) -> SpreadProductRow:
    """A row of the mill file: kg a wet tonne, as the settings keep it."""
    return SpreadProductRow(name=name, limit=limit, words=words,
                            **{n: v / 1000.0 for n, v in kg.items()})  # fmt: skip


MUD = _table("mud", 100.0, "no phosphorus in this cycle", N=3.1, P=2.4, K=0.8, S=0.55, Ca=4.3)
ASH = _table("ash", N=0.4, P=0.8, K=2.6)


def load(name: str, product: str, tonnes: float, block: str = "B1") -> SpreadLoad:
    return SpreadLoad(name, datetime(2031, 7, 1), product, "F", block, tonnes)


def test_100_t_ha_of_mud_and_ash_carry_what_is_printed() -> None:
    """kg/ha: mud N 310, P 240, K 80, S 55, Ca 430; ash N 40, P 80, K 260 [MudStatement]."""
    loads = [load(f"M{n}", "mud", 20.0) for n in range(10)] + [load("A", "ash", 200.0)]
    ash, mud = on_blocks(loads, {"B1": 2.0}, (MUD, ASH))
    assert mud.nutrients == pytest.approx({"N": 310, "P": 240, "K": 80, "S": 55, "Ca": 430})
    assert ash.nutrients == pytest.approx({"N": 40, "P": 80, "K": 260})
    assert (mud.t_ha, mud.words) == (100.0, LOCAL)  # at the limit, not above it


def test_above_the_limit_the_mill_s_words_stand_and_local_rules_decide() -> None:
    (one,) = on_blocks([load("1", "mud", 151.0)], {"B1": 1.5}, (MUD,))
    assert one.words == f"no phosphorus in this cycle; {LOCAL}"
    (unknown,) = on_blocks([load("1", "mud", 151.0, "B9")], {}, (MUD,))
    assert (unknown.t_ha, unknown.nutrients, unknown.words) == (None, {}, LOCAL)


def test_days_until_a_tank_is_full() -> None:
    """1,000 t of room at 100 t a day; what is known less well is wider; none is made, none told."""
    sure, less = full_days(5000, 0, 6000, [100.0] * 14), full_days(5000, 80, 6000, [40, 160] * 7)
    assert sure.q05 == sure.q50 == sure.q95 == pytest.approx(10.0)
    assert less.q05 is not None and less.q95 is not None
    assert less.q05 < 9.0 and less.q95 > 11.0 and less.q50 == pytest.approx(10.0, rel=0.05)
    assert full_days(6100, 0, 6000, [100.0]).q95 == 0.0
    assert full_days(5000, 0, 6000, [0.0] * 14).q50 is full_days(5000, 0, 6000, []).q50 is None


def test_a_warm_tank_is_watched_and_a_hot_one_is_danger() -> None:
    assert "no temperature" in watch_words(None)
    assert watch_words(41.0, "2031-08-01") == "41 °C on 2031-08-01"
    assert "Cool it" in watch_words(48.0, "2031-08-01")
    assert "running away. Keep people away" in watch_words(63.0, "2031-11-28")
