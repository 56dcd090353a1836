"""Shape of a pile against columns added up, both ways, part-full; what a survey is worth."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ratoon.base.sugar import ShedSurvey
from ratoon.plans.shed.pile import Pile
from ratoon.plans.shed.survey import Book, Surveyed, stock, surveyed, together

AT = datetime(2031, 8, 1, tzinfo=UTC)
PILES = st.builds(
    Pile, st.floats(10, 80), st.floats(90, 400), st.floats(25, 45), st.floats(0.7, 1.0),
    st.floats(0, 5), st.booleans(),
)  # fmt: skip


def _columns(pile: Pile, height: float) -> float:
    """Volume of a pile by columns of half a metre: the least of slope from the ridge and floor."""
    step, slope = 0.25, math.tan(math.radians(pile.angle))
    along, across = np.meshgrid(
        np.arange(step / 2, pile.length, step),
        np.arange(-pile.width / 2 + step / 2, pile.width / 2, step),
    )
    foot = height / slope if pile.half_cones else 0.0
    beyond = np.maximum(np.maximum(foot - along, along - (pile.length - foot)), 0.0)
    return float(np.maximum(height - slope * np.hypot(beyond, across), 0.0).sum() * step**2)


@pytest.mark.parametrize("half_cones", [True, False])
@pytest.mark.parametrize("height", [3.0, 9.0, 15.0])
def test_volume_is_that_of_its_columns(half_cones: bool, height: float) -> None:
    pile = Pile(45.0, 200.0, 36.0, half_cones=half_cones)
    assert height <= pile.free_height
    assert pile.volume(height) == pytest.approx(_columns(pile, height), rel=2e-3)


def test_volume_against_walls_is_that_of_its_columns() -> None:
    pile = Pile(40.0, 150.0, 37.0, push_wall=4.0, half_cones=False)
    height = pile.free_height + 2.5
    assert pile.volume(height) == pytest.approx(_columns(pile, height), rel=2e-3)


@settings(max_examples=60)
@given(PILES, st.floats(0.0, 1.0))
def test_tonnes_give_the_ridge_and_the_ridge_tonnes(pile: Pile, share: float) -> None:
    height = share * pile.height
    assert pile.height_of(pile.tonnes(height)) == pytest.approx(height, abs=1e-6)
    assert pile.tonnes(height) <= pile.tonnes(1.01 * height + 0.01)
    assert pile.capacity <= Pile(pile.width, pile.length, pile.angle, pile.density,
                                 pile.push_wall, False).capacity + 1e-9  # fmt: skip


def test_what_a_degree_a_density_and_a_ridge_are_worth() -> None:
    """The figures that every surveyor should know: some 3.5 %, 2.4 % and 2 %."""
    pile = Pile(60.0, 300.0, 37.0, 0.85)
    full, steeper = pile.capacity, Pile(60.0, 300.0, 38.0, 0.85).capacity
    assert 100 * (steeper / full - 1.0) == pytest.approx(3.5, abs=0.2)
    denser = Pile(60.0, 300.0, 37.0, 0.87).capacity
    assert 100 * (denser / full - 1.0) == pytest.approx(2.4, abs=0.06)
    low = Pile(60.0, 300.0, 37.0, 0.85, half_cones=False)
    assert 100 * (low.tonnes(10.1) / low.tonnes(10.0) - 1.0) == pytest.approx(2.0, abs=0.02)


def test_a_survey_by_shape_counts_each_error_once_and_common_ones_in_all_piles() -> None:
    pile = Pile(40.0, 200.0, 37.0, 0.85)
    one = surveyed(ShedSurvey("A", AT, "", height=10.0, length=150.0, angle=36.0), pile)
    assert one.tonnes == pytest.approx(Pile(40.0, 150.0, 36.0, 0.85).tonnes(10.0))
    assert 0.035 < one.sigma / one.tonnes < 0.07
    two = together([one, one])
    assert two.common == pytest.approx((2 * one.common[0], 2 * one.common[1]))
    assert two.sigma < 2 * one.sigma and two.tonnes == 2 * one.tonnes
    stated = surveyed(ShedSurvey("A", AT, "", sigma=50.0, height=10.0), pile)
    assert stated.sigma == 50.0


def test_900_t_in_40_000_say_nothing_and_4_500_do() -> None:
    book = Book(40_000.0, 75_000.0, 35_000.0)
    shape = Surveyed(39_100.0, (1250.0, 900.0), 800.0)
    little = stock(book, book, shape)
    assert little.significant is False
    assert 39_900.0 < little.value < 40_000.0 and little.sigma < book.sigma
    much = stock(book, book, Surveyed(35_500.0, (0.0, 0.0), 1200.0))
    assert much.significant is True and much.value == pytest.approx(35_500.0)
    assert stock(book).value == 40_000.0 and stock(book).difference is None
