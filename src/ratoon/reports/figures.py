"""From the account's result to the sheet's rows: figures, losses, stocks and workings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ratoon.account.results.day import (
    LOSSES,
    DayBefore,
    DayResult,
    FigureResult,
    LossName,
    LossResult,
    PolName,
    PolResult,
    ToDate,
)
from ratoon.account.results.trust import WorkingResult
from ratoon.reports.layout import GROUPS, LOSS_NAMES, POL_NAMES, Line
from ratoon.reports.morning import Amount, Group, LossRow, Row, StockRow, Working
from ratoon.reports.numbers import (
    NOTHING,
    Shown,
    as_written,
    decimals_of,
    show,
    show_money,
    signed,
    unit_as_read,
)

# A suspect with less than this share of a figure's variance does not make the figure doubtful.
WEIGHTY_SHARE = 0.25
# Of its own sigma by which a figure must move for it to be shown with every reading in as well.
APART = 0.5


def reading_names(result: DayResult) -> dict[str, str]:
    """What people call each reading and figure; its address where the account gave no name."""
    figures = {address: part.name for address, part in result.figures.items()}
    return figures | {r.address: r.name or r.address for r in result.readings}


def suspect_addresses(result: DayResult) -> set[str]:
    """Every suspect reading that counts, and every member of its equivalent set."""
    found = {a for s in result.suspects if not s.set_aside for a in (s.reading, *s.equivalent)}
    return found - {s.reading for s in result.set_aside}


def with_all_of(result: DayResult, address: str) -> Shown | None:
    """A figure with every reading in, where that is another than the headline's."""
    other, mine = (result.with_all or {}).get(address), result.figures.get(address)
    if other is None or mine is None or mine.value is None:
        return None
    least = APART * (mine.sigma or 0.0)
    if other.value is not None and abs(other.value - mine.value) <= least:
        return None
    return show(other.value, other.sigma, mine.unit)


def _shown(part: FigureResult | None) -> Shown:
    return show(part.value, part.sigma, part.unit) if part else show(None, None)


def _figure(to_date: ToDate | DayBefore | None, address: str) -> FigureResult | None:
    return to_date.figures.get(address) if to_date else None


def verdict(value: float | None, half: float | None, target: float | None) -> str:
    """What the day can say about a target: "above", "below", "on target" or "not told apart"."""
    if value is None or target is None:
        return ""
    difference = value - target
    if half and abs(difference) <= half:
        return "not told apart"
    if difference == 0:
        return "on target"
    return "above" if difference > 0 else "below"


def is_bad(line: Line, said: str) -> bool:
    """Whether the figure is surely on the worse side of its target."""
    worse = {"high": ("below",), "low": ("above",), "near": ("above", "below"), "": ()}
    return said in worse[line.better]


def is_doubted(working: WorkingResult | None, suspects: set[str]) -> bool:
    """Whether a suspect reading stands at this figure or holds a weighty share of its variance."""
    if not working:
        return False
    own = working.reading
    if own and own.address in suspects:
        return True
    return any(s.reading in suspects and s.share >= WEIGHTY_SHARE for s in working.shares)


def row_of(result: DayResult, line: Line, suspects: set[str]) -> Row | None:
    """One figure's row; None when neither the day nor anything to date knows the figure."""
    address = line.address
    day = result.figures.get(address)
    week = _figure(result.to_date.get("week"), address)
    season = _figure(result.to_date.get("season"), address)
    last_year = _figure(result.last_year, address)
    yesterday = _figure(result.day_before, address)
    known = day or week or season
    if not known:
        return None
    shown = _shown(day)
    target = result.targets.get(address)
    said = verdict(shown.value, shown.half, target)
    unit = known.unit
    decimals = decimals_of(shown.value, shown.sigma, unit) if shown.value is not None else 1
    working = result.working.get(address)
    low, high = line.low, line.high
    if low == high and target:
        low, high = 0.5 * target, 1.5 * target
    difference = ""
    if shown.value is not None and target is not None:
        difference = signed(shown.value - target, decimals)
    return Row(
        address=address,
        name=line.name,
        unit=unit_as_read(unit),
        kind=day.kind if day else "not determined",
        day=shown,
        week=_shown(week),
        season=_shown(season),
        last_year=_shown(last_year),
        yesterday=_shown(yesterday),
        target=as_written(target, decimals) if target is not None else "",
        target_value=target,
        difference=difference,
        verdict=said,
        bad=is_bad(line, said),
        doubted=address in result.moved or is_doubted(working, suspects),
        assumed=bool(working and working.rests_on_assumptions),
        low=low,
        high=high,
        rests_on_stock=bool(result.swing and address in result.swing.figures),
        with_all=with_all_of(result, address),
    )


def groups_of(result: DayResult) -> tuple[Group, ...]:
    """The rows of the sheet by part of the plant; a figure nobody laid out goes to the end."""
    suspects = suspect_addresses(result)
    groups: list[Group] = []
    for title, lines in GROUPS:
        rows = [row_of(result, line, suspects) for line in lines]
        kept = tuple(row for row in rows if row)
        if kept:
            groups.append(Group(title, kept))
    laid_out = {line.address for _, lines in GROUPS for line in lines}
    others = [
        row_of(result, Line(address, part.name, 0.0, 0.0), suspects)
        for address, part in result.figures.items()
        if address.startswith("account.") and address not in laid_out
    ]
    more = tuple(row for row in others if row)
    return (*groups, Group("More", more)) if more else tuple(groups)


def _loss_amount(part: LossResult | None, currency: str) -> Amount:
    if not part:
        return Amount(show(None, None), show(None, None), show(None, None))
    return Amount(
        show(part.t, part.t_sigma, "t"),
        show(part.pct, part.pct_sigma, "%"),
        show_money(part.money, part.money_sigma, currency),
    )


def _pol_amount(part: PolResult | None) -> Amount:
    if not part:
        return Amount(show(None, None), show(None, None), show(None, None))
    return Amount(
        show(part.t, part.t_sigma, "t"),
        # nothing is a hundred per cent of a pol that is not determined
        show(part.pct if part.t is not None else None, part.pct_sigma, "%"),
        show(None, None),
    )


def _loss_note(part: LossResult | None) -> str:
    if not part:
        return ""
    parts = [
        f"{p.name} {show(p.pct, p.pct_sigma, '%').whole}" for p in part.parts if p.pct is not None
    ]
    return "; ".join(filter(None, [", ".join(parts), part.money_net]))


def losses_of(result: DayResult) -> tuple[LossRow, ...]:
    """The loss account: pol in cane, sugar, stock change, and the five losses that make it up."""
    currency = result.prices.currency
    week, season = result.to_date.get("week"), result.to_date.get("season")

    suspects = suspect_addresses(result)

    def doubted(short: str) -> bool:
        address = f"account.{short}"
        return address in result.moved or is_doubted(result.working.get(address), suspects)

    def pol(key: PolName) -> LossRow:
        parts = [p.pol.get(key) if p else None for p in (result, week, season)]
        day, of_week, of_season = (_pol_amount(p) for p in parts)
        return LossRow(key, POL_NAMES[key], day, of_week, of_season, "", doubted(f"pol.{key}"))

    def loss(key: LossName) -> LossRow:
        parts = [p.losses.get(key) if p else None for p in (result, week, season)]
        day, of_week, of_season = (_loss_amount(p, currency) for p in parts)
        address = key if key == "undetermined" else f"loss.{key}"
        return LossRow(key, LOSS_NAMES[key], day, of_week, of_season, _loss_note(parts[0]),
                       doubted(address))  # fmt: skip

    return (pol("cane"), pol("sugar"), pol("stock_change"), *(loss(key) for key in LOSSES))


def stocks_of(result: DayResult) -> tuple[StockRow, ...]:
    """Stocks in process at both ends of the mill day, with the pol in them at the end."""
    return tuple(
        StockRow(
            name=s.name,
            opening=show(s.opening, None, s.unit),
            closing=show(s.closing, None, s.unit),
            pol=show(s.pol_t, s.pol_sigma, "t"),
            unit=unit_as_read(s.unit),
            address=s.address,
        )
        for s in result.stocks
    )


def entered_in_words(at: str, who: str) -> str:
    """When a reading came into the records, and by whom: "2031-08-15 07:10 by j.smith"."""
    if not at:
        return NOTHING
    return at[:16].replace("T", " ") + (f" by {who}" if who else "")


def _own_reading(part: WorkingResult) -> Iterable[tuple[str, str]]:
    own = part.reading
    if not own:
        return
    yield "reading", own.address
    yield "read", show(own.value, own.sigma, own.unit).whole
    yield "adjusted to", show(own.adjusted, own.sigma, own.unit).whole
    if own.standardised is not None:
        yield "adjustment", f"{signed(own.standardised, 1)} sigma"
    rows = own.rows
    if len(rows) > 1:
        yield "made from", f"{len(rows)} rows"
        for row in rows:
            yield "row", row
    else:
        yield "source", own.source or NOTHING
    yield "entered", entered_in_words(own.entered, own.entered_by)


def working_of(
    address: str, part: WorkingResult, figure: FigureResult | None, names: Mapping[str, str]
) -> Working:
    """The working behind one figure, in words."""
    return Working(
        address=address,
        name=part.name,
        shown=_shown(figure),
        kind=figure.kind if figure else "not determined",
        formula=part.formula,
        source=part.equation_source,
        inputs=tuple((i.address, i.name, show(i.value, i.sigma, i.unit)) for i in part.inputs),
        reading=tuple(_own_reading(part)),
        shares=tuple(
            (
                s.name or names.get(s.reading, s.reading),
                s.kind,
                f"{100 * s.share:.0f} %",
                s.reading,
            )
            for s in part.shares
        ),
        assumed=part.rests_on_assumptions,
    )


def workings_of(result: DayResult) -> tuple[Working, ...]:
    """Every working that the account gave."""
    names = reading_names(result)
    figures = dict(result.figures)
    for row in losses_of(result):
        if row.address not in figures and row.day.t.value is not None:
            figures[row.address] = _in_tonnes(row)
    return tuple(
        working_of(address, part, figures.get(address), names)
        for address, part in result.working.items()
    )


def _in_tonnes(row: LossRow) -> FigureResult:
    """A line of the loss account as a figure [t]."""
    return FigureResult(row.day.t.value, "t", row.day.t.sigma, "found", row.name)
