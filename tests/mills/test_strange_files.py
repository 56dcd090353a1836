"""Mill files made strange: every number has a range, and none ends in a fault of the program."""

from __future__ import annotations

import dataclasses
import math
import typing

import pytest

from ratoon.base.errors import BadInput
from ratoon.settings.fields import LARGEST, range_of
from ratoon.settings.plant import EffectRow
from ratoon.settings.read import parse_settings
from ratoon.settings.records import Settings

from .strange import outcome, plain_texts, strange

FEW = 12


@pytest.mark.parametrize("number", range(FEW))
def test_refused_or_solved(number: int) -> None:
    assert not outcome(strange(plain_texts(), number)).startswith("fault")


def test_no_vapour_space_is_refused_by_its_key() -> None:
    text = plain_texts()[0].replace("vapour_area = 52.0", "vapour_area = 0")
    with pytest.raises(BadInput, match=r"vapour_area.*found 0.*0\.01 to 1e\+06 m2"):
        parse_settings(text)


def _numbers(kind: type) -> typing.Iterator[tuple[str, typing.Any, bool]]:
    hints = typing.get_type_hints(kind)
    for field in dataclasses.fields(kind):
        inside = [hints[field.name]]
        while inside:
            one = inside.pop()
            if dataclasses.is_dataclass(one) and isinstance(one, type):
                yield from _numbers(one)
            elif one in (int, float):
                yield f"{kind.__name__}.{field.name}", field.metadata, one is int
            inside += typing.get_args(one)


def test_every_number_with_a_unit_has_a_range() -> None:
    found = list(_numbers(Settings))
    assert len(found) > 150
    for name, told, whole in found:
        low, high = range_of(told, whole)
        assert math.isfinite(low) and low < high <= LARGEST, name
        assert not told["unit"] or high < LARGEST, f"{name}: no range for {told['unit']}"


def test_a_default_lies_in_its_range() -> None:
    low, _ = range_of(
        next(f for f in dataclasses.fields(EffectRow) if f.name == "vapour_area").metadata
    )
    assert low == 0.01
