"""The worked day of the explanations, written from a day's result: no figure in it is typed.

Run ``python -m ratoon.documents.worked_day`` to print it; a test compares it with the page.
"""

from __future__ import annotations

import sys
from pathlib import Path

from ratoon.account.results.day import POLS, DayResult, LossName, LossResult, PolResult
from ratoon.account.results.trust import ReadingResult
from ratoon.plant.roles import Roles
from ratoon.reports.numbers import show, show_money, signed

READINGS = ("{cane}.weight", "{water in imbibition}", "{mixed juice}.flow", "{mixed juice}.brix",
            "{final bagasse}.pol", "{sugar}.weight", "{final molasses}.weight")  # fmt: skip
FIGURES = ("account.cane", "account.extraction", "account.bagasse_pol",
           "account.boiling_house_recovery", "account.overall_recovery")  # fmt: skip
LOSSES: dict[LossName, str] = {
    "bagasse": "bagasse", "mud": "mud", "molasses": "molasses",
          "known": "inversion and entrainment", "undetermined": "undetermined"}  # fmt: skip


def _roles() -> Roles:
    """What the stations of the invented mill are."""
    import ratoon.demo
    from ratoon.plant.build import stations_of
    from ratoon.settings import read_settings

    return stations_of(
        read_settings(Path(ratoon.demo.__file__).parent / "data" / "mill.toml")
    ).roles


def worked_day(result: DayResult) -> str:
    """A page of Markdown about one accounted day: readings, intervals, the undetermined loss."""
    lines = [
        "# A worked day",
        "",
        f"The invented mill on {result.date}, told for the manager who reads its sheet.",
        "Every figure on this page is written by the program from that day's account.",
        "",
        "Every day the same sugar is measured many times over: in the cane, in the juice, in the",
        "liquor, in the bags. The measurements never quite agree. The account finds the one day",
        "that fits all balances and stays as near to the readings as their uncertainties allow.",
        "Then each figure has an interval: the truth lies within ± of it on 95 days of 100, if the",
        "stated uncertainties are honest. A sigma is the size of a usual error; ± is two of them.",
        "",
        "## What was read, and what the account made of it",
        "",
        "| reading | as read | in the account | moved by | checked by others |",
        "|---|---|---|---|---|",
    ]
    by_address = {r.address: r for r in result.readings if r.used}
    addresses = map(_roles().at, READINGS)
    lines += [_reading(by_address[a]) for a in addresses if a in by_address]
    moved = max((r for r in result.readings if r.standardised is not None),
                key=lambda r: abs(r.standardised or 0.0))  # fmt: skip
    test = result.global_test
    assert test is not None
    assert test.p is not None
    lines += [
        "",
        "Each reading was moved as little as its uncertainty allows, so that all balances hold at "
        "once.",
        "Plus means that it was read higher than the account has it.",
        f"The one moved farthest for its uncertainty is {moved.name.lower()}: {_sigmas(moved)}.",
        "Beyond about three it would be worth a walk to the meter. All of them together are tested",
        f"too: ordinary errors alone set readings as far apart on {100 * test.p:.0f} days of",
        f"100 (chi-square {test.statistic:.1f} on {test.dof} degrees of freedom). Below one",
        "day in 100 the sheet says that they contradict one another, and names the likeliest.",
        "",
        "\"Checked by others\" runs from 0 to 1. Near 1, the other readings know this one almost",
        "as well without it, and an error in it would be seen. Near 0 nobody else knows it: it is",
        "believed as read.",
        "",
        "## What the intervals say",
        "",
        "| figure | value | its uncertainty comes most from |",
        "|---|---|---|",
    ]  # fmt: skip
    lines += [_figure(result, a) for a in FIGURES]
    lines += [
        "",
        "The interval says what may be acted on. A figure whose interval holds its target is not",
        "off target as far as anybody can tell today. The last column says whose uncertainty it "
        "is.",
        *_next(result),
        "",
        "## Where the sugar went",
        "",
        *_losses(result),
        *_worth(result),
    ]
    return "\n".join(lines) + "\n"


def _sigmas(reading: ReadingResult) -> str:
    return f"{signed(reading.standardised or 0.0, 1)} sigma"


def _reading(r: ReadingResult) -> str:
    moved = "not at all: nothing else tells" if r.standardised is None else _sigmas(r)
    return (
        f"| {r.name} | {show(r.value, r.sigma_given, r.unit).whole} | "
        f"{show(r.adjusted, r.sigma, r.unit).whole} | {moved} | "
        f"{r.detectability:.2f} |"
    )


def _figure(result: DayResult, address: str) -> str:
    figure, working = result.figures[address], result.working[address]
    shares = ", ".join(f"{s.name} {100 * s.share:.0f} %" for s in working.shares[:2])
    shown = show(figure.value, figure.sigma, figure.unit).whole
    return f"| {figure.name} | {shown} | {shares} |"


def _losses(result: DayResult) -> list[str]:
    lines = ["| pol in | t | % of pol in cane |", "|---|---|---|"]
    parts: list[tuple[str, PolResult | LossResult]] = [
        (n.replace("_", " "), result.pol[n]) for n in POLS
    ]
    parts += [(words, result.losses[name]) for name, words in LOSSES.items()]
    for name, p in parts:
        t, pct = show(p.t, p.t_sigma, "t").text, show(p.pct, p.pct_sigma, "%").text
        half_t, half = show(p.t, p.t_sigma, "t").interval, show(p.pct, p.pct_sigma,
                                                                    "%").interval  # fmt: skip
        lines.append(
            f"| {name} | {t}{f' ± {half_t}' if half_t else ''} |"
            f" {pct}{f' ± {half}' if half else ''} |"
        )
    return [*lines, "", *_undetermined(result)]


def _undetermined(result: DayResult) -> list[str]:
    """What the day can say of the undetermined loss."""
    loss = result.losses["undetermined"]
    lines = [
        "The undetermined loss is no remainder: it is a quantity of its own, estimated with all",
        "the others, free to be negative.",
    ]
    if loss.pct is None:
        return [
            *lines,
            "On this day too little was read to determine it, and nothing is put there.",
        ]
    found = show(loss.pct, loss.pct_sigma, "%").whole
    lines += [
        f"Here it is {found} of pol in cane. A day read like this one shows no loss below",
        f"{3 * (loss.pct_sigma or 0.0):.1f} % of pol in cane, however carefully it is worked.",
    ]
    if result.undetermined_is_real:
        lines.append("This one is larger, and the readings agree: it is shown.")
    else:
        lines.append("So this day alone gives no ground to send anybody looking for lost sugar.")
    lines += [
        "Most of that is stock in process: what stood in pans and tanks at both ends is known to",
        "a few per cent only. Over a week the same stocks weigh a seventh as much, so the week to",
        "date, an account of its own, sees smaller losses. Entrainment of half a per cent hides in",
        "a day; the sugar test of the condenser's water finds it the same morning.",
    ]
    return lines


def _next(result: DayResult) -> list[str]:
    """Which one more reading would narrow the recovery most."""
    part = result.next_reading
    if not part or not part.best:
        return []
    best = part.best[0]
    what = "a second one" if best.again else "one"
    return [
        "",
        f"Overall recovery stands to ± {1.96 * part.sigma:.2f}. Of all readings that could be",
        f"had, {what} of {best.name} would narrow it most: to ± {1.96 * best.sigma:.2f}.",
    ]


def _worth(result: DayResult) -> list[str]:
    """What one unit of some figures earns a day."""
    if result.worth is None:
        return []
    units = sorted((u for u in result.worth.units if u.follows), key=lambda u: -abs(u.money))[:4]
    if not units:
        return []
    currency = result.prices.currency
    lines = ["", "## What one unit is worth", "", "| figure | change | a day | by |",
             "|---|---|---|---|"]  # fmt: skip
    for one in units:
        money = show_money(one.money, abs(one.money) / 30, currency).text
        change = f"{signed(one.step, 0)} {one.unit}"
        lines.append(f"| {one.name} | {change} | {money} | {one.how} |")
    return [
        *lines,
        "",
        "Worked out with the plant's own equations: a lever of the plant is moved a little, and",
        "the money is divided by how far the figure moved. The sheet prices missed targets so.",
    ]


def invented_day() -> DayResult:
    """The account of the invented mill's second day, made anew from its files."""
    from datetime import date
    from tempfile import TemporaryDirectory

    from ratoon.demo.write import write_demo
    from ratoon.jobs.files.imports import import_files
    from ratoon.jobs.mills import in_mill
    from ratoon.jobs.sheet.day import account_day

    with TemporaryDirectory() as name:
        folder = Path(name)
        write_demo(folder, days=2)
        import_files(folder, sorted((folder / "input").iterdir()))
        return in_mill(folder, account_day, date(2031, 6, 11))


if __name__ == "__main__":
    sys.stdout.write(worked_day(invented_day()))
