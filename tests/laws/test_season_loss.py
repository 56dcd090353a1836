"""The undetermined loss with its season: honest and narrower where mills lose about the same, told
alone where a day stands out. Losses, errors and lasting errors are drawn; the seed was chosen
unseen.
"""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from numpy.typing import NDArray

from ratoon.account.losses.with_season import LEAST_DAYS, SectionLosses, with_season

SEED = 20311002
NAMES = ("juice_end", "evaporators", "sugar_end")
METERS = np.array([[0.8, 0.0], [-0.8, 1.4], [0.0, -1.4]])
"""A flow read between two sections moves loss from the one to the other."""
OWN = np.array([0.3, 0.2, 1.5])  # stocks and weights, new each day
LASTS = np.array([[0.5], [0.0], [0.7]])  # one instrument's lasting error
RANDOM = METERS @ METERS.T + np.diag(OWN**2)
COMMON = LASTS @ LASTS.T
ALONE = float(np.sqrt(RANDOM.sum() + COMMON.sum()))
FIRST = date(2031, 6, 9)
Floats = NDArray[np.float64]


class Season:
    """A mill that loses about the same each day, and reads it with errors."""

    def __init__(self, rng: np.random.Generator, usual: float, anew: float) -> None:
        self.rng, self.anew = rng, anew
        self.usual = usual * (1.0 + rng.standard_normal(3)) / 3.0
        self.lasts = LASTS @ rng.standard_normal(1)

    def day(self, spilt: float = 0.0, sound: bool = True) -> tuple[float, SectionLosses]:
        """The true loss of a day, and what its readings say of it by section."""
        true = self.usual + self.anew * self.rng.standard_normal(3) / 3.0**0.5
        true[2] += spilt
        read = true + self.lasts + METERS @ self.rng.standard_normal(2)
        read += OWN * self.rng.standard_normal(3)
        return float(true.sum()), losses(read, sound)

    def days(self, number: int) -> list[tuple[date, SectionLosses]]:
        """Earlier days by the first day of their weeks."""
        return [(FIRST + timedelta(days=7 * (n // 7)), self.day()[1]) for n in range(number)]


def losses(read: Floats, sound: bool = True) -> SectionLosses:
    random, common = (tuple(map(tuple, m.tolist())) for m in (RANDOM, COMMON))
    return SectionLosses(NAMES, tuple(read.tolist()), random, common, sound)


@pytest.mark.parametrize(("usual", "anew"), [(0.0, 0.0), (1.0, 0.3), (1.5, 0.8)])
def test_it_holds_the_truth_and_is_narrower(usual: float, anew: float) -> None:
    rng = np.random.default_rng(SEED)
    inside: list[bool] = []
    width: list[float] = []
    for _ in range(40):
        season = Season(rng, usual, anew)
        earlier = season.days(20)
        for _ in range(4):
            true, day = season.day()
            told = with_season(day, earlier)
            assert told is not None
            inside.append(abs(told.pct - true) < 1.959964 * told.pct_sigma)
            width.append(told.pct_sigma / ALONE)
    print(np.mean(inside), np.mean(width))
    assert np.mean(inside) >= 0.93
    assert np.mean(width) <= 0.80


def test_lasting_errors_do_not_average_out() -> None:
    """However many days went before, the day's lasting error stays whole."""
    season = Season(np.random.default_rng(SEED + 1), 1.0, 0.0)
    told = with_season(season.day()[1], season.days(80))
    assert told is not None
    assert told.pct_sigma > float(COMMON.sum()) ** 0.5


def test_a_day_that_stands_out_is_drawn_to_its_season() -> None:
    """So the day alone leads: what the season hides is what the figure is for."""
    season = Season(np.random.default_rng(SEED + 2), 1.0, 0.2)
    earlier = season.days(20)
    _, spilt = season.day(spilt=12.0)
    told = with_season(spilt, earlier)
    assert told is not None
    assert told.pct < sum(spilt.losses) - 3.0
    # and such days teach nothing of what is usual
    with_them = with_season(season.day()[1], [*earlier, *((w, spilt) for w, _ in earlier[:3])])
    assert with_them is not None and with_them.pct < 5.0


def test_too_few_days_and_days_that_contradict_themselves_say_nothing() -> None:
    season = Season(np.random.default_rng(SEED + 3), 1.0, 0.2)
    earlier = season.days(LEAST_DAYS)
    day = season.day()[1]
    assert with_season(day, earlier) is not None
    assert with_season(day, earlier[1:]) is None
    unsound = [(w, losses(np.array(d.losses), sound=False)) for w, d in earlier]
    assert with_season(day, unsound) is None
    assert with_season(season.day(sound=False)[1], earlier) is None


def test_a_week_is_steadier_than_a_day() -> None:
    """Days' departures average out over a stretch of them."""
    season = Season(np.random.default_rng(SEED + 4), 1.0, 1.5)
    earlier, day = season.days(40), season.day()[1]
    one, seven = with_season(day, earlier), with_season(day, earlier, days=7)
    assert one is not None and seven is not None
    assert seven.pct_sigma < one.pct_sigma


def test_a_day_that_knew_next_to_nothing_takes_nothing_away() -> None:
    """One without its laboratory does not know its losses to hundreds of per cent."""
    season = Season(np.random.default_rng(SEED + 5), 1.0, 0.2)
    earlier, day = season.days(20), season.day()[1]
    blind = replace(day, random=scaled(day.random, 1e5), common=scaled(day.common, 1e6))
    told, plain = with_season(day, [*earlier, (FIRST, blind)]), with_season(day, earlier)
    assert told is not None and plain is not None
    assert told.pct_sigma == pytest.approx(plain.pct_sigma, rel=0.02)
    assert told.pct == pytest.approx(plain.pct, abs=0.05 * plain.pct_sigma)


def scaled(matrix: tuple[tuple[float, ...], ...], by: float) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(by * x for x in row) for row in matrix)
