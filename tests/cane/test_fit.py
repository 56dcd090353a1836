"""Lag and dispersion come back from a day whose settings are wrong."""

from __future__ import annotations

from dataclasses import replace

from ratoon.cane.day import track
from ratoon.cane.fit import fit_path
from ratoon.cane.receival import receive
from ratoon.cane.rules import ReceivalRules


def test_wrong_settings_are_put_right_by_the_steps(cane_of, invented_cane):
    for seed in (0, 1, 2):
        day = cane_of(seed)
        received = receive(day.bins, day.tips, day.notes.values(), day.blocks, ReceivalRules())
        # the day was made with 25 s of chute and a dispersion of 22 s
        wrong = replace(invented_cane.TRACK, shredder_and_chute=40.0, dispersion=10.0)
        found = fit_path(track(received.bins, day.speeds, wrong, invented_cane.RATE), day.series)
        assert found is not None and found.steps >= 10
        assert abs(found.late + 15.0) < 4 * found.late_sigma + 1.0
        assert abs(found.dispersion - 22.0) < 4 * found.dispersion_sigma + 1.0
        assert found.late_sigma < 3.0 and found.dispersion_sigma < 4.0


def test_cane_that_is_all_alike_shows_no_step(cane_of, invented_cane):
    day = cane_of(0)
    received = receive(day.bins, day.tips, day.notes.values(), day.blocks, ReceivalRules())
    tracked = track(received.bins, day.speeds, invented_cane.TRACK, invented_cane.RATE)
    flat = replace(day.series, brix=0 * day.series.brix + 0.2 + 1e-5 * (day.series.times % 7),
                   pol=0 * day.series.pol + 0.18 + 1e-5 * (day.series.times % 5))  # fmt: skip
    assert fit_path(tracked, flat) is None
