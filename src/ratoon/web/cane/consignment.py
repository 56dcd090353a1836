"""What the page of a consignment or a bin shows: its path, its juice, its analysis, its money."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import quote

from ratoon.reports.numbers import COVERAGE
from ratoon.web.cane.supply import ConsignmentRow, row_of

Local = Callable[[str], datetime]


@dataclass(frozen=True, slots=True)
class DeliveryRow:
    """One filling of a bin, times in the mill's own."""

    tag: str
    consignment: str
    weighed: str
    gross: str
    tare: str
    tare_from: str
    net: str
    tipped: str
    tippler: str
    rake: str
    source: str


@dataclass(frozen=True, slots=True)
class FigureRow:
    """A figure of the analysis with its 95 % interval."""

    name: str
    value: str
    interval: str
    how: str


@dataclass(frozen=True, slots=True)
class BottleRow:
    """A laboratory sample of first juice."""

    name: str
    taken: str
    brix: str
    pol: str
    source: str


@dataclass(frozen=True, slots=True)
class MoneyRow:
    """A line that pays the consignment, or would."""

    statement: str
    address: str
    working: str
    amount: str
    issued: bool


@dataclass(frozen=True, slots=True)
class CorrectionRow:
    """What a person set right."""

    field: str
    old: str
    new: str
    who: str
    when: str
    why: str


@dataclass(frozen=True, slots=True)
class TracePage:
    """A consignment or a bin, from the paddock to the statement."""

    title: str
    mill_name: str
    kind: str
    row: ConsignmentRow | None
    date: str
    window: str
    figures: tuple[FigureRow, ...]
    working: str
    other_rules: tuple[FigureRow, ...]
    bottles: tuple[BottleRow, ...]
    deliveries: tuple[DeliveryRow, ...]
    money: tuple[MoneyRow, ...]
    corrections: tuple[CorrectionRow, ...]


def trace_page(
    name: str, mill_name: str, found: Mapping[str, Any], local: Local, words: Callable[[str], str],
    expected: Mapping[str, Any] | None = None,
) -> TracePage:  # fmt: skip
    """The page of what a trace found.

    Parameters
    ----------
    local : the mill's time of a UTC text. words : a kept value with its moments in that time.
    expected : the week's statement as it would be issued now, with the line of this consignment.
    """
    one = found.get("found")
    whole = found["kind"] == "consignment"
    return TracePage(
        f"{'Consignment' if whole else 'Bin'} {name}", mill_name, found["kind"],
        row_of(one, local) if one else None, one["day"] if one else "",
        window_words(one, local) if one else "",
        figures_of(one) if one else (), working_of(one) if one else "",
        other_rules(one) if one else (),
        tuple(_bottle(s, local) for s in found.get("samples", ())),
        tuple(_delivery(d, local) for d in found["deliveries"]),
        money_rows(name, found.get("statements", ()), expected),
        tuple(CorrectionRow(c["field"].replace("_", " "), words(str(c["old"])),
                            words(str(c["new"])), c["who"],
                            stamp(c["when"], local), c["why"])
              for c in found.get("corrections", ())),
    )  # fmt: skip


def stamp(text: str | None, local: Local) -> str:
    """Day and time of day of a UTC text, in the mill's time; "" for none."""
    return "" if text is None else f"{local(text):%d %b %H:%M:%S}".lstrip("0")


def window_words(one: Mapping[str, Any], local: Local) -> str:
    """When its juice could be sampled, and whether it was large enough to stand alone."""
    window = one["window"]
    if window is None:
        return "Its juice has not reached the sampler as far as the speeds are known."
    begin, end = (f"{local(window[k]):%H:%M:%S}" for k in ("start", "end"))
    if begin == end:
        told = f"Its juice was purest at {begin}: {100 * window['purity']:.1f} % of it its own."
    else:
        told = (
            f"Juice at the sampler {begin} to {end}, {100 * window['purity']:.1f} % of it its own,"
            f" at worst {100 * window['lowest_purity']:.1f} %."
        )
    if window["stopped"]:
        told += " The mill stood inside this window: a sample taken across it is spoilt."
    elif not window["alone"]:
        told += (
            f" Too small or too mixed for a sample of its own (least parcel "
            f"{window['least_tonnes']:.1f} t)."
        )
    return told


def figures_of(one: Mapping[str, Any]) -> tuple[FigureRow, ...]:
    """Brix, pol, fibre and CCS as they count for payment."""
    a = one["analysis"]
    if a is None:
        return ()
    by = f"{a['method']}{', bottle ' + a['bottle'] if a['bottle'] else ''}"
    names = (
        ("Brix of first juice, %", "brix", by),
        ("Pol of first juice, %", "pol", by),
        ("Fibre, %", "fibre", f"by {a['fibre_method']}"),
        ("CCS, %", "ccs", "worked out"),
    )
    return tuple(
        FigureRow(name, f"{one[key]['value']:.2f}", f"± {COVERAGE * one[key]['sigma']:.2f}", how)
        for name, key, how in names
    )  # fmt: skip


def working_of(one: Mapping[str, Any]) -> str:
    """The formula of CCS with this consignment's figures."""
    a = one["analysis"]
    if a is None:
        return ""
    brix, pol, fibre, ccs = (100 * a[k] for k in ("brix", "pol", "fibre", "ccs"))
    return (
        f"CCS = 3 P (1 − (F + 5)/100)/2 − B (1 − (F + 3)/100)/2 = 3 × {pol:.2f} × "
        f"(1 − ({fibre:.2f} + 5)/100)/2 − {brix:.2f} × (1 − ({fibre:.2f} + 3)/100)/2 = {ccs:.3f} %"
    )


def other_rules(one: Mapping[str, Any]) -> tuple[FigureRow, ...]:
    """What the mill's other rules would give."""
    a = one["analysis"]
    return tuple(
        FigureRow(name, f"{100 * value:.2f}", f"± {100 * COVERAGE * sigma:.2f}", "")
        for name, value, sigma in (a["alternatives"] if a else ())
    )


def _bottle(s: Mapping[str, Any], local: Local) -> BottleRow:
    taken = f"{stamp(s['start'], local)} to {local(s['end']):%H:%M:%S}"
    brix, pol = ("none" if s[k] is None else f"{s[k]:.2f}" for k in ("brix", "pol"))
    return BottleRow(s["bottle"], taken, brix, pol, s["source"])


def _delivery(d: Mapping[str, Any], local: Local) -> DeliveryRow:
    gross, tare = ("none" if d[k] is None else str(d[k]) for k in ("gross_kg", "tare_kg"))
    tare_day = f"{local(d['tare_time']):%d %b}".lstrip("0") if d["tare_time"] else ""
    return DeliveryRow(
        d["tag"], d["consignment"] or "", stamp(d["weighed"], local), gross, tare,
        f"{d['tare_kind']} {tare_day}".strip(),
        "not known" if d["net_kg"] is None else str(d["net_kg"]),
        stamp(d["tipped"], local) or "no read", d["tippler"] or "", d["rake"] or "", d["source"],
    )  # fmt: skip


def _statement(one: Mapping[str, Any]) -> str:
    return f"/statement/{quote(one['grower'], safe='')}/{one['start']}/{one['end']}"


def money_rows(
    name: str, issued: Sequence[Mapping[str, Any]], expected: Mapping[str, Any] | None
) -> tuple[MoneyRow, ...]:
    """Issued lines; where there are none, the line of the statement as it would be issued now."""
    rows = [
        MoneyRow(f"statement {s['number']} of {s['grower']}, {s['start']} to {s['end']}",
                 _statement(s), s["working"], s["amount"],
                 True)
        for s in issued
    ]  # fmt: skip
    if rows or expected is None:
        return tuple(rows)
    told = f"week {expected['start']} to {expected['end']}, not issued"
    return tuple(
        MoneyRow(told, _statement(expected), line["working"], line["amount"], False)
        for line in expected["lines"] if line["consignment"] == name
    )  # fmt: skip
