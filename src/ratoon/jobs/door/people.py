"""People of a mill: add them, give them roles and passwords, let them in, show them out."""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from ratoon.base.errors import BadInput, RatoonError, UnknownName
from ratoon.jobs.door.passwords import agrees, checked, hash_of, one_time_password

if TYPE_CHECKING:
    from ratoon.store import Store
    from ratoon.store.people import Person

_LOGIN = re.compile(r"[a-z][a-z0-9.-]{0,38}[a-z0-9]")
_LONGEST_NAME = 120


class NotLetIn(RatoonError):
    """Login and password do not fit, or the person is disabled; which of them is not told."""


def login_of(text: str) -> str:
    """A login as it is kept: lower case.

    Raises
    ------
    BadInput : not 2 to 40 letters a-z, digits, dots and hyphens.

    Examples
    --------
    >>> login_of(" Anna.Reed ")
    'anna.reed'
    """
    login = text.strip().lower()
    if not _LOGIN.fullmatch(login):
        raise BadInput(
            "not a login",
            where="login",
            value=text[:60],
            allowed="2 to 40 letters a-z, digits, dots and hyphens, a letter first",
        )
    return login


def roles_of(names: Iterable[str]) -> tuple[str, ...]:
    """Roles as they are kept: known ones, each once, in their order.

    Raises
    ------
    UnknownName : not a role.
    BadInput : none, or a grower who is something else as well.
    """
    from ratoon.store.people import ROLES

    given = {name.strip().lower().replace("-", " ") for name in names if name.strip()}
    for name in sorted(given):
        if name not in ROLES:
            raise UnknownName("role", name, ROLES, where="roles")
    if not given:
        raise BadInput("at least one role is wanted", where="roles", allowed=", ".join(ROLES))
    if "grower" in given and len(given) > 1:
        raise BadInput(
            "a grower sees the own cane alone and can have no other role",
            where="roles",
            value=", ".join(sorted(given)),
        )
    return tuple(role for role in ROLES if role in given)


def add_person(
    store: Store,
    login: str,
    name: str,
    roles: Iterable[str],
    grower: str = "",
    who: str = "",
) -> tuple[Person, str]:
    """Add a person; gives the person and the one-time password, which is kept nowhere.

    Parameters
    ----------
    grower : whose cane a person with the role grower sees; for others it is empty.
    """
    held = roles_of(roles)
    login, name, grower = login_of(login), " ".join(name.split()), grower.strip()
    if not 0 < len(name) <= _LONGEST_NAME or not name.isprintable():
        raise BadInput(
            "a name is wanted", where="name", value=name[:60], allowed="1 to 120 letters"
        )
    if ("grower" in held) != bool(grower):
        raise BadInput(
            "a person with the role grower needs the grower's name, and nobody else has one",
            where="grower",
            value=grower[:60],
        )
    if "manager" not in held and not store.people.any():
        raise BadInput(
            "the first person must be a manager: nobody could let others in", where="roles",
            value=", ".join(held), allowed="manager, alone or with others",
        )  # fmt: skip
    password = one_time_password()
    person = store.people.add(login, name, hash_of(password), held, grower[:120], who)
    return person, password


def first_manager(mill_dir: Path) -> tuple[str, str] | None:
    """Make the login `manager` where nobody is kept yet; gives it with its one-time password."""
    from ratoon.jobs.mills import store_of

    with store_of(mill_dir, create=True) as store:
        if store.people.any():
            return None
        person, password = add_person(store, "manager", "Manager", ["manager"])
        return person.login, password


def set_roles(store: Store, login: str, roles: Iterable[str], who: str = "") -> Person:
    """Give a person these roles instead of the present ones."""
    login, held = login_of(login), roles_of(roles)
    person = _known(store, login)
    if ("grower" in held) != bool(person.grower):
        raise BadInput(
            "growers and the mill's own people are added apart", where=login,
            todo="Add the person anew, under another login",
        )  # fmt: skip
    return store.people.change(login, "roles changed", who, roles_=held)


def new_password(store: Store, login: str, who: str = "") -> str:
    """A new one-time password for a person who is then signed out everywhere."""
    from ratoon.store.people import MADE_ANEW

    password = one_time_password()
    store.people.change(login_of(login), MADE_ANEW, who, secret=hash_of(password), one_time=1)
    return password


def change_password(store: Store, login: str, old: str, new: str) -> Person:
    """Change one's own password; all of the person's sessions end.

    Raises
    ------
    NotLetIn : the old password is not right.
    BadInput : the new one is not fit to be one, or is the old one.
    """
    person = _known(store, login)
    if not agrees(person.secret, old):
        raise NotLetIn("the present password is not right", where="password")
    if old == new:
        raise BadInput("the new password is the present one", where="password")
    secret = hash_of(checked(new, login))
    return store.people.change(login, "password changed", login, secret=secret, one_time=0)


def disable(store: Store, login: str, who: str = "") -> Person:
    """Let a person in no more; the records keep the name."""
    from ratoon.store.chain.events import now

    return store.people.change(login_of(login), "person disabled", who, disabled=now())


def enable(store: Store, login: str, who: str = "") -> Person:
    """Let a disabled person in again."""
    return store.people.change(login_of(login), "person enabled", who, disabled=None)


def sign_out(store: Store, login: str, who: str = "") -> int:
    """End all sessions of a person; gives their number."""
    return store.people.end_sessions(login_of(login), who)


def sign_in(store: Store, login: str, password: str, place: str = "") -> tuple[Person, str]:
    """Let a person in; gives the person and the session's token, which is kept nowhere.

    Raises
    ------
    NotLetIn : login and password do not fit, the person is disabled, or the one-time password was
        not used in time.
    """
    person = store.people.named(login.strip().lower()[:40])
    # a login that nobody has takes as long as one that somebody has
    fits = agrees(person.secret if person else _nobody(), password)
    if person is None or not fits or person.disabled:
        raise NotLetIn("login and password do not fit", todo="Try again, or ask a manager")
    if store.people.first_is_old(person):
        raise NotLetIn("the one-time password is too old", todo="Ask a manager for a new one")
    token = secrets.token_urlsafe(32)
    store.people.begin_session(person.login, digest_of_token(token), place)
    return person, token


def digest_of_token(token: str) -> str:
    """What is kept of a session's token."""
    return hashlib.sha256(token.encode()).hexdigest()


def mark_browser(person: Person, browser: str = "") -> str:
    """What a browser shows to be known again for a person's own, until the password changes."""
    browser = browser or secrets.token_hex(8)
    signed = hmac.new(person.secret.encode(), f"{person.login} {browser}".encode(), hashlib.sha256)
    return f"{browser}.{signed.hexdigest()}"


def known_browser(store: Store, login: str, mark: str) -> str:
    """The browser that a mark makes known as the own one of a login; "" where it does not."""
    person = store.people.named(login) if mark else None
    browser = mark.partition(".")[0]
    fits = person is not None and hmac.compare_digest(mark_browser(person, browser), mark)
    return browser if fits else ""


@cache
def _nobody() -> str:
    return hash_of(secrets.token_urlsafe(16))


def _known(store: Store, login: str) -> Person:
    person = store.people.named(login)
    if person is None:
        raise BadInput("there is no person with this login", where="login", value=login)
    return person
