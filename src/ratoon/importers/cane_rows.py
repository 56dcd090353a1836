"""Rows of cane receival to records; masses in whole kilograms, analyses in fractions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from ratoon.base.clock import Calendar
from ratoon.base.season import HOURS, UNDATED, CostRow, MillDay, PlanWeek, ZoneRow
from ratoon.cane.harvest import Dispatch, FarmHarvest, RosterShift
from ratoon.cane.records import Bin, Block, BlockSeason, Consignment, FibreSample, Sample, Tip
from ratoon.importers.records import Cell, CellRefused
from ratoon.importers.sugar_rows import SUGAR_READERS, SugarRecord
from ratoon.importers.worded_row import WordedRow as _Row

"""When a plan was made whose rows do not say so: known once its first week is."""
LONGEST_ACCOUNT = 60


@dataclass(frozen=True, slots=True)
class Point:
    """One moment of a long series: its values in inside units."""

    series: str
    time: datetime
    values: tuple[float, ...]


CaneRecord = (Block | Consignment | Bin | Tip | Sample | FibreSample | Point
              | BlockSeason | FarmHarvest | RosterShift | Dispatch | MillDay | ZoneRow
              | PlanWeek | CostRow | SugarRecord)  # fmt: skip


def _block(r: _Row) -> Block:
    area = r.number("area", 0, 10_000, "ha", needed=False)
    estimate = r.number("estimate", 0, 1e6, "t", needed=False)
    return Block(
        r.word("block", True), r.word("farm", True), r.word("grower", True),
        r.word("variety", True), r.word("fibre_class"), r.word("crop"), area or 0.0,
        round(1000 * (estimate or 0)), tuple(r.word("neighbours").split()),
        r.more("siding"), r.more("group"), r.more("district"), _distance(r),
        r.more("zone"),
    )  # fmt: skip


def _block_season(r: _Row) -> BlockSeason:
    season, parcels = r.whole("season", 2200, ""), r.whole("parcels", 10_000, "parcels")
    for column, value, least in (("season", season, 1900), ("parcels", parcels, 1)):
        if value is None or value < least:
            raise CellRefused(column, str(r.row[column]), f"allowed: {least} or more")
    assert season is not None and parcels is not None
    return BlockSeason(r.word("block", True), season, parcels, r.share("ccs"), r.share("district"))


def _distance(r: _Row) -> str:
    if not r.more("distance"):
        return ""
    return str(Decimal(str(r.number("distance", 0, 1000, "km"))))


def _consignment(r: _Row) -> Consignment:
    return Consignment(
        r.word("consignment", True), r.word("grower"), r.word("farm"), r.word("block"),
        r.word("variety"), r.time("cut", False), r.one_of("harvest", ("green", "burnt")),
        r.time("burnt", False), r.whole("bins", 1000, "bins"), tuple(r.word("tags").split()),
        r.word("fibre_class"),
    )  # fmt: skip


def _bin(r: _Row) -> Bin:
    return Bin(
        r.word("tag", True), r.word("consignment"), r.time("weighed"),
        r.whole("gross", 200_000, "kg"), r.whole("tare", 100_000, "kg"), r.time("tare_time", False),
        r.one_of("tare_kind", ("weighed", "stored")), r.word("rake"),
        r.one_of("transport", ("rail", "road"), "rail"),
    )  # fmt: skip


def _tip(r: _Row) -> Tip:
    return Tip(r.word("tag", True), r.time("tipped"), r.word("tippler"))


def _speed(r: _Row) -> Point:
    return Point(
        "speed " + r.word("carrier", True), r.time("time"),
        (float(r.number("speed", 0, 10, "m/s")),),
    )  # fmt: skip


def _sample(r: _Row) -> Sample:
    start, end = r.time("start"), r.time("end")
    if end <= start:
        raise CellRefused("end", r.row["end"], "not after the start")
    brix, pol = r.share("brix", False), r.share("pol", False)
    if brix is not None and pol is not None and pol > brix:
        raise CellRefused("pol", r.row["pol"], "above brix. Swapped columns?")
    return Sample(r.word("bottle", True), r.word("consignment"), start, end, brix, pol)


def _fibre(r: _Row) -> FibreSample:
    kind, note = r.word("fibre_class"), r.word("consignment")
    if not kind and not note:
        raise CellRefused("fibre_class", "", "neither class nor consignment is given")
    return FibreSample(r.word("sample", True), kind, note, r.time("time"), r.share("fibre"))


def _near_infrared(r: _Row) -> Point:
    values = (r.share("brix"), r.share("pol"), r.share("fibre"))
    return Point("near_infrared", r.time("time"), values)


def _harvest(r: _Row) -> FarmHarvest:
    return FarmHarvest(r.word("farm", True), r.word("group", True), r.word("siding", True),
                       r.number("travel", 0, 48, "h"))  # fmt: skip


def _roster(r: _Row) -> RosterShift:
    start, end = r.time("start"), r.time("end")
    if not timedelta(0) < end - start <= timedelta(days=2):
        raise CellRefused("end", r.row["end"], "not after the start, or more than 48 h after it")
    return RosterShift(r.word("group", True), start, end, r.number("rate", 0, 2000, "t/h"))


def _dispatch(r: _Row) -> Dispatch:
    tags = tuple(dict.fromkeys(r.word("tags", True).split()))
    return Dispatch(r.word("rake", True), r.word("siding", True), r.time("left"), tags)


def _mill_day(r: _Row) -> MillDay:
    day = r.day("date")
    figures = {name: r.number(name, 0, high, unit, needed=False)
               for name, high, unit in MillDay.LIMITS}  # fmt: skip
    lost = sum(figures[name] or 0.0 for name in HOURS)
    if lost > MillDay.LONGEST:
        raise CellRefused("planned", f"{lost:g}", "more hours lost than a day has")
    return MillDay(day, **figures)


def _zone(r: _Row) -> ZoneRow:
    found = ZoneRow(
        r.word("zone", True), r.day("as_of"), r.number("area", 0, 1e6, "ha"),
        r.number("estimate", 0, 1e8, "t"), r.number("sigma", 0, 100, "%", needed=False),
        r.number("area_cut", 0, 1e6, "ha", needed=False),
        r.number("cut", 0, 1e8, "t", needed=False),
    )  # fmt: skip
    column, why = found.fault()
    if column:
        raise CellRefused(column, str(r.row[column]), why)
    return found


def _plan_week(r: _Row) -> PlanWeek:
    week = r.calendar.first_of_week(r.day("week"))
    made = r.day("made") if r.more("made") else UNDATED
    figures = {name: r.number(name, low, high, unit, needed=False)
               for name, low, high, unit in PlanWeek.LIMITS}  # fmt: skip
    cane, sugar = figures["cane"], figures["sugar"]
    if cane is not None and (sugar or 0.0) > cane:
        raise CellRefused("sugar", f"{sugar:g}", f"more sugar than cane, {cane:g} t")
    return PlanWeek(made, week, **figures, source=r.word("source"))


def _cost(r: _Row) -> CostRow:
    account = r.word("account", True)
    if len(account) > LONGEST_ACCOUNT:
        raise CellRefused("account", account[:20], f"longer than {LONGEST_ACCOUNT} letters")
    return CostRow(
        r.calendar.first_of_week(r.day("week")), account,
        r.number("amount", -1e12, 1e12, "money"), r.word("unit") or "money", r.word("note"),
    )  # fmt: skip


READERS: dict[str, Callable[[_Row], CaneRecord]] = {
    "blocks": _block,
    "block_seasons": _block_season,
    "consignments": _consignment,
    "bins": _bin,
    "tips": _tip,
    "speeds": _speed,
    "samples": _sample,
    "fibre": _fibre,
    "near_infrared": _near_infrared,
    "harvest": _harvest,
    "rosters": _roster,
    "dispatches": _dispatch,
    "earlier_days": _mill_day,
    "zones": _zone,
    "plan": _plan_week,
    "costs": _cost,
    **SUGAR_READERS,
}


def understand_cane(
    layout: str, row: Mapping[str, Cell], mark: str, calendar: Calendar
) -> CaneRecord:
    """The record that a row of a cane layout holds.

    Raises
    ------
    CellRefused : the first cell that is not what its column wants.
    """
    return READERS[layout](_Row(row, mark, calendar))
