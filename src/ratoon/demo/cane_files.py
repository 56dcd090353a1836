"""The season's cane as files that a mill would send, and the truth of it in a folder beside.

The weighbridge, the laboratory and the day's readings are one: what was read as cane, brix, pol and
fibre of a day differs from the truth by the same error here as there.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import timedelta
from pathlib import Path

import numpy as np

from ratoon.account.mill import Mill
from ratoon.base import units
from ratoon.demo.district import District, Floats, make_district
from ratoon.demo.harvest import cut_by_day, write_harvest
from ratoon.demo.juice import Juice, Read, ccs, read_juice, true_juice
from ratoon.demo.measure import Row
from ratoon.demo.muddle import Muddle, muddle
from ratoon.demo.truth import TrueDay
from ratoon.demo.yard import USUAL_RATE, Drive, Yard, drive_of, fill_yard

BRIDGE = 10  # kg, a division of the weighbridge
LINK = {"first_juice.brix": 0, "first_juice.pol": 1, "cane.fibre_laboratory": 2}
NO_LABORATORY = 48  # day whose laboratory sheet never came
STALE = 26  # days after which a stored tare is weighed anew
Rows = list[str]


class _Clock:
    """Local times as text, fast: the zone of each quarter hour is asked once."""

    def __init__(self, mill: Mill) -> None:
        self._mill, self._known = mill, {}  # type: ignore[var-annotated]

    def __call__(self, seconds: float) -> str:
        from datetime import UTC, datetime

        quarter, rest = divmod(int(seconds), 900)
        if quarter not in self._known:
            at = datetime.fromtimestamp(quarter * 900, UTC)
            self._known[quarter] = self._mill.calendar.to_local(at).replace(tzinfo=None)
        return str((self._known[quarter] + timedelta(seconds=rest)).isoformat())


def write_cane(
    folder: Path, mill: Mill, days: list[TrueDay], readings: Sequence[Sequence[Row]], seed: int
) -> None:
    """Write the district and each day's receival into `folder`/input, and `folder`/truth.

    Parameters
    ----------
    readings : of each day, as they stand in its readings file.
    """
    rngs = [np.random.default_rng([seed, 4, k]) for k in range(8)]
    district = make_district(rngs[0])
    drive = drive_of(mill, days, rngs[1])
    if not any(day.crushing for day in days):
        return
    yard = cut_by_day(district, fill_yard(district, days, drive, rngs[2]), mill, rngs[7])
    juice = true_juice(district, days, yard, rngs[3])
    bridge, laboratory = _errors(days, readings)
    read = read_juice(district, days, yard, juice, drive, laboratory, rngs[4])
    wrong = muddle(district, yard, juice, read, rngs[5])
    clock = _Clock(mill)
    into = folder / "input"
    _district(into, days, district)
    bins = _bins(district, yard, wrong, bridge, clock, rngs[6])
    starts = [mill.calendar.period(d.date).start.timestamp() for d in days]
    notes = _notes(district, yard, wrong, clock, rngs[6])
    tips = _tips(yard, wrong, clock)
    first = np.searchsorted(yard.consignment, np.arange(len(yard.block)))
    note_day = yard.day[first]
    for i, day in enumerate(days):
        name = day.date.isoformat()
        low, high = starts[i], starts[i] + 86400.0
        if len(days) > i + 1:
            high = starts[i + 1]
        mine = np.flatnonzero(yard.day == i)
        _write(into / f"{name}-speeds.csv", "carrier,time,speed", _speeds(drive, low, high, clock))
        if not len(mine):
            continue
        _write(into / f"{name}-bins.csv", "tag,consignment,weighed,gross,tare,tare_kind,tare_time,"
               "rake,transport", [bins[k] for k in mine.tolist()])  # fmt: skip
        _write(into / f"{name}-tips.csv", "tag,tipped,tippler",
               [row for k in mine.tolist() for row in tips[k]])  # fmt: skip
        _write(into / f"{name}-consignments.csv", "consignment,grower,farm,block,variety,"
               "fibre_class,cut,harvest,burnt,bins,tags",
               [notes[k] for k in np.flatnonzero(note_day == i).tolist()])  # fmt: skip
        _laboratory(into, name, i, day, juice, read, wrong, clock)
        near = np.flatnonzero((read.nir_time >= low) & (read.nir_time < high))
        _write(into / f"{name}-near-infrared.csv", "time,brix,pol,fibre",
               [f"{clock(t)},{b:.2f},{p:.2f},{f:.2f}" for t, (b, p, f) in
                zip(read.nir_time[near], read.nir[near].tolist())])  # fmt: skip
    write_harvest(lambda name, header, rows: _write(into / name, header, list(rows)),
                  [day.date for day in days], district, yard, mill, clock, rngs[7])  # fmt: skip
    _truth(folder / "truth", district, yard, juice, wrong)


def _errors(days: Sequence[TrueDay], readings: Sequence[Sequence[Row]]) -> tuple[Floats, Floats]:
    """By day: the weighbridge's factor, and what the laboratory reads too high [%]."""
    bridge, laboratory = np.ones(len(days)), np.zeros((len(days), 3))
    for i, (day, rows) in enumerate(zip(days, readings)):
        for row in (r for r in rows if not r.end):  # the day's own; a shift's have an end
            if row.address == "cane.weight" and day.amounts.get("cane.weight"):
                bridge[i] = units.to_inside(row.value, row.unit) / day.amounts["cane.weight"]
            if row.address in LINK and day.values:
                true = day.values[row.address]
                off = units.to_inside(row.value, row.unit) - true
                laboratory[i, LINK[row.address]] = 100 * off
    return bridge, laboratory


def _write(path: Path, header: str, rows: Sequence[str]) -> None:
    if rows:
        path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8", newline="\n")


def _district(into: Path, days: Sequence[TrueDay], d: District) -> None:
    rows = [
        f"{d.block[i]},{d.farm[i]},{d.grower[i]},{d.variety[i]},{d.fibre_class[i]},{d.crop[i]},"
        f"{d.area[i]:.1f},{d.estimate[i] // 1000},{' '.join(d.neighbours[i])}"
        for i in range(len(d.block))
    ]
    _write(into / f"{days[0].date.isoformat()}-blocks.csv",
           "block,farm,grower,variety,fibre_class,crop,area,estimate,neighbours", rows)  # fmt: skip


def _bins(
    district: District, yard: Yard, wrong: Muddle, bridge: Floats, clock: _Clock,
    rng: np.random.Generator,
) -> Rows:  # fmt: skip
    """Weighings: the gross as the bridge shows it, the tare as it is stored."""
    net = yard.net * bridge[yard.day]
    stored: dict[int, tuple[int, float]] = {}
    first = float(yard.weighed.min())
    wild, lost = set(wrong.wild.tolist()), set(wrong.lost_tare.tolist())
    rows, carry = [], 0.0
    aged = rng.integers(1, 20, len(district.tare))
    for k in range(len(net)):
        tag, at = int(yard.tag[k]), float(yard.weighed[k])
        empty = district.tare[tag] + (wrong.heavier.get(tag, 0.0) if yard.day[k] >= 32 else 0.0)
        if tag not in stored:
            stored[tag] = (BRIDGE * round(empty / BRIDGE), first - 86400.0 * int(aged[tag]))
        tare, when = stored[tag]
        kind = "stored"
        if rng.random() < 0.02 or at - when > STALE * 86400.0:
            tare, when, kind = (
                BRIDGE * round(empty / BRIDGE),
                float(yard.tipped[k]) + 900,
                "weighed",
            )
            stored[tag] = (tare, when)
        # what rounding took from one bin the next one gets, so that a day adds up
        full = net[k] + empty + carry
        gross = BRIDGE * round(full / BRIDGE)
        carry = full - gross if kind == "weighed" or tag not in wrong.heavier else 0.0
        if k in wild:
            gross = gross // 10 if k % 2 else gross + 20_000
        shown = "" if k in lost else str(tare)
        note = int(wrong.booked[k])
        road = bool(yard.road[note])
        rake = f"{'U' if road else 'R'}{note // (1 if road else 3):05d}"
        tail = f"{kind},{clock(when)}" if shown else ","
        rows.append(f"{tag + 1:04d},C{note + 1:05d},{clock(at)},{gross},{shown},{tail},{rake},"
                    f"{'road' if road else 'rail'}")  # fmt: skip
    return rows


def _notes(d: District, yard: Yard, wrong: Muddle, clock: _Clock, rng: np.random.Generator) -> Rows:
    """Notes as the growers wrote them; few leave something out."""
    count = np.bincount(yard.consignment, minlength=len(yard.block))
    gaps = rng.random(len(yard.block))
    rows = []
    for k in range(len(yard.block)):
        b = int(wrong.block[k])
        burnt = yard.burnt[k]
        block = "" if gaps[k] < 0.003 else d.block[b]
        variety = "" if 0.003 <= gaps[k] < 0.006 else d.variety[b]
        how = "green," if np.isnan(burnt) else f"burnt,{clock(float(burnt))}"
        rows.append(f"C{k + 1:05d},{d.grower[b]},{d.farm[b]},{block},{variety},{d.fibre_class[b]},"
                    f"{clock(float(yard.cut[k]))},{how},{count[k]},")  # fmt: skip
    return rows


def _tips(yard: Yard, wrong: Muddle, clock: _Clock) -> list[Rows]:
    twice, unread = set(wrong.twice.tolist()), set(wrong.unread.tolist())
    rows = []
    for k in range(len(yard.tag)):
        tag = "?" if k in unread else f"{int(yard.tag[k]) + 1:04d}"
        at = float(yard.tipped[k])
        mine = [f"{tag},{clock(at)},{1 + k % 2}"]
        if k in twice:
            mine.append(f"{tag},{clock(at + 4)},{1 + k % 2}")
        rows.append(mine)
    return rows


def _speeds(drive: Drive, low: float, high: float, clock: _Clock) -> Rows:
    at = np.flatnonzero((drive.time >= low) & (drive.time < high))
    rows = []
    for name, factor in (("main", 1.0), ("mills", 0.230 / 0.12)):
        for k in at.tolist():
            rows.append(f"{name},{clock(drive.time[k])},{factor * drive.speed[k]:.5f}")
    return rows


def _laboratory(
    into: Path, name: str, i: int, day: TrueDay, juice: Juice, read: Read, wrong: Muddle,
    clock: _Clock,
) -> None:  # fmt: skip
    if day.number == NO_LABORATORY:
        return
    mine = np.flatnonzero(juice.day[read.sampled] == i).tolist()
    _write(into / f"{name}-samples.csv", "bottle,consignment,start,end,brix,pol", [
        f"B{read.sampled[k] + 1:05d},C{wrong.label[k] + 1:05d},{clock(read.start[k])},"
        f"{clock(read.end[k])},{read.bottle[j, 0]:.2f},{read.bottle[j, 1]:.2f}"
        for k, j in zip(mine, wrong.contents[mine].tolist())
    ])  # fmt: skip
    _write(into / f"{name}-fibre.csv", "sample,fibre_class,consignment,time,fibre", [
        f"X{i + 1:02d}{k:02d},{kind},,{clock(at)},{value:.2f}"
        for k, (_, kind, at, value) in enumerate(r for r in read.fibre if r[0] == i)
    ])  # fmt: skip


def _truth(folder: Path, d: District, yard: Yard, juice: Juice, wrong: Muddle) -> None:
    """True cane of every consignment, and the list of mistakes."""
    true = ccs(juice.consignments)
    rows = [
        f"C{k + 1:05d},{d.grower[b]},{d.block[b]},{juice.mass[k]:.0f},"
        + ",".join(f"{x:.4f}" for x in (*juice.consignments[k], true[k]))
        for k, b in enumerate(yard.block.tolist())
    ]
    _write(folder / "consignments.csv", "consignment,grower,block,kg,brix,pol,fibre,ccs", rows)
    listed: list[Mapping[str, object]] = wrong.listed  # type: ignore[assignment]
    text = json.dumps([_named(m) for m in listed], indent=1, sort_keys=True)
    (folder / "cane.json").write_text(text + "\n", encoding="utf-8")


def _named(one: Mapping[str, object]) -> dict[str, object]:
    """A mistake with the numbers of its consignments as the files write them."""
    out = dict(one)
    if "consignments" in one:
        out["consignments"] = [f"C{k + 1:05d}" for k in one["consignments"]]  # type: ignore[attr-defined]
    return out


__all__ = ["USUAL_RATE", "write_cane"]
