"""Policies that a boiler can set: held on a replay with held valves, no slower than constant."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pans.strikes import A
from ratoon.account.mill import Mill
from ratoon.cli.app import run
from ratoon.demo.write import mill_text
from ratoon.jobs.boil import BoilAsked, task_of
from ratoon.plant.pan.fit import CONSTANTS, Fit, constants_of
from ratoon.plant.pan.growth import Crystallisation
from ratoon.plant.pan.policy import Found, Task, boils, fastest
from ratoon.plant.pan.strike import Boiling, Switches, charge
from ratoon.settings.read import parse_settings

LAW = Crystallisation(400.0)
OPEN = Switches(14.0, 0.68, 0.873, 68.0, 14_000.0, 100.0)
TASK = Task(A, LAW, charge(36.0, 0.865, 0.87, 66.0, (0.30, 0.36e-3, 0.28)), OPEN, 0.915,
            (1.02, 1.12))  # fmt: skip


@pytest.fixture(scope="module")
def found() -> Found:
    return fastest(TASK, 260)


@pytest.mark.parametrize("high", [1.22, 1.30])
def test_it_is_no_slower_than_the_best_constant_supersaturation(high: float) -> None:
    told = fastest(replace(TASK, band=(1.05, high)), 120)
    assert not told.boiled.why and told.constant_seconds is not None
    assert told.boiled.seconds <= told.constant_seconds


def test_the_policy_holds_a_band_that_no_constant_supersaturation_holds(found: Found) -> None:
    assert not found.boiled.why and found.constant is None
    assert found.boiled.of("brix")[-1] == pytest.approx(0.915, abs=1e-4)
    assert found.boiled.of("volume").max() <= 95.0


def test_it_holds_with_valves_that_are_set_every_twenty_seconds(found: Found) -> None:
    """The same pan boiled by the strike's own integration; the policy is written out here again."""
    p, pan, state, now, fills = found.policy, Boiling(A, LAW), boils(TASK), 0.0, True
    over: list[float] = []
    while now < 5.0 * 3600.0:
        told = pan.strike(state, OPEN, [], 1e-3)
        s, volume, brix = (float(told.figure(n)[0]) for n in ("supersaturation", "volume", "brix"))
        over.append(s)
        fills = fills and volume < 0.995 * A.volume
        if not fills and brix >= 0.915:
            break
        level = min(max((volume / 95.0 - 0.35) / 0.65, 0.0), 1.0)
        share = float(told.figure("share")[0])
        feed = max(
            (s - p.covered - (p.full - p.covered) * level) / 0.02, (share - p.crystal) / 0.03
        )
        steam = p.steam * min(max(1.0 - (s - p.cut) / 0.02, 0.0), 1.0)
        temperature = 100.0 * state[3]
        held = replace(OPEN, feed=14.0 * min(max(feed, 0.0), 1.0) if fills else 0.0,
                       steam=temperature + steam * (100.0 - temperature))  # fmt: skip
        state, now = pan.strike(state, held, [], 20.0).states[-1], now + 20.0
    inside = over[next(k for k, s in enumerate(over) if 1.02 <= s <= 1.12) :]
    assert max(inside) < 1.12 + 1e-3 and min(inside) > 1.02 - 1e-3
    assert now == pytest.approx(found.boiled.seconds, rel=0.01)


def test_a_band_that_cannot_be_held_says_why() -> None:
    told = fastest(replace(TASK, band=(1.10, 1.11)), 80)
    assert told.boiled.why and told.constant is None
    assert np.isfinite(told.boiled.figures).all()


def test_the_command_tells_set_points_or_one_line(tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    (tmp_path / "mill.toml").write_text(mill_text(), encoding="utf-8")
    for wrong in (["X"], ["A", "--high", "0.5"], ["A", "--steam", "20"], ["A", "--ma", "9"]):
        assert run(["boil", *wrong, "--mill", str(tmp_path)]) == 1
        said = capsys.readouterr().err
        assert said.count("\n") == 1 and "Traceback" not in said


def test_a_grade_that_was_fitted_is_boiled_by_its_own_constants() -> None:
    mill, asked = Mill(parse_settings(mill_text())), BoilAsked("A")
    at = np.linspace(-1.0, 1.0, len(CONSTANTS))
    found = Fit("A", ("1",), at, 0.1 * np.eye(len(at)), np.zeros((1, 1)), 1.0, 1, 1, True)
    own, usual = task_of(mill, asked, found.constants()), task_of(mill, asked)
    fitted = dict(zip(CONSTANTS, constants_of("A", at[:, None])[:, 0]))
    assert usual.law.growth == 400.0 and own.pan.volume == usual.pan.volume
    for name in CONSTANTS:
        of = own.law if hasattr(own.law, name) else own.pan
        assert getattr(of, name) == pytest.approx(fitted[name], rel=1e-12), name
