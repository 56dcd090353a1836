"""Records of cane, seasons and sugar between their room and the store: keys, content as JSON."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from ratoon.base.strikes import StrikeRow, TraceRow
from ratoon.cane.harvest import Dispatch, FarmHarvest, RosterShift
from ratoon.cane.records import Bin, Block, BlockSeason, Consignment, FibreSample, Sample, Tip
from ratoon.importers.cane_rows import Point
from ratoon.jobs.files import plain_rows
from ratoon.jobs.strikes import rows as strike_rows
from ratoon.store.cane.plain import CaneEntry, CaneRow, SeriesEntry

_LIKE = {"separators": (",", ":"), "sort_keys": True, "ensure_ascii": False}


def _text(at: datetime | None) -> str:
    return "" if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _time(text: str) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


def _sure(text: str) -> datetime:
    return datetime.fromisoformat(text)


def entry_of(record: Any, row: int, sheet: str) -> Any:
    """The store's entry of a record of cane, sugar or a strike; any other record as it is."""
    if isinstance(record, StrikeRow | TraceRow):
        return strike_rows.entry_of(record, row, sheet)
    if isinstance(record, Point):
        at = round(record.time.timestamp() * 1000)
        return SeriesEntry(record.series, at, record.values, row, sheet)
    found = _parts(record)
    if found is None:
        return record
    kind, key, when, consignment, grower, content = found
    text = json.dumps(content, **_LIKE)  # type: ignore[arg-type]
    return CaneEntry(kind, key, when, consignment, grower, text, row, sheet)


def _parts(r: Any) -> tuple[str, str, datetime | None, str, str, dict[str, Any]] | None:
    content: dict[str, Any]
    if isinstance(r, Bin):
        content = {"tag": r.tag, "note": r.consignment, "at": _text(r.gross_time),
                   "gross": r.gross_kg, "tare": r.tare_kg, "tare_at": _text(r.tare_time),
                   "tare_kind": r.tare_kind, "rake": r.rake, "by": r.transport}  # fmt: skip
        return "bin", r.key, r.gross_time, r.consignment, "", content
    if isinstance(r, Tip):
        content = {"tag": r.tag, "at": _text(r.time), "tippler": r.tippler}
        return "tip", f"{r.tag}@{_text(r.time)}", r.time, "", "", content
    if isinstance(r, Consignment):
        content = {"note": r.consignment, "grower": r.grower, "farm": r.farm, "block": r.block,
                   "variety": r.variety, "cut": _text(r.cut_time), "harvest": r.harvest,
                   "burnt": _text(r.burnt_time), "bins": r.bins_noted, "tags": list(r.tags),
                   "class": r.fibre_class}  # fmt: skip
        return "consignment", r.consignment, r.cut_time, r.consignment, r.grower, content
    if isinstance(r, Sample):
        content = {"bottle": r.bottle, "note": r.consignment, "start": _text(r.start),
                   "end": _text(r.end), "brix": r.brix, "pol": r.pol}  # fmt: skip
        return "sample", r.bottle, r.start, r.consignment, "", content
    if isinstance(r, FibreSample):
        content = {"sample": r.sample, "class": r.fibre_class, "note": r.consignment,
                   "at": _text(r.time), "fibre": r.fibre}  # fmt: skip
        return "fibre", r.sample, r.time, r.consignment, "", content
    if isinstance(r, Block):
        content = {"block": r.block, "farm": r.farm, "grower": r.grower, "variety": r.variety,
                   "class": r.fibre_class, "crop": r.crop, "area": r.area,
                   "estimate": r.estimate_kg, "beside": list(r.neighbours)}  # fmt: skip
        more = {"siding": r.siding, "group": r.group, "district": r.district,
                "km": r.distance_km, "zone": r.zone}  # fmt: skip
        content |= {name: value for name, value in more.items() if value}  # as before without
        return "block", r.block, None, "", r.grower, content
    if isinstance(r, BlockSeason):
        content = {"block": r.block, "season": r.season, "parcels": r.parcels, "ccs": r.ccs,
                   "district": r.district}  # fmt: skip
        return "block season", f"{r.block}@{r.season}", None, "", "", content
    if isinstance(r, FarmHarvest):
        content = {"farm": r.farm, "group": r.group, "siding": r.siding, "travel": r.travel_h}
        return "harvest", r.farm, None, "", "", content
    if isinstance(r, RosterShift):
        content = {"group": r.group, "start": _text(r.start), "end": _text(r.end),
                   "rate": r.rate_tph}  # fmt: skip
        return "roster", f"{r.group}@{_text(r.start)}", r.start, "", "", content
    if isinstance(r, Dispatch):
        content = {"rake": r.rake, "siding": r.siding, "at": _text(r.left), "tags": list(r.tags)}
        return "dispatch", r.rake, r.left, "", "", content
    return plain_rows.parts_of(r)


def record_of(row: CaneRow) -> Any:
    """The record of cane that a row of the store holds."""
    if (plain := plain_rows.record_of(row)) is not None:
        return plain
    c = json.loads(row.content)
    if row.kind == "bin":
        return Bin(c["tag"], c["note"], _sure(c["at"]), c["gross"], c["tare"], _time(c["tare_at"]),
                   c["tare_kind"], c["rake"], c["by"], row.source)  # fmt: skip
    if row.kind == "tip":
        return Tip(c["tag"], _sure(c["at"]), c["tippler"], row.source)
    if row.kind == "consignment":
        return Consignment(c["note"], c["grower"], c["farm"], c["block"], c["variety"],
                           _time(c["cut"]), c["harvest"], _time(c["burnt"]), c["bins"],
                           tuple(c["tags"]), c["class"], row.source)  # fmt: skip
    if row.kind == "sample":
        return Sample(c["bottle"], c["note"], _sure(c["start"]), _sure(c["end"]), c["brix"],
                      c["pol"], row.source)  # fmt: skip
    if row.kind == "fibre":
        return FibreSample(c["sample"], c["class"], c["note"], _sure(c["at"]), c["fibre"],
                           row.source)  # fmt: skip
    if row.kind == "block season":
        return BlockSeason(**c)
    if row.kind == "harvest":
        return FarmHarvest(c["farm"], c["group"], c["siding"], c["travel"])
    if row.kind == "roster":
        return RosterShift(c["group"], _sure(c["start"]), _sure(c["end"]), c["rate"])
    if row.kind == "dispatch":
        return Dispatch(c["rake"], c["siding"], _sure(c["at"]), tuple(c["tags"]))
    return Block(c["block"], c["farm"], c["grower"], c["variety"], c["class"], c["crop"],
                 c["area"], c["estimate"], tuple(c["beside"]), c.get("siding", ""),
                 c.get("group", ""), c.get("district", ""), c.get("km", ""),
                 c.get("zone", ""))  # fmt: skip
