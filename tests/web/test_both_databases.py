"""Every page of a mill with records says the same from SQLite and from PostgreSQL."""

from datetime import date

import pytest
from fastapi.testclient import TestClient

from ratoon.jobs.keep.backup import backup
from ratoon.jobs.keep.restore import restore
from ratoon.jobs.mills import in_mill
from ratoon.jobs.sheet.day import accounted_days
from ratoon.jobs.sheet.week import kept_week
from ratoon.web.app import create_app

from .conftest import copied

KEPT = "2031-06-12"  # the day whose best settings are kept: elsewhere each side would look for them
KNOWN = {
    "station": "mill", "address": "account.extraction", "weight": "Regular", "name": "open",
    "grower": "F01", "start": "2031-06-10", "end": "2031-06-12", "number": "1",
    "table": "mill", "picture": "0" * 64, "page": "tutorial.html",
}  # fmt: skip


@pytest.fixture(scope="module")
def both(works_mill, tmp_path_factory, postgresql):
    """Two browsers: one of the mill on SQLite, one of the same mill restored into PostgreSQL."""
    import psycopg

    folder = tmp_path_factory.mktemp("both")
    copied(works_mill, folder / "sqlite")
    # made once: each making is an event of its own, and the report prints the chain's head
    last = in_mill(folder / "sqlite", accounted_days)[-1]
    in_mill(folder / "sqlite", kept_week, date.fromisoformat(last))
    backup(folder / "sqlite", folder / "a.backup")
    with psycopg.connect(f"host={postgresql} user=postgres dbname=postgres", autocommit=True) as s:
        s.execute("CREATE DATABASE both_mills")
    url = f"postgresql://postgres@/both_mills?host={postgresql}"
    restore(folder / "a.backup", folder / "postgresql", url)
    assert not (folder / "postgresql" / "ratoon.db").exists()

    def browser(name):
        return TestClient(create_app(folder / name, checks=list), base_url="http://127.0.0.1")

    with browser("sqlite") as one, browser("postgresql") as two:
        yield folder / "sqlite", one, two


def test_every_page_is_the_same_from_both(both):
    folder, one, two = both
    day, asked = in_mill(folder, accounted_days)[-1], 0
    for route in one.app.routes:
        if "GET" not in route.methods or route.path.startswith("/static/"):
            continue
        date = KEPT if route.path.startswith("/best/") else day
        address = route.path_format.format(date=date, **KNOWN)
        first = one.get(address, params={"format": "json"})
        second = two.get(address, params={"format": "json"})
        assert first.status_code == second.status_code, address
        if first.headers["content-type"] == "application/json":
            shown = [page.json() for page in (first, second)]
            for answer in shown:
                if isinstance(answer, dict):
                    answer.pop("seconds", None)
                    answer.get("ribbon", {}).pop("reached", None)  # of today, it goes by the clock
            assert shown[0] == shown[1], address
            asked += first.status_code == 200
        assert one.get(address).status_code == two.get(address).status_code < 500
    assert asked > 8
