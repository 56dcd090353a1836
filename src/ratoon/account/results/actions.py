"""What a day asks people to do. The rules of `results` hold here, too."""

from __future__ import annotations

from dataclasses import dataclass

from ratoon.base.records import JobKind


@dataclass(frozen=True, slots=True)
class ActionResult:
    """A job that a day calls for: what is done, where, by whom, what it gains and what limits it.

    `gain_a_day` and `sigma` in `prices.currency`; None for what is not priced. `key` names the
    job day after day; `about` holds the addresses of the figures or readings that it is about.
    `figure` with `value` and `level` in `unit`: what calls for it, and the level that it is past.
    """

    what: str
    where: str
    who: str
    gain_a_day: float | None
    sigma: float | None
    limited_by: str
    caution: str
    kind: JobKind
    key: str = ""
    about: tuple[str, ...] = ()
    figure: str = ""
    value: float | None = None
    value_sigma: float | None = None
    level: float | None = None
    unit: str = ""
