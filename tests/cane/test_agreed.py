"""The mill file's words become the rules; what cannot be is refused in one line."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

import ratoon.demo
from ratoon.base.errors import BadInput, RatoonError
from ratoon.cane.agreed import analysis_rules, payment_rule, receival_rules, track_rules
from ratoon.cane.rules import AnalysisRules, ReceivalRules
from ratoon.settings.read import parse_settings

MILL = (Path(ratoon.demo.__file__).parent / "data" / "mill.toml").read_text(encoding="utf-8")
BARE = MILL.split("[receival]")[0].split("[[carriers]]")[0].split("[payment]")[0]
CANE = """
[receival]
purge = 45
[[carriers]]
name = "carrier"
length = 40
[juice]
small = "combined"
apart = 0.4
[payment]
name = "2031"
form = "sugar price"
relative = "additive"
season_figure = "13.20"
advance = "0.6"
[payment.constants]
sugar_price = "431.27"
recovery = "0.90"
base_ccs = "4"
constant = "0.66"
[[charges]]
name = "levy"
rate = "-0.37"
[[pools]]
name = "seasonal"
share = "1"
price = "425.10"
"""


def test_defaults_are_the_same_in_the_file_and_in_the_rules():
    settings = parse_settings(BARE)
    assert receival_rules(settings) == ReceivalRules(zone=settings.mill.zone)
    assert analysis_rules(settings) == AnalysisRules()


def test_a_whole_agreement_is_read():
    settings = parse_settings(BARE + CANE)
    track = track_rules(settings)
    assert track.carriers[0].length == 40.0 and track.purge == 45.0
    assert analysis_rules(settings).apart == pytest.approx(0.004)
    rule = payment_rule(settings)
    assert rule.constants["sugar_price"] == Decimal("431.27")
    assert rule.charges[0].rate == Decimal("-0.37")
    assert rule.of_grower("anybody").constants["sugar_price"] == Decimal("425.10")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"combined"', '"guess"', "juice: small"),
        ('"additive"', '"upwards"', "payment: relative"),
        ('"431.27"', '"431,27"', "431,27"),
        ('constant = "0.66"', "", "'constant' is missing"),
        ('constant = "0.66"', 'constant = "0.66"\nconstnat = "0.60"', "unknown constant"),
        ('share = "1"', 'share = "0.9"', "do not sum to 1"),
        ('"sugar price"', '"sugar"', "form of payment"),
        ('advance = "0.6"', 'advance = "60"', "advance"),
        ('season_figure = "13.20"', "", "season_figure"),
        ('name = "carrier"', 'label = "carrier"', "label"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(old, new, told):
    with pytest.raises(RatoonError, match=told) as error:
        settings = parse_settings(BARE + CANE.replace(old, new))
        track_rules(settings), analysis_rules(settings), payment_rule(settings)
    assert "\n" not in str(error.value)


def test_without_carriers_or_payment_it_says_so():
    settings = parse_settings(BARE)
    with pytest.raises(BadInput, match="carrier"):
        track_rules(settings)
    with pytest.raises(BadInput, match="payment"):
        payment_rule(settings)
