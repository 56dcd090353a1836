"""Passwords: hashed with argon2, made one-time by us, and refused when too easily guessed.

The limits follow common practice for passwords: length counts, composition rules do not help, and
what is on lists of common passwords, names and words is guessed first.
"""

from __future__ import annotations

import secrets
import threading
from functools import cache
from typing import TYPE_CHECKING

from ratoon.base.errors import BadInput

if TYPE_CHECKING:
    from argon2 import PasswordHasher

SHORTEST, LONGEST = 12, 200
"""Letters of a password."""
FEWEST_GUESSES = 1e8
"""Guesses that a new password must withstand; zxcvbn calls 1e8 and more "safely unguessable"."""

_JUDGED = 72  # letters that zxcvbn judges: its time grows with the square of the length

# No 0 and O, 1 and l: a one-time password is read from paper and typed.
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
# One hash at a time: each takes 64 MiB, and a crowd at the door may not fill the machine.
_ONE_AT_A_TIME = threading.Lock()


def one_time_password() -> str:
    """A password of four groups of four letters, good for 79 bits; to be changed at first use.

    Examples
    --------
    >>> [len(group) for group in one_time_password().split("-")]
    [4, 4, 4, 4]
    """
    return "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(4))


@cache
def hasher() -> PasswordHasher:
    """argon2id as RFC 9106 section 4 recommends it where memory is short: 3 passes, 64 MiB."""
    from argon2 import PasswordHasher, profiles

    return PasswordHasher.from_parameters(profiles.RFC_9106_LOW_MEMORY)


def hash_of(password: str) -> str:
    """The argon2id hash of a password, with its salt and parameters in it."""
    with _ONE_AT_A_TIME:
        return hasher().hash(password)


def agrees(secret: str, password: str) -> bool:
    """Whether a password is the one hashed in `secret`."""
    from argon2.exceptions import InvalidHashError, VerificationError

    try:
        with _ONE_AT_A_TIME:
            return hasher().verify(secret, password[:LONGEST])
    except (VerificationError, InvalidHashError):
        return False


def checked(password: str, login: str) -> str:
    """A new password, if it is fit to be one.

    Raises
    ------
    BadInput : too short, too long, or soon guessed: a common password, few different letters, the
        login with a little beside it. Guesses are counted by zxcvbn (Wheeler, USENIX Security
        2016), which has the lists of common passwords, names and words with it.
    """
    from zxcvbn import zxcvbn

    what = ""
    if not SHORTEST <= len(password) <= LONGEST:
        what = "has too few or too many letters"
    elif zxcvbn(password[:_JUDGED], user_inputs=[login])["guesses"] < FEWEST_GUESSES:
        what = "is soon guessed"
    if what:
        raise BadInput(
            f"the new password {what}",
            where="password",
            allowed=f"{SHORTEST} to {LONGEST} letters, digits or signs of any kind, "
            "no common password, no login",
            todo="Take a few words that do not belong together",
        )
    return password
