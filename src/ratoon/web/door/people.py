"""The page of people, for managers: who there is, what each may, who is signed in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from functools import lru_cache
from pathlib import Path
from typing import Annotated, TypeVar
from zoneinfo import ZoneInfo

from fastapi import FastAPI, Form
from fastapi.responses import Response

from ratoon.base.errors import BadInput, RatoonError
from ratoon.jobs.door import people as jobs
from ratoon.jobs.mills import MILL_FILE
from ratoon.settings.read import tables_of
from ratoon.store import Store
from ratoon.store.people import ROLES, Person
from ratoon.web.door.sign_in import store_asked
from ratoon.web.door.visit import (
    who,
)
from ratoon.web.shared import Format, Pages, get

Text = Annotated[str, Form(max_length=300)]
Tried = TypeVar("Tried")


@dataclass(frozen=True, slots=True)
class SessionRow:
    """A browser that is signed in."""

    since: str
    seen: str
    place: str


@dataclass(frozen=True, slots=True)
class PersonRow:
    """A person as managers see one."""

    login: str
    name: str
    roles: tuple[str, ...]
    grower: str
    one_time: bool
    disabled: bool
    sessions: tuple[SessionRow, ...]


@dataclass(frozen=True, slots=True)
class PeoplePage:
    """People, their roles, and what was done just now; `password` is shown this once."""

    rows: tuple[PersonRow, ...]
    roles: tuple[str, ...]
    done: str
    password: str
    line: str
    typed: Mapping[str, str] = field(default_factory=dict)
    """What was typed to add somebody, when it was refused; `roles` that were ticked, by commas."""


def people_views(app: FastAPI, pages: Pages) -> None:
    """Add the views to the app."""
    pages.standing["people"] = lambda: True

    def show(
        form: Format, done: str = "", password: str = "", line: str = "", status: int = 200,
        typed: Mapping[str, str] | None = None,
    ) -> Response:  # fmt: skip
        rows = people_rows(pages.door.store(), pages.mill_dir)
        page = PeoplePage(rows, ROLES, done, password, line, typed or {})
        answer = pages.answer(form, page, "people.html", "People", pages.newest(), status)
        if password:
            answer.headers["Cache-Control"] = "no-store"
        return answer

    @get(app, "/people", PeoplePage)
    def people(format: Format = None) -> Response:
        return show(format)

    @app.post("/people")
    def change(
        act: Text = "",
        login: Text = "",
        name: Text = "",
        grower: Text = "",
        role: Annotated[list[str] | None, Form(max_length=20)] = None,
        format: Format = None,
    ) -> Response:
        try:
            done, password = _do(store_asked(pages), act, login, name, tuple(role or ()), grower)
        except RatoonError as error:
            typed = {"login": login, "name": name, "grower": grower, "roles": ",".join(role or ())}
            return show(format, line=error.line(), status=422, typed=typed if act == "add" else {})
        return show(format, done, password)


def _do(
    store: Store, act: str, login: str, name: str, roles: tuple[str, ...], grower: str
) -> tuple[str, str]:
    """One act of the page: what was done, in words, and a new one-time password if there is one."""
    if act == "add":
        person, password = jobs.add_person(store, login, name, roles, grower, who())
        return f"added {person.login}", password
    if act == "new password":
        return f"new password for {login}", jobs.new_password(store, login, who())
    acts: dict[str, Callable[[], object]] = {
        "roles": lambda: jobs.set_roles(store, login, roles, who()),
        "disable": lambda: jobs.disable(store, login, who()),
        "enable": lambda: jobs.enable(store, login, who()),
        "sign out": lambda: jobs.sign_out(store, login, who()),
    }
    if act not in acts:
        allowed = ", ".join(["add", "new password", *acts])
        raise BadInput("unknown act", where="act", value=act[:40], allowed=allowed)
    acts[act]()
    return f"{act}: {jobs.login_of(login)}", ""


def zone_of(mill_dir: Path) -> tzinfo:
    """The mill's zone; UTC while the mill file does not tell it."""
    try:
        stands = (mill_dir / MILL_FILE).stat()
        return _zone_in(mill_dir / MILL_FILE, stands.st_mtime_ns, stands.st_size)
    except (OSError, ValueError, KeyError, TypeError, BadInput):
        return UTC


@lru_cache(maxsize=4)
def _zone_in(path: Path, _changed: int, _size: int) -> tzinfo:
    return ZoneInfo(str(tables_of(path.read_text(encoding="utf-8"))["mill"]["zone"]))


def people_rows(store: Store | None, mill_dir: Path) -> tuple[PersonRow, ...]:
    """Everybody, with the sessions that hold, in the mill's own time."""
    if store is None:
        return ()
    held = store.people.sessions()
    zone = zone_of(mill_dir)

    def at(instant: datetime) -> str:
        return f"{instant.astimezone(zone):%Y-%m-%d %H:%M}" + (" UTC" if zone is UTC else "")

    def row(person: Person) -> PersonRow:
        mine = tuple(
            SessionRow(at(s.made), at(s.seen), s.place) for s in held if s.person == person.id
        )
        return PersonRow(
            person.login,
            person.name,
            person.roles,
            person.grower,
            person.one_time,
            person.disabled,
            mine,
        )

    return tuple(row(person) for person in store.people.all())
