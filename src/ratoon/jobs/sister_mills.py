"""What mills are to make in the weeks ahead: futures, a sister mill's folder, or its weeks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np

from ratoon.base.errors import BadInput, RatoonError
from ratoon.base.sugar import MillWeek
from ratoon.jobs.cane.files import record_of
from ratoon.jobs.mills import OpenMill, mill_of, store_of
from ratoon.jobs.sugar.shed import make_ahead
from ratoon.plans.refinery.case import Array, Mill, Ways
from ratoon.plans.shed.make import PLAN_COMMON, PLAN_WEEK
from ratoon.store.cane import kept as stored

FUTURES = 2_000
DAYS = 7
UNNAMED = "raw"
"""Brand of sugar that nothing gives one."""


def binned(starts: Sequence[int], rows: Array, weeks: int) -> Array:
    """Amounts by spans of days, evenly within each, as whole weeks from the first day."""
    edges = DAYS * np.arange(weeks + 1)
    made = np.zeros((weeks, *rows.shape[1:]))
    for (first, last), row in zip(pairwise(starts), rows, strict=False):
        inside = np.clip(edges, first, last)
        made += np.multiply.outer(np.diff(inside) / (last - first), row)
    return made


def mill_told(brand: str, futures: Array, ways: Ways) -> Mill:
    """A mill whose sugar is told by futures; what is planned is their mean."""
    mean = futures.mean(axis=0)
    return Mill({brand: mean}, ways, 0.0 * mean, 0.0, futures if np.ptp(futures, axis=0).any()
                else None)  # fmt: skip


def sister_mills(opened: OpenMill, at: date, weeks: int, lacking: list[str]) -> dict[str, Mill]:
    """Sister mills: by their own folder's forecast, else by their weeks on record."""
    rows: list[MillWeek] = [record_of(r) for r in opened.store.ask(stored.records, "mill week")]
    made = {}
    for sister in opened.mill_on(at).settings.sister_mills:
        ways = Ways(sister.cost)
        if sister.folder:
            futures = _of_folder(opened.folder / sister.folder, sister.name, at, weeks, lacking)
            made[sister.name] = mill_told(sister.brand or UNNAMED, futures, ways)
            continue
        ahead = [r for r in rows if r.mill == sister.name and r.week + timedelta(DAYS) > at]
        if not ahead:
            lacking.append(f"mill_weeks of {sister.name}: nothing is taken to come from it")
        make, sigma = {sister.brand or UNNAMED: np.zeros(weeks)}, np.zeros(weeks)
        for row in ahead:
            begin = (row.week - at).days
            span = (max(begin, 0), begin + DAYS)
            share = (span[1] - span[0]) / DAYS
            tonnes = binned(span, np.array([share * row.tonnes]), weeks)
            make[row.brand] = make.get(row.brand, np.zeros(weeks)) + tonnes
            unsure = PLAN_WEEK * row.tonnes if row.sigma is None else row.sigma
            sigma = np.hypot(sigma, binned(span, np.array([share * unsure]), weeks))
        made[sister.name] = Mill(make, ways, sigma, PLAN_COMMON)
    if made:
        lacking.append("how far a sister mill's season may be off its weeks: taken as"
                       f" {100 * PLAN_COMMON:.0f} %")  # fmt: skip
    return made


def _of_folder(folder: Path, name: str, at: date, weeks: int, lacking: list[str]) -> Array:
    """What a sister mill makes, by (future, week), from its own records; these are only looked at.

    Raises
    ------
    BadInput : no mill there, or records of another version.
    """
    missing: list[str] = []
    try:
        mill = mill_of(folder)
        with store_of(folder, look=True) as store:
            starts, make = make_ahead(OpenMill(folder, mill, store), at, FUTURES, missing)
    except RatoonError as error:
        raise BadInput(error.line(), where=f"mill.toml: sister_mills {name}, folder") from None
    lacking += [f"{name}: {words}" for words in missing]
    return binned(starts, make, weeks).T
