"""Rain by a chain of wet and dry days with gamma amounts, and a factor of the year.

The chance that a day is wet (1 mm or more) hangs on the day before, by months; rain above 0.9 mm on
a wet day is gamma with one shape and a mean by months. Such a chain makes years far too even
[KatzParlange1998]: so each year has a factor, with mean one, and a variance which is the record's
less the chain's own. It raises the odds of a wet day and the amounts in the shares in which the
record's counts of wet days and totals vary. A season's rain so far shifts it by the regression of
the rest on the first part over the years on record. Every figure is drawn for each future with the
error that its record leaves.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from ratoon.plans.season.draws import Array, Rng

WET, TRACE = 1.0, 0.9
"""A wet day has 1 mm or more; amounts are taken above 0.9 mm."""
POOLED_DAYS = 20.0
"""Days by which a month's chances lean on those of the whole window."""
USUAL = (0.09, 0.48, 9.0, 0.58)
"""Where no rain is on record: chances of wet after dry and after wet, mean above 0.9 mm, shape:
between two coastal stations beside cane districts [BoM-Daily]."""
USUAL_YEAR = 0.4
"""Where years are few: the coefficient of variation of the year's factor (mill's choice)."""
FEW_YEARS = 3.0
"""Years that it counts for."""
TRIED = 1500


@dataclass(frozen=True)
class Months:
    """What each month of a window was: counts of days after dry and wet ones, amounts."""

    after_dry: Array
    wet_after_dry: Array
    after_wet: Array
    wet_after_wet: Array
    amount: Array
    wet_days: Array
    shape: float

    def chances(self) -> tuple[Array, Array, Array]:
        """Wet after dry, wet after wet, mean amount above 0.9 mm [mm], by month."""
        a0, b0, m0, _ = pooled(self)
        a = (self.wet_after_dry + POOLED_DAYS * a0) / (self.after_dry + POOLED_DAYS)
        b = (self.wet_after_wet + POOLED_DAYS / 2 * b0) / (self.after_wet + POOLED_DAYS / 2)
        mean = (self.amount + POOLED_DAYS / 2 * m0) / (self.wet_days + POOLED_DAYS / 2)
        return a, b, mean


def pooled(months: Months) -> tuple[float, float, float, float]:
    """The window as one month: chances, mean amount, shape."""
    if months.wet_days.sum() < 10 or months.after_dry.sum() < 100:
        return USUAL
    a = float(months.wet_after_dry.sum() / months.after_dry.sum())
    b = float((months.wet_after_wet.sum() + 1) / (months.after_wet.sum() + 2))
    return a, b, float(months.amount.sum() / months.wet_days.sum()), months.shape


def wet_share(after_dry: float, after_wet: float) -> float:
    """Share of days that are wet in the long run of a chain with these chances."""
    return after_dry / (1.0 + after_dry - after_wet)


def wet_spell(after_wet: float) -> float:
    """Mean length of a run of wet days [d]."""
    return 1.0 / (1.0 - after_wet)


def dry_share(after_dry: float, after_wet: float, days: int) -> float:
    """Share of days that are dry with all of the `days` - 1 before them."""
    return (1.0 - wet_share(after_dry, after_wet)) * (1.0 - after_dry) ** (days - 1)


@dataclass(frozen=True)
class Rain:
    """The rain to come, fitted.

    Parameters
    ----------
    month_of : month of each day ahead, as a row of `months`. wet_now : the last day was wet.
    totals : rain of the window in each year on record [mm]; chain_cv : of the chain alone.
    occurrence : share of the factor's logarithm that goes to the odds of a wet day.
    beta, seen : regression of the rest on the first part, and this season's first part over its
        mean, less one; cut : share of the factor's variance that the first part takes away.
    even : what keeps the mean where it was.
    """

    months: Months
    month_of: NDArray[np.int64]
    wet_now: bool
    totals: tuple[float, ...]
    chain_cv: float
    occurrence: float
    beta: float = 0.0
    seen: float = 0.0
    cut: float = 0.0
    even: float = 1.0

    def year_variance(self) -> float:
        """Variance of the year's factor, by the record and the usual one."""
        return max(self._of_record() ** 2 - self.chain_cv**2, 0.0)

    def _of_record(self) -> float:
        years = len(self.totals)
        usual = USUAL_YEAR**2 + self.chain_cv**2
        if years < 3:
            return float(np.sqrt(usual))
        cv = _cv(self.totals) ** 2
        freedom = years - 1
        return float(np.sqrt((freedom * cv + FEW_YEARS * usual) / (freedom + FEW_YEARS)))

    def factor(self, rng: Rng, count: int) -> Array:
        """The year's factor in each future."""
        freedom = max(len(self.totals) - 1, 0) + FEW_YEARS
        total = self._of_record() ** 2 * freedom / rng.chisquare(freedom, count)
        variance = np.maximum(total - self.chain_cv**2, 1e-4) * (1.0 - self.cut)
        mean = max(1.0 + self.beta * self.seen, 0.15)
        shape = mean**2 / variance
        years = max(len(self.totals), 2)
        level = 1.0 + np.sqrt(total / years) * rng.standard_normal(count)
        drawn: Array = rng.gamma(shape, mean / shape) * np.clip(level, 0.4, 2.0)
        return np.maximum(drawn, 0.01)

    def drawn(self, rng: Rng, count: int, days: int | None = None) -> Array:
        """Rain of each day ahead in each future [mm], shape (days, futures)."""
        return self.with_factor(rng, count, self.factor(rng, count), days)

    def with_factor(self, rng: Rng, count: int, factor: Array, days: int | None = None) -> Array:
        """The same with the year's factor given."""
        m = self.months
        a0, b0, _, shape = pooled(m)
        dry = rng.beta((m.wet_after_dry + POOLED_DAYS * a0)[:, None],
                       (m.after_dry - m.wet_after_dry + POOLED_DAYS * (1 - a0))[:, None],
                       (len(m.after_dry), count))  # fmt: skip
        wet = rng.beta((m.wet_after_wet + POOLED_DAYS / 2 * b0)[:, None],
                       (m.after_wet - m.wet_after_wet + POOLED_DAYS / 2 * (1 - b0))[:, None],
                       (len(m.after_dry), count))  # fmt: skip
        heard = (m.wet_days + POOLED_DAYS / 2)[:, None] * shape
        means = m.chances()[2][:, None] * rng.gamma(heard, 1 / heard, (len(m.after_dry), count))
        often = factor**self.occurrence
        dry, wet = (p * often / (1 - p + p * often) for p in (dry, wet))
        scale = means * (factor ** (1 - self.occurrence) * self.even / shape)
        return self._fallen(rng, dry, wet, scale, shape, days)

    def _fallen(
        self, rng: Rng, dry: Array, wet: Array, scale: Array, shape: float, days: int | None
    ) -> Array:
        month_of = self.month_of[:days]
        count = dry.shape[1]
        chance = rng.random((len(month_of), count), dtype=np.float32)
        is_wet = np.full(count, self.wet_now)
        fell = np.zeros((len(month_of), count), dtype=bool)
        for day, month in enumerate(month_of):
            is_wet = chance[day] < np.where(is_wet, wet[month], dry[month])
            fell[day] = is_wet
        rain = np.zeros(fell.shape)
        where = np.nonzero(fell)
        rain[where] = (
            TRACE + rng.standard_gamma(shape, where[0].size) * scale[month_of[where[0]], where[1]]
        )
        return rain


def fit(record: Mapping[date, float], at: date, days: int, window: int, first: date) -> Rain:
    """The rain to come from the record.

    Parameters
    ----------
    at : first day ahead. days : days ahead. window : of those, the ones that crushing may last.
    first : first day of this season, from which its rain so far counts.
    """
    ahead = [at + timedelta(days=n) for n in range(days)]
    order = list(dict.fromkeys(d.month for d in ahead)) or [at.month]
    months = counted(record, order)
    month_of = np.array([order.index(d.month) for d in ahead], dtype=np.int64)
    wet_now = record.get(at - timedelta(days=1), 0.0) >= WET
    rest = _windows(record, at, window)
    # a season may run over New Year: its rain so far goes with the year of `at`
    so_far = {year + at.year - first.year: told
              for year, told in _windows(record, first, (at - first).days).items()}  # fmt: skip
    totals = tuple(total for _, (total, _) in sorted(rest.items()) if _ != at.year)
    made = Rain(months, month_of, wet_now, totals, 0.0, 0.5)
    rng = np.random.default_rng(1998)
    own = made.with_factor(rng, TRIED, np.ones(TRIED), window)
    chain = own.sum(axis=0)
    mean = max(float(chain.mean()), 1e-9)
    counts = (own > 0).sum(axis=0)
    own_cv = float(chain.std() / mean)
    often = _occurrence(made, rest, at, counts, own_cv)
    made = replace(made, chain_cv=own_cv, occurrence=often)
    made = _shifted(made, rest, so_far, at)
    mixed = made.with_factor(rng, TRIED, np.clip(_mean_one(rng, made), 0.01, None), window)
    even = mean / max(float(mixed.sum(axis=0).mean()), 1e-9)
    return replace(made, even=float(np.clip(even, 0.6, 1.4)))


def _cv(values: Sequence[float]) -> float:
    """Coefficient of variation."""
    return float(np.std(values, ddof=1)) / max(float(np.mean(values)), 1e-9)


def _mean_one(rng: Rng, rain: Rain) -> Array:
    variance = max(rain.year_variance(), 1e-4)
    drawn: Array = rng.gamma(1 / variance, variance, TRIED)
    return drawn


def _occurrence(
    rain: Rain, rest: Mapping[int, tuple[float, int]], at: date, counts: Array, chain_cv: float
) -> float:
    """Share of the factor that shows in the number of wet days."""
    wet = [n for year, (_, n) in rest.items() if year != at.year]
    if len(wet) < 8 or np.mean(wet) <= 0:
        return 0.5
    count_cv2 = _cv(wet) ** 2 - (counts.std() / counts.mean()) ** 2
    total_cv2 = _cv(rain.totals) ** 2 - chain_cv**2
    if total_cv2 <= 0.01:
        return 0.5
    return float(np.clip(np.sqrt(max(count_cv2, 0.0) / total_cv2), 0.1, 0.9))


def _shifted(
    rain: Rain, rest: Mapping[int, tuple[float, int]], so_far: Mapping[int, tuple[float, int]],
    at: date,
) -> Rain:  # fmt: skip
    """The factor as this season's rain so far leaves it."""
    years = [y for y in rest if y in so_far and y != at.year]
    now = so_far.get(at.year)
    variance = rain.year_variance()
    if now is None or len(years) < 8 or variance < 1e-3:
        return rain
    x = np.array([so_far[y][0] for y in years])
    y = np.array([rest[y][0] for y in years])
    x, y = (v / max(float(v.mean()), 1e-9) - 1 for v in (x, y))
    mean = max(float(np.mean([so_far[y][0] for y in years])), 1e-9)
    n, var_x = len(years), float(np.var(x, ddof=1))
    shrunk = n / (n + 10.0)
    beta = shrunk * float(np.clip(np.mean(x * y), 0.0, None)) / max(var_x, 1e-9)
    cut = float(np.clip(beta**2 * var_x / variance, 0.0, 0.8))
    return replace(rain, beta=beta, seen=float(np.clip(now[0] / mean - 1, -1.0, 3.0)), cut=cut)


def counted(record: Mapping[date, float], order: list[int]) -> Months:
    """Wet and dry days of a record by month, in the order of these months."""
    dry, wet_dry, wet, wet_wet, amount, days = (np.zeros(len(order)) for _ in range(6))
    logs: list[float] = []
    place = {month: n for n, month in enumerate(order)}
    step = timedelta(days=1)
    for day, mm in record.items():
        n = place.get(day.month)
        before = record.get(day - step)
        if n is None:
            continue
        is_wet = mm >= WET
        if is_wet:
            amount[n] += mm - TRACE
            days[n] += 1
            logs.append(mm - TRACE)
        if before is None:
            continue
        if before >= WET:
            wet[n] += 1
            wet_wet[n] += is_wet
        else:
            dry[n] += 1
            wet_dry[n] += is_wet
    return Months(dry, wet_dry, wet, wet_wet, amount, days, _shape(logs))


def _shape(amounts: list[float]) -> float:
    """Shape of gamma amounts by Thom's approximation to maximum likelihood."""
    if len(amounts) < 20:
        return USUAL[3]
    a = np.log(np.mean(amounts)) - float(np.mean(np.log(np.maximum(amounts, 0.05))))
    return float(np.clip((1 + np.sqrt(1 + 4 * a / 3)) / (4 * a), 0.2, 2.0))


def _windows(record: Mapping[date, float], first: date, days: int) -> dict[int, tuple[float, int]]:
    """Rain [mm] and wet days of the same stretch in each year that has nine days in ten of it."""
    if days <= 0:
        return {}
    made = {}
    years = sorted({d.year for d in record})
    for year in range(years[0] - 1, years[-1] + 1) if years else ():
        try:
            begin = first.replace(year=year)
        except ValueError:  # 29 February
            begin = first.replace(year=year, day=28)
        got = [r for n in range(days)
               if (r := record.get(begin + timedelta(days=n))) is not None]  # fmt: skip
        if len(got) >= 0.9 * days:
            made[year] = (float(sum(got)) * days / len(got), sum(r >= WET for r in got))
    return made
