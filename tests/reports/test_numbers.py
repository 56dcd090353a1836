"""Digits follow the uncertainty; thousands, signs and money read as they should."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratoon.reports.numbers import (
    MINUS,
    NOTHING,
    THIN,
    as_written,
    decimals_for,
    duration,
    grouped,
    show,
    show_money,
    signed,
)


@pytest.mark.parametrize(
    ("value", "sigma", "text", "interval"),
    [
        (96.062, 0.15, "96.06", "0.29"),
        (10214.0, 31.0, f"10{THIN}210", "60"),
        (1.12, 1.16, "1.1", "2.3"),
        (-0.31, 0.42, f"{MINUS}0.3", "0.8"),
        (34.6, 2.0, "35", "4"),
        (0.28, 0.0142, "0.280", "0.028"),
        (98.91, 0.035, "98.91", "0.07"),
        (99.996, 0.049, "100.00", "0.10"),
    ],
)
def test_digits_follow_the_uncertainty(value, sigma, text, interval):
    shown = show(value, sigma, "%")
    assert (shown.text, shown.interval) == (text, interval)
    assert shown.value == value
    assert shown.sigma == sigma


def test_what_is_not_determined_has_no_number():
    shown = show(None, None, "%")
    assert (shown.text, shown.interval, shown.value) == (NOTHING, "", None)
    assert show(math.nan, 1.0, "%").value is None


def test_a_figure_without_doubt_keeps_what_was_written():
    assert show(21.7, None, "h").text == "21.7"
    assert show(1.99, None, "%").text == "1.99"
    assert show(100.0, None, "%").text == "100"
    assert show(21.7, None, "h").interval == ""


def test_targets_keep_their_digits():
    assert as_written(96.2, 2) == "96.20"
    assert as_written(1.68, 1) == "1.68"
    assert as_written(230.0, -1) == "230"


def test_money_is_rounded_by_its_doubt_and_says_its_sign():
    assert show_money(12200.0, 5700.0, "$").whole == f"$12{THIN}000 ± 11{THIN}000"
    assert show_money(-17800.0, 10900.0, "$").text == f"{MINUS}$18{THIN}000"
    assert show_money(None, None, "$").text == NOTHING


def test_hours_and_differences():
    assert duration(0.7) == f"42{THIN}min"
    assert duration(24.0) == f"24{THIN}h"
    assert duration(0.9999) == f"1{THIN}h"
    assert (signed(0.14, 2), signed(-0.14, 2), signed(0.001, 2)) == (
        "+0.14",
        f"{MINUS}0.14",
        "0.00",
    )


@given(st.floats(1e-6, 1e6))
def test_the_interval_keeps_one_or_two_digits(half):
    decimals = decimals_for(half)
    shown = round(half, decimals)
    assert shown > 0
    assert abs(shown - half) <= 0.5 * 10.0**-decimals * (1 + 1e-9)
    assert 0.95 <= half * 10.0**decimals < 30.0


@given(st.floats(-1e9, 1e9), st.integers(-2, 4))
def test_a_grouped_number_reads_back(value, decimals):
    text = grouped(value, decimals).replace(THIN, "").replace(MINUS, "-")
    assert float(text) == pytest.approx(round(value, decimals), abs=1e-9)
