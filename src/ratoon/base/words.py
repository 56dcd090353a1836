"""Small matters of spelling that every room needs."""

from __future__ import annotations


def capital(name: str) -> str:
    """A name with a capital before it; a word that has one inside, such as pH, stays as it is.

    Examples
    --------
    >>> [capital(n) for n in ("brix of liquor", "pH of mixed juice", "A massecuite", "")]
    ['Brix of liquor', 'pH of mixed juice', 'A massecuite', '']
    """
    return name if name[1:2].isupper() else name[:1].upper() + name[1:]


def sentence(text: str) -> str:
    """A line with a full stop at its end, and never two.

    Examples
    --------
    >>> sentence("no account"), sentence("Choose a day with an account."), sentence("again?")
    ('no account.', 'Choose a day with an account.', 'again?')
    """
    return text if text.endswith((".", "?", "!", ":")) else f"{text}."


def shown(line: str) -> str:
    r"""A line fit for a terminal: what would steer it, or turn the writing round, as its code.

    Examples
    --------
    >>> shown("a\x1b[2Jb\u202ec"), shown("Zucker, \u7cd6")
    ('a\\x1b[2Jb\\u202ec', 'Zucker, \u7cd6')
    """
    return "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape").decode()
        for letter in line
    )
