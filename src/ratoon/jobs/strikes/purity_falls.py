"""Falls of purity of a season's days as they are kept, for the line of the morning sheet."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from ratoon.base.records import Period
from ratoon.store.answers import newest_results

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.plant.boiled import Step
    from ratoon.store import Store

FALLS = "purity falls"
"""Kind under which a day's falls are kept, small enough to ask for a whole season's."""


def steps_of(mill: Mill) -> list[Step]:
    """The steps of a mill's plant, in order of flow."""
    return [s for station in mill.plant.works.stations for s in station.steps()]


def line_of_day(store: Store, mill: Mill, day: date) -> str:
    """What the sheet of a mill day says where a last step lost, by the days that are kept; else "".

    What the pans before leave comes round again and costs little: the page tells it.
    """
    from ratoon.account.figures.purity_falls import changes, lost_words

    calendar = mill.calendar
    first = calendar.period(calendar.first_of_season(day)).start
    within = Period(first, calendar.period(day).end)
    kept = [{n: (float(v[0]), float(v[1]), float(v[2])) for n, v in one.answer.items()}
            for one in store.ask(newest_results, FALLS, within)]  # fmt: skip
    last = f"{list(mill.settings.pans)[-1]} "
    found = {n: c for n, c in changes(kept).items() if c.lost and n.startswith(last)}
    return lost_words(steps_of(mill), found) if found else ""
