"""A day's undetermined loss beside its season's: out of what earlier days of the season kept."""

from datetime import date, timedelta
from pathlib import Path

from ratoon.account.losses.with_season import LEAST_DAYS, SectionLosses
from ratoon.account.results.trust import Judged, LossEstimate
from ratoon.base.as_json import to_json
from ratoon.base.records import Period
from ratoon.jobs.mills import begin_records, mill_of
from ratoon.jobs.sheet.season_loss import KEPT, OF_WEEK, SECTIONS, beside_its_season, with_told
from ratoon.reports.compose import undetermined_words

FIRST, SEASON = date(2031, 6, 12), date(2031, 6, 10)
LOSSES = SectionLosses(("juice_end", "sugar_end"), (0.3, 0.7), ((0.5, 0.0), (0.0, 2.0)),
                       ((0.1, 0.0), (0.0, 0.4)), True)  # fmt: skip
JUDGED = Judged("within", 0.5, "Within.", alone=LossEstimate(1.0, 3.0**0.5))


def test_earlier_days_of_the_season_are_asked(mill_dir: Path) -> None:
    calendar, store = mill_of(mill_dir).calendar, begin_records(mill_dir, "")

    def keep(kind: str, period: Period, losses: SectionLosses | None) -> None:
        store.add_result(kind, period, "x", {}, to_json(losses) if losses else {})

    day = FIRST + timedelta(days=LEAST_DAYS)
    of_day, last_year = calendar.period(day), calendar.period(SEASON - timedelta(days=300))
    keep(SECTIONS, of_day, LOSSES)
    keep(SECTIONS, last_year, LOSSES)  # another season's days say nothing of this one
    keep(SECTIONS, calendar.period(day + timedelta(days=1)), LOSSES)  # nor do days to come
    for n in range(LEAST_DAYS - 1):
        keep(SECTIONS, calendar.period(FIRST + timedelta(days=n)), LOSSES)
    keep(SECTIONS, calendar.period(day - timedelta(days=1)), None)  # a day without cane
    assert beside_its_season(store, calendar, of_day, JUDGED) == JUDGED
    keep(SECTIONS, calendar.period(SEASON), LOSSES)
    told = beside_its_season(store, calendar, of_day, JUDGED)
    assert told.headline == "alone" and told.with_season is not None
    assert told.with_season.pct_sigma < JUDGED.alone.pct_sigma  # type: ignore[union-attr]
    assert "with what the season's earlier days lost" in undetermined_words("1.0", told, "day")
    # a week has losses of its own, and the days before it
    week = Period(of_day.start, calendar.period(day + timedelta(days=6)).end)
    assert beside_its_season(store, calendar, week, JUDGED, OF_WEEK) == JUDGED
    keep(OF_WEEK, week, LOSSES)
    assert beside_its_season(store, calendar, week, JUDGED, OF_WEEK).with_season is not None
    # kept with the losses it is what would be made anew, until a day before is accounted again
    kept = with_told(store, calendar, of_day, to_json(LOSSES))
    store.add_result(SECTIONS, of_day, "x", {}, kept)
    assert beside_its_season(store, calendar, of_day, JUDGED) == told
    marked = {**kept, KEPT: {"pct": -7.0, "pct_sigma": 1.0}}
    store.add_result(SECTIONS, of_day, "x", {}, marked)
    assert beside_its_season(store, calendar, of_day, JUDGED).with_season == LossEstimate(-7.0, 1.0)
    keep(SECTIONS, calendar.period(day + timedelta(days=1)), LOSSES)
    assert beside_its_season(store, calendar, of_day, JUDGED).with_season == LossEstimate(-7.0, 1.0)
    keep(SECTIONS, calendar.period(FIRST), LOSSES)
    assert beside_its_season(store, calendar, of_day, JUDGED) == told
    store.close()
