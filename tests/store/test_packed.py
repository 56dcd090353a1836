"""Texts that are kept packed come out as they went in, or are told as damaged."""

import hashlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some
from sqlalchemy import text

from ratoon.base.errors import StoreError
from ratoon.base.records import Period
from ratoon.store import Store, engine, packed

from .conftest import at


@given(some.text(max_size=300).map(lambda words: words * 9))
def test_a_text_comes_out_as_it_went_in(words: str) -> None:
    assert packed.unpack(packed.pack(words)) == words


def test_a_long_text_takes_a_third_of_its_room() -> None:
    words = '{"at":"2031-06-09T14:53:42Z","by":"rail","gross":8570,"note":"C00001"}' * 20
    assert len(packed.pack(words)) * 3 < len(words)


def test_the_common_words_stay_as_they_are() -> None:
    """Every packed text on record needs them: another list needs another first byte."""
    assert hashlib.sha256(packed._WORDS).hexdigest() == (
        "ec3816e8704c10e48cec37ed4576a06de4a6b825c7605acede6336270ed19433"
    )


@pytest.mark.parametrize("cut", [slice(0, 0), slice(1, None), slice(0, -1), slice(0, 9)])
def test_a_packed_text_that_was_cut_is_told(cut: slice) -> None:
    whole = packed.pack("sugar in cane " * 40)
    assert isinstance(whole, bytes)
    with pytest.raises(StoreError, match="a stored text is damaged"):
        packed.unpack(whole[cut])


def test_the_doctor_tells_of_an_answer_that_cannot_be_unpacked(tmp_path: Path) -> None:
    with Store.open(tmp_path / "ratoon.db") as store:
        store.add_result("day", Period(at(14), at(15)), "d" * 64, {}, {"figure": [1.0] * 99})
        with engine.writing(store._engine) as connection:
            connection.execute(text("UPDATE results SET answer = substr(answer, 1, 20)"))
        assert any("a stored text is damaged" in fault for fault in store.verify())
