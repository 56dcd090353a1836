"""What people corrected or cleared, laid over the records; the records themselves stay.

Corrections are taken in order of `when`, so the last one holds. Each must name the value it
replaces: if that is no longer the value, somebody else was quicker, and it is refused.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, TypeVar

from ratoon.base.errors import BadInput, UnknownName
from ratoon.cane.records import Bin, Consignment, Correction, Sample

CLEARED = "cleared"
R = TypeVar("R", Bin, Consignment, Sample)


def _kilograms(text: str) -> int | None:
    return int(text) if text else None


def _moment(text: str) -> datetime | None:
    if not text:
        return None
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _fraction(text: str) -> float | None:
    return float(text) if text else None


def _text(text: str) -> str:
    return text


FIELDS: dict[str, dict[str, Callable[[str], Any]]] = {
    "bin": {
        "tag": _text, "consignment": _text, "gross_kg": _kilograms, "tare_kg": _kilograms,
        "tare_time": _moment, "tare_kind": _text,
    },
    "consignment": {
        "grower": _text, "farm": _text, "block": _text, "variety": _text, "cut_time": _moment,
        "harvest": _text, "burnt_time": _moment, "bins_noted": _kilograms,
    },
    "sample": {"consignment": _text, "brix": _fraction, "pol": _fraction},
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Corrected:
    """Records as they stand after all corrections, and the flags that people cleared."""

    bins: tuple[Bin, ...]
    notes: tuple[Consignment, ...]
    samples: tuple[Sample, ...]
    cleared: frozenset[tuple[str, str]]


def as_text(value: object) -> str:
    """A field's value as a correction writes it; empty when there is none."""
    if value is None:
        return ""
    return value.isoformat() if isinstance(value, datetime) else str(value)


def apply_corrections(
    bins: Iterable[Bin],
    notes: Iterable[Consignment],
    samples: Iterable[Sample],
    corrections: Iterable[Correction],
) -> Corrected:
    """Records with corrections laid over them.

    Parameters
    ----------
    corrections : of bins by `Bin.key`, of consignments by name, of samples by bottle.

    Raises
    ------
    BadInput, UnknownName : an unknown field, a value that cannot be, or an old value that differs.
    """
    groups: dict[tuple[str, str], list[Correction]] = defaultdict(list)
    cleared = set()
    for one in sorted(corrections, key=lambda c: c.when):
        check(one)
        if one.field == CLEARED:
            cleared.add((one.subject, one.new))
        else:
            groups[one.kind, one.subject].append(one)
    return Corrected(
        tuple(_laid(b, groups.get(("bin", b.key), ())) for b in bins),
        tuple(_laid(n, groups.get(("consignment", n.consignment), ())) for n in notes),
        tuple(_laid(s, groups.get(("sample", s.bottle), ())) for s in samples),
        frozenset(cleared),
    )


def check(one: Correction) -> None:
    """Refuse a correction without person or reason, of an unknown field, or of no value."""
    where = f"correction of {one.kind} {one.subject}"
    if not one.who.strip() or not one.why.strip():
        raise BadInput("who and why are needed", where=where, todo="Say who corrects, and why.")
    if one.field == CLEARED:
        return
    if one.field not in FIELDS[one.kind]:
        raise UnknownName("field", one.field, [*FIELDS[one.kind], CLEARED], where=where)
    _value(one)


def _value(one: Correction) -> Any:
    try:
        return FIELDS[one.kind][one.field](one.new)
    except ValueError:
        raise BadInput(
            f"not a value of {one.field}",
            where=f"correction of {one.kind} {one.subject}",
            value=one.new,
        ) from None


def _laid(record: R, corrections: Sequence[Correction]) -> R:
    for one in corrections:
        now = as_text(getattr(record, one.field))
        if now != one.old:
            raise BadInput(
                f"{one.field} is {now!r} and no longer {one.old!r}",
                where=f"correction of {one.kind} {one.subject}",
                todo="Look at it again.",
            )
        changed: Mapping[str, Any] = {one.field: _value(one)}
        record = replace(record, **changed)
    return record
