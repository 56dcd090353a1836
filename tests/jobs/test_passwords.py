"""What a new password may be: long enough, of any letters, and nothing that is guessed first."""

import pytest

from ratoon.base.errors import BadInput
from ratoon.jobs.door.passwords import agrees, checked, hash_of


@pytest.mark.parametrize(
    ("password", "fit"),
    [
        ("elevenchars", False),
        ("twelve chars", True),
        ("correct horse battery staple", True),
        ("zuckerrohr öäü 糖 ", True),
        ("seven herons by the weir " * 7, True),
        ("y" * 201, False),
        ("aaaaaaaaaaaaaaaa", False),
        ("anna.reed 12", False),
        ("password1234", False),
        ("Qwertyuiop123", False),
        ("anna.reed grows onions", True),
    ],
)
def test_length_and_letters(password: str, fit: bool) -> None:
    if fit:
        assert checked(password, "anna.reed") == password
    else:
        with pytest.raises(BadInput, match="12 to 200 letters, digits or signs of any kind"):
            checked(password, "anna.reed")


def test_no_end_of_a_long_one_is_cut_off() -> None:
    secret = hash_of("a" * 150 + "b")
    assert agrees(secret, "a" * 150 + "b") and not agrees(secret, "a" * 150 + "c")
