"""The one table of who sees which address and who acts there; what is not in it, nobody may.

`see` is for GET and HEAD, `act` for POST. The JSON of a page is the same address, so the same line.
A role's name is one of `ratoon.store.people.ROLES`; `EVERYBODY` needs no sign-in.
"""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from functools import cache
from typing import Final
from urllib.parse import urlsplit

from fastapi import Request
from starlette.exceptions import HTTPException

from ratoon.web.door.visit import Visitor, visitor

Roles = frozenset[str]
EVERYBODY: Final[Roles] = frozenset({"everybody"})
"""Signed in or not."""
ANYBODY: Final[Roles] = frozenset(
    {"viewer", "laboratory", "cane office", "supervisor", "manager", "grower"}
)
"""All who are signed in."""
STAFF: Final[Roles] = ANYBODY - {"grower"}
"""All of the mill's own people."""
LABORATORY: Final[Roles] = frozenset({"laboratory", "supervisor", "manager"})
CANE_OFFICE: Final[Roles] = frozenset({"cane office", "manager"})
SHIFT: Final[Roles] = frozenset({"supervisor", "manager"})
MANAGER: Final[Roles] = frozenset({"manager"})
NOBODY: Final[Roles] = frozenset()

SMALL, LARGE = 256 * 1024, 20 * 1024 * 1024
"""Most bytes of a form, and of a file sent in."""

DAY, WEEK = 3, 9
"""Days from midnight UTC of a date after which its mill day, or its week, is over in every zone."""


@dataclass(frozen=True, slots=True)
class Rule:
    """Who sees an address, who acts there, how many bytes an act may bring.

    `held` : what is seen rests on the records, the mill file, the role and the grower alone, so
    that one answer serves all of a role while those stand; `until` : so many days after the start
    of the mill day in the address all that it rests on is over, None where that is not known.
    """

    see: Roles
    act: Roles = NOBODY
    most: int = SMALL
    held: bool = False
    until: int | None = None


RULES: dict[str, Rule] = {
    "/": Rule(STAFF, held=True),
    "/morning": Rule(STAFF),
    "/morning/{date}": Rule(STAFF, held=True, until=DAY),
    "/morning/{date}/morning.pdf": Rule(STAFF, held=True, until=DAY),
    "/morning/{date}/day.xlsx": Rule(STAFF, held=True, until=DAY),
    "/working/{date}/{address}": Rule(STAFF, held=True, until=DAY),
    "/readings": Rule(STAFF),
    "/readings/{date}": Rule(STAFF, held=True, until=DAY),
    "/readings/{date}/{address}": Rule(STAFF, LABORATORY, held=True, until=DAY),
    "/readings/{date}/{address}/readings.csv": Rule(STAFF),
    "/readings/{date}/{address}/readings.xlsx": Rule(STAFF),
    "/account/{date}": Rule(STAFF, LABORATORY, held=True, until=DAY),
    "/week/{date}": Rule(STAFF, held=True, until=WEEK),
    "/week/{date}/week.pdf": Rule(STAFF, held=True, until=WEEK),
    "/week/{date}/week.xlsx": Rule(STAFF, held=True, until=WEEK),
    "/laboratory": Rule(STAFF),
    "/laboratory/{date}": Rule(STAFF, LABORATORY),
    "/laboratory/{date}/draft": Rule(NOBODY, LABORATORY),
    "/laboratory/{date}/worked": Rule(STAFF),
    "/bench": Rule(STAFF),
    "/bench/{date}": Rule(STAFF, LABORATORY),
    "/meters": Rule(STAFF),
    "/meters/{date}": Rule(STAFF, LABORATORY),
    "/meters/{date}/draft": Rule(NOBODY, LABORATORY),
    "/journal": Rule(STAFF),
    "/journal/{date}": Rule(STAFF, held=True),
    "/journal/{date}/stops": Rule(NOBODY, SHIFT),
    "/journal/{date}/notes": Rule(NOBODY, SHIFT),
    "/journal/{date}/handover": Rule(NOBODY, SHIFT),
    "/journal/{date}/actions": Rule(NOBODY, SHIFT),
    "/try/{date}": Rule(STAFF),
    "/best/{date}": Rule(STAFF, held=True),
    "/season/{date}": Rule(STAFF, held=True),
    "/stops/{date}": Rule(STAFF, held=True),
    "/fuel/{date}": Rule(STAFF, held=True),
    "/floor/{date}": Rule(STAFF, held=True),
    "/shed/{date}": Rule(STAFF, held=True),
    "/refinery/{date}": Rule(STAFF, held=True),
    "/bridge/{date}": Rule(STAFF, held=True),
    "/notice": Rule(ANYBODY),
    "/notice/{date}": Rule(ANYBODY, held=True),
    "/strikes": Rule(STAFF),
    "/strikes/{date}": Rule(STAFF),
    "/strikes/{date}/events": Rule(NOBODY, LABORATORY),
    "/strike/{name}": Rule(STAFF, held=True),
    "/slides/{name}": Rule(STAFF, LABORATORY, LARGE, held=True),
    "/slides/{name}/{picture}": Rule(STAFF, LABORATORY),
    "/slides/{name}/{picture}/picture.jpg": Rule(STAFF),
    "/exhaustion/{date}": Rule(STAFF, held=True, until=DAY),
    "/lots": Rule(STAFF, held=True),
    "/lot/{name}": Rule(STAFF, held=True),
    "/load": Rule(STAFF, held=True),
    "/ledger": Rule(STAFF, held=True),
    "/clean/{date}": Rule(STAFF, held=True, until=DAY),
    "/live": Rule(STAFF, held=True),
    "/works/{date}": Rule(STAFF, held=True, until=DAY),
    "/works/{date}/{station}": Rule(STAFF, held=True, until=DAY),
    "/cane/{date}": Rule(STAFF, held=True, until=DAY),
    "/supply/{date}": Rule(STAFF, held=True),
    "/yard": Rule(ANYBODY),
    "/yard/{date}": Rule(ANYBODY, held=True),
    "/held": Rule(STAFF, CANE_OFFICE | SHIFT, held=True),
    "/consignment/{name}": Rule(ANYBODY, held=True),
    "/find": Rule(ANYBODY),
    "/statements": Rule(ANYBODY, CANE_OFFICE),
    "/statement/{grower}/{start}/{end}": Rule(ANYBODY, held=True),
    "/statement/{grower}/{start}/{end}/{number}/statement.html": Rule(ANYBODY),
    "/statement/{grower}/{start}/{end}/{number}/statement.csv": Rule(ANYBODY),
    "/statement/{grower}/{start}/{end}/{number}/statement.pdf": Rule(ANYBODY),
    "/statement/{grower}/{start}/{end}/statement.csv": Rule(ANYBODY),
    "/statement/{grower}/{start}/{end}/statement.pdf": Rule(ANYBODY),
    "/import": Rule(LABORATORY | CANE_OFFICE, LABORATORY | CANE_OFFICE, LARGE),
    "/mill": Rule(STAFF, held=True),
    "/mill/{table}": Rule(MANAGER, MANAGER),
    "/mill/{table}/check": Rule(NOBODY, MANAGER),
    "/begin": Rule(MANAGER, MANAGER),
    "/checks": Rule(STAFF, held=True),
    "/openapi.json": Rule(STAFF),
    "/docs": Rule(ANYBODY),
    "/docs/{page:path}": Rule(ANYBODY),
    "/login": Rule(EVERYBODY, EVERYBODY),
    "/logout": Rule(NOBODY, ANYBODY),
    "/password": Rule(ANYBODY, ANYBODY),
    "/people": Rule(MANAGER, MANAGER),
    "/static/ratoon.css": Rule(EVERYBODY),
    "/static/icon.svg": Rule(EVERYBODY),
    "/static/{name}.js": Rule(EVERYBODY),
    "/static/font/{weight}.otf": Rule(EVERYBODY),
}
"""Each address as its view declares it; a test refuses a view without a line here."""

# Who has only a one-time password does nothing but change it.
_BEFORE_A_PASSWORD = frozenset({"/password", "/logout", "/login"})


class SignInFirst(Exception):
    """Nobody is signed in, and the address is not for everybody."""


def rule_of(path: str) -> Rule | None:
    """The rule of an address as it is asked for, such as ``/morning/2031-08-14``; None if none."""
    if path in RULES:
        return RULES[path]
    for pattern, rule in _patterns():
        if pattern.fullmatch(path):
            return rule
    return None


@cache
def _patterns() -> list[tuple[re.Pattern[str], Rule]]:
    made = []
    for template, rule in RULES.items():
        if "{" in template:
            made.append((pattern_of(template), rule))
    return made


def pattern_of(template: str) -> re.Pattern[str]:
    """What the addresses of a template look like."""
    parts = re.split(r"(\{[^}]+\})", template)
    return re.compile("".join(_pattern(part) for part in parts))


def _pattern(part: str) -> str:
    if not part.startswith("{"):
        return re.escape(part)
    return ".+" if part.endswith(":path}") else "[^/]+"


def most_bytes(path: str) -> int:
    """Most bytes that anybody may send to an address [B]."""
    rule = rule_of(path)
    return SMALL if rule is None else rule.most


def most_bytes_of(path: str, who: Visitor) -> int:
    """Most bytes that a visitor may send: files only from those who may act there [B]."""
    return most_bytes(path) if may_act(path, who) else SMALL


def may_see(path: str, who: Visitor | None = None) -> bool:
    """Whether a visitor, by default the one who asks, sees the page at an address."""
    path, who = urlsplit(path).path, who or visitor()
    rule = rule_of(path)
    shut = who.one_time and path not in _BEFORE_A_PASSWORD
    return rule is not None and not shut and _among(rule.see, who)


def may_act(path: str, who: Visitor | None = None) -> bool:
    """Whether a visitor, by default the one who asks, may send a form to an address."""
    rule = rule_of(urlsplit(path).path)
    return rule is not None and _among(rule.act, who or visitor())


def _among(roles: Roles, who: Visitor) -> bool:
    return roles is EVERYBODY or bool(roles & who.roles)


def only_own(grower: str) -> None:
    """Refuses a grower who asks for another's cane, as if there were no such page.

    Parameters
    ----------
    grower : whose cane the address is about.

    Raises
    ------
    HTTPException : 404, which tells not even whether the other is a grower here.
    """
    who = visitor()
    if not who.roles & STAFF and who.grower != grower:
        raise HTTPException(404)


async def allowed(request: Request) -> None:
    """Runs before every view: refuses people who may not, and forms that are not ours.

    Raises
    ------
    SignInFirst : nobody is signed in.
    HTTPException : 403 for a wrong role or a form made elsewhere.
    """
    template = getattr(request.scope.get("route"), "path", "")
    rule, who = RULES.get(template), visitor()
    acting = request.method not in ("GET", "HEAD")
    roles = NOBODY if rule is None else rule.act if acting else rule.see
    if not _among(roles, who):
        if rule is not None and not who.signed_in and not who.open:
            raise SignInFirst
        raise HTTPException(403, "this page is not among those of your role")
    if who.one_time and template not in _BEFORE_A_PASSWORD and not template.startswith("/static/"):
        raise HTTPException(403, "first change the one-time password")
    if acting:
        await _came_from_our_page(request, who)


async def _came_from_our_page(request: Request, who: Visitor) -> None:
    """A form (field `token`) or a script (header `X-Form-Token`) brings back what its page held."""
    origin = request.headers.get("origin")
    if origin is not None and urlsplit(origin).netloc != request.headers.get("host"):
        raise HTTPException(403, "this form was made on a page that is not ours")
    if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        raise HTTPException(403, "this form was made on a page that is not ours")
    given: object = request.headers.get("x-form-token")
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if given is None and kind in ("application/x-www-form-urlencoded", "multipart/form-data"):
        given = (await request.form(max_files=20, max_fields=1000)).get("token")
    if not isinstance(given, str) or not who.made_form(given):
        raise HTTPException(
            403, "this form is too old or was not made by this page: open the page again"
        )


def roles_page() -> str:
    """The table as a page of the documentation, ``docs/reference/roles.md``.

    Made with ``python -m ratoon.web.door.access > docs/reference/roles.md``.
    """
    lines = [
        "# Roles",
        "",
        "Who sees which address (as a page and as JSON) and who may send its form."
        " An address that is not here is for nobody.",
        "",
        "| address | seen by | acted on by |",
        "|---|---|---|",
    ]
    for address, rule in sorted(RULES.items()):
        if not address.startswith("/static/"):
            lines.append(f"| `{address}` | {_in_words(rule.see)} | {_in_words(rule.act)} |")
    return "\n".join(lines) + "\n"


def _in_words(roles: Roles) -> str:
    known = {EVERYBODY: "everybody", ANYBODY: "all who are signed in", NOBODY: "–"}
    known[STAFF] = "all but growers"
    return known.get(roles) or ", ".join(sorted(roles))


if __name__ == "__main__":
    sys.stdout.write(roles_page())
