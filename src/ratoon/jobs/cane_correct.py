"""A person's correction of what was received: nothing is overwritten."""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ratoon.base.errors import BadInput
from ratoon.jobs import mills
from ratoon.jobs.cane_files import record_of
from ratoon.jobs.cane_load import FIELDS, value_of
from ratoon.store import cane as stored_cane
from ratoon.store.cane_records import CorrectionRow


def correct(
    mill_dir: Path, kind: str, subject: str, name: str, value: str, why: str, who: str = ""
) -> dict[str, Any]:
    """Keep a correction of a record, or clear a flag of it.

    Parameters
    ----------
    kind : bin, consignment or sample. subject : its key. name : field, or "cleared".
    value : new value as text, or the code of the flag that is cleared. why : the reason.

    Raises
    ------
    BadInput : no such record or field, no value of it, or no reason.
    """
    if kind not in FIELDS:
        raise BadInput("unknown kind", value=kind, allowed=", ".join(FIELDS))
    if not why.strip():
        raise BadInput("a correction needs its reason", todo='Write --why "REASON"')
    with mills.store_of(mill_dir) as store:
        rows = store.ask(stored_cane.records, kind, keys=[subject])
        if not rows:
            raise BadInput(f"no {kind} of this name", value=subject)
        old = "held"
        if name != "cleared":
            value_of(kind, name, value)  # refuses what is no value
            old = str(getattr(record_of(rows[0]), name))
            earlier = [c.new for c in store.ask(stored_cane.corrections)
                       if (c.kind, c.subject, c.field) == (kind, subject, name)]  # fmt: skip
            old = earlier[-1] if earlier else old
        with store.writing(who) as transaction:
            row = CorrectionRow(kind, subject, name, old, value, who or _login(),
                                datetime.now(UTC), why.strip())  # fmt: skip
            transaction.correct_cane(row)
    return asdict(row) | {"when": row.when.isoformat().replace("+00:00", "Z")}


def _login() -> str:
    from ratoon.store.chain import login

    return login() or "unknown"
