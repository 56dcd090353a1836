"""Figures as people read them: digits follow the uncertainty, thin spaces, the 95 % interval.

The one place where a number becomes text for sheets and pages, so that HTML, PDF and workbook
cannot disagree.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date

# 97.5 % point of the normal distribution to the three figures the trade uses.
COVERAGE = 1.96
THIN = "\u202f"  # narrow no-break space: never breaks a number over two lines
FIXED = "\u00a0"  # a space that does not break a line
MINUS = "\u2212"
NOTHING = "\u2013"

# Most decimals of a figure that has no uncertainty of its own (a setting, a clock time); as many as
# it was written with are shown when they are fewer.
_MOST_DECIMALS = {"h": 1, "t": 0, "t/h": 1, "%": 2, "": 2, "m3": 0, "MW": 2, "MWh": 1}
_PER_CENT = re.compile(r"(\d) %")
_SIGNS = (("m3", "m³"), ("m2", "m²"), ("degC", "°C"), (".", "·"))


@dataclass(frozen=True, slots=True)
class Shown:
    """One number with its uncertainty, and the text of both.

    Parameters
    ----------
    value, sigma : the figure and its standard uncertainty in `unit`; None when not determined.
    text : the value as people read it, without its unit.
    interval : half the 95 % interval as text; "" when there is none.
    unit : the unit as people read it.
    half : half the 95 % interval; None when there is none.
    """

    value: float | None
    sigma: float | None
    text: str
    interval: str
    unit: str
    half: float | None

    @property
    def whole(self) -> str:
        """The value with its interval and unit, on one line."""
        text = f"{self.text} ± {self.interval}" if self.interval else self.text
        return f"{text}{THIN}{self.unit}" if self.unit and self.value is not None else text


def half_interval(sigma: float | None) -> float | None:
    """Half the 95 % interval of a standard uncertainty; None when there is none."""
    return None if sigma is None or not math.isfinite(sigma) else COVERAGE * abs(sigma)


def decimals_for(half: float) -> int:
    """Decimals that a 95 % half interval leaves: two digits of it when it begins with 1 or 2.

    Negative numbers of decimals round to tens, hundreds and so on.

    Examples
    --------
    >>> decimals_for(0.294), decimals_for(0.9), decimals_for(4.9), decimals_for(61.0)
    (2, 1, 0, -1)
    """
    exponent = math.floor(math.log10(half))
    leading = round(half / 10.0**exponent, 6)
    if leading >= 9.5:  # 0.096 is shown as 0.10
        exponent, leading = exponent + 1, 1.0
    return (1 if leading < 2.95 else 0) - exponent


def grouped(value: float, decimals: int) -> str:
    """A number rounded to `decimals`, with thin spaces in thousands and a true minus sign.

    Examples
    --------
    >>> grouped(-10214.4, 0) == f"{MINUS}10{THIN}214"
    True
    """
    rounded = round(value, decimals)
    if rounded == 0:
        rounded = 0.0
    text = f"{abs(rounded):,.{max(decimals, 0)}f}".replace(",", THIN)
    return f"{MINUS}{text}" if rounded < 0 else text


def signed(value: float, decimals: int) -> str:
    """A difference: always with its sign, except zero."""
    text = grouped(value, decimals)
    return f"+{text}" if round(value, decimals) > 0 else text


def unit_as_read(unit: str) -> str:
    """The unit with its true signs: m³, °C, kW/m²·K."""
    for written, sign in _SIGNS:
        unit = unit.replace(written, sign)
    return "" if unit == "1" else unit


def written_unit(unit: str) -> str:
    """A unit of a file or a table as print has it, whole or in parts: kW/m2.K is kW/(m²·K).

    Examples
    --------
    >>> [written_unit(u) for u in ("kW/m2.K", "kg/m3", "degC", "1", "-", "g/100 g solution")]
    ['kW/(m²·K)', 'kg/m³', '°C', '', '', 'g/100 g solution']
    """
    if unit in ("", "1", "-"):
        return ""
    top, over, below = unit.partition("/")
    below = f"({below})" if "." in below else below
    text = f"{top}{over}{below}".replace("degC", "°C").replace(".", "·")
    return text.replace("m2", "m²").replace("m3", "m³")


def _written_decimals(value: float) -> int:
    """Decimals of the shortest text of a value to ten figures."""
    return len(f"{value:.10g}".partition("e")[0].partition(".")[2])


def decimals_of(value: float, sigma: float | None, unit: str) -> int:
    """Decimals to show `value` with: from its uncertainty, else the custom of its unit."""
    half = half_interval(sigma)
    if half:
        return min(decimals_for(half), 6)
    most = _MOST_DECIMALS.get(unit, 2)
    if 0 < abs(value) < 1:
        most = max(most, 2 if unit == "h" else 3)
    return min(_written_decimals(value), most)


def show(value: float | None, sigma: float | None, unit: str = "") -> Shown:
    """A figure as it stands on a sheet; "–" when it is not determined."""
    read = unit_as_read(unit)
    if value is None or not math.isfinite(value):
        return Shown(None, None, NOTHING, "", read, None)
    half = half_interval(sigma)
    decimals = decimals_of(value, sigma, unit)
    interval = grouped(half, decimals) if half else ""
    return Shown(value, sigma, grouped(value, decimals), interval, read, half)


def show_money(value: float | None, sigma: float | None, currency: str) -> Shown:
    """An amount that was estimated: the currency before it, its digits after its uncertainty.

    Examples
    --------
    >>> show_money(-1234.0, 300.0, "$").text == f"{MINUS}$1{THIN}200"
    True
    """
    if value is None or not math.isfinite(value):
        return Shown(None, None, NOTHING, "", "", None)
    half = half_interval(sigma)
    decimals = min(decimals_for(half), 0) if half else 0
    text = grouped(abs(value), decimals)
    sign = MINUS if round(value, decimals) < 0 else ""
    interval = grouped(half, decimals) if half else ""
    return Shown(value, sigma, f"{sign}{currency}{text}", interval, "", half)


def as_written(value: float, decimals: int) -> str:
    """A target: never with fewer digits than it was written with, padded up to `decimals`."""
    return grouped(value, max(_written_decimals(value), min(decimals, 2), 0))


def short_day(iso: str) -> str:
    """A date as people say it: "14 Aug"."""
    day = date.fromisoformat(iso)
    return f"{day.day} {day:%b}"


def duration(hours: float) -> str:
    """Hours as hours and minutes.

    Examples
    --------
    >>> duration(2.3) == f"2{THIN}h 18{THIN}min"
    True
    """
    minutes = round(hours * 60)
    whole, rest = divmod(abs(minutes), 60)
    sign = MINUS if minutes < 0 else ""
    if not whole:
        return f"{sign}{rest}{THIN}min"
    return f"{sign}{whole}{THIN}h {rest:02d}{THIN}min" if rest else f"{sign}{whole}{THIN}h"


def kept_together(text: str) -> str:
    """Words as they are, but no line breaks between a number, its interval and its per cent."""
    return _PER_CENT.sub(f"\\1{THIN}%", text).replace(" ± ", f"{FIXED}±{FIXED}")


def thin(number: str | float | None) -> str:
    """A number of a statement with its thousands apart; no digit is changed.

    Examples
    --------
    >>> thin("-0.50"), thin(None), thin(12345) == "12\u202f345"
    ('−0.50', '', True)
    """
    if number is None or number == "":
        return ""
    text = str(number)
    whole, point, rest = text.removeprefix("-").partition(".")
    sign = "−" if text.startswith("-") else ""
    return sign + f"{int(whole):,}".replace(",", "\u202f") + point + rest
