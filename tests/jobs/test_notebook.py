"""A mill's records as tables: what the store and the sheets hold, and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import matplotlib
import polars
import pytest
from matplotlib import pyplot

import ratoon
from ratoon.base.errors import BadInput, RatoonError


@pytest.fixture(scope="module")
def mill(accounted_days: Callable[[int], Path]) -> Iterator[ratoon.MillRecords]:
    with ratoon.open_records(accounted_days(4)) as opened:
        yield opened


def test_figures_are_those_of_the_sheets(mill: ratoon.MillRecords) -> None:
    assert len(mill.days) == 4 and str(mill.days[0]) in repr(mill)
    figures = mill.figures(mill.days[1], mill.days[2])
    assert set(figures["date"]) == set(mill.days[1:3])
    shown = mill.day(mill.days[2]).figures["account.cane"]
    (row,) = figures.where(date=mill.days[2], address="account.cane").rows()
    assert (row["value"], row["sigma"], row["unit"]) == (shown.value, shown.sigma, shown.unit)


def test_losses_to_date_add_up(mill: ratoon.MillRecords) -> None:
    last = mill.days[-1]
    days, week = mill.losses().where(loss="molasses"), mill.losses(last, last, to_date="week")
    (molasses,) = week.where(loss="molasses").rows()
    assert molasses["t"] == pytest.approx(sum(days["t"]), rel=0.02)  # accounts of their own


def test_polars_takes_a_table_as_it_is(mill: ratoon.MillRecords) -> None:
    """Polars reads Arrow's stream with code of its own [arrow.apache.org, C stream interface]."""
    readings = mill.readings()
    taken = polars.DataFrame(readings)
    assert taken.shape == (readings.height, len(readings))
    for name in ("address", "value", "sigma", "start", "end"):
        assert tuple(taken[name].to_list()) == readings[name]
    assert taken.schema["start"] == polars.Datetime("us", "UTC")
    assert polars.DataFrame(mill.figures()).schema["date"] == polars.Date


def test_readings_are_in_the_units_they_were_written_in(mill: ratoon.MillRecords) -> None:
    day = mill.days[0]
    (read,) = mill.readings(day, day).where(address="bagasse.pol").rows()
    of_sheet = next(r for r in mill.day(day).readings if r.address == "bagasse.pol")
    assert (read["value"], read["unit"]) == (pytest.approx(of_sheet.value), of_sheet.unit)


def test_a_table_is_looked_at(mill: ratoon.MillRecords) -> None:
    table = mill.addresses()
    assert f"and {table.height - 12:,}".replace(",", "") in repr(table).replace(",", "")
    assert table._repr_html_().startswith("<table><caption>addresses: ")
    assert "<b>" not in ratoon.Table({"a": ("<b>",)}, "x")._repr_html_()


@pytest.mark.parametrize(
    ("ask", "line"),
    [
        (lambda m: m.day("2020-01-01"), "this mill day has no account"),
        (lambda m: m.day("tomorrow"), "not a date"),
        (lambda m: m.figures("2031-09-01", "2031-08-01"), "is after last day"),
        (lambda m: m.losses(to_date="month"), "not a stretch of days"),
        (lambda m: m.figures()["valu"], "no such column"),
    ],
)
def test_bad_questions_get_one_line(
    mill: ratoon.MillRecords, ask: Callable[[ratoon.MillRecords], object], line: str
) -> None:
    with pytest.raises(BadInput, match=line):
        ask(mill)


def test_no_mill_no_days(tmp_path: Path, mill_dir: Path) -> None:
    with pytest.raises(RatoonError, match="no such folder"):
        _ = ratoon.open_records(tmp_path / "nowhere").days
    assert "open_records" in dir(ratoon)
    assert ratoon.open_records(mill_dir).folder == mill_dir


def test_a_trend_and_a_days_flows_are_drawn(mill: ratoon.MillRecords) -> None:
    matplotlib.use("agg")
    trend = mill.plot_trend("account.extraction")
    told = mill.figures().where(address="account.extraction")
    (points,) = trend.containers
    assert list(points[0].get_ydata()) == list(told["value"])
    assert trend.get_ylabel() == "%"
    last = mill.days[-1]
    flows = mill.plot_flows(last, trend.figure.add_subplot())
    result = mill.day(last)
    told_pct = [result.pol["sugar"].pct, result.pol["stock_change"].pct]
    told_pct += [loss.pct for loss in result.losses.values()]
    assert [bar.get_width() for bar in flows.patches] == [p for p in told_pct if p is not None]
    pyplot.close("all")
    with pytest.raises(RatoonError, match=r"account\.extraction"):
        mill.plot_trend("account.extractoin")


def test_a_mill_is_looked_at_by_its_newest_headlines(mill: ratoon.MillRecords) -> None:
    seen = mill._repr_html_()
    assert "Cane crushed" in seen and str(mill.days[-1]) in seen and "<table>" in seen
    assert {"figures", "plot_flows", "plot_trend", "consignments", "losses"} <= set(dir(mill))
