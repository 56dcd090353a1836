"""What the views share: templates, the mill's place, which pages exist, how one is answered."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from datetime import date as date_type
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response
from jinja2 import ChoiceLoader, Environment, FileSystemLoader, StrictUndefined

from ratoon.account.results.day import DayResult
from ratoon.base.errors import BadInput, RatoonError
from ratoon.base.words import sentence
from ratoon.reports.compose import CAUTION, morning_sheet
from ratoon.reports.doubts import MOST_SUSPECTS
from ratoon.reports.html import TEMPLATES as SHEET_TEMPLATES
from ratoon.reports.numbers import thin
from ratoon.web.days import DayPlace, place_of
from ratoon.web.docs.help import help_of
from ratoon.web.door.access import DAY, may_act, may_see, rule_of
from ratoon.web.door.visit import Door, state_asked, visitor
from ratoon.web.navigation import Group, groups
from ratoon.web.sheet.pages import MessagePage
from ratoon.web.sheet.recent import Recent

if TYPE_CHECKING:
    from ratoon.jobs.pool import SolverPool
    from ratoon.jobs.sheet.history import History
    from ratoon.reports.morning import MorningSheet
    from ratoon.store import Store

HERE = Path(__file__).parent
AccountDay = Callable[[str], DayResult]
Days = Callable[[], Sequence[str]]
Checks = Callable[[], Sequence[Mapping[str, Any]]]
Format = Literal["json"] | None

RECENT_DAYS = 16
"""Days whose results and sheets are held: each has several pages."""

View = TypeVar("View", bound=Callable[..., Any])


def get(app: FastAPI, address: str, record: Any = None) -> Callable[[View], View]:
    """Makes a function the view of an address; `record` is what it tells with ``?format=json``."""
    if record is not None:
        app.state.records[address] = record
    return app.api_route(address, methods=["GET", "HEAD"])


@cache
def environment() -> Environment:
    """Templates of pages and of sheets: everything is escaped, an unknown name is an error."""
    rooms = sorted({path.parent for path in HERE.glob("*/*.html")})
    folders = [FileSystemLoader(room) for room in (*rooms, SHEET_TEMPLATES)]
    env = Environment(
        loader=ChoiceLoader(folders), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    env.globals.update(caution=CAUTION, most=MOST_SUSPECTS)
    env.filters.update(thin=thin, sentence=sentence)
    env.globals.update(visitor=visitor, may_see=may_see, may_act=may_act)
    return env


class RecordResponse(JSONResponse):
    """A page's record as JSON, written field by field without a copy of it first."""

    def render(self, content: Any) -> bytes:
        """The bytes; a number that is not finite is a fault of ours."""
        text = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"),
                          default=_fields)  # fmt: skip
        return text.encode()


def _fields(record: Any) -> dict[str, Any]:
    return {f.name: getattr(record, f.name) for f in fields(record)}


ACCOUNT_SECONDS, ASIDE_SECONDS = 90.0, 180.0
"""How long a day's account may take [s], two on a machine at rest; its best settings, ten."""


@dataclass
class _Day:
    """A mill day's result as pages hold it, with its morning sheet once somebody asks for that."""

    result: DayResult

    @cached_property
    def sheet(self) -> MorningSheet:
        """The morning sheet."""
        return morning_sheet(self.result)


class Pages:
    """What the views share: where the mill is, how to account a day, which pages exist."""

    def __init__(
        self,
        mill_dir: Path,
        account_day: AccountDay | None,
        days: Days | None,
        checks: Checks | None,
        solvers: SolverPool | None = None,
    ) -> None:
        self.mill_dir = mill_dir
        self.door = Door(mill_dir)
        self._held: Recent[_Day] = Recent(self.door.state, RECENT_DAYS)
        self._account_day, self._days, self.checks = account_day, days, checks
        # Paths of pages that stand for a mill day, and of those that stand alone, with whether
        # there is something to show; each file of views adds its own.
        self._first = threading.Lock()  # twenty may be the first to ask
        self._history: History | None = None
        self._pool = solvers
        self.by_day: set[str] = set()
        self.any_day: set[str] = set()  # those of them where people write: any date will do
        self.standing: dict[str, Callable[[], bool]] = {}
        # What is to be made ready before the server answers, and closed when it ends.
        self.warming: list[Callable[[], None]] = []
        self.closing: list[Callable[[], None]] = [solvers.close] if solvers is not None else []
        self.served = solvers is not None
        """Whether others wait while this process solves: then another one does."""
        # A day that has to be accounted again runs a solver, which two threads may not share; the
        # thread that has it may have to make the plant first.
        self.lock = threading.RLock()

    @property
    def history(self) -> History:
        """All accounted days, kept in memory."""
        from ratoon.jobs.sheet.history import History

        with self._first:
            if self._history is None:
                self._history = History(self.mill_dir, self.door.store, self.lock, state_asked)
            return self._history

    def warm(self) -> None:
        """Make ready what the first to ask would wait for."""
        if not (self.mill_dir / "mill.toml").is_file() or not self.warming:
            return
        # the page that needs it will say what is wrong
        with suppress(RatoonError, OSError, UnicodeError):
            for start in self.warming:
                start()
            self.history.days()
            _ = self.history.mill

    @property
    def pool(self) -> SolverPool:
        """The worker processes; closed when the server ends."""
        from ratoon.jobs.pool import SolverPool

        with self._first:
            if self._pool is None:
                self._pool = SolverPool()
                self.closing.append(self._pool.close)
            return self._pool

    def account_anew(self, day: date_type) -> None:
        """Account a day in a worker; its week's forecast and its best settings follow aside, and of
        the newest day sheds and refinery."""
        from ratoon.jobs.mills import in_mill
        from ratoon.jobs.season.forecast import keep_week
        from ratoon.jobs.sheet.day import account_day
        from ratoon.jobs.sugar.refinery import keep_sugar

        self.pool.call(in_mill, self.mill_dir, account_day, day, limit=ACCOUNT_SECONDS)
        again, moves = False, True
        for more in ((keep_week, day), (account_day, day, again, moves)):
            self.pool.aside(ASIDE_SECONDS, in_mill, self.mill_dir, *more)
        if day.isoformat() == self.newest():
            self.pool.aside(ASIDE_SECONDS, in_mill, self.mill_dir, keep_sugar, day)

    def store(self) -> Store:
        """The mill's records.

        Raises
        ------
        BadInput : there are none yet.
        """
        store = self.door.store()
        if store is None:
            raise BadInput("no records yet", todo="Import the mill's readings first.")
        return store

    def days(self) -> list[str]:
        """The accounted mill days, oldest first."""
        return list(self.history.days()) if self._days is None else sorted(self._days())

    def newest(self) -> str:
        """The newest accounted mill day; "" before the first, and while the mill file is wrong."""
        try:
            days = self.days()
        except RatoonError:  # pages that need no day are not to fail for it
            return ""
        return days[-1] if days else ""

    def account(self, date: str) -> tuple[DayPlace, DayResult]:
        """A mill day's place and result."""
        place, day = self._day(date)
        return place, day.result

    def _day(self, date: str) -> tuple[DayPlace, _Day]:
        place = place_of(date, self.days())
        return place, self._held.of(
            place.date, lambda: _Day(self._result(place.date)), self.rests_on(place.date, DAY)
        )

    def rests_on(self, day: str, until: int) -> Callable[[], str]:
        """Gives another text whenever something changed that touches a day, or one before it."""
        return lambda: self.door.state_of_day(day, until, self.door.state())

    def _result(self, day: str) -> DayResult:
        with self.lock:
            if self._account_day is not None:
                return self._account_day(day)
            from ratoon.jobs.sheet.day import kept_day

            wanted, known = date_type.fromisoformat(day), self.history.known()
            return kept_day(self.history.opened, wanted, known)

    def sheet(self, date: str) -> tuple[DayPlace, MorningSheet]:
        """A mill day's place and morning sheet."""
        place, day = self._day(date)
        return place, day.sheet

    def opens(self, date: str, sheet: MorningSheet) -> Callable[[str], str]:
        """Gives where a number leads: the working of an address, or the page named, of that day."""
        known = {w.address for w in sheet.workings}
        whole = "works" in self.by_day
        quantities = self.history.mill.addresses if whole else {}
        figures = self.history.days()[date].works.get("figures", {}) if whole else {}
        known |= {*quantities, *figures}

        def link(about: str) -> str:
            if about.startswith("/"):
                there = rule_of(f"{about}/{date}") and may_see(f"{about}/{date}")
                return f"{about}/{date}" if there else ""
            return f"/working/{date}/{about}" if about in known else ""

        return link

    def navigation(self, date: str) -> list[Group]:
        """Only pages that exist, and that the asker may see; the person's own group first."""
        return groups(lambda path: self._at(path, date), "cane" in self.by_day)

    def _at(self, path: str, date: str) -> str:
        """The address of a page of the navigation; "" when there is none to show."""
        if path in self.by_day:
            if date:
                return f"/{path}/{date}"
            if path == "morning":
                return "/"
            if path in self.any_day and self._knows_today():
                return f"/{path}"  # a page kept over night leads to today
        elif path in self.standing and self.standing[path]():
            return f"/{path}"
        return ""

    def today(self) -> str:
        """The mill day that is now, where people may begin to write.

        Raises
        ------
        BadInput : the mill file is wrong.
        """
        return self.history.mill.calendar.day_of(datetime.now(UTC)).isoformat()

    def _knows_today(self) -> bool:
        if "works" not in self.by_day:
            return False
        try:
            return bool(self.today())
        except (RatoonError, OSError, UnicodeError):
            return False

    def live(self, date: str) -> tuple[str, str, str]:
        """What a page of a mill day waits for: the day, its newest result, the newest day."""
        if not date or "works" not in self.by_day or not may_see("/live"):
            return "", "", ""  # people who may not hear of it would be told that nobody answers
        days = self.history.days()
        return date, str(days[date].number if date in days else ""), max(days, default="")

    def answer(
        self,
        form: Format,
        page: Any,
        template: str,
        here: str,
        date: str = "",
        status: int = 200,
        **more: Any,
    ) -> Response:
        """The page, or the same record as JSON."""
        if form == "json":
            return RecordResponse(page, status)
        html = environment().get_template(template)
        live = self.live(date)
        text = html.render(
            page=page,
            here=here,
            navigation=self.navigation(date or self.newest()),
            live=live,
            help=help_of(template),
            **more,
        )
        return Response(text, status, media_type="text/html; charset=utf-8")

    def message(self, form: Format, status: int, title: str, line: str, nearest: str) -> Response:
        """A page of one clear line."""
        page = MessagePage(status, title, line, nearest)
        return self.answer(form, page, "message.html", "", status=status)
