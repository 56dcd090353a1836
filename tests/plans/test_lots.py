"""Lots in order: against every order there is, and against a solver of assignments; exact digits.

The solver is SciPy's `linear_sum_assignment`, which knows nothing of how the order is found.
"""

from __future__ import annotations

import itertools
import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from ratoon.base.errors import BadInput, UnknownName
from ratoon.cli.app import run
from ratoon.jobs.yard.case import order_case
from ratoon.plans.yard.lots import Lot, Order, order_lots

FEW = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 12)), max_size=5)
MANY = st.lists(st.tuples(st.integers(0, 9), st.integers(0, 60)), min_size=1, max_size=24)


def lots_of(rows: list[tuple[int, int]]) -> list[Lot]:
    return [Lot(f"L{i}", Fraction(w, 4), Fraction(life, 2)) for i, (w, life) in enumerate(rows)]


def least(lots: list[Lot], lines: int, hours: Fraction) -> Fraction | None:
    """Least loss of every way to give each lot a place of its own; None where there is none."""
    best = None
    for slots in itertools.product(range(1, len(lots) + 1), repeat=len(lots)):
        if any(slots.count(k) > lines for k in slots):
            continue
        if all(k * hours <= lot.life for k, lot in zip(slots, lots)):
            loss = sum((k * hours * lot.loss for k, lot in zip(slots, lots)), Fraction(0))
            best = loss if best is None else min(best, loss)
    return best


def holds(found: Order, lots: list[Lot], lines: int, hours: Fraction) -> Fraction:
    """The loss of an answer worked anew, after every lot was looked at."""
    by_name = {lot.name: lot for lot in lots}
    assert sorted(p.lot for p in found.placed) == sorted(by_name)
    assert len({(p.line, p.slot) for p in found.placed}) == len(lots)
    assert all(1 <= p.line <= lines and p.slot >= 1 for p in found.placed)
    assert all(p.slot * hours <= by_name[p.lot].life for p in found.placed)
    return sum((by_name[p.lot].loss * p.slot * hours for p in found.placed), Fraction(0))


@settings(max_examples=60, deadline=None)
@given(FEW, st.integers(1, 3), st.sampled_from([Fraction(1), Fraction(3, 2)]))
def test_no_order_loses_less(rows: list[tuple[int, int]], lines: int, hours: Fraction) -> None:
    lots = lots_of(rows)
    found, best = order_lots(lots, lines, hours), least(lots, lines, hours)
    if best is None:
        assert (found.status, found.placed, found.loss) == ("infeasible", (), None)
        assert found.late is not None and found.late[1] < found.late[2]
    else:
        assert found.status == "optimal" and found.loss == best
        assert holds(found, lots, lines, hours) == best


@settings(max_examples=60, deadline=None)
@given(MANY, st.integers(1, 4))
def test_an_assignment_solver_finds_the_same_loss(rows: list[tuple[int, int]], lines: int) -> None:
    lots, hours = lots_of(rows), Fraction(3, 2)
    slots = [k for k in range(1, len(lots) + 1) for _ in range(lines)]
    never = 1e9
    cost = np.array([[float(x.loss * k * hours) if k * hours <= x.life else never for k in slots]
                     for x in lots])  # fmt: skip
    total = cost[linear_sum_assignment(cost)].sum()
    found = order_lots(lots, lines, hours)
    assert (found.status == "infeasible") == (total >= never)
    if found.loss is not None:
        assert float(found.loss) == pytest.approx(total, rel=1e-12)


def test_a_yard_after_a_stop_by_hand() -> None:
    lots = [Lot("green", Fraction(1), Fraction(20)), Lot("burnt", Fraction(4), Fraction(20)),
            Lot("old", Fraction(2), Fraction(2))]  # fmt: skip
    found = order_lots(lots, 1, Fraction(2))
    # old lives through the first slot alone; burnt loses more than green: 2*2 + 4*4 + 1*6
    assert [p.lot for p in found.placed] == ["old", "burnt", "green"]
    assert found.loss == 26


def test_digits_that_no_floating_point_number_holds_decide() -> None:
    heavy, light = Fraction(2**53 + 1), Fraction(2**53)
    assert float(heavy) == float(light)
    lots = [Lot("light", light, Fraction(9)), Lot("heavy", heavy, Fraction(9))]
    found = order_lots(lots, 1, Fraction(1))
    assert [p.lot for p in found.placed] == ["heavy", "light"]
    assert found.loss == heavy + 2 * light
    none = order_lots([Lot("a", Fraction(1), Fraction("0.3"))], 1, Fraction("0.1") * 3)
    assert none.status == "optimal"  # 0.1 three times is 0.3, and no more


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "case.toml"
    path.write_text(text, encoding="utf-8")
    return path


LOT = '[[lots]]\nname = "a"\nloss = 0.1\nlife = 3\n'


def test_the_command_prints_exactly_what_was_agreed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    more = (
        '[[lots]]\nname = "b"\nloss = 5e2\nlife = 1.5\n[[lots]]\nname = "c"\nloss = 0.2\nlife = 6\n'
    )
    path = written(tmp_path, "lines = 2\nhours = 1.5\n" + LOT + more)
    assert run(["yard", "--case", str(path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {
        "status": "optimal", "loss": 750.6,
        "order": [{"lot": "b", "line": 1, "slot": 1}, {"lot": "c", "line": 2, "slot": 1},
                  {"lot": "a", "line": 1, "slot": 2}],
    }  # fmt: skip
    late = written(tmp_path, "lines = 1\nhours = 4\n" + LOT)
    assert run(["yard", "--case", str(late), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told == {"status": "infeasible", "order": [], "loss": None}
    assert run(["yard", "--case", str(late)]) == 0
    assert "infeasible" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("lines = 2\nhours = 1\nlot = 3\nlots = []", "unknown key 'lot'. Did you mean lots"),
        ("lines = 2\nhours = 1\n" + LOT + "los = 1", "unknown key 'los'. Did you mean loss"),
        ("lines = 0\nhours = 1\n" + LOT, "lines: must be a whole number (found 0)"),
        ("lines = true\nhours = 1\n" + LOT, "lines: must be a whole number (found True)"),
        ("lines = 2.0\nhours = 1\n" + LOT, "lines: must be a whole number"),
        ("lines = 2\nhours = 0\n" + LOT, "hours: is no such number (found 0); allowed: a number, "
         "above 0"),
        ("lines = 2\nhours = nan\n" + LOT, "hours: is no such number"),
        ("lines = 2\nhours = 1e400\n" + LOT, "hours: is no such number"),
        ("lines = 2\nhours = 1e-400\n" + LOT, "hours: is written too finely"),
        ("lines = 2\nhours = 1\n" + LOT.replace("0.1", "-1"), "lots[1]: loss: is no such number"),
        ("lines = 2\nhours = 1\n" + LOT.replace("0.1", '"x"'), "lots[1]: loss: is no such number"),
        ("lines = 2\nhours = 1\n" + LOT + LOT, "lots[2]: name: the name stands at lots[1], too"),
        ("lines = 2\nhours = 1\n" + LOT.replace('"a"', '" "'), "lots[1]: name: must be text"),
        ("lines = 2\nhours = 1\n[[lots]]\nname = 'a'\nloss = 1", "the key 'life' is missing"),
        ("lines = 2\nhours = 1", "the key 'lots' is missing"),
        ("lines = 2\nhours = 1\nlots = 3", "lots: must be tables"),
        ("lines = ", "is not TOML"),
    ],
)  # fmt: skip
def test_bad_input_is_one_clear_line(
    tmp_path: Path, text: str, line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path, text)
    with pytest.raises(BadInput) as refused:
        order_case(path)
    assert line in str(refused.value) and "case.toml" in str(refused.value)
    assert run(["yard", "--case", str(path), "--json"]) == 1
    told = capsys.readouterr()
    assert told.out == "" and told.err.count("\n") == 1 and line in told.err


def test_a_file_that_is_not_there_or_not_text(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="cannot be read"):
        order_case(tmp_path / "none.toml")
    (tmp_path / "raw.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadInput, match="cannot be read"):
        order_case(tmp_path / "raw.toml")
    with pytest.raises(UnknownName, match="Did you mean hours"):
        order_case(written(tmp_path, "lines = 1\nhour = 1\nlots = []"))


def test_no_lots_lose_nothing(tmp_path: Path) -> None:
    path = written(tmp_path, "lines = 3\nhours = 2\nlots = []")
    assert order_case(path) == {"status": "optimal", "order": [], "loss": 0}
