"""A mill's records and answers as tables, for a notebook or a program of one's own.

``with ratoon.open_records("mill") as mill: mill.figures()`` gives a table in trade units. A table
is a mapping of column names to values, so that ``pandas.DataFrame(dict(table))`` takes it; polars
and whatever else reads Arrow takes it as it is (``polars.DataFrame(table)``), which needs the
extra ``ratoon[tables]``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import date, datetime
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ratoon.base import units
from ratoon.base.errors import BadInput
from ratoon.reports.tokens import COLOURS

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ratoon.account.results.day import DayResult, LossResult, PolResult
    from ratoon.account.results.week import WeekResult
    from ratoon.base.records import Period
    from ratoon.jobs.mills import OpenMill

SHOWN = 12  # rows of a table that are written out where it is looked at


@dataclass(frozen=True)
class Table(Mapping[str, tuple[Any, ...]]):
    """Columns of one length, by name; `about` says what a row is.

    Examples
    --------
    >>> from ratoon.notebook import Table
    >>> cane = Table({"date": ("2031-08-13", "2031-08-14"), "t": (9260.0, None)}, "cane of days")
    >>> cane["t"], cane.height
    ((9260.0, None), 2)
    >>> print(cane)
    cane of days: 2 rows
    date        t
    2031-08-13  9260
    2031-08-14  -
    """

    columns: Mapping[str, tuple[Any, ...]]
    about: str = ""

    def __getitem__(self, name: str) -> tuple[Any, ...]:
        if name not in self.columns:
            raise BadInput("no such column", where="table", value=name,
                           allowed=", ".join(self.columns))  # fmt: skip
        return self.columns[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.columns)

    def __len__(self) -> int:
        """How many columns there are, as of any mapping; rows are counted by `height`."""
        return len(self.columns)

    @property
    def height(self) -> int:
        """How many rows there are."""
        return len(next(iter(self.columns.values()), ()))

    def rows(self) -> Iterator[dict[str, Any]]:
        """Row by row, as column -> value."""
        for values in zip(*self.columns.values()):
            yield dict(zip(self.columns, values))

    def where(self, **wanted: Any) -> Table:
        """The rows whose columns have the values that are asked for."""
        mine = [self[name] for name in wanted]
        keep = [n for n, found in enumerate(zip(*mine)) if found == tuple(wanted.values())]
        return Table({k: tuple(v[n] for n in keep) for k, v in self.columns.items()}, self.about)

    def __arrow_c_stream__(self, requested_schema: object | None = None) -> object:
        """The table as an Arrow stream: texts, numbers, dates, and times in UTC."""
        try:
            import nanoarrow as na
        except ImportError:
            todo = "Install ratoon[tables], or take dict(table)."
            raise BadInput("nanoarrow is not installed", where="table", todo=todo) from None
        kinds = {name: _arrow(na, values) for name, values in self.columns.items()}
        children = [na.c_array([_plain(v) for v in self[name]], kind)
                    for name, kind in kinds.items()]  # fmt: skip
        whole = na.c_array_from_buffers(na.struct(kinds), self.height, buffers=[None],
                                        children=children)  # fmt: skip
        return na.c_array_stream(whole).__arrow_c_stream__(requested_schema)

    def _written(self) -> list[list[str]]:
        return [[_text(v) for v in values] for values in list(zip(*self.columns.values()))[:SHOWN]]

    def __repr__(self) -> str:
        rows = [list(self.columns), *self._written()]
        widths = [max(len(row[k]) for row in rows) for k in range(len(self.columns))]
        lines = ["  ".join(t.ljust(w) for t, w in zip(row, widths)).rstrip() for row in rows]
        if self.height > SHOWN:
            lines.append(f"and {self.height - SHOWN} more")
        return "\n".join([f"{self.about}: {_counted(self.height)}", *lines])

    def _repr_html_(self) -> str:
        head = "".join(f"<th>{escape(name)}</th>" for name in self.columns)
        body = "".join(
            "<tr>" + "".join(f"<td>{escape(text)}</td>" for text in row) + "</tr>"
            for row in self._written()
        )
        return (f"<table><caption>{escape(self.about)}: {_counted(self.height)}</caption>"
                f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>")  # fmt: skip


def _counted(rows: int) -> str:
    return f"{rows:,} row{'' if rows == 1 else 's'}"


def _text(value: Any) -> str:
    if value is None:
        return "-"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return round(value.timestamp() * 1_000_000)
    return (value - date(1970, 1, 1)).days if isinstance(value, date) else value


def _arrow(na: Any, values: Sequence[Any]) -> Any:
    first = next((v for v in values if v is not None), 0.0)
    if isinstance(first, bool):
        return na.bool_()
    if isinstance(first, str):
        return na.string()
    if isinstance(first, datetime):
        return na.timestamp("us", "UTC")
    if isinstance(first, date):
        return na.date32()
    return na.int64() if isinstance(first, int) else na.float64()


def _table(names: Sequence[str], rows: Iterable[Sequence[Any]], about: str) -> Table:
    found = list(rows)
    return Table({name: tuple(row[k] for row in found) for k, name in enumerate(names)}, about)


HEADLINES = (
    "account.cane", "account.ccs", "account.sugar", "account.extraction",
    "account.boiling_house_recovery", "account.overall_recovery", "account.undetermined",
)  # fmt: skip
"""What is shown of the newest day where a mill is looked at in a notebook."""
FIGURES = ("date", "address", "name", "value", "sigma", "unit", "kind")
LOSSES = ("date", "loss", "t", "t_sigma", "pct", "pct_sigma", "money", "money_sigma")
READINGS = ("start", "end", "address", "name", "value", "sigma", "unit", "kind", "source")
CONSIGNMENTS = ("date", "consignment", "grower", "farm", "block", "variety", "bins", "t", "brix",
                "pol", "fibre", "ccs", "ccs_sigma", "flags")  # fmt: skip
STOPS = ("start", "end", "station", "cause", "note", "hours")


@dataclass
class MillRecords:
    """A mill's folder open to be read; nothing is ever changed through it."""

    folder: Path
    _stack: ExitStack = field(default_factory=ExitStack, repr=False)
    _opened: OpenMill | None = field(default=None, repr=False)

    def __enter__(self) -> MillRecords:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def close(self) -> None:
        """Give the records back."""
        self._stack.close()
        self._opened = None

    @property
    def _mill(self) -> OpenMill:
        from ratoon.jobs.mills import open_mill

        if self._opened is None:
            self._opened = self._stack.enter_context(open_mill(self.folder))
        return self._opened

    def __repr__(self) -> str:
        days = self.days
        span = f"{days[0]} to {days[-1]}, {len(days)} mill days accounted" if days else "no account"
        return f"{self._mill.mill.name}: {span}"

    def _repr_html_(self) -> str:
        days = self.days
        if not days:
            return f"<p>{escape(repr(self))}</p>"
        shown = self.figures(days[-1], days[-1])
        head = _table(FIGURES, ([r[k] for k in shown.columns] for r in shown.rows()
                                      if r["address"] in HEADLINES), repr(self))  # fmt: skip
        return head._repr_html_()

    @property
    def days(self) -> tuple[date, ...]:
        """The mill days that have an account, oldest first."""
        from ratoon.jobs.sheet.day import accounted_days

        return tuple(date.fromisoformat(day) for day in accounted_days(self._mill))

    def day(self, day: date | str) -> DayResult:
        """The newest account of a mill day; one that has none yet is refused."""
        from ratoon.jobs.sheet.day import kept_day

        wanted = _day(day)
        if wanted not in self.days:
            raise BadInput("this mill day has no account", where="day", value=wanted.isoformat(),
                           todo=f"Run: ratoon day {wanted}")  # fmt: skip
        return kept_day(self._mill, wanted)

    def week(self, day: date | str, season: bool = False) -> WeekResult:
        """The account of the week, or of the `season`, to a day; refused where none is kept."""
        from ratoon.jobs.sheet.week import found_week

        wanted = _day(day)
        found = found_week(self._mill, wanted, season)
        if found is None:
            raise BadInput("this week has no account", where="week", value=wanted.isoformat(),
                           todo=f"Run: ratoon week {wanted}")  # fmt: skip
        return found

    def figures(
        self, first: date | str | None = None, last: date | str | None = None, *,
        to_date: str = "",
    ) -> Table:  # fmt: skip
        """Figures of the accounted days from `first` to `last`, a row for each day and figure.

        Parameters
        ----------
        to_date : "week" or "season": the figures of that stretch to each day, not the day's own.
        """
        rows = [
            (day, address, f["name"], f["value"], f["sigma"], f["unit"], f["kind"])
            for day, part in self._parts("figures", first, last, to_date)
            for address, f in part.items()
        ]
        return _table(FIGURES, rows, f"figures {to_date or 'of the day'}")

    def losses(
        self, first: date | str | None = None, last: date | str | None = None, *,
        to_date: str = "",
    ) -> Table:  # fmt: skip
        """Pol lost, a row for each day and loss: tonnes, % of pol in cane, money."""
        rows = [
            (day, name, *(loss[key] for key in LOSSES[2:]))
            for day, part in self._parts("losses", first, last, to_date)
            for name, loss in part.items()
        ]
        return _table(LOSSES, rows, f"losses {to_date or 'of the day'}")

    def readings(self, first: date | str | None = None, last: date | str | None = None) -> Table:
        """Readings on record that begin on mill days from `first` to `last`, in trade units."""
        from ratoon.store.entries import readings_in

        known, rows = self._mill.mill.addresses, []
        for r in self._mill.store.ask(readings_in, self._period(first, last)):
            info = known.get(r.address)
            unit = r.unit or (info.unit if info else "")
            value = units.from_inside(r.value, unit)
            sigma = None if r.sigma is None else units.spread_from_inside(r.sigma, unit)
            rows.append((r.start, r.end, r.address, info.name if info else "", value, sigma, unit,
                         r.kind, r.source))  # fmt: skip
        return _table(READINGS, rows, "readings")

    def stops(self, first: date | str | None = None, last: date | str | None = None) -> Table:
        """Stops that touch the mill days from `first` to `last`; one that is running ends now."""
        from ratoon.store.entries import stops_in

        found = self._mill.store.ask(stops_in, self._period(first, last))
        rows = [(s.start, s.end, s.station, s.cause, s.note, s.hours) for s in found]
        return _table(STOPS, rows, "stops")

    def consignments(
        self, first: date | str | None = None, last: date | str | None = None
    ) -> Table:  # fmt: skip
        """Consignments of the mill days whose cane is worked out (`ratoon cane DATE`), analyses in
        %; with None where a consignment had no analysis of its own."""
        from ratoon.jobs.cane.days import days_with_cane, kept_cane

        rows = []
        for day in days_with_cane(self._mill, self._period(first, last)):
            for c in (kept_cane(self._mill, day) or {}).get("consignments", ()):
                told = [(c[key] or {}).get("value") for key in ("brix", "pol", "fibre", "ccs")]
                rows.append((day, c["consignment"], c["grower"], c["farm"], c["block"],
                             c["variety"], c["bins"], c["tonnes"], *told,
                             (c["ccs"] or {}).get("sigma"), len(c["flags"])))  # fmt: skip
        return _table(CONSIGNMENTS, rows, "consignments")

    def plot_trend(
        self, address: str, first: date | str | None = None, last: date | str | None = None,
        axes: Axes | None = None,
    ) -> Axes:  # fmt: skip
        """A figure of the accounted days with its 95 % interval; needs ``ratoon[plots]``.

        Parameters
        ----------
        address : of a figure, such as ``account.extraction``. axes : to draw on; new ones if none.

        Raises
        ------
        UnknownName : no account of these days has the figure.
        BadInput : matplotlib is not installed.
        """
        from ratoon.base.errors import UnknownName

        whole = self.figures(first, last)
        mine = whole.where(address=address)
        if not mine.height:
            raise UnknownName("figure", address, sorted(set(whole["address"])))
        axes = _axes() if axes is None else axes
        told = [(r["date"], r["value"], r["sigma"] or 0.0) for r in mine.rows()
                if r["value"] is not None]  # fmt: skip
        if told:
            days, values, sigmas = zip(*told)
            axes.errorbar(days, values, [1.96 * s for s in sigmas], fmt="o", markersize=4,
                          color=COLOURS["leaf"], ecolor=COLOURS["line"])  # fmt: skip
        axes.set_title(mine["name"][0])
        axes.set_ylabel(mine["unit"][0])
        axes.figure.autofmt_xdate()
        return axes

    def plot_flows(self, day: date | str, axes: Axes | None = None) -> Axes:
        """Where the pol of a day went, in % of pol in cane with 95 % intervals; ``ratoon[plots]``.

        What the readings do not determine is left out, and named in the title.
        """
        result = self.day(day)
        parts: list[tuple[str, PolResult | LossResult]] = [
            ("sugar", result.pol["sugar"]),
            ("into stock", result.pol["stock_change"]),
            *result.losses.items(),
        ]
        told = [(n, p.pct, p.pct_sigma or 0.0) for n, p in parts if p.pct is not None]
        missing = [n for n, p in parts if p.pct is None]
        axes = _axes() if axes is None else axes
        if told:
            names, values, sigmas = zip(*told)
            axes.barh(names, values, xerr=[1.96 * s for s in sigmas], color=COLOURS["gold"],
                      ecolor=COLOURS["ink"])  # fmt: skip
        axes.invert_yaxis()
        axes.set_xlabel("% of pol in cane")
        left = f"; not determined: {', '.join(missing)}" if missing else ""
        axes.set_title(f"{self._mill.mill.name}, {result.date}{left}")
        return axes

    def addresses(self) -> Table:
        """Every quantity of the mill: its address, name and trade unit."""
        known = self._mill.mill.addresses
        return _table(("address", "name", "unit"),
                      [(a, i.name, i.unit) for a, i in known.items()], "addresses")  # fmt: skip

    def _parts(
        self, what: str, first: date | str | None, last: date | str | None, to_date: str
    ) -> Iterator[tuple[date, Mapping[str, Any]]]:
        """A part of each day's newest account, or of an account to date that ends with it."""
        from ratoon.jobs.sheet.day import KIND
        from ratoon.store.answers import newest_parts

        if to_date not in ("", "week", "season"):
            raise BadInput("not a stretch of days", where="to_date", value=to_date,
                           allowed='"week", "season", or "" for the day itself')  # fmt: skip
        calendar, period = self._mill.mill.calendar, self._period(first, last)
        asked = "to_date" if to_date else what
        for span, _, part in self._mill.store.ask(newest_parts, KIND, asked, period):
            mine = (part.get(to_date) or {}).get(what, {}) if to_date else part
            yield calendar.day_of(span.start), mine

    def _span(self, first: date | str | None, last: date | str | None) -> tuple[date, date]:
        days = self.days
        if not days and (first is None or last is None):
            raise BadInput("no day is accounted yet", where="days",
                           todo="Say from which day to which, or run: ratoon day DATE")  # fmt: skip
        begin = days[0] if first is None else _day(first)
        end = days[-1] if last is None else _day(last)
        if begin > end:
            raise BadInput(f"first day {begin} is after last day {end}", where="days")
        return begin, end

    def _period(self, first: date | str | None, last: date | str | None) -> Period:
        from ratoon.base.records import Period

        begin, end = self._span(first, last)
        calendar = self._mill.mill.calendar
        return Period(calendar.period(begin).start, calendar.period(end).end)


def _axes() -> Axes:
    try:
        from matplotlib import pyplot
    except ImportError:
        raise BadInput("matplotlib is not installed", where="plot",
                       todo="Install ratoon[plots].") from None  # fmt: skip
    return pyplot.subplots(figsize=(8, 3.5), layout="constrained")[1]


def _day(day: date | str) -> date:
    if isinstance(day, date):
        return day
    try:
        return date.fromisoformat(day)
    except ValueError:
        raise BadInput("not a date", where="day", value=day[:40],
                       allowed="a date such as 2031-08-14") from None  # fmt: skip


def open_records(folder: str | Path) -> MillRecords:
    """A mill's folder, open to be read; close it, or use it in a ``with``.

    Raises
    ------
    RatoonError : no mill there, or records that cannot be opened; at the first question.
    """
    return MillRecords(Path(folder))
