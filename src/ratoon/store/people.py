"""People, their roles and their sessions; every change of a person is an event in the chain.

Nothing here knows a password: a person's `secret` is a hash made elsewhere, and a session is kept
by the SHA-256 of its token. The event of a change holds what the person was before and after, with
the digest of the secret, so that a row changed behind our back shows.
"""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Engine, delete, func, insert, select, update

from ratoon.base.errors import BadInput, StoreError
from ratoon.store import engine
from ratoon.store.chain import covered
from ratoon.store.chain import events as chain
from ratoon.store.chain.digest import digest_of_bytes
from ratoon.store.tables import events, people, roles, sessions

ROLES = ("viewer", "laboratory", "cane office", "supervisor", "manager", "grower")
"""What people may be; `web.access` says what each sees and does."""

WAITS = "sign-in made to wait"
SIGNED_IN, SIGNED_OUT = "signed in", "signed out"
ADDED, MADE_ANEW = "person added", "password made anew"
"""What gives a person a one-time password."""
IDLE = timedelta(hours=14)
"""A session unused for so long is over: longer than a shift with its handover."""
LONGEST = timedelta(days=7)
"""No session outlives this."""
FIRST = timedelta(days=14)
"""A one-time password unused for so long opens nothing; a manager makes another."""
_SEEN_EVERY = timedelta(minutes=10)
_SEEN_PATIENCE = 0.05  # s


@dataclass(frozen=True, slots=True)
class Person:
    """A person who may sign in; `disabled` people may not, and stay in the records."""

    id: int
    login: str
    name: str
    roles: tuple[str, ...]
    grower: str
    one_time: bool
    disabled: bool
    secret: str


@dataclass(frozen=True, slots=True)
class Session:
    """A browser that is signed in: whose, since when, last seen, from which place."""

    id: int
    person: int
    made: datetime
    seen: datetime
    place: str


class People:
    """The people of one database."""

    def __init__(self, engine_: Engine) -> None:
        self._engine = engine_

    # -- asking -------------------------------------------------------------------------------

    def all(self) -> list[Person]:
        """Everybody, by login."""
        with engine.reading(self._engine) as connection:
            rows = connection.execute(select(people).order_by(people.c.login)).all()
            return [_person(connection, row) for row in rows]

    def any(self) -> bool:
        """Whether there is anybody at all, disabled or not."""
        with engine.reading(self._engine) as connection:
            return connection.scalar(select(people.c.id).limit(1)) is not None

    def named(self, login: str) -> Person | None:
        """The person of a login, or None."""
        with engine.reading(self._engine) as connection:
            return _named(connection, login)

    def first_is_old(self, person: Person) -> bool:
        """Whether a person still has a one-time password, made longer ago than `FIRST`."""
        if not person.one_time:
            return False
        with engine.reading(self._engine) as connection:
            young = chain.read_after(connection, chain.now() - FIRST, (ADDED, MADE_ANEW))
        return person.id not in {event.detail["person"] for event in young}

    def sessions(self) -> list[Session]:
        """The sessions that still hold, newest first."""
        now = chain.now()
        with engine.reading(self._engine) as connection:
            rows = connection.execute(
                select(sessions)
                .where(sessions.c.ends > now, sessions.c.seen > now - IDLE)
                .order_by(sessions.c.seen.desc())
            ).all()
            return [
                Session(r.id, r.person, r.made, r.seen, r.place)
                for r in rows
                if _was_begun(connection, r.id)
            ]

    def person_of(self, token_digest: str) -> Person | None:
        """Whose session a token belongs to; None when it is over, revoked, or nobody's."""
        now = chain.now()
        with engine.reading(self._engine) as connection:
            row = connection.execute(
                select(sessions).where(sessions.c.digest == token_digest)
            ).first()
            if row is None or row.ends <= now or row.seen <= now - IDLE:
                return None
            if not _was_begun(connection, row.id):
                return None
            found = connection.execute(select(people).where(people.c.id == row.person)).one()
            person = _person(connection, found)
        if person.disabled:
            return None
        if now - row.seen > _SEEN_EVERY:
            self._note_seen(row.id, now)
        return person

    def _note_seen(self, session: int, now: datetime) -> None:
        """Keep a session alive; no page waits for it behind a long import: the next one will do."""
        with (
            suppress(StoreError),
            engine.writing(self._engine, patience=_SEEN_PATIENCE) as connection,
        ):
            connection.execute(update(sessions).where(sessions.c.id == session).values(seen=now))

    # -- changing -----------------------------------------------------------------------------

    def add(
        self, login: str, name: str, secret: str, roles_: tuple[str, ...], grower: str, who: str
    ) -> Person:
        """Add a person with a one-time password's hash.

        Raises
        ------
        BadInput : the login is taken.
        """
        with engine.writing(self._engine) as connection:
            if _named(connection, login) is not None:
                raise BadInput("this login is taken", where="login", value=login)
            connection.execute(
                insert(people).values(
                    login=login,
                    name=name,
                    secret=secret,
                    one_time=1,
                    disabled=None,
                    grower=grower,
                    entered=chain.now(),
                )
            )
            made = _named(connection, login)
            if made is None:  # pragma: no cover - it was inserted just now
                raise StoreError("the person was not stored", value=login)
            return _change(connection, ADDED, made, {}, roles_, who, None)

    def change(
        self,
        login: str,
        what: str,
        who: str,
        *,
        roles_: tuple[str, ...] | None = None,
        **values: Any,
    ) -> Person:
        """Change a person's roles or columns; `what` names the event.

        The last manager cannot be disabled or lose the role: nobody could let others in again.
        """
        with engine.writing(self._engine) as connection:
            person = _known(connection, login)
            changed = _change(connection, what, person, values, roles_, who, person)
            if "manager" in person.roles and not _managers(connection):
                raise BadInput(
                    "the last manager cannot be disabled or lose the role",
                    where=login,
                    todo="Make another person manager first",
                )
            return changed

    def begin_session(self, login: str, token_digest: str, place: str) -> None:
        """Begin a session, and sweep out those that are over."""
        now = chain.now()
        with engine.writing(self._engine) as connection:
            person = _known(connection, login)
            connection.execute(
                delete(sessions).where((sessions.c.ends <= now) | (sessions.c.seen <= now - IDLE))
            )
            # a session has the number of the event that covers it: without that it is nobody's
            newest = chain.newest(connection)
            number = newest.number + 1 if newest else 1
            connection.execute(
                insert(sessions).values(
                    id=number,
                    digest=token_digest,
                    person=person.id,
                    made=now,
                    seen=now,
                    ends=now + LONGEST,
                    place=place[:200],
                )
            )
            about = {"about": {"login": login}}
            chain.append(connection, SIGNED_IN, about, login, [(sessions, number)])

    def made_to_wait(self, since: datetime) -> dict[tuple[str, str], datetime]:
        """Logins that had to wait since an instant, each with its place, and when."""
        with engine.reading(self._engine) as connection:
            waited = chain.read_after(connection, since, (WAITS,))
        about = [(event.detail["about"], event.at) for event in waited]
        return {(who["login"], who["place"]): at for who, at in about}

    def refused(self, login: str, place: str) -> None:
        """Note that a login has to wait at a place after too many wrong passwords."""
        with engine.writing(self._engine) as connection:
            chain.append(connection, WAITS, {"about": {"login": login,
                         "place": place}}, login or "nobody")  # fmt: skip

    def end_session(self, token_digest: str) -> None:
        """End one session; a token of no session is passed over."""
        with engine.writing(self._engine) as connection:
            row = connection.execute(
                select(people.c.login, sessions.c.id)
                .join_from(sessions, people)
                .where(sessions.c.digest == token_digest)
            ).first()
            if row is not None:
                connection.execute(delete(sessions).where(sessions.c.digest == token_digest))
                about = {"login": row.login, "session": row.id}
                chain.append(connection, SIGNED_OUT, {"about": about}, row.login)

    def end_sessions(self, login: str, who: str) -> int:
        """End every session of a person; gives how many there were."""
        with engine.writing(self._engine) as connection:
            person = _known(connection, login)
            count = _end_all(connection, person.id)
            about = {"login": login, "sessions": count}
            chain.append(connection, "signed out everywhere", {"about": about}, who)
            return count


def _was_begun(connection: Connection, session: int) -> bool:
    """Whether a session's row is the one that its sign-in stored: none is put in by hand."""
    begun = chain.numbered(connection, session)
    if begun is None or begun.what != SIGNED_IN:
        return False
    said = begun.detail.get(covered.ROWS, {}).get(sessions.name, [])
    return bool(said == [[session, covered.row_digest(connection, sessions, session)]])


def _end_all(connection: Connection, person: int) -> int:
    return connection.execute(delete(sessions).where(sessions.c.person == person)).rowcount


def _named(connection: Connection, login: str) -> Person | None:
    row = connection.execute(select(people).where(people.c.login == login)).first()
    return None if row is None else _person(connection, row)


def _known(connection: Connection, login: str) -> Person:
    person = _named(connection, login)
    if person is None:
        raise BadInput("there is no person with this login", where="login", value=login)
    return person


def _person(connection: Connection, row: Any) -> Person:
    held = connection.scalars(select(roles.c.role).where(roles.c.person == row.id))
    ordered = tuple(sorted(held, key=lambda role: ROLES.index(role) if role in ROLES else 99))
    return Person(
        row.id,
        row.login,
        row.name,
        ordered,
        row.grower,
        bool(row.one_time),
        row.disabled is not None,
        row.secret,
    )


def _managers(connection: Connection) -> int:
    return (
        connection.scalar(
            select(func.count())
            .select_from(people)
            .join(roles)
            .where(roles.c.role == "manager", people.c.disabled.is_(None))
        )
        or 0
    )


def _change(
    connection: Connection,
    what: str,
    person: Person,
    values: dict[str, Any],
    roles_: tuple[str, ...] | None,
    who: str,
    before: Person | None,
) -> Person:
    """Write the change and its event; a person disabled or given a new password is signed out."""
    if roles_ is not None:
        connection.execute(delete(roles).where(roles.c.person == person.id))
        for role in roles_:
            connection.execute(insert(roles).values(person=person.id, role=role))
    if values:
        connection.execute(update(people).where(people.c.id == person.id).values(**values))
    if "secret" in values or values.get("disabled") is not None:
        _end_all(connection, person.id)
    after = _known(connection, person.login)
    detail = {"person": person.id, "before": as_told(before), "after": as_told(after)}
    chain.append(connection, what, detail, who, [(people, person.id)])
    return after


def as_told(person: Person | None) -> dict[str, Any] | None:
    """A person as the event chain tells of them: the secret by its digest alone."""
    if person is None:
        return None
    record = asdict(person)
    record["secret"] = digest_of_bytes(person.secret.encode())
    return record


def faults(connection: Connection, said: dict[int, dict[str, Any]]) -> list[str]:
    """People whose row is not what the newest event about them says."""
    held = {
        row.id: _person(connection, row)
        for row in connection.execute(select(people).order_by(people.c.id))
    }
    found = [f"person {number}: stands in the chain, is not there" for number in said.keys() - held]
    for number, person in held.items():
        if number not in said:
            found.append(f"person {person.login}: stored without an event in the chain")
        elif said[number]["after"] != {**(as_told(person) or {}), "roles": list(person.roles)}:
            found.append(f"person {person.login}: was changed afterwards")
    return found


def session_faults(connection: Connection) -> list[str]:
    """Sessions that no sign-in began, that were ended already, or that last too long."""
    found: list[str] = []
    logins = {row.id: row.login for row in connection.execute(select(people.c.id, people.c.login))}
    ended, latest = _ended(connection)
    for row in connection.execute(select(sessions).order_by(sessions.c.id)):
        if not _was_begun(connection, row.id):
            found.append(f"session {row.id}: no sign-in began it as it is")
        elif row.id in ended or row.id < latest.get(logins.get(row.person, ""), 0):
            found.append(f"session {row.id}: was ended, and is there again")
        elif not row.made <= row.seen <= row.ends:
            found.append(f"session {row.id}: when it was last used was changed afterwards")
    return found


def _ended(connection: Connection) -> tuple[set[int], dict[str, int]]:
    """Sessions signed out of, and by login the newest event that ended all of them."""
    ended: set[int] = set()
    latest: dict[str, int] = {}
    kinds = (SIGNED_OUT, "signed out everywhere", "password changed", MADE_ANEW,
             "person disabled")  # fmt: skip
    rows = connection.execute(
        select(events).where(events.c.what.in_(kinds)).order_by(events.c.number)
    )
    for row in rows:
        detail = json.loads(row.detail)
        about = detail.get("about") or detail["after"]
        if row.what == SIGNED_OUT:
            ended.add(about.get("session", 0))
        else:
            latest[about["login"]] = row.number
    return ended, latest
