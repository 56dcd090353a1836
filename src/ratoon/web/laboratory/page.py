"""Laboratory: one sheet a round, with ranges, what stands, and results worked as they are typed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from ratoon.base.addresses import natural
from ratoon.base.errors import OutOfRange
from ratoon.base.records import Period, Reading
from ratoon.base.words import capital
from ratoon.importers.plausible import limits_of, usual_of
from ratoon.laboratory import first_juice, raw_sugar
from ratoon.laboratory.refractometry import apparent_purity
from ratoon.laboratory.repeats import note_of, result_of, results_of
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import NOTHING, grouped, unit_as_read
from ratoon.reports.of_the_day import of_the_day
from ratoon.settings.rounds import ROUNDS, by_round
from ratoon.web.days import DayPlace

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.base.addresses import AddressInfo
    from ratoon.jobs.sheet.history import DayFacts
    from ratoon.plant.roles import Roles
    from ratoon.store import Version

DAY_ROUND = "day"
QUALITY = re.compile(
    r"\.(brix|pol|purity|moisture|insolubles|fibre_laboratory|ph|turbidity|reducing_sugars|ash)$"
)
SHEETS: tuple[tuple[str, str, str], ...] = (
    ("juice", "Cane and juice",
     r"(cane|first_juice|mill\.\d+\.juice|mixed_juice|limed_juice|clear_juice|filtrate|effect\.\d+)\."),
    ("bagasse", "Bagasse", r"(mill\.\d+\.)?bagasse\."),
    ("mud", "Mud and cake", r"(mud|cake)\."),
    ("liquor", "Liquor", r"(liquor|pan_liquor)\."),
    ("massecuites", "Massecuites and magma", r"(pan\.\w+\.|crystalliser\.|magma\.)"),
    ("molasses", "Molasses", r"(molasses\.\w+|final_molasses)\."),
    ("sugar", "Sugar", r"sugar\."),
    ("other", "Other analyses", ""),
)  # fmt: skip
USUAL_DAYS, FEWEST_DAYS = 30, 5


@dataclass(frozen=True, slots=True)
class Desk:
    """Where somebody types a round: its path and what the page is called."""

    path: str
    title: str


LABORATORY, METERS = Desk("laboratory", "Laboratory"), Desk("meters", "Meters and stocks")
ENDS = {"opening": "at the start", "closing": "at the end"}
"""A stock is read at an instant: at either end of the round."""


@dataclass(frozen=True, slots=True)
class LabRow:
    """One quantity: its unit and ranges, what stands for the round, what is typed.

    `box` : the name of its box, its address and for a stock the end of the round.
    """

    address: str
    box: str
    name: str
    unit: str
    ever: str
    usual: str
    stands: str
    stands_by: str
    stands_oddly: str
    typed: str
    problem: str
    unusual: str


@dataclass(frozen=True, slots=True)
class WorkedRow:
    """A result worked from what is typed or stands."""

    key: str
    name: str
    value: str
    unit: str


@dataclass(frozen=True, slots=True)
class LabSheet:
    """A sheet of a round."""

    key: str
    title: str
    rows: tuple[LabRow, ...]
    worked: tuple[WorkedRow, ...]


@dataclass(frozen=True, slots=True)
class LabPage:
    """A desk's sheets of a round."""

    desk: Desk
    place: DayPlace
    title: str
    mill_name: str
    round: str
    rounds: tuple[tuple[str, str], ...]
    sheets: tuple[LabSheet, ...]
    line: str
    refused: tuple[str, ...]
    reason: str
    draft: str
    repeats: str
    seen: int
    looking_back: int


def rounds_of(mill: Mill, day: date) -> dict[str, tuple[str, Period]]:
    """The rounds of a mill day: the whole day, then each shift."""
    found = {DAY_ROUND: ("Whole mill day", mill.calendar.period(day))}
    for shift, period in mill.calendar.shift_periods(day):
        # A shift of that name would hide the whole day.
        key = shift.name if shift.name != DAY_ROUND else f"{shift.name} shift"
        found[key] = (f"{shift.name.capitalize()} shift", period)
    return found


def boxes_of(mill: Mill, desk: Desk) -> dict[str, tuple[str, ...]]:
    """What is typed at a desk in this mill, by sheet: from its readings and noted quantities.

    The laboratory's analyses are its own; all else is typed where meters and stocks are read.
    """
    listed = [
        *mill.settings.readings,
        *mill.settings.noted,
        *(f"tank.{t}" for t in mill.settings.tanks),
    ]
    known = [a for a in dict.fromkeys(listed)
             if a in mill.addresses and mill.addresses[a].readable]  # fmt: skip
    rounds = by_round(known)
    analysed = {a for a in known if not mill.addresses[a].level
                and (QUALITY.search(a) or a in rounds["laboratory"])}  # fmt: skip
    if desk == METERS:
        return {key: tuple(box for a in mine if a not in analysed for box in _boxes(mill, a))
                for key, mine in rounds.items()}  # fmt: skip
    found: dict[str, list[str]] = {key: [] for key, _, _ in SHEETS}
    for a in analysed:
        found[next(key for key, _, pattern in SHEETS if re.match(pattern, a))].append(a)
    return {key: tuple(natural(mine)) for key, mine in found.items()}


def _boxes(mill: Mill, address: str) -> tuple[str, ...]:
    if not mill.addresses[address].level:
        return (address,)
    return tuple(f"{address}@{end}" for end in ENDS)


def sheets_of(desk: Desk) -> list[tuple[str, str]]:
    """Keys and titles of a desk's sheets, in their order."""
    return list(ROUNDS.items()) if desk == METERS else [(k, title) for k, title, _ in SHEETS]


def address_of(box: str) -> str:
    """The quantity of a box."""
    return box.partition("@")[0]


def outside(info: AddressInfo, text: str) -> str:
    """Why a typed number cannot be kept, in words; "" when it can, or is no number at all."""
    value = number_of(text)
    low, high = limits_of(info)
    if value is None or ((low is None or value >= low) and (high is None or value <= high)):
        return ""
    limits = [f"{x:g}" for x in (low, high) if x is not None]
    return f"{text.strip()} is outside {' to '.join(limits)} {info.unit}".strip()


def number_of(text: str) -> float | None:
    """A typed number with either decimal mark; None when it is none."""
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return value if abs(value) < 1e12 else None


FOR_CCS = ("{first juice}.brix", "{first juice}.pol", "{cane}.fibre_laboratory")
FOR_DILUTION = ("{sugar}.pol", "{sugar}.moisture")


def worked(roles: Roles, values: Mapping[str, float]) -> dict[str, tuple[str, str]]:
    """Results of determinations in %: key -> (name, text); only those that can be worked.

    All are the laboratory room's own formulas, left out where a figure is outside the range for
    which they hold.
    """
    found = {}
    for address in values:
        stem, _, quality = address.rpartition(".")
        brix = values.get(f"{stem}.brix")
        if quality == "pol" and brix:
            name = stem.replace("_", " ").replace(".", " ")
            purity = 100 * apparent_purity(values[address], brix)
            found[f"{stem}.purity"] = (f"Purity, {name}", grouped(purity, 2))
    needs = [*map(roles.at, FOR_CCS)]
    if all(n in values for n in needs):
        brix, pol, fibre = (values[n] / 100.0 for n in needs)
        with suppress(OutOfRange):  # a slip of the pen: the sheet must open to correct it
            ccs = 100.0 * first_juice.ccs(brix, pol, fibre)
            found["ccs"] = ("CCS", grouped(float(ccs), 2))
    sugar = [*map(roles.at, FOR_DILUTION)]
    if all(n in values for n in sugar):
        pol, moisture = (values[n] / 100.0 for n in sugar)
        if pol < 1.0 and pol + moisture < 1.0:
            indicator = 100.0 * raw_sugar.dilution_indicator(moisture, pol)
            found["dilution_indicator"] = ("Dilution indicator", grouped(float(indicator), 1))
    return found


def _usual(days: Mapping[str, DayFacts], until: str) -> dict[str, tuple[float, float]]:
    """Lowest and highest reading of the last accounted days before one, by address."""
    from ratoon.jobs.sheet.history import last_days

    seen: dict[str, list[float]] = {}
    for day in [d for d in last_days(days, until, USUAL_DAYS + 1) if d < until]:
        for r in of_the_day(days[day].result):
            if r.value is not None:
                seen.setdefault(r.address, []).append(r.value)
    return {a: (min(v), max(v)) for a, v in seen.items() if len(v) >= FEWEST_DAYS}


def _standing(versions: Sequence[Version], period: Period) -> Iterator[tuple[str, Version]]:
    """What stands for a round, by box."""
    boxes = {(period.start, period.end): "", (period.start, None): "@opening",
             (period.end, None): "@closing"}  # fmt: skip
    for v in versions:
        r = v.record
        if isinstance(r, Reading) and v.in_force and r.start and (r.start, r.end) in boxes:
            yield r.address + boxes[r.start, r.end], v


def _unusual(
    value: float, unit: str, usual: tuple[float, float] | None, ever: tuple[float, float] | None
) -> str:
    """What is odd about a typed figure; the page's script says it in the same words."""
    for told, span in (("outside the usual range", ever), ("the last days had", usual)):
        if span and not span[0] <= value <= span[1]:
            return f"{told} {_span(span)} {unit}".rstrip() + ": look again"
    return ""


def _span(span: tuple[float, float]) -> str:
    """A range with as many decimals at both ends: 37.0 to 41.8."""
    texts = [f"{end:g}" for end in span]
    if any("e" in text for text in texts):
        return " to ".join(texts)
    decimals = max(len(text.partition(".")[2]) for text in texts)
    return " to ".join(f"{end:.{decimals}f}" for end in span)


def _said_by(version: Version | None) -> str:
    if version is None:
        return ""
    return ": ".join(t for t in (version.who, version.reason, version.record.note) if t)


class Sheets:
    """Makes the page of a round at a desk."""

    def __init__(
        self, mill: Mill, days: Mapping[str, DayFacts], place: DayPlace, desk: Desk
    ) -> None:
        self.mill, self.place, self.desk = mill, place, desk
        self.usual = _usual(days, place.date)

    def row(self, box: str, stands: Version | None, typed: str, problem: str) -> LabRow:
        info = self.mill.addresses[address_of(box)]
        usual, ever = self.usual.get(box.replace("@", ".")), usual_of(info)
        value = number_of(typed) if typed else None
        standing = number_of(self._text(stands))
        unit = unit_as_read(info.unit)
        return LabRow(
            address=info.address,
            box=box,
            name=self._named(box),
            unit=unit,
            ever=_span(ever) if ever else NOTHING,
            usual=_span(usual) if usual else NOTHING,
            stands=self._text(stands),
            stands_by=_said_by(stands),
            stands_oddly="" if standing is None else _unusual(standing, unit, None, ever),
            typed=typed,
            problem=problem,
            unusual="" if value is None else _unusual(value, unit, usual, ever),
        )

    def _named(self, box: str) -> str:
        address, _, end = box.partition("@")
        info = self.mill.addresses.get(address)
        return ", ".join(filter(None, (capital(info.name), ENDS.get(end)))) if info else box

    def _text(self, version: Version | None) -> str:
        record = version.record if version else None
        return (
            f"{record.given:g}" if isinstance(record, Reading) and record.given is not None else ""
        )

    def page(
        self,
        round_: str,
        versions: Sequence[Version],
        typed: Mapping[str, str],
        problems: Mapping[str, str],
        line: str = "",
        draft: str = "",
    ) -> LabPage:
        """The page; `typed` by box, `problems` what was refused, by box."""
        rounds = rounds_of(self.mill, date.fromisoformat(self.place.date))
        stands = dict(_standing(versions, rounds[round_][1]))
        groups = boxes_of(self.mill, self.desk)
        values: dict[str, float] = {}
        for address in (a for g in groups.values() for a in g):
            text = typed.get(address, "") or self._text(stands.get(address))
            value = number_of(text) if text else None
            if value is not None:
                values[address] = value
        results = worked(self.mill.roles, values)
        sheets = []
        for key, title in sheets_of(self.desk):
            rows = tuple(self.row(a, stands.get(a), typed.get(a, ""), problems.get(a, ""))
                         for a in groups[key])  # fmt: skip
            possible = _possible(self.mill.roles, groups[key])
            shown = tuple(WorkedRow(k, name, results.get(k, ("", NOTHING))[1],
                                    "" if k == "dilution_indicator" else "%")
                          for k, name in possible)  # fmt: skip
            if rows:
                sheets.append(LabSheet(key, title, rows, shown))
        return LabPage(
            self.desk, self.place, day_in_words(self.place.date), self.mill.name, round_,
            tuple((k, words) for k, (words, _) in rounds.items()), tuple(sheets), line,
            tuple(f"{self._named(a)}: {why}" if a else why for a, why in problems.items()),
            typed.get("reason", ""), draft, self.mill.settings.laboratory.repeats,
            max((v.number for v in versions), default=0), USUAL_DAYS,
        )  # fmt: skip


def _possible(roles: Roles, addresses: Sequence[str]) -> list[tuple[str, str]]:
    """Results that a sheet can show, given what it asks."""
    asked = dict.fromkeys(addresses, 1.0)
    _, pol, fibre = map(roles.at, FOR_CCS)
    if pol in asked:
        asked[fibre] = 1.0
    return [(key, name) for key, (name, _) in worked(roles, asked).items()]


def with_repeats(
    rows: Sequence[dict[str, str]], versions: Sequence[Version], period: Period, rule: str
) -> list[dict[str, str]]:
    """Rows of repeats: each figure by the laboratory's rule, with all its results in the note.

    A row whose value is no number, or beside which nothing stands, is left as it is.
    """
    stands = dict(_standing(versions, period))
    made = []
    for row in rows:
        record = stands[row["box"]].record if row["box"] in stands else None
        value = number_of(row["value"])
        if isinstance(record, Reading) and record.given is not None and value is not None:
            results = (*results_of(record.note, record.given), value)
            figure = result_of(results, rule)
            row = row | {"value": f"{figure:.10g}", "note": note_of(results, rule)}
        made.append(row)
    return made


def readings_of(
    mill: Mill, typed: Mapping[str, str], round_: tuple[str, Period], source: str
) -> list[dict[str, str]]:
    """The typed values as rows of the layout of readings, each with its box beside."""
    start, end = (_as_typed(mill, t) for t in (round_[1].start, round_[1].end))
    times = {"": (start, end), "opening": (start, ""), "closing": (end, "")}
    rows = []
    for box, text in typed.items():
        address, _, at = box.partition("@")
        if text.strip() and address in mill.addresses:
            begun, over = times[at]
            rows.append({"address": address, "start": begun, "end": over, "value": text.strip(),
                         "unit": mill.addresses[address].unit, "source": source,
                         "box": box})  # fmt: skip
    return rows


def _as_typed(mill: Mill, instant: datetime) -> str:
    """The mill's local time; with its offset where the clock shows it twice."""
    local = mill.calendar.to_local(instant)
    twice = mill.calendar.is_twice(local.replace(tzinfo=None))
    return f"{local:%Y-%m-%dT%H:%M%z}" if twice else f"{local:%Y-%m-%dT%H:%M}"


def changed_only(page: LabPage, typed: Mapping[str, Any]) -> dict[str, str]:
    """What was typed and does not stand already."""
    stands = {r.box: r.stands for s in page.sheets for r in s.rows}
    return {a: t for a, t in typed.items() if a in stands and t.strip() and t.strip() != stands[a]}
