"""Passwords are hashed as a standard recommends."""

from base64 import b64decode

from ratoon.jobs.door.passwords import agrees, hash_of


def test_hashes_are_those_of_rfc_9106() -> None:
    """RFC 9106 (2021), section 4, the second recommended option, for where memory is short.

    Argon2id, t = 3 iterations, p = 4 lanes, m = 2^16 KiB (64 MiB), 128-bit salt, 256-bit tag.
    """
    made = hash_of("seven herons by the weir")
    kind, version, parameters, salt, tag = made.split("$")[1:]
    assert (kind, version) == ("argon2id", "v=19")  # 0x13
    assert set(parameters.split(",")) == {"t=3", "p=4", "m=65536"}
    # written without the padding that Python's reader asks for
    assert (len(b64decode(salt + "==")), len(b64decode(tag + "=="))) == (16, 32)
    assert agrees(made, "seven herons by the weir")
    assert not agrees(made, "seven herons by the Weir")
