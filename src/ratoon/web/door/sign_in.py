"""Signing in and out, and the own password: the views, and who has to wait after guessing."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Annotated, TypeVar
from urllib.parse import urlencode

from anyio import CapacityLimiter, to_thread
from fastapi import FastAPI, Form, Query, Request
from fastapi.responses import RedirectResponse, Response

from ratoon.base.errors import BadInput, RatoonError
from ratoon.jobs.door import people as jobs
from ratoon.store import Store
from ratoon.store.cane import kept as stored_cane
from ratoon.store.people import Person
from ratoon.web.door.cookies import (
    cookie_of,
    is_secure,
    known_cookie,
    known_mark,
    place_of_request,
)
from ratoon.web.door.limit import FORGOTTEN_AFTER, Limit, network_of
from ratoon.web.door.visit import visitor, who
from ratoon.web.shared import Format, Pages, get

Text = Annotated[str, Form(max_length=300)]
Tried = TypeVar("Tried")


@dataclass(frozen=True, slots=True)
class LoginPage:
    """The door: where to go afterwards, and what went wrong."""

    to: str
    line: str


@dataclass(frozen=True, slots=True)
class PasswordPage:
    """The own password: whether it must be changed now, and what went wrong."""

    login: str
    one_time: bool
    line: str


def door_views(app: FastAPI, pages: Pages) -> None:
    """Add the views to the app."""
    tries = Tries(pages)
    _sign_in_views(app, pages, tries)
    _password_views(app, pages, tries)


def store_asked(pages: Pages) -> Store:
    """The mill's records.

    Raises
    ------
    BadInput : there are none, so there are no people.
    """
    store = pages.door.store()
    if store is None:
        raise BadInput("no people yet", todo="Add the first manager: ratoon people add LOGIN")
    return store


def _made_to_wait(pages: Pages) -> dict[tuple[str, str], float]:
    """How long ago logins had to wait at a place [s], before this program began."""
    now, store = datetime.now(UTC), pages.door.store()
    if store is None:
        return {}
    found = store.people.made_to_wait(now - timedelta(seconds=FORGOTTEN_AFTER))
    return {pair: max((now - at).total_seconds(), 0.0) for pair, at in found.items()}


def inside(address: str) -> str:
    """An address of ours to go to, else the door: nobody is sent elsewhere after signing in.

    Examples
    --------
    >>> inside("/morning/2031-08-14"), inside("//elsewhere.example")
    ('/morning/2031-08-14', '/')
    """
    plain = address.isprintable() and "\\" not in address
    return address if plain and address.startswith("/") and address[1:2] != "/" else "/"


def home_of(pages: Pages, roles: Iterable[str], grower: str) -> str:
    """Where a person begins: the newest sheet; growers at their newest statement, if any."""
    if "grower" not in roles:
        return "/"
    store = pages.door.store()
    if (
        grower
        and store is not None
        and "cane" in pages.by_day
        and pages.newest()
        and store.ask(stored_cane.records, "block", grower=grower)
    ):
        return f"/find?{urlencode({'q': grower})}"
    return "/password"


def _signed_in(pages: Pages, request: Request, person: Person, token: str, go: str) -> Response:
    """On to a page with a new session, in a browser that is known for the person's from now on."""
    secure = is_secure(request.headers)
    answer = RedirectResponse(go, 303)
    answer.headers["Set-Cookie"] = cookie_of(pages.mill_dir, token, secure)
    mark = jobs.mark_browser(person)
    answer.headers.append("Set-Cookie", known_cookie(pages.mill_dir, person.login, mark, secure))
    return answer


class Tries:
    """Passwords tried in the pages: who guesses is slowed down, and stands in nobody's way."""

    def __init__(self, pages: Pages) -> None:
        self._pages, self._limit = pages, Limit()
        # Lanes of their own, one for known browsers: each try takes a tenth of a second, and a
        # crowd at the door may take neither the pages' threads nor the turn of the mill's people.
        self._lanes = {True: CapacityLimiter(1), False: CapacityLimiter(1)}

    async def try_(self, request: Request, login: str, act: Callable[[], Tried]) -> Tried:
        """What `act` gives, which asks for a password.

        Raises
        ------
        jobs.NotLetIn : the password is wrong. TooSoon : the guesser has to wait.
        """
        store = store_asked(self._pages)
        mark = known_mark(request.headers, self._pages.mill_dir, login)
        known = await to_thread.run_sync(jobs.known_browser, store, login, mark)
        place = f"known {known}" if known else network_of(place_of_request(request))

        def tried() -> Tried:
            self._limit.recall(lambda: _made_to_wait(self._pages))
            if wait := self._limit.wait(login, place):
                raise TooSoon(wait)
            try:
                found = act()
            except jobs.NotLetIn:
                if self._limit.wrong(login, place):
                    store.people.refused(login, place)
                raise
            self._limit.right(login, place)
            return found

        return await to_thread.run_sync(tried, limiter=self._lanes[bool(known)])


class TooSoon(Exception):
    """A person who tries passwords has to wait some seconds."""

    def __init__(self, wait: int) -> None:
        super().__init__(f"too many wrong passwords: wait {wait} s, then try again")
        self.wait = wait


def _sign_in_views(app: FastAPI, pages: Pages, tries: Tries) -> None:
    def show(form: Format, to: str, line: str, status: int = 200) -> Response:
        return pages.answer(form, LoginPage(inside(to), line), "login.html", "", status=status)

    @get(app, "/login")
    def login_page(
        to: Annotated[str, Query(max_length=500)] = "/", format: Format = None
    ) -> Response:
        line = "no login yet: no sign-in is needed" if visitor().open else ""
        return show(format, to, line)

    @app.post("/login")
    async def login(
        request: Request,
        login: Text = "",
        password: Text = "",
        to: Annotated[str, Form(max_length=500)] = "/",
        format: Format = None,
    ) -> Response:
        name = login.strip().lower()[:40]
        agent = request.headers.get("user-agent", "")[:120]
        place = f"{place_of_request(request)} {agent}".strip()
        before = visitor().token

        def enter() -> Response:
            person, token = jobs.sign_in(store_asked(pages), name, password, place)
            # a new token, whatever the browser brought: one set by somebody else opens nothing
            _end(pages, before)
            go = "/password" if person.one_time else inside(to)
            if go == "/":
                go = home_of(pages, person.roles, person.grower)
            return _signed_in(pages, request, person, token, go)

        try:
            return await tries.try_(request, name, enter)
        except TooSoon as error:
            answer = await to_thread.run_sync(show, format, to, str(error), 429)
            answer.headers["Retry-After"] = str(error.wait)
            return answer
        except jobs.NotLetIn as error:
            return await to_thread.run_sync(show, format, to, error.line(), 403)

    @app.post("/logout")
    def logout(request: Request, everywhere: Text = "") -> Response:
        if everywhere and visitor().signed_in:
            jobs.sign_out(store_asked(pages), visitor().login, who())
        if visitor().signed_in:
            with store_asked(pages).writing(who()) as transaction:
                transaction.forget_drafts(who())
        _end(pages, visitor().token)
        answer = RedirectResponse("/login", 303)
        gone = cookie_of(pages.mill_dir, "", is_secure(request.headers)) + "; Max-Age=0"
        answer.headers["Set-Cookie"] = gone
        return answer


def _end(pages: Pages, token: str) -> None:
    store = pages.door.store()
    if store is not None and token:
        store.people.end_session(jobs.digest_of_token(token))


def _password_views(app: FastAPI, pages: Pages, tries: Tries) -> None:
    def show(form: Format, line: str, status: int = 200) -> Response:
        page = PasswordPage(visitor().login, visitor().one_time, line)
        return pages.answer(form, page, "password.html", "", pages.newest(), status)

    @get(app, "/password")
    def password_page(format: Format = None) -> Response:
        return show(format, "" if visitor().signed_in else "nobody is signed in")

    @app.post("/password")
    async def password(
        request: Request,
        old: Text = "",
        new: Text = "",
        again: Text = "",
        format: Format = None,
    ) -> Response:
        if not visitor().signed_in:
            return show(format, "nobody is signed in", 422)
        if new != again:
            return show(format, "the new password and its repeat are not the same", 422)
        login, place = visitor().login, place_of_request(request)

        def change() -> Response:
            store = store_asked(pages)
            jobs.change_password(store, login, old, new)
            # every session ended with the old password; this browser gets a new one
            person, token = jobs.sign_in(store, login, new, place)
            return _signed_in(pages, request, person, token,
                              home_of(pages, person.roles, person.grower))  # fmt: skip

        try:
            return await tries.try_(request, login, change)
        except TooSoon as error:
            return await to_thread.run_sync(show, format, str(error), 429)
        except RatoonError as error:
            return await to_thread.run_sync(show, format, error.line(), 422)
