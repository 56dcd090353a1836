"""One drawn case asked of the program and of the programme written apart."""

from __future__ import annotations

import time
from typing import Any

import pytest

from ratoon.base.as_json import to_json
from ratoon.plans.floor.reading import read_case
from ratoon.plans.floor.search import plan_floor

from . import drawn
from .checked import replayed
from .milp import all_limits, left_out, solved


def planned(raw: dict[str, Any], seconds: float = 60.0, **how: int) -> dict[str, Any]:
    """The program's answer, as its JSON."""
    told: dict[str, Any] = to_json(plan_floor(read_case(drawn.text(raw), "case"), seconds, **how))
    return told


def agrees(raw: dict[str, Any]) -> tuple[dict[str, Any], float]:
    """The program's answer and processor seconds, once it was found right in every way."""
    began = time.process_time()
    told = planned(raw)
    seconds = time.process_time() - began
    status, values = solved(raw)
    assert told["status"] == status
    if status == "optimal":
        assert [aim["value"] for aim in told["aims"]] == pytest.approx(values, rel=1e-6, abs=1e-5)
        again = [float(x) for x in replayed(raw, told)]
        assert [aim["value"] for aim in told["aims"]] == pytest.approx(again, rel=1e-12, abs=1e-9)
    else:
        named = set(told["without"])
        assert named <= all_limits(raw)
        others = all_limits(raw) - named
        assert solved(left_out(raw, others))[0] == "infeasible"
        for name in named:
            assert solved(left_out(raw, others | {name}))[0] == "optimal", name
    return told, seconds


def compared(seed: int) -> tuple[str, float]:
    """Status and processor seconds of the case of a seed; a difference names the seed."""
    raw = drawn.case(seed)
    try:
        told, seconds = agrees(raw)
    except AssertionError as error:
        raise AssertionError(f"case {seed}: {error}") from error
    return told["status"], seconds
