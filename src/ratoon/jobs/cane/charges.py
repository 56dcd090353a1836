"""Charges of the mill file that can be for no cane on record: a slip of a name that costs money."""

from __future__ import annotations

from ratoon.account.mill import Mill
from ratoon.jobs.cane.files import record_of
from ratoon.store import Store
from ratoon.store.cane import kept as stored_cane

NAMED = ("variety", "siding", "group", "district")


def never_charged(mill: Mill, store: Store) -> list[str]:
    """Each charge that names what no block and no farm on record has, in words."""
    blocks = [record_of(r) for r in store.ask(stored_cane.records, "block")]
    farms = [record_of(r) for r in store.ask(stored_cane.records, "harvest")]
    found = []
    for charge in mill.settings.charges if blocks else ():
        for kind in NAMED:
            known = {getattr(one, kind, "") for one in (*blocks, *farms)} - {""}
            wanted = getattr(charge, kind)
            if wanted and wanted not in known:
                shown = ", ".join(sorted(known)[:8]) or "none is noted"
                found.append(f"charge {charge.name!r} is for {kind} {wanted!r}, which no block on "
                             f"record has: it charges nothing; on record: {shown}")  # fmt: skip
    return found
