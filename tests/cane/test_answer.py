"""The answers of a day and of a path are whole, finite JSON."""

from __future__ import annotations

import json
from datetime import date

from ratoon.cane.answer import day_answer, trace_answer
from ratoon.cane.day import cane_day
from ratoon.cane.receival import receive
from ratoon.cane.rules import ReceivalRules


def found(day, invented):
    received = receive(day.bins, day.tips, day.notes.values(), day.blocks, ReceivalRules())
    return cane_day(received, day.notes, day.speeds, day.samples, day.fibre_samples, day.series,
                    invented.TRACK, invented.RULES, invented.RATE)  # fmt: skip


def test_a_days_answer_adds_up(cane_of, invented_cane):
    cane = found(cane_of(5), invented_cane)
    answer = json.loads(json.dumps(day_answer(date(2031, 6, 10), cane), allow_nan=False))
    tonnes = sum(c["tonnes"] for c in answer["consignments"])
    assert abs(tonnes - answer["totals"]["tonnes"]) < 1e-6
    first = answer["consignments"][0]
    assert 8.0 < first["ccs"]["value"] < 18.0 and 0.05 < first["ccs"]["sigma"] < 1.0
    assert first["window"]["start"] < first["window"]["end"]
    assert first["method"] in ("sample", "unmixed")


def test_a_bins_path_goes_forward(cane_of, invented_cane):
    cane = found(cane_of(5), invented_cane)
    one = cane.consignments[3]
    path = trace_answer(cane.tracked, one, one.bins[0].bin.key)
    (step,) = path["bins"]
    assert step["weighed"] < step["tipped"] < step["at_sampler"]["start"]
    assert step["at_sampler"]["start"] < step["at_sampler"]["end"]
    whole = trace_answer(cane.tracked, one)
    assert len(whole["bins"]) == len(one.bins)
    assert json.dumps(whole, allow_nan=False)
