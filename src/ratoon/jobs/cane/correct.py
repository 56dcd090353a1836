"""A person's corrections and decisions about what was received: nothing is overwritten.

One act may change many things and has one reason: all of it is kept, or nothing. Clearing answers a
finding that is raised, and names what that rests on; a decision is what ends the waiting.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.cane import agreed
from ratoon.cane.decisions import NOTHING_TO_PAY_ON
from ratoon.cane.misidentified import OUTSIDE
from ratoon.cane.records import Consignment, Sample
from ratoon.jobs.cane.days import answers_of
from ratoon.jobs.cane.files import entry_of
from ratoon.jobs.cane.load import DECIDED, FIELDS, TARES, corrected_records, value_of
from ratoon.store import Store
from ratoon.store.answers import newest_result
from ratoon.store.cane import kept as stored_cane
from ratoon.store.cane import paid as cane_paid
from ratoon.store.cane.plain import CorrectionRow
from ratoon.store.chain.digest import digest
from ratoon.store.chain.events import login
from ratoon.store.records import Entry, InputFile

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill

MEAN = "mean"
"""In place of a tare: the mean that the mill's rule allows, worked out and kept as a number."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that an act changes: a field's value, a code that is cleared, or a refusal."""

    kind: str
    subject: str
    field: str
    value: str


def correct(
    opened: OpenMill, kind: str, subject: str, name: str, value: str, why: str, who: str = ""
) -> dict[str, Any]:
    """Keep one change; see `act`."""
    return act(opened, [Change(kind, subject, name, value)], why, who)[0]


def act(
    opened: OpenMill, changes: Sequence[Change], why: str, who: str = ""
) -> list[dict[str, Any]]:
    """Keep changes that belong together, all of them or none, and work out their days anew.

    Parameters
    ----------
    changes : kind is bin, consignment or sample; field one of its own, or "cleared" (value: the
        flag's code), or "refused" (yes or no). A tare_kg of "mean" is worked out by the mill's
        rule. why : the reason.

    Raises
    ------
    BadInput : no such record or field, no value of it, a code that is not raised or that clearing
        decides nothing about, or no reason.
    """
    if not why.strip():
        raise BadInput("a correction needs its reason", todo='Write --why "REASON"')
    if not changes:
        raise BadInput("nothing is to be changed", todo="Choose what is decided")
    for one in changes:
        if one.kind not in FIELDS:
            raise BadInput("unknown kind", value=one.kind, allowed=", ".join(FIELDS))
    person = who or login() or "unknown"
    known = _Known(opened)
    written: list[Consignment] = []
    rows, reason, days = [], why.strip(), set(days_of(opened.store, changes))
    for one in changes:
        if _note_is_missing(opened.store, one):
            written.append(Consignment(one.subject, "", "", "", "", None))
        old, new, more = known.checked(one, written)
        rows.append(CorrectionRow(one.kind, one.subject, one.field, old, new, person,
                                  datetime.now(UTC), reason + more))  # fmt: skip
    with opened.store.writing(who) as transaction:
        if written:
            fresh = {n.consignment: n for n in written}
            entries = [Entry(entry_of(n, i, ""), i) for i, n in enumerate(fresh.values(), 1)]
            mark = digest([e.record for e in entries])
            transaction.add_file(
                InputFile(f"written by {person}", mark, 0, "consignments"), entries
            )
        for row in rows:
            transaction.correct_cane(row)
    kept = [asdict(r) | {"when": r.when.isoformat().replace("+00:00", "Z")} for r in rows]
    for day in sorted(days | set(days_of(opened.store, kept))):
        answers_of(opened, [day])
    return kept


def exchange(
    opened: OpenMill, kind: str, first: str, second: str, why: str, who: str = ""
) -> list[dict[str, Any]]:
    """Exchange what two bottles, or two notes, say of each other's cane, in one act.

    Parameters
    ----------
    kind : "sample": each bottle goes to the other's consignment; where both filled while their own
        cane's juice passed, the laboratory took one for the other, and their times go along.
        "consignment": each note gets the other's grower, farm, block, variety and class of fibre.
    """
    fields: dict[str, tuple[str, ...]]
    fields = {"sample": ("consignment",),
              "consignment": ("grower", "farm", "block", "variety", "fibre_class")}  # fmt: skip
    if kind not in fields:
        raise BadInput("cannot be exchanged", value=kind, allowed=", ".join(fields))
    pair = [_in_force(opened.store, kind, subject) for subject in (first, second)]
    names = fields[kind]
    if kind == "sample" and not _filled_elsewhere(opened, pair):
        names = (*names, "start", "end")
    changes = [
        Change(kind, subject, name, _as_text(getattr(other, name)))
        for subject, other in ((first, pair[1]), (second, pair[0]))
        for name in names
    ]
    return act(opened, changes, why, who)


def _filled_elsewhere(opened: OpenMill, bottles: Sequence[Sample]) -> bool:
    """Whether a bottle is found to have filled on other juice than its label's: a wrong label."""
    mine = {b.consignment for b in bottles}
    for day in {d for name in mine for d in
                opened.store.ask(cane_paid.days_of, "consignment", name)}:  # fmt: skip
        kept = opened.store.ask(newest_result, "cane day", opened.mill.calendar.period(day))
        for c in kept.answer["consignments"] if kept is not None else ():
            if c["consignment"] in mine and any(f["code"] == OUTSIDE for f in c["flags"]):
                return True
    return False


def _as_text(value: Any) -> str:
    return value.isoformat() if isinstance(value, datetime) else str(value)


def days_of(store: Store, changes: Iterable[Change | Mapping[str, Any]]) -> list[date]:
    """Mill days that rest on what some changes are about, as they were kept last."""
    found: set[date] = set()
    for one in changes:
        given = asdict(one) if isinstance(one, Change) else one
        kind, subject = given["kind"], given["subject"]
        if kind == "bin":
            found.update(store.ask(cane_paid.days_of, "load", subject))
        names = {subject} if kind == "consignment" else set()
        if given["field"] == "consignment":
            names |= {given.get("old", ""), given.get("new", given.get("value", ""))}
        for name in names:
            found.update(store.ask(cane_paid.days_of, "consignment", name))
    return sorted(found)


def _in_force(store: Store, kind: str, subject: str) -> Any:
    rows = store.ask(stored_cane.records, kind, keys=[subject])
    if not rows:
        raise BadInput(f"no {kind} of this name", value=subject)
    return corrected_records(store, rows)[0]


def _note_is_missing(store: Store, one: Change) -> bool:
    """Whether a correction writes the note of bins that came without one."""
    if one.kind != "consignment" or one.field in DECIDED:
        return False
    if store.ask(stored_cane.records, "consignment", keys=[one.subject]):
        return False
    return bool(store.ask(stored_cane.records, "bin", consignments=[one.subject]))


class _Known:
    """What the records hold, asked for once in an act."""

    def __init__(self, opened: OpenMill) -> None:
        self.opened, self.mill, self.store = opened, opened.mill, opened.store
        self._answers: dict[date, Mapping[str, Any]] = {}

    def checked(self, one: Change, written: Sequence[Consignment]) -> tuple[str, str, str]:
        """The old value, the new one, and what is added to the reason."""
        if one.field == "cleared":
            return self._rests_on(one), one.value, ""
        record: Any = next((n for n in written if n.consignment == one.subject), None)
        if record is None:
            if one.field == "refused" and one.kind == "consignment":
                self._has_bins(one)
            else:
                record = _in_force(self.store, one.kind, one.subject)
        if one.field == "refused":
            if one.value not in ("yes", "no"):
                raise BadInput("not a decision", value=one.value, allowed="yes, no")
            mine = [c.new for c in self.store.ask(stored_cane.corrections)
                    if (c.subject, c.field) == (one.subject, "refused")]  # fmt: skip
            return (mine[-1] if mine else "no"), one.value, ""
        new, more = one.value, ""
        if (one.kind, one.field, one.value) == ("bin", "tare_kg", MEAN):
            new, more = self._mean_tare(record)
        value = value_of(one.kind, one.field, new, self.mill.calendar)  # refuses what is none
        if isinstance(value, datetime):
            new = value.astimezone(UTC).isoformat().replace("+00:00", "Z")
        return str(getattr(record, one.field)), new, more

    def _has_bins(self, one: Change) -> None:
        if not self.store.ask(stored_cane.records, "bin", consignments=[one.subject]):
            raise BadInput("no consignment of this name", value=one.subject)

    def _mean_tare(self, one: Any) -> tuple[str, str]:
        """The mean tare by the mill's rule, and how it was made."""
        rule = agreed.receival_rules(self.mill.settings).mean_tare
        if rule == "none":
            raise BadInput("the mill's rule allows no mean tare", where="mill.toml: receival",
                           value="mean_tare = none", todo="Type the tare, or refuse the bin"
                           )  # fmt: skip
        within = Period(one.gross_time - TARES, one.gross_time)
        bins = corrected_records(self.store, self.store.ask(stored_cane.records, "bin", within))
        weighed = {
            (b.tag, b.tare_time, b.tare_kg) for b in bins
            if b.tare_kg is not None and b.tare_time is not None
            and (rule == "fleet" or b.tag == one.tag)
        }  # fmt: skip
        if not weighed:
            raise BadInput(f"no tare of this {rule} in the {TARES.days} days before",
                           value=one.tag, todo="Type the tare, or refuse the bin")  # fmt: skip
        kilograms = [kg for _, _, kg in weighed]
        mean = (2 * sum(kilograms) + len(kilograms)) // (2 * len(kilograms))
        whose = f"bin {one.tag}" if rule == "bin" else "the fleet"
        return str(mean), f" (mean of {len(kilograms)} tares of {whose} in {TARES.days} days)"

    def _rests_on(self, one: Change) -> str:
        """What the flag that is to be cleared rests on; refused when it is not raised."""
        if one.value in NOTHING_TO_PAY_ON:
            raise BadInput("clearing does not decide this", value=one.value,
                           todo=NOTHING_TO_PAY_ON[one.value].capitalize())  # fmt: skip
        raised: dict[str, str] = {}
        for day in days_of(self.store, [one]):
            for flag in _flags(self._answer(day), one.subject):
                raised[flag["code"]] = flag["rests_on"]
        if one.value not in raised:
            told = ", ".join(c for c in sorted(raised) if c not in NOTHING_TO_PAY_ON)
            raise BadInput(f"no such finding is raised of {one.kind} {one.subject}",
                           value=one.value, allowed=told or "none is raised")  # fmt: skip
        return raised[one.value]

    def _answer(self, day: date) -> Mapping[str, Any]:
        from ratoon.jobs.cane.days import answers_of

        if day not in self._answers:
            found = answers_of(self.opened, [day])
            self._answers[day] = found[0] if found else {"consignments": []}
        return self._answers[day]


def _flags(answer: Mapping[str, Any], subject: str) -> list[Mapping[str, Any]]:
    """Findings of a day about one bin or consignment."""
    found: list[Mapping[str, Any]] = []
    for c in answer["consignments"]:
        every = [*c["flags"], *(f for b in c["held_bins"] for f in b["flags"])]
        found += [f for f in every if f["subject"] == subject]
    return found
