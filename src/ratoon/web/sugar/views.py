"""Addresses of sugar in store and of the refinery: kept in the records, or made by a worker."""

from __future__ import annotations

from fastapi import FastAPI

from ratoon.jobs.sugar.refinery import kept_refinery, make_refinery
from ratoon.jobs.sugar.shed import kept_shed, make_shed
from ratoon.plans.refinery.result import RefineryAnswer
from ratoon.plans.shed.answer import ShedAnswer
from ratoon.web.mornings import add_morning_page
from ratoon.web.shared import Pages
from ratoon.web.sugar.refinery import RefineryPage, refinery_page
from ratoon.web.sugar.shed import ShedPage, shed_page


def add_shed(app: FastAPI, pages: Pages) -> None:
    """The page of the sugar sheds, on the morning after a mill day."""
    add_morning_page(app, pages, "shed", ShedAnswer, kept_shed, make_shed, shed_page, ShedPage)


def add_refinery(app: FastAPI, pages: Pages) -> None:
    """The page of the refinery's year, from the morning after a mill day."""
    add_morning_page(app, pages, "refinery", RefineryAnswer, kept_refinery, make_refinery,
                     refinery_page, RefineryPage)  # fmt: skip
