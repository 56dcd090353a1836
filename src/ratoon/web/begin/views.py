"""Begin a mill in the browser: only at this machine itself, where there is none yet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated
from zoneinfo import available_timezones

from fastapi import FastAPI, Form
from fastapi.responses import RedirectResponse, Response
from starlette.exceptions import HTTPException

from ratoon.account.by_rate import Beginning
from ratoon.base.errors import RatoonError
from ratoon.jobs.keep.new import DRIVES, QUESTIONS, SCHEMES, New, is_empty, new_mill, said_of
from ratoon.reports.numbers import written_unit
from ratoon.web.door.visit import visitor
from ratoon.web.shared import Format, Pages, get

Short = Annotated[str, Form(max_length=200)]
CHOICES = {"grades": SCHEMES, "drives": DRIVES}


@dataclass(frozen=True, slots=True)
class Question:
    """One thing that is asked: its words, what stands in its box, and what may be chosen."""

    key: str
    words: str
    value: str
    choices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TakenRow:
    """A figure that was taken: where, how much, how sure, and why."""

    address: str
    value: str
    sigma: str
    unit: str
    why: str


@dataclass(frozen=True, slots=True)
class BeginPage:
    """What is asked of a mill that begins, or what was begun with all that was taken."""

    line: str
    questions: tuple[Question, ...]
    diffuser: bool
    condensing: bool
    zones: tuple[str, ...]
    keys: tuple[str, ...]
    taken: tuple[TakenRow, ...]


def begin_page(answers: Mapping[str, str], line: str = "", made: New | None = None) -> BeginPage:
    """The page; `made` once the mill is begun."""
    usual = Beginning("", "")
    asked = []
    for key, words in QUESTIONS.items():
        default = getattr(usual, key)
        text = ",".join(default) if key == "grades" else "" if default is None else str(default)
        asked.append(Question(key, words, answers.get(key) or text.removesuffix(".0"),
                              CHOICES.get(key, ())))  # fmt: skip
    zones = () if made else tuple(sorted(available_timezones()))
    taken = tuple(TakenRow(t.address, f"{t.value:.4g}", f"{float(f'{t.sigma:.2g}'):g}",
                           written_unit(t.unit), t.why)
                  for t in (made.assumed if made else ()))  # fmt: skip
    return BeginPage(line, tuple(asked), bool(answers.get("diffuser")),
                     bool(answers.get("condensing")), zones, made.keys if made else (),
                     taken)  # fmt: skip


def add_begin(app: FastAPI, pages: Pages) -> None:
    """The page where a mill begins."""

    def begins() -> None:
        if not visitor().open or not is_empty(pages.mill_dir):
            raise HTTPException(404)

    def shown(form: Format, page: BeginPage, status: int = 200) -> Response:
        return pages.answer(form, page, "begin_page.html", "", status=status)

    @get(app, "/begin", BeginPage)
    def ask(format: Format = None) -> Response:
        if (pages.mill_dir / "mill.toml").is_file():
            return RedirectResponse("/", 303)
        begins()
        return shown(format, begin_page({}))

    @app.post("/begin")
    def make(
        name: Short = "", zone: Short = "", altitude: Short = "", day_start: Short = "",
        season_start: Short = "", rate: Short = "", mills: Short = "", effects: Short = "",
        grades: Short = "", drives: Short = "", diffuser: Short = "", condensing: Short = "",
        format: Format = None,
    ) -> Response:  # fmt: skip
        begins()
        answers = {
            "name": name, "zone": zone, "altitude": altitude, "day_start": day_start,
            "season_start": season_start, "rate": rate, "mills": mills, "effects": effects,
            "grades": grades, "drives": drives, "diffuser": diffuser, "condensing": condensing,
        }  # fmt: skip
        try:
            made = new_mill(pages.mill_dir, said_of(answers), in_empty=True)
        except RatoonError as error:
            return shown(format, begin_page(answers, str(error)), 422)
        return shown(format, begin_page(answers, made=made))
