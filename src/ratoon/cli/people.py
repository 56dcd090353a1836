"""``ratoon people``: who may sign in, with which roles."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.errors import BadInput
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.store import Store

app = typer.Typer(no_args_is_help=False, rich_markup_mode=None, add_completion=False)

Login = Annotated[str, typer.Argument(metavar="LOGIN", help="The person's login.")]
_HAND_OVER = "One-time password, shown this once and changed at the first sign-in:"


def _open(mill: Path, create: bool = False) -> Store:
    from ratoon.jobs.mills import mill_of, store_of

    mill_of(mill)
    return store_of(mill, create=create)


def _told(login: str, password: str, json: bool) -> int:
    if json:
        say.answer_json({"login": login, "one_time_password": password})
    else:
        say.answer([f"login {login}", f"{_HAND_OVER} {password}"])
    return say.DONE


@app.callback(invoke_without_command=True)
def people(context: typer.Context, mill: say.MillDir = say.HERE, json: say.AsJson = False) -> int:
    """List the people who may sign in; add them, give roles and passwords, sign them out."""
    if context.invoked_subcommand is not None:
        if mill != say.HERE or json:
            raise BadInput(
                "options come after the word",
                where=f"people {context.invoked_subcommand}",
                todo=f"Write: ratoon people {context.invoked_subcommand} ... --mill DIR",
            )
        return say.DONE
    with _open(mill, create=True) as store:
        held, sessions = store.people.all(), store.people.sessions()
    rows = [
        {
            "login": p.login,
            "name": p.name,
            "roles": list(p.roles),
            "grower": p.grower,
            "standing": "disabled" if p.disabled else "one-time" if p.one_time else "active",
            "sessions": sum(s.person == p.id for s in sessions),
        }
        for p in held
    ]
    if json:
        say.answer_json(rows)
    elif rows:
        head = ("login", "name", "roles", "standing", "signed in")
        cells = (
            (r["login"], r["name"], ", ".join(p.roles), r["standing"], r["sessions"])
            for r, p in zip(rows, held)
        )
        say.answer(say.table(head, cells, right="4"))
    else:
        say.tell("nobody yet; add the first manager: ratoon people add LOGIN --name NAME")
    return say.DONE


@app.command("add")
def add(
    login: Login,
    name: Annotated[str, typer.Option(help="The person's name; by default the login.")] = "",
    role: Annotated[
        list[str] | None,
        typer.Option(help="viewer, laboratory, 'cane office', supervisor, manager or grower."),
    ] = None,
    grower: Annotated[str, typer.Option(help="Whose cane a grower may see.")] = "",
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Add a person and print a one-time password; without --role a viewer, the first a manager."""
    from ratoon.jobs.door import people as jobs

    with _open(mill, create=True) as store:
        roles = role or ["viewer" if store.people.any() else "manager"]
        person, password = jobs.add_person(store, login, name or login, roles, grower)
    return _told(person.login, password, json)


@app.command("roles")
def roles(
    login: Login,
    role: Annotated[list[str], typer.Argument(metavar="ROLE...", help="The roles from now on.")],
    mill: say.MillDir = say.HERE,
) -> int:
    """Give a person these roles instead of the present ones."""
    from ratoon.jobs.door import people as jobs

    with _open(mill) as store:
        person = jobs.set_roles(store, login, role)
    say.answer([f"{person.login}: {', '.join(person.roles)}"])
    return say.DONE


@app.command("password")
def password(login: Login, mill: say.MillDir = say.HERE, json: say.AsJson = False) -> int:
    """Make a new one-time password; the person is signed out everywhere."""
    from ratoon.jobs.door import people as jobs

    with _open(mill) as store:
        made = jobs.new_password(store, login)
    return _told(jobs.login_of(login), made, json)


@app.command("sign-out")
def sign_out(login: Login, mill: say.MillDir = say.HERE) -> int:
    """End all sessions of a person."""
    from ratoon.jobs.door import people as jobs

    with _open(mill) as store:
        count = jobs.sign_out(store, login)
    say.answer([f"{jobs.login_of(login)}: {count} sessions ended"])
    return say.DONE


@app.command("disable")
def disable(login: Login, mill: say.MillDir = say.HERE) -> int:
    """Let a person in no more, at once; the records keep the name."""
    from ratoon.jobs.door import people as jobs

    with _open(mill) as store:
        person = jobs.disable(store, login)
    say.answer([f"{person.login}: disabled"])
    return say.DONE


@app.command("enable")
def enable(login: Login, mill: say.MillDir = say.HERE) -> int:
    """Let a disabled person in again."""
    from ratoon.jobs.door import people as jobs

    with _open(mill) as store:
        person = jobs.enable(store, login)
    say.answer([f"{person.login}: may sign in again"])
    return say.DONE
