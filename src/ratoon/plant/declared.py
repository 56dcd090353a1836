"""What a station declares beside its equations; every other room only reads these.

Each thing is said once, in the station's own file: what a simulation sets and how far it may be
moved, what holds a part of the plant, what limits it, what is usual, how it is shown, what it is
in the account and what can hurt.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from ratoon.base.records import JobKind
from ratoon.plant.cautions import CONFINED, HOT
from ratoon.plant.streams import JUICE, Quantities, Quantity, Stream, read

OWN = "own"
Side = Literal["at most", "at least"]


@dataclass(frozen=True, slots=True)
class Range:
    """Lowest and highest that a mill would try, in the address's trade unit.

    With `of` they are shares instead: of the mill file's own value (`OWN`), or of another setting.
    Common practice, no source. Where every setting is inside its range the plant has an answer:
    the tests draw them at random.
    """

    low: float
    high: float
    of: str = ""


UNSEEN = Range(-0.4, 1.0)
"""Of a loss that is not seen [t/h]."""

Group = Literal["Cane", "Mills", "Juice", "Evaporators", "Pans",
                "Crystallisers, centrifugals, dryer", "Steam and power"]  # fmt: skip
GROUPS: tuple[Group, ...] = get_args(Group)
"""Groups of sliders in the order of the page of trials."""


@dataclass(frozen=True, slots=True)
class Slider:
    """How far a person moves a quantity on the page of trials, on both sides of the day.

    `reach` and `step` in the address's trade unit; with `relative` the reach is a share of the
    day's value.
    """

    group: Group
    text: str
    reach: float
    step: float
    relative: bool = False


@dataclass(frozen=True, slots=True)
class Setting:
    """A quantity that can be set, by a simulation or on the page of trials.

    Parameters
    ----------
    value : what the mill file sets [inside unit]; None for an assumed quantity of the table, which
        a simulation takes from there.
    holds : the figure that a control brings to this set point, where it is one.
    still : for what stands still in a trial: the address whose figure on the day it takes, or
        `OWN` for what the table says. Nobody is offered to set it.
    """

    address: str
    value: float | None = None
    range: Range | None = None
    slider: Slider | None = None
    holds: str = ""
    still: str = ""


@dataclass(frozen=True, slots=True)
class AtWork:
    """Vessels side by side, of which a trial may take some off line.

    Parameters
    ----------
    address : by which a trial says what is at work.
    sizes : surface [m2] or room [m3] of each; empty where the mill file does not tell them apart.
    scales : the setting that goes with what is at work.
    counted : whether equal ones are told by their number, and others by their room.
    effect : the effect that is by-passed where none of them is at work; 0 for what cannot be.
    """

    address: str
    text: str
    sizes: tuple[float, ...]
    scales: str
    counted: bool = False
    effect: int = 0


SMALL_FLOW = 0.05  # t/h: less than this is no flow


@dataclass(frozen=True, slots=True)
class Miss:
    """A figure that is not at its set point, or a flow that is not zero.

    Parameters
    ----------
    figure, point : addresses of the figure and of what it should be; `point` is empty for zero.
    side : on which side of the point the figure is when it is not held.
    slack : how far off, in trade units, still counts as held.
    words : ``{figure}`` and ``{point}`` stand for values without unit.
    binds : whether it is told as a limit.
    """

    figure: str
    point: str
    side: Literal["below", "above"]
    slack: float
    words: str
    binds: bool = True

    def off(self, values: Mapping[str, float]) -> float:
        """How far the figure is from its point, to the side that counts [trade unit]."""
        far = values.get(self.figure, 0.0) - values.get(self.point, 0.0)
        return -far if self.side == "below" else far

    def tell(self, words: str, values: Mapping[str, float], shown: Callable[[float], str]) -> str:
        """Words with the values in them."""
        found = (shown(abs(values.get(a, 0.0))) for a in (self.figure, self.point))
        return words.format(**dict(zip(("figure", "point"), found, strict=True)))


@dataclass(frozen=True, slots=True)
class Regime:
    """Who holds one part of the plant: its control, or the first of what can be in the way.

    `held` says so where nothing is missed, with the values of the first miss.
    """

    name: str
    misses: tuple[Miss, ...]
    held: str

    def missed(self, values: Mapping[str, float]) -> Miss | None:
        """What is missed, from values in trade units."""
        return next((m for m in self.misses if m.off(values) > m.slack), None)


@dataclass(frozen=True, slots=True)
class Limit:
    """A figure and what it may not pass: a value [inside unit] or the address of another figure.

    `clears` says what would lift it. A load has its limit at 1.
    """

    address: str
    at: float | str
    side: Side = "at most"
    clears: str = ""

    @property
    def is_load(self) -> bool:
        """Whether it is a share of a station's rating."""
        return self.address.endswith(".load")


@dataclass(frozen=True, slots=True)
class Usual:
    """The range in which nearly every mill's figure lies [trade unit named]; common practice."""

    address: str
    low: float
    high: float
    unit: str = "%"


@dataclass(frozen=True, slots=True)
class Fall:
    """An assumed figure falls as what is named in `grows` grows, by an assumed power."""

    figure: str
    grows: str
    power: str


@dataclass(frozen=True, slots=True)
class Check:
    """What to look at when a reading is suspect, unless the mill file says it; common practice.

    `who` looks; empty for who reads quantities of its kind.
    """

    address: str
    words: str
    who: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """A physical act: what is done, where, by whom, and what can hurt; common practice, no source.

    A mill's own names of people and its own procedures come first. `presses` : figures that the
    act makes worse; while one of them misses its target the act is not asked for.
    """

    what: str
    where: str
    who: str
    caution: str = ""
    presses: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Lever:
    """A figure whose unit is priced, and what is moved in the plant to change it.

    `step` in the figure's trade unit; `moved` by `by` in inside units, both ways. `job` moves the
    figure to the side of `step`; without one it is priced and never asked for.
    """

    figure: str
    step: float
    moved: str
    by: float
    how: str
    job: Job | None = None


@dataclass(frozen=True, slots=True)
class Call:
    """A job that a figure calls for when it is surely past a level.

    Parameters
    ----------
    figure : address of what is looked at; of a test of water, "sugar in boiler water".
    at : the level in the figure's trade unit, `TARGET` for the mill file's own, `SHOWN` for what
        the account itself judges, or a step of the ladder of a test of water.
    otherwise : the level where the mill file has no target; None to ask for nothing then.
    loss : address of the loss that it prices, whole or beyond the level; empty for no money.
    """

    kind: JobKind
    figure: str
    side: Side
    at: float | str
    job: Job
    otherwise: float | None = None
    loss: str = ""


SUPERVISOR, TECHNICIAN, LABORATORY = "shift supervisor", "instrument technician", "laboratory"
MILLING, BOILERS = "milling supervisor", "boiler attendant"
TARGET, SHOWN = "target", "shown"
BOILER_WATER = "sugar in boiler water"


@dataclass(frozen=True, slots=True)
class Flow:
    """A stream or a flow of steam on a drawing.

    `stem` begins the addresses of its qualities, `flow` is the address of its t/h (its stem's own
    where left out), `kind` says what it carries. `told` gives addresses of qualities that are not
    under its stem: a juice has the temperature of the heater that it leaves.
    """

    stem: str
    text: str
    kind: str
    flow: str = ""
    told: tuple[tuple[str, str], ...] = ()

    @property
    def flow_address(self) -> str:
        return self.flow or f"{self.stem}.flow"


@dataclass(frozen=True, slots=True)
class Place:
    """A place on the drawing of the plant and a page of its own.

    Parameters
    ----------
    section : the row of the drawing, a key of `SECTIONS`.
    stems : beginnings of the addresses that belong to it.
    figures : name and address of what is shown in its box.
    before : the key of the place of its row before which it is shown; else it is in station order.
    stream : what comes to it along the row; `leaves` what leaves it there, where it is the last.
    back : what runs from it to the place before.
    comes, goes : side streams.
    """

    section: str
    key: str
    title: str
    stems: tuple[str, ...]
    figures: tuple[tuple[str, str], ...] = ()
    stream: Flow | None = None
    leaves: Flow | None = None
    back: Flow | None = None
    comes: tuple[Flow, ...] = ()
    goes: tuple[Flow, ...] = ()
    cautions: tuple[str, ...] = ()
    before: str = ""

    def hold(self, address: str) -> int:
        """How many letters of an address its stems name; 0 when it is another's."""
        most = 0
        for stem in self.stems:  # asked for thousands of addresses a page
            long = len(stem)
            if long > most and address.startswith(stem) and address[long : long + 1] in ("", "."):
                most = long
        return most


SECTIONS = {
    "milling": "Milling",
    "juice": "Heating, clarification, mud",
    "evaporation": "Evaporation",
    "boiling": "Pans",
    "curing": "Crystallisers, centrifugals, dryer",
    "steam": "Steam and power",
    "stores": "Stores of by-products",
}


Role = Literal[
    "fibre in", "fibre out", "water in", "water out", "steam in", "steam out",
    "exhaust in", "exhaust out", "exhaust demand", "exhaust condensed", "vapour condensed",
    "power made", "power sent out", "fuel burnt", "fuel stored", "loss", "known loss",
    "undetermined loss", "stock", "first juice",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Accounted:
    """What a station is in the account: its role, a line within that role, words and the flow.

    `flow` is the address of what the role counts, or what gives it from the quantities by address:
    kg/s of fibre, water, HP steam, exhaust and fuel, kg/s of sucrose for losses and stock, W for
    power, kg/kg for brix and pol. What a station takes back from a line of another
    counts with a minus there. Words that nobody shows, or that another station gives, are empty.
    `told` is the address under which the flow is shown, where it is not `flow` itself.
    """

    role: Role
    key: str
    text: str
    flow: str | Callable[[Quantities], Quantity]
    told: str = ""

    @property
    def shown_at(self) -> str:
        """The address under which the flow is shown, or ""."""
        return self.told or (self.flow if isinstance(self.flow, str) else "")

    def of(self, q: Quantities) -> Quantity:
        """The flow out of the quantities."""
        return q[self.flow] if isinstance(self.flow, str) else self.flow(q)


@dataclass(frozen=True, slots=True)
class Surveyed:
    """A store that is surveyed now and then: what it holds from the last survey on.

    Parameters
    ----------
    held : address of what it holds [kg]. comes, goes : readings of what comes and goes [kg].
    dip : the stock whose level tells it, with its density [kg/m3]; empty where none does.
    daily : what it may move in a day that was not read [kg]. room : what it can hold [kg].
    """

    held: str
    comes: tuple[str, ...]
    goes: tuple[str, ...] = ()
    dip: str = ""
    density: float = 0.0
    daily: float = 0.0
    room: float = float("inf")


NamedRole = Literal[
    "imbibition temperature", "imbibition on fibre", "extraction of the first mill",
    "power of the mills", "lime", "lime on cane", "rise rate", "exhaust pressure",
    "vapour pressure of the last effect", "coefficient of effect", "coefficient of vessel",
    "brix of effect", "heat of effect",
    "sugar in condenser water", "mother liquor", "rise of purity", "load of pans",
    "temperature after cooling", "pol in wet sugar", "molasses purity", "sent away",
    "efficiency of the boilers", "bagasse stored", "weekly analysis", "mean by mass",
    "noted with the juice", "inversion expected", "inversion model", "wash of filter cake",
    "exhaust to process",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Named:
    """A quantity that other rooms ask for by what it is; `key` tells those of one role apart."""

    role: NamedRole
    address: str
    key: str = ""


MaterialRole = Literal[
    "cane", "first juice", "final bagasse", "mixed juice", "limed juice", "clear juice", "mud",
    "filter cake", "filtrate", "liquor", "massecuite", "magma", "molasses", "final molasses",
    "sugar",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Material:
    """A material that every mill has, whatever station makes it.

    `stem` begins the addresses of its analyses, `stream` those of its flows where they are others.
    `key` tells materials of one role apart.
    """

    role: MaterialRole
    stem: str
    components: tuple[str, ...] = JUICE
    stream: str = ""
    key: str = ""

    def of(self, q: Quantities) -> Stream:
        """Its flow."""
        return read(q, self.stream or self.stem, self.components)


LOOK = Job("Walk drains, overflows, pump glands and sumps; test what runs there for sugar; take "
           "the section's stock again", "", SUPERVISOR, f"{HOT} {CONFINED}")  # fmt: skip
