"""The forecast of drawn districts: bands, shares, worths, one answer wherever worked, refusals."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from day_by_day import play
from districts.district import District, district

import ratoon
from ratoon.base.errors import BadInput
from ratoon.plans.season import forecast as made_by
from ratoon.plans.season.draws import Level
from ratoon.plans.season.forecast import forecast
from ratoon.plans.season.futures import CAUSES, Change, draw, run
from ratoon.plans.season.given import Given, given
from ratoon.plans.season.rain import Rain
from ratoon.plans.season.rules import change_of, rules

SEED, FUTURES = 20311127, 300


@pytest.fixture(scope="module")
def districts() -> list[District]:
    return [district(SEED, n) for n in range(14)]


def _known(drawn: District, week: int) -> Given:
    at = drawn.season.start + timedelta(weeks=week)
    g = drawn.given(at)
    return given(g["days"], g["stops"], g["rain"], g["zones"], rules(g["settings"], at), at)


def _held(districts: list[District]) -> tuple[float, list[float]]:
    """Share of 90 % bands of finish and sugar that held, and days off of the finish's middle."""
    held, off = [], []
    for drawn in districts:
        one = drawn.season
        sugar = sum(d["sugar"] for d in one.days)
        for week in (4, 10):
            told = forecast(_known(drawn, week), FUTURES, 1, explained=False)
            finish, end = told.finish, one.finish.isoformat() if one.finish else "9999"
            low, high = finish.q05 or "9999", finish.q95 or "9999"
            held.append(low <= end <= high)
            assert told.sugar.q05 is not None and told.sugar.q95 is not None
            held.append(told.sugar.q05 <= sugar <= told.sugar.q95)
            if one.finish and finish.q50:
                off.append((date.fromisoformat(finish.q50) - one.finish).days)
    return float(np.mean(held)), off


def test_bands_hold_what_comes(districts: list[District]) -> None:
    """56 bands of 90 %, four a season that hang together: 78 to 100 % is what chance allows.

    The whole trial, 200 seasons, is `benchmarks/forecasts.py`.
    """
    held, off = _held(districts)
    assert held >= 0.78
    assert abs(np.median(off)) <= 6  # of 28: a standard error of some 2.5 d
    assert np.mean(np.abs(off)) < 18


def test_bands_with_figures_put_in_do_not_hold(
    districts: list[District], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the year's factor and with figures put in, not drawn, the bands are too narrow."""
    monkeypatch.setattr(Rain, "factor", lambda self, rng, count: np.ones(count))
    monkeypatch.setattr(Level, "drawn", lambda self, rng, count: np.full(
        count, self.centre()[0] if self.seen is None else self.seen))  # fmt: skip
    monkeypatch.setattr(Level, "variance", lambda self, rng, count: np.full(count, 1e-6))
    held, _ = _held(districts)
    assert held < 0.78


@pytest.fixture(scope="module")
def known(districts: list[District]) -> Given:
    return _known(districts[0], 8)


def test_shares_add_up_and_worth_is_that_of_another_run(known: Given) -> None:
    told = forecast(known, 2000, 3, change=Change(rate=10.0), change_words="rate=+10")
    for of in ("finish", "sugar"):
        shares = [s.share for s in told.spread if s.of == of]
        assert sum(shares) == pytest.approx(1.0, abs=1e-9)
        assert min(shares) > -0.02
    by_name = {w.what: w for w in told.worth}
    assert told.compared is not None
    assert told.compared.finish_days == by_name["rate"].finish_days
    # unpaired: other futures, at the setting itself
    fit = made_by.fitted_to(known)
    other = [made_by.work(made_by.Job(f, 11, n, 1000, False, False, False, Change())).figures
             for n in range(2) for f in (fit, _at(fit, 10.0))]  # fmt: skip
    for row, worth, error in ((1 - 1, by_name["rate"].finish_days, "finish_days"),
                              (3, by_name["rate"].sugar, "sugar")):  # fmt: skip
        base, moved = (np.concatenate([o[row] for o in other[k::2]]) for k in (0, 1))
        base, moved = (np.minimum(x, fit.days) if row == 0 else x for x in (base, moved))
        sigma = np.hypot(np.sqrt(base.var() + moved.var()) / np.sqrt(len(base)),
                         getattr(by_name["rate"].sigma, error))  # fmt: skip
        assert abs(moved.mean() - base.mean() - worth) < 3 * sigma
    assert by_name["rate"].sigma.finish_days < 0.2 * abs(by_name["rate"].finish_days)


def test_a_future_is_what_its_days_make_of_it(known: Given) -> None:
    """Arrays of futures against a plain loop over days written apart, in the very same draws."""
    fit = made_by.fitted_to(known)
    drawn = {c: draw(fit, 5, 0, c, 0, 60) for c in CAUSES}
    found = run(fit, drawn)
    for n in range(60):
        told = play(fit, drawn, n)
        for name, value in told.items():
            assert getattr(found, name)[n] == pytest.approx(value, rel=1e-6), (n, name)


def _at(fit: Any, more: float) -> Any:
    """The fit with a rate higher by so many t/h, as if the mill had always run so."""
    level = fit.rate.level
    rate = np.exp(level.told()[0])
    moved = replace(level, earlier=tuple(e + np.log1p(more / rate) for e in level.earlier),
                    seen=level.seen + np.log1p(more / rate))  # fmt: skip
    return replace(fit, rate=replace(fit.rate, level=moved))


def test_a_zone_estimated_too_high_is_named(districts: list[District]) -> None:
    """12 % over at half its area cut: beyond two sigma and 5 %; of zones estimated right, none.

    What is cut of a zone may stand off the whole of it by chance, so not every time.
    """
    named, wrong, others = 0, 0, 0
    for drawn in districts[:7]:
        truth = dict(zip((z["zone"] for z in drawn.season.zones), drawn.season.totals))
        at = next(date.fromisoformat(z["as_of"]) for z in drawn.season.zones
                  if z["zone"] == "Z1" and z["area_cut"] >= 0.5 * z["area"])  # fmt: skip
        g, start = drawn.given(at), drawn.season.start.isoformat()
        rows = [{**z, "estimate": truth[z["zone"]] * (1.12 if z["zone"] == "Z1" else 1.0)}
                if z["as_of"] >= start else z for z in g["zones"]]  # fmt: skip
        known = given(g["days"], g["stops"], g["rain"], rows, rules(g["settings"], at), at)
        for z in forecast(known, FUTURES, 1, explained=False).zones:
            off = abs(z.revised - z.estimate)
            found = off > 2 * z.sigma and off > 0.05 * z.estimate
            named, wrong = named + (found and z.zone == "Z1"), wrong + (found and z.zone != "Z1")
            others += z.zone != "Z1"
    assert named >= 5
    assert wrong <= 0.08 * others


def test_a_cut_part_is_judged_by_what_such_a_part_was_before() -> None:
    """Each year the fifth that is cut first stands 10 % over the whole, three fifths do no more.

    So a fifth at 10 % over the estimate says nothing against the estimate.
    """
    start = date(2031, 6, 10)
    days = [{"date": date(year, 6, 10) + timedelta(days=n), "cane": 400.0}
            for year in range(2026, 2031) for n in range(75)]  # fmt: skip
    stages = [(0.2, 1.1), (0.6, 1.0), (1.0, 1.0)]
    zones = [{"zone": z, "as_of": date(year, 6, 10) + timedelta(days=25 * n), "area": 100.0,
              "estimate": 10_000.0, "area_cut": 100.0 * f, "cut": 10_000.0 * f * over}
             for year in range(2026, 2032) for z in "ABC"
             for n, (f, over) in enumerate(stages if year < 2031 else stages[:1], 1)]  # fmt: skip
    at = start + timedelta(days=25)
    zones += [{"zone": z, "as_of": date(year, 6, 10), "area": 100.0, "estimate": 10_000.0}
              for year in range(2026, 2032) for z in "ABC"]  # fmt: skip
    known = given(days, [], [], zones, rules({"mill": {"season_start": start}}, at), at)
    crop = made_by.fitted_to(known).zones.drawn(np.random.default_rng(1), 4000).sum(axis=0)
    assert np.median(crop) == pytest.approx(30_000.0, rel=0.006)


def test_the_answer_of_rows_with_nothing_else() -> None:
    """One zone and a start: an answer from usual values, wide, with what is lacking."""
    told = ratoon.forecast_season(
        zones=[{"zone": "A", "as_of": "2031-06-01", "area": 10_000, "estimate": 900_000}],
        settings={"mill": {"season_start": date(2031, 6, 10)}}, at="2031-06-10", futures=200,
    )  # fmt: skip
    assert told["status"] == "not started"
    assert len(told["lacking"]) >= 6
    assert told["crop"]["q95"] - told["crop"]["q05"] > 0.15 * 900_000
    low, high = told["finish"]["q25"], told["finish"]["q75"]
    assert (date.fromisoformat(high) - date.fromisoformat(low)).days > 20


@pytest.mark.parametrize(("lost", "status"), [(21, "forecast"), (56, "not started")])
def test_weeks_without_cane(known: Given, lost: int, status: str) -> None:
    """Three weeks under water, or eight and no start yet: an answer all the same, and later."""
    first = known.at - timedelta(days=lost)
    dry = tuple(replace(d, cane=None, ccs=None, sugar=None, no_cane=24.0) if d.date >= first else d
                for d in known.days)  # fmt: skip
    zones = tuple(z for z in known.zones if z.as_of <= first)
    told = forecast(replace(known, days=dry, zones=zones), FUTURES, 1, explained=False)
    usual = forecast(known, FUTURES, 1, explained=False)
    assert told.status == status
    assert (told.finish.q50 or "9999") > (usual.finish.q50 or "9999")
    assert (told.sugar.q05 or 0.0) > 0.0


def test_a_season_that_ended_is_finished(districts: list[District]) -> None:
    drawn = districts[1]
    assert drawn.season.finish is not None
    told = ratoon.forecast_season(**drawn.given(drawn.season.finish + timedelta(days=1)),
                                  futures=100)  # fmt: skip
    assert told["status"] == "finished"
    assert set(told["finish"].values()) == {drawn.season.finish.isoformat()}


ZONE = {"zone": "A", "as_of": "2031-06-01", "area": 100, "estimate": 9000}
REFUSED: list[tuple[dict[str, Any], str]] = [
    ({"futures": 99}, "100 to 1,000,000"),
    ({"futures": 1_000_001}, "100 to 1,000,000"),
    ({"seed": -1}, "a seed below zero"),
    ({"zones": [{**ZONE, "area": 0}]}, "area is not above zero"),
    ({"zones": [{**ZONE, "estimate": -1}]}, "estimate is not above zero"),
    ({"zones": [{**ZONE, "area_cut": 106}]}, "more is cut than the zone has"),
    ({"rain": [{"date": "2031-06-01", "rain": -0.1}]}, "0 to 1000 mm"),
    ({"rain": [{"date": "2031-06-01", "rain": 1001}]}, "0 to 1000 mm"),
    ({"days": [{"date": "2031-06-01", "cane": "much"}]}, "no number"),
    ({"days": [{"date": "2031-06-01"}, {"date": "2031-06-01"}]}, "stands twice"),
    ({"days": [{"date": "2031-06-01", "planned": 20, "rain_lost": 20}]}, "more hours lost"),
    ({"settings": {"season": {"latest": 1}}}, "unknown key 'latest'"),
    ({"settings": {"mill": {"season_start": date(2031, 6, 1)},
                   "season": {"latest_finish": date(2031, 5, 1)}}}, "out of order"),
    ({"zones": []}, "no zone of this season"),
]  # fmt: skip


@pytest.mark.parametrize(("more", "words"), REFUSED)
def test_what_cannot_be_is_refused_in_one_line(more: dict[str, Any], words: str) -> None:
    with pytest.raises(BadInput) as refused:
        ratoon.forecast_season(**{"zones": [ZONE], "at": "2031-06-10", **more})
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_zone_a_little_over_its_area_is_a_caution() -> None:
    told = ratoon.forecast_season(zones=[{**ZONE, "area_cut": 104, "cut": 8000}], at="2031-06-10",
                                  futures=100)  # fmt: skip
    assert any("more is cut than its area" in words for words in told["lacking"])


def test_changes_as_they_are_written() -> None:
    at = date(2031, 8, 1)
    made = change_of(["rate=+10", "extraction=-1", "crop=-5%", "lost=+24", "close=2031-11-01",
                      "stop=2031-08-04:12"], at)  # fmt: skip
    assert made == Change(10.0, -1.0, -0.05, 24.0, 93, ((3, 12.0),))
    for bad in ("speed=+1", "rate=fast", "rate", "close=soon", "stop=2031-08-04", "crop=5%%x",
                "rate=-400", "extraction=5", "crop=-100%", "lost=5001", "stop=2031-08-04:-1",
                "close=2031-07-31", "stop=2031-07-31:12"):  # fmt: skip
        with pytest.raises(BadInput):
            change_of([bad], at)
