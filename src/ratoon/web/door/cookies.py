"""The cookies of a browser, and where its request comes from: one of a session, one to be known."""

from __future__ import annotations

import hashlib
import re
from functools import lru_cache
from http.cookies import CookieError, SimpleCookie
from ipaddress import ip_address
from pathlib import Path

from starlette.datastructures import Headers
from starlette.requests import HTTPConnection

from ratoon.web.door.guard import host_name, is_loopback

_TOKEN = re.compile(r"[A-Za-z0-9_-]{43}")
_MARK = re.compile(r"[0-9a-f]{16}\.[0-9a-f]{64}")
YEAR = 31_536_000
"""Seconds."""


@lru_cache(maxsize=64)  # the way to a folder is long to ask for each request
def cookie_name(mill_dir: Path, secure: bool = False) -> str:
    """The mill's own name of the cookie: browsers send it to every port of a machine.

    Beyond loopback the name's prefix keeps neighbours of ours from setting the cookie.
    """
    mine = hashlib.sha256(str(mill_dir.resolve()).encode()).hexdigest()[:12]
    return f"__Host-ratoon-{mine}" if secure else f"ratoon-{mine}"


def cookie_of(mill_dir: Path, token: str, secure: bool) -> str:
    """The Set-Cookie line for a token: no script reads it, no other site sends it with a form."""
    more = "; Secure" if secure else ""
    return f"{cookie_name(mill_dir, secure)}={token}; Path=/; HttpOnly; SameSite=Lax{more}"


def token_in(headers: Headers, mill_dir: Path) -> str:
    """The token that a browser shows; "" where it has none."""
    return _cookie_in(headers, cookie_name(mill_dir, is_secure(headers)), _TOKEN)


def known_cookie(mill_dir: Path, login: str, mark: str, secure: bool) -> str:
    """The Set-Cookie line by which a browser is known again for one that a person has used."""
    more = "; Secure" if secure else ""
    return (f"{_known_name(mill_dir, login, secure)}={mark}; Path=/; HttpOnly; SameSite=Strict;"
            f" Max-Age={YEAR}{more}")  # fmt: skip


def known_mark(headers: Headers, mill_dir: Path, login: str) -> str:
    """What the browser shows to be known again for a login; "" where it has nothing."""
    return _cookie_in(headers, _known_name(mill_dir, login, is_secure(headers)), _MARK)


def _known_name(mill_dir: Path, login: str, secure: bool) -> str:
    person = hashlib.sha256(login.encode()).hexdigest()[:12]
    return f"{cookie_name(mill_dir, secure)}-{person}"


def is_secure(headers: Headers) -> bool:
    """Whether the cookie must travel over TLS alone: everywhere but on loopback."""
    return not is_loopback(host_name(headers.get("host", "")))


def place_of_request(request: HTTPConnection) -> str:
    """Where somebody comes from: the connection's address, or what the TLS server before us saw.

    Under a name of ours everybody's connection is the TLS server's, which puts the address it saw
    last into X-Forwarded-For: else one stranger's wrong passwords would make the whole mill wait.
    What a browser wrote there itself stands before it and is not looked at.
    """
    near = request.client.host if request.client else ""
    if not is_secure(request.headers):
        return near
    seen = ",".join(request.headers.getlist("x-forwarded-for")).rpartition(",")[2].strip()
    try:
        return str(ip_address(seen))
    except ValueError:
        return near


def _cookie_in(headers: Headers, name: str, form: re.Pattern[str]) -> str:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return ""
    return found.value if found is not None and form.fullmatch(found.value) else ""
