"""Fibre by class: common error kept apart, old samples left out, nothing invented."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from ratoon.cane.fibre import class_fibres
from ratoon.cane.records import FibreSample
from ratoon.cane.rules import AnalysisRules

T = datetime(2031, 6, 12, 3, tzinfo=UTC)
RULES = AnalysisRules()


def sample(name: str, fibre: float, days: float = 0.0) -> FibreSample:
    return FibreSample(f"F{fibre}{days}", name, "", T - timedelta(days=days), fibre)


def test_a_class_keeps_number_spread_and_a_common_doubt_that_does_not_vanish():
    found = class_fibres([sample("soft", 0.14 + 0.002 * n) for n in range(400)], RULES)["soft"]
    assert found.count == 400
    assert found.mean == pytest.approx(0.14 + 0.002 * 199.5)
    few = class_fibres([sample("soft", 0.14), sample("soft", 0.15)], RULES)["soft"]
    many = class_fibres([sample("soft", 0.14 + 0.01 * (n % 2)) for n in range(200)], RULES)["soft"]
    assert many.sigma_common < few.sigma_common
    assert many.sigma_common > RULES.fibre_common
    assert many.sigma_own == RULES.class_spread


def test_old_samples_are_left_out_and_a_missing_class_takes_all():
    given = [sample("soft", 0.14), sample("hard", 0.16, 2.0), sample("soft", 0.30, 9.0)]
    found = class_fibres(given, RULES)
    assert found["soft"].mean == 0.14 and found["soft"].count == 1
    assert found[""].mean == pytest.approx(0.15)
    assert found[""].sigma_own > found["soft"].sigma_own


def test_no_sample_no_fibre():
    assert class_fibres([], RULES) == {}
