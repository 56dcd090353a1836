"""How far a day's figures can be trusted: readings, suspects, workings, tests.

The rules of `results` hold here, too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ratoon.account.readings.gathered import WhyNot
from ratoon.base.records import ReadingKind

Headline = Literal["alone", "with_season"]
Grade = Literal["none", "within", "looks", "shown", "gain", "taken back", "contradicted"]


@dataclass(frozen=True, slots=True)
class ReadingResult:
    """One reading as the reconciliation saw it.

    `value`, `sigma_given`, `adjusted` and `sigma` are in `unit`. `standardised` is the adjustment
    over its own standard uncertainty; `detectability` in 0..1; `used` is False for a reading kept
    and not used (no sigma stated, coverage below one half), with the reason in `why_not`.
    """

    address: str
    start: str
    end: str | None
    value: float | None
    unit: str
    sigma_given: float | None = None
    adjusted: float | None = None
    sigma: float | None = None
    standardised: float | None = None
    redundant: bool = False
    detectability: float | None = None
    used: bool = False
    name: str = ""
    kind: ReadingKind = "measured"
    source: str = ""
    entered: str = ""
    entered_by: str = ""
    note: str = ""
    why_not: str = ""
    why_not_kind: WhyNot | None = None


@dataclass(frozen=True, slots=True)
class Member:
    """A reading or assumption that explains the day, with the error it would take by itself.

    `has_own_check`: the mill file says what to check; else it is read again. `instrument_sigmas`:
    how many of the instrument's own standard uncertainties that error is.
    """

    reading: str
    name: str
    standardised: float
    size: float | None
    unit: str
    check: str
    kind: ReadingKind
    has_own_check: bool
    instrument_sigmas: float | None = None


@dataclass(frozen=True, slots=True)
class SuspectResult:
    """A suspect reading, most suspect first.

    `size` is the error it would take (value less truth), in `unit`. `equivalent` names the
    readings, stocks and assumptions that explain the day as well as this one does, and `losses` the
    unknown losses that would look the same; the account never picks between them in silence.
    `members` holds this reading and each of them with its own size and check, most suspect first
    after this one. `standardised` is with the suspects before it left out, `by_itself` with all
    readings in, as it is told at the reading. `check` says what a person should look at.
    `instrument_sigmas` is the error in the instrument's own standard uncertainties; `slip` the slip
    of the pen that would explain it ("swapped with ...", "decimal point", "unit: ...", "sign",
    "digits exchanged"); `set_aside` says that the figures stand without it.
    """

    reading: str
    standardised: float
    size: float | None
    equivalent: tuple[str, ...]
    check: str
    losses: tuple[str, ...] = ()
    loss_names: tuple[str, ...] = ()
    equivalent_names: tuple[str, ...] = ()
    members: tuple[Member, ...] = ()
    by_itself: float | None = None
    kind: ReadingKind = "measured"
    unit: str = ""
    name: str = ""
    has_own_check: bool = True
    instrument_sigmas: float | None = None
    slip: str | None = None
    set_aside: bool = False


@dataclass(frozen=True, slots=True)
class SetAside:
    """A reading without which the figures stand: why, and by whom ("account", or a login).

    `value` as it was read, `says` what the others say of it with `says_sigma`, all in `unit`.
    """

    reading: str
    why: str
    by: str
    name: str = ""
    unit: str = ""
    value: float | None = None
    says: float | None = None
    says_sigma: float | None = None


@dataclass(frozen=True, slots=True)
class WithAll:
    """A figure as it would be with every reading in."""

    value: float | None
    sigma: float | None


@dataclass(frozen=True, slots=True)
class Swing:
    """Figures of a day that rest on the change of stock, and one line that says so."""

    figures: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Moved:
    """A figure that a suspect weighs in: left out, `reading` moves it by so many of its sigmas."""

    reading: str
    name: str
    sigmas: float


@dataclass(frozen=True, slots=True)
class GlobalTest:
    """The global test: chi-square statistic, degrees of freedom, probability."""

    statistic: float | None
    dof: int
    p: float | None


@dataclass(frozen=True, slots=True)
class Check:
    """A reading in which an error of `size` [unit] would look like the whole undetermined loss."""

    reading: str
    name: str
    size: float
    unit: str


@dataclass(frozen=True, slots=True)
class LossEstimate:
    """An undetermined loss and its standard uncertainty [% of pol in cane]."""

    pct: float
    pct_sigma: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """What one kind of reading says of lost pol [% of pol in cane], with its sentence."""

    kind: Literal["purity", "ph", "condenser", "condensate"]
    pct: float
    pct_sigma: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Judged:
    """What the readings say of the undetermined loss; see `account.undetermined`.

    Attributes
    ----------
    grade : none, there is no figure; within, inside the 95 % interval; looks, a loss beyond it;
        shown; gain, beyond it on the other side; taken back, the day before is on the other
        side and both together are within; contradicted, the readings contradict one another.
    score : value over its standard uncertainty.
    checks : the readings that carry most of its uncertainty, where it is beyond the 95 % interval.
    together : value and sigma of the day and the day before accounted as one; None when not asked.
    in_short : a few words for lines that have no more room.
    alone : the loss by the day's own readings. with_season : with the season's earlier days, see
        `account.season_loss`; None for a stretch of days, or where they say nothing.
    headline : which of them leads: always the first, see docs/decisions/undetermined-loss.md.
    evidence : what tells kinds of loss apart: purities, pH, sugar in condenser and condensate.
    """

    grade: Grade
    score: float | None
    words: str
    checks: tuple[Check, ...] = ()
    together: tuple[float, float] | None = None
    in_short: str = ""
    alone: LossEstimate | None = None
    with_season: LossEstimate | None = None
    headline: Headline = "alone"
    evidence: tuple[Evidence, ...] = ()

    @property
    def shown(self) -> bool | None:
        """Whether a loss is shown; None when there is no figure."""
        return None if self.score is None else self.grade == "shown"


@dataclass(frozen=True, slots=True)
class Input:
    """One quantity that enters a figure's formula."""

    address: str
    name: str
    value: float | None
    unit: str
    sigma: float | None = None


@dataclass(frozen=True, slots=True)
class OwnReading:
    """The reading at the figure's own address, before and after reconciliation.

    `rows` : each row it was made from: file, row, time, value.
    """

    address: str
    value: float | None
    unit: str
    adjusted: float | None
    standardised: float | None
    sigma: float | None
    source: str
    entered: str
    entered_by: str = ""
    rows: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Share:
    """The share of one reading or assumption in a figure's variance, 0..1; at most five."""

    reading: str
    kind: ReadingKind
    share: float
    name: str = ""


@dataclass(frozen=True, slots=True)
class WorkingResult:
    """Behind one figure: its equation in words, its inputs, its reading, what makes its sigma."""

    name: str
    formula: str
    equation_source: str
    inputs: tuple[Input, ...]
    reading: OwnReading | None
    shares: tuple[Share, ...]
    rests_on_assumptions: bool


@dataclass(frozen=True, slots=True)
class OneMore:
    """A reading that could be had, and the target's sigma with it; `again`: it is read already."""

    address: str
    name: str
    sigma: float
    again: bool


@dataclass(frozen=True, slots=True)
class NextReading:
    """The readings that would narrow `target` most, the best first; sigmas in `unit`."""

    target: str
    name: str
    unit: str
    sigma: float
    best: tuple[OneMore, ...]


@dataclass(frozen=True, slots=True)
class WaterTest:
    """Sugar tests of one water [ppm]; for the condenser the pol carried away."""

    address: str
    name: str
    mean: float
    highest: float
    tests: int
    unit: str
    step: str
    words: str
    pol_t: float | None = None
    pol_t_sigma: float | None = None
    pct: float | None = None
    pct_sigma: float | None = None


@dataclass(frozen=True, slots=True)
class SugarInWater:
    """The sugar tests of the period, and the ladder of steps that they are set against [ppm]."""

    rows: tuple[WaterTest, ...]
    ladder: tuple[float, ...]
    caution: str


@dataclass(frozen=True, slots=True)
class RobustFigure:
    """A figure of the plain account and of the robust one, in `unit`."""

    name: str
    unit: str
    value: float | None
    sigma: float | None
    robust: float | None
    robust_sigma: float | None


@dataclass(frozen=True, slots=True)
class Robust:
    """Headline figures of both accounts by address, and why the robust one was made."""

    words: str
    figures: Mapping[str, RobustFigure]
