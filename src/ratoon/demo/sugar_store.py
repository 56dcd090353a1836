"""What became of Kestrel Point's sugar: lots, sister mills, sheds, refinery, fields; all invented.

The truth is walked here day by day with weighers that err, and told in files as the mill would
write it. It knows nothing of how the program reckons: stock is what truly came and went. Planted:
a hot lot, two lots whose analyses were exchanged, sugar that left without a docket and is missed by
a survey, a survey that is a little off by itself, a sister mill that stood for a week.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np

from ratoon.demo import season, sheets

HEADS = {
    "lots": ("lot", "start", "end", "mill", "brand", "tonnes", "pol", "moisture", "colour",
             "temperature", "shed", "cell"),
    "movements": ("movement", "time", "kind", "from", "to", "tonnes", "lot", "document"),
    "shed-surveys": ("shed", "time", "cell", "tonnes", "sigma", "height", "length", "angle",
                     "density"),
    "orders": ("order", "customer", "product", "packs", "earliest", "due"),
    "mill-weeks": ("mill", "week", "brand", "tonnes", "sigma"),
    "spread-loads": ("load", "time", "product", "farm", "block", "tonnes", "moisture"),
}  # fmt: skip
SISTERS = {"Bittern Creek": ("Brand 1", 2250.0, "rail"), "Saltpan": ("Brand 1", 1250.0, "road"),
           "Heron Bar": ("VHP", 1500.0, "barge")}  # fmt: skip
"""Brand, tonnes a week and how it comes."""
DOWN = ("Saltpan", date(2031, 7, 21))
MADE = {"Brand 1": (98.91, 0.10, 0.245, 0.022, 1790.0, 190.0),
        "VHP": (99.36, 0.07, 0.128, 0.012, 870.0, 110.0)}  # fmt: skip
"""True pol, moisture and colour of a brand with how lots scatter [%, %, IU]."""
HOT, HOT_AT = (date(2031, 8, 9), 1), (53.4, 0.41)
"""Mill day and shift of the hot lot; its temperature [degC] and moisture [%]."""
EXCHANGED = date(2031, 7, 30)
NO_DOCKET = {date(2031, 7, 24): 1500.0, date(2031, 8, 1): 1500.0, date(2031, 8, 8): 1500.0}
"""Sugar that left North on days when nobody wrote a docket [t]."""
SURVEYS = {date(2031, 7, 13): (-900.0, 1100.0), date(2031, 8, 12): (0.0, 1200.0)}
"""Surveys of North: what the survey itself misses by, and its standard uncertainty [t]."""
WEIGHER_IN, WEIGHER_OUT = 1.0018, 0.9991
MELT_A_DAY, SOLD_A_WEEK, VHP_A_WEEK = 520.0, 3000.0, 900.0
FULL_CELL = 7400.0
OPENING = {"North/9": 3900.0, "North/10": 2100.0, "South/4": 900.0}
WANTED = (("Saltbush Foods", "white 25 kg", 26_000), ("Plover Bakeries", "white 25 kg", 19_000),
          ("Sandpiper Stores", "white 1 kg", 430_000), ("Marram Drinks", "liquid 24 t", 21),
          ("Dunlin Confectioners", "white 1 t bag", 640),
          ("Curlew Preserves", "white 1 t bag", 510))  # fmt: skip
"""Customers, what they take, and packs a week."""
WEEKS_AHEAD = 30
SPREAD_ON = [(f"F{farm}", f"F{farm}-{block}") for block in ("01", "02") for farm in range(101, 107)]
"""Farms and their blocks that mud and ash go to."""


@dataclass
class _Yard:
    """What is truly in each shed, what the book says of each cell, and the rows written."""

    rng: np.random.Generator
    rows: dict[str, list[list[str]]]
    true: dict[str, float] = field(default_factory=dict)
    cells: dict[str, float] = field(default_factory=dict)
    filled: dict[str, datetime] = field(default_factory=dict)
    at: dict[str, int] = field(default_factory=lambda: {"North": 1, "South": 1})
    number: int = 0

    def cell(self, shed: str, tonnes: float) -> str:
        """The cell that is being filled; the next one when it is full."""
        count = 10 if shed == "North" else 4
        for _ in range(count):
            name = f"{shed}/{self.at[shed]}"
            if self.cells.get(name, 0.0) + tonnes <= FULL_CELL:
                return name
            self.at[shed] = self.at[shed] % count + 1
        raise ValueError(f"{shed} is full")

    def put(self, at: str, tonnes: float, when: datetime) -> None:
        """So much by the weigher; what truly came is a little else."""
        self.cells[at] = round(self.cells.get(at, 0.0) + tonnes, 1)
        self.filled.setdefault(at, when)
        shed = at.partition("/")[0]
        self.true[shed] = self.true.get(shed, 0.0) + tonnes / WEIGHER_IN

    def draw(
        self, shed: str, tonnes: float, when: datetime, kind: str, to: str, paper: str
    ) -> None:
        """Draw from the cells that were filled first, a movement for each."""
        tonnes = round(tonnes, 1)
        while tonnes > 0.0:
            held = [c for c, t in self.cells.items() if c.startswith(shed) and t > 0.0]
            if not held:
                return
            at = min(held, key=lambda c: self.filled[c])
            some = min(tonnes, self.cells[at])
            self.move(when, kind, at, to, some, paper=paper)
            self.cells[at] = round(self.cells[at] - some, 1)
            if self.cells[at] == 0.0:
                del self.filled[at]
            self.true[shed] -= some / WEIGHER_OUT
            tonnes = round(tonnes - some, 1)

    def move(
        self, when: datetime, kind: str, from_: str, to: str, tonnes: float, lot: str = "",
        paper: str = "",
    ) -> None:  # fmt: skip
        self.number += 1
        self.rows["movements"].append([f"M{self.number:05d}", _minute(when), kind, from_, to,
                                       f"{tonnes:.1f}", lot, paper])  # fmt: skip


def write_sugar(folder: Path, sugar: Mapping[date, float], seed: int) -> list[dict[str, object]]:
    """Files of sugar into `input`, its true stock into what is returned beside what was planted.

    Parameters
    ----------
    sugar : truly made on each mill day [t].
    """
    yard = _Yard(np.random.default_rng([seed, 17]), {name: [] for name in HEADS})
    first = datetime.combine(min(sugar), _SIX)
    for at, tonnes in OPENING.items():
        yard.put(at, tonnes, first - timedelta(days=20))
        yard.move(first - timedelta(hours=1), "adjust", "", at, tonnes, paper="carried over")
    told: list[dict[str, object]] = []
    for day, tonnes in sugar.items():
        told += _day(yard, day, tonnes)
    _customers(yard, max(sugar))
    _sister_weeks(yard, max(sugar))
    _spread(yard, sugar)
    for name, head in HEADS.items():
        if yard.rows[name]:
            sheets.write_csv(folder / "input" / f"{name}.csv", head, yard.rows[name])
    return [*told, {"what": "true stock", **{k: round(v, 1) for k, v in yard.true.items()}}]


_SIX = datetime.min.time().replace(hour=6)


def _minute(when: datetime) -> str:
    return when.strftime("%Y-%m-%dT%H:%M")


def _day(yard: _Yard, day: date, tonnes: float) -> Iterator[dict[str, object]]:
    begin = datetime.combine(day, _SIX)
    own = _own_lots(yard, day, begin, tonnes)
    sister = _from_sisters(yard, day, begin)
    if day == EXCHANGED and own is not None and sister is not None:
        a, b = (yard.rows["lots"][n] for n in (own, sister))
        a[6:9], b[6:9] = b[6:9], a[6:9]
        yield {"what": "analyses exchanged", "lots": [a[0], b[0]]}
    if day == HOT[0]:
        yield {"what": "hot lot", "lots": [f"K{day:%m%d}{HOT[1] + 1}"]}
    melted = MELT_A_DAY * float(np.clip(1.0 + 0.06 * yard.rng.standard_normal(), 0.5, 1.3))
    yard.draw("North", melted, begin + timedelta(hours=9), "melt", "refinery", f"W{day:%m%d}")
    if day.weekday() == 2:
        load = SOLD_A_WEEK * float(1.0 + 0.1 * yard.rng.standard_normal())
        yard.draw("North", load, begin + timedelta(hours=14), "load", "Osprey Shipping",
                  f"B{day:%m%d}")  # fmt: skip
        yard.draw("South", VHP_A_WEEK, begin + timedelta(hours=15), "load", "Marsh Sugar",
                  f"B{day:%m%d}V")  # fmt: skip
    if day in NO_DOCKET:
        yard.true["North"] -= NO_DOCKET[day]
        yield {"what": "left without a docket", "shed": "North", "tonnes": NO_DOCKET[day]}
    if day in SURVEYS:
        off, sigma = SURVEYS[day]
        seen = yard.true["North"] + off
        when, rows = _minute(begin + timedelta(hours=23)), yard.rows["shed-surveys"]
        rows.append(["North", when, "", f"{seen:.0f}", f"{sigma:.0f}", "", "", "", ""])
        ridge = _ridge(yard.true["South"], 70.0)
        rows.append(["South", when, "", "", "", f"{ridge:.2f}", "70", "36", "0.86"])
        yield {"what": "survey", "shed": "North", "day": day.isoformat(),
               "true": round(yard.true["North"], 1)}  # fmt: skip
    for n, (customer, product, packs) in enumerate(WANTED):
        if (day.toordinal() + n) % 4 == 0:
            each = {"white 25 kg": 0.025, "white 1 kg": 0.001, "liquid 24 t": 24.0}
            sold = packs * each.get(product, 1.0) * 4.0 / 7.0
            yard.move(begin + timedelta(hours=5, minutes=n), "load", f"refinery/{product}",
                      customer, round(sold, 1), paper=f"D{day:%m%d}{n}")  # fmt: skip


def _own_lots(yard: _Yard, day: date, begin: datetime, tonnes: float) -> int | None:
    """This mill's lots of a day, one a shift; the row of the last."""
    row = None
    for shift in range(3):
        weighed = tonnes / 3.0 * WEIGHER_IN
        if weighed < 20.0:
            continue
        start = begin + timedelta(hours=8 * shift)
        at = yard.cell("North", weighed)
        row = _lot(yard, f"K{day:%m%d}{shift + 1}", start, start + timedelta(hours=8), "",
                   "Brand 1", weighed, at)  # fmt: skip
        if (day, shift) == HOT:
            cells = yard.rows["lots"][row]
            cells[7], cells[9] = f"{HOT_AT[1]:.2f}", f"{HOT_AT[0]:.1f}"
    return row


def _from_sisters(yard: _Yard, day: date, begin: datetime) -> int | None:
    """Lots of the sister mills as they come, twice a week; the row of the last."""
    row = None
    for n, (mill, (brand, weekly, way)) in enumerate(SISTERS.items()):
        week = day - timedelta(days=day.weekday())
        if (day.weekday() + n) % 7 not in (1, 4) or (mill, week) == DOWN:
            continue
        tonnes = 0.5 * weekly * float(1.0 + 0.08 * yard.rng.standard_normal())
        shed = "South" if brand == "VHP" else "North"
        at = yard.cell(shed, tonnes)
        name = f"{mill[0]}{day:%m%d}"
        start = begin - timedelta(days=2)
        row = _lot(yard, name, start, start + timedelta(hours=30), mill, brand, tonnes, at)
        yard.move(begin + timedelta(hours=10 + n), "in", mill, at, tonnes, name, way)
    return row


def _lot(
    yard: _Yard, name: str, start: datetime, end: datetime, mill: str, brand: str, tonnes: float,
    at: str,
) -> int:  # fmt: skip
    pol, s_pol, moisture, s_moisture, colour, s_colour = MADE[brand]
    z = yard.rng.standard_normal(4)
    shed, _, cell = at.partition("/")
    yard.rows["lots"].append([
        name, _minute(start), _minute(end), mill, brand, f"{tonnes:.1f}",
        f"{pol + s_pol * z[0]:.2f}", f"{moisture + s_moisture * z[1]:.3f}",
        f"{colour + s_colour * z[2]:.0f}", f"{37.2 + 0.8 * z[3]:.1f}", shed, cell])  # fmt: skip
    yard.put(at, float(f"{tonnes:.1f}"), end)
    return len(yard.rows["lots"]) - 1


def _ridge(tonnes: float, length: float) -> float:
    """Ridge of a free heap of a length, found by adding up its columns [m]."""
    slope, density, step = math.tan(math.radians(35.8)), 0.868, 0.5
    along, across = np.meshgrid(np.arange(0.0, length, step), np.arange(-40.0, 40.0, step))
    low, high = 0.0, 0.5 * length * slope
    for _ in range(30):
        height = 0.5 * (low + high)
        foot = height / slope
        beyond = np.maximum(np.maximum(foot - along, along - (length - foot)), 0.0)
        columns = np.maximum(height - slope * np.hypot(beyond, across), 0.0)
        low, high = (height, high) if density * columns.sum() * step**2 < tonnes else (low, height)
    return 0.5 * (low + high)


def _customers(yard: _Yard, last: date) -> None:
    week = last - timedelta(days=last.weekday()) + timedelta(days=7)
    number = 2100
    for n in range(WEEKS_AHEAD):
        for customer, product, packs in WANTED:
            number += 1
            many = round(packs * (1.0 + 0.12 * float(yard.rng.standard_normal())))
            due = week + timedelta(days=7 * n + 6)
            yard.rows["orders"].append([f"P{number}", customer, product, str(max(many, 1)),
                                        (due - timedelta(days=13)).isoformat(),
                                        due.isoformat()])  # fmt: skip


def _sister_weeks(yard: _Yard, last: date) -> None:
    """What sister mills made in the weeks gone, and mean to in those ahead."""
    week = season.FIRST - timedelta(days=season.FIRST.weekday())
    end = date(2031, 11, 17)
    while week <= end:
        for mill, (brand, weekly, _) in SISTERS.items():
            past = week + timedelta(days=6) <= last
            made = weekly * float(1.0 + 0.07 * yard.rng.standard_normal()) if past else weekly
            if (mill, week) == DOWN:
                made = 0.0
            yard.rows["mill-weeks"].append([mill, week.isoformat(), brand, f"{made:.0f}",
                                            "" if past else f"{0.1 * weekly:.0f}"])  # fmt: skip
        week += timedelta(days=7)


def _spread(yard: _Yard, sugar: Mapping[date, float]) -> None:
    """Loads of mud and ash to blocks, some a day."""
    number = 0
    for k, (day, tonnes) in enumerate(sugar.items()):
        if tonnes < 100.0:
            continue
        for n in range(3):
            number += 1
            product = "ash" if n == 2 else "mud"
            farm, block = SPREAD_ON[(k // 6) % len(SPREAD_ON)]
            mass = (9.0 if product == "ash" else 19.0) * (1.0 + 0.05 * yard.rng.standard_normal())
            when = datetime.combine(day, _SIX) + timedelta(hours=3 + 2 * n)
            wet = "48" if product == "ash" else "74"
            yard.rows["spread-loads"].append(
                [f"S{number:04d}", _minute(when), product, farm, block, f"{mass:.1f}", wet]
            )
