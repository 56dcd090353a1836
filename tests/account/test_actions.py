"""What a day asks people to do: safety first, no job on a suspect, none that presses on a limit."""

from datetime import date
from pathlib import Path

import pytest

import ratoon.demo
from ratoon.account.mill import Mill
from ratoon.account.period import PeriodAccount
from ratoon.account.readings.gathered import NotUsed, WhyNot
from ratoon.account.result import day_result
from ratoon.account.results.day import DayResult
from ratoon.base.records import Reading
from ratoon.base.units import to_inside
from ratoon.settings.read import parse_settings

from .test_deeper import MADE, day

WHEN = date(2031, 7, 1)


def result(account: PeriodAccount) -> DayResult:
    return day_result(account, WHEN, [], MADE)


@pytest.fixture(scope="module")
def wet(mill: Mill, base: dict[str, float]) -> PeriodAccount:
    """Less imbibition, wetter bagasse and richer molasses than the targets, read without error."""
    state = mill.plant.solve({
        "imbibition.on_fibre": 2.0, "mill.5.fibre_content": 0.45, "mills.mixing": 0.40,
    }, base).values  # fmt: skip
    return day(mill, state)


def test_missed_targets_are_physical_jobs_with_gain_and_limit(wet: PeriodAccount) -> None:
    told = {a.key: a for a in result(wet).actions}
    assert {"extraction", "bagasse_moisture", "imbibition_on_fibre"} <= set(told)
    for one in told.values():
        assert one.where and one.who and (one.gain_a_day or 1.0) > 0.0
        assert "mixing" not in one.what and "efficiency" not in one.what
    gains = [a.gain_a_day or 0.0 for a in result(wet).actions if a.kind == "loss"]
    assert gains == sorted(gains, reverse=True)


def test_no_imbibition_is_asked_for_while_liquor_is_thin(
    mill: Mill, base: dict[str, float]
) -> None:
    scaled = {f"effect.{i}.htc": 0.75 * base[f"effect.{i}.htc"] for i in range(1, 6)}
    state = mill.plant.solve({**scaled, "imbibition.on_fibre": 2.0}, base).values
    told = {a.key: a for a in result(day(mill, state)).actions}
    assert "imbibition_on_fibre" not in told
    brix = told["liquor_brix"]
    assert "cannot reach the set point of 68.0 %" in brix.limited_by
    assert brix.gain_a_day and brix.gain_a_day > 0.0


def test_a_suspect_reading_takes_the_job_on_its_figure_away(
    mill: Mill, base: dict[str, float], wet: PeriodAccount
) -> None:
    state = mill.plant.solve({"mill.5.fibre_content": 0.45}, base).values
    clean = {a.key for a in result(day(mill, state)).actions}
    assert "bagasse_moisture" in clean
    spoilt = result(day(mill, state, bagasse_moisture=25.0))
    assert "bagasse.moisture" in {r for s in spoilt.suspects for r in (s.reading, *s.equivalent)}
    assert "bagasse_moisture" not in {a.key for a in spoilt.actions}
    (confirm,) = [a for a in spoilt.actions if "bagasse.moisture" in a.about]
    assert (confirm.kind, confirm.who, confirm.gain_a_day) == ("reading", "laboratory", None)
    assert "oven" in confirm.what


def test_sugar_in_feed_water_stands_first_with_its_procedure() -> None:
    text = (Path(ratoon.demo.__file__).parent / "data" / "mill.toml").read_text(encoding="utf-8")
    mill = Mill(parse_settings(text.replace("[noted]", '[noted]\n"feed_water.sugar" = "ppm"')))
    base = mill.plant.solve().values
    one = day(mill, mill.plant.solve({"mill.5.fibre_content": 0.45}, base).values)
    start = one.gathered.period.start
    for ppm, words in (
        (60.0, "Keep this water out of the boilers now"),
        (250.0, "licensed person"),
    ):
        row = Reading("feed_water.sugar", to_inside(ppm, "ppm"), None, unit="ppm", start=start)
        one.gathered.shown[:] = [NotUsed(row, WhyNot.NOTED, "noted")]
        first, *rest = result(one).actions
        assert first.kind == "safety" and words in first.what and first.who == "boiler attendant"
        assert first.value == pytest.approx(ppm) and "local codes" in first.caution.lower()
        assert rest and all(a.kind != "safety" for a in rest)
