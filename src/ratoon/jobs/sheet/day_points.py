"""What each accounted day tells the charts, kept beside the day with a digest of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ratoon import __version__
from ratoon.base.as_json import to_json
from ratoon.base.errors import RatoonError
from ratoon.jobs.tables import tables_digest
from ratoon.store.chain.digest import digest

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.account.period import PeriodAccount
    from ratoon.account.readings.gathered import Gathered
    from ratoon.store import Store
    from ratoon.store.records import Result

POINTS = "points"


def points_of_day(
    store: Store, mill: Mill, gathered: Gathered, kept: Result | None
) -> dict[str, Any]:
    """What a day tells the charts: as it was kept, else worked out and kept."""
    wanted = points_digest(mill, gathered)
    if kept is not None and kept.inputs_digest == wanted:
        told: dict[str, Any] = kept.answer
        return told
    from ratoon.account.period import PeriodAccount, account

    try:
        done = account(mill, gathered)
    except RatoonError:
        done = PeriodAccount(mill, gathered, None)
    told = points_record(done)
    versions = {"program": __version__, "tables": tables_digest()}
    store.add_result(POINTS, gathered.period, wanted, versions, told)
    return told


def points_record(done: PeriodAccount) -> dict[str, Any]:
    """A day's points and the figures that pictures follow."""
    from ratoon.account.trust.points import as_record, day_points
    from ratoon.account.week_result import trend_part

    made: dict[str, Any] = to_json({"points": as_record(day_points(done)),
                                  "figures": trend_part(done),
                                  "aside": done.found_aside})  # fmt: skip
    return made


def points_digest(mill: Mill, gathered: Gathered) -> str:
    """Digest of what a single day's points are made from."""
    from ratoon.account.trust.points import METHOD

    rows = [(r.address, r.value, r.sigma, r.common, r.instrument, r.kind)
            for r in gathered.readings]  # fmt: skip
    return digest(
        {
            "readings": [list(r) for r in rows],
            "constants": dict(sorted(gathered.constants.items())),
            "decisions": [[d.address, d.set_aside] for d in gathered.decisions.values()],
            "settings": mill.settings.text,
            "program": __version__,
            "tables": tables_digest(),
            "method": METHOD,
        }
    )
