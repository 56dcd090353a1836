"""The mill's own sheets and tanks: how its files are laid out, and what a level means."""

from __future__ import annotations

from dataclasses import dataclass

from ratoon.settings.fields import setting as _field


@dataclass(frozen=True, kw_only=True)
class ColumnRow:
    address: str = _field("", "whole address, or the last word of one beside a sample's place")
    unit: str = _field("", "unit it is written in; left out for the address's own", "")


@dataclass(frozen=True, kw_only=True)
class SheetSettings:
    """One wide sheet of the mill's own; texts are its headings, empty where it has none."""

    start: str = _field("", "heading of date and time, or of the date alone")
    time: str = _field("", "heading of the time of day, where it stands apart", "")
    end: str = _field("", "heading of a composite's end", "")
    shift: str = _field("", "heading of the shift's name", "")
    sample: str = _field("", "heading of the sample's name", "")
    source: str = _field("", "heading of the analyst", "")
    note: str = _field("", "heading of the note", "")
    samples: dict[str, str] = _field("", "the sheet's names of samples, and their places", {})
    columns: dict[str, ColumnRow] = _field("", "its analyses by heading", {})
    ignored: tuple[str, ...] = _field("", "headings that are left unread", ())


@dataclass(frozen=True, kw_only=True)
class TankSettings:
    """One tank of a stock: its calibration table and how well both are known."""

    stock: str = _field("", "stock it belongs to, one of stocks")
    unit: str = _field("", "unit of the table's levels: m, mm or %", "m")
    table: tuple[tuple[float, ...], ...] = _field("", "pairs of level and m3, rising")
    level_sigma: float = _field("", "uncertainty of a level, in that unit, new each time", 0.02)
    table_relative: float = _field("%", "uncertainty of the volumes, the same each time", 0.01)
