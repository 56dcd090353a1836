# %% [markdown]
# # One day of the invented mill, from Python
#
# The account without files and pages: a mill file, a day's readings, the figures with their
# intervals. The truth of this day is known, because it was made up; so the intervals can be held
# against it.

# %%
from dataclasses import replace
from datetime import timedelta

import numpy as np

from ratoon.account.mill import Mill
from ratoon.account.period import account
from ratoon.account.readings.gather import gather
from ratoon.base.records import Stop
from ratoon.demo import measure
from ratoon.demo.hours import TruePlant
from ratoon.demo.random_days import random_day
from ratoon.demo.write import mill_text
from ratoon.settings.read import parse_settings

mill = Mill(parse_settings(mill_text()))
rng = np.random.default_rng(3)
truth = random_day(rng, TruePlant(mill.settings))

# %% [markdown]
# Instruments and laboratory read the day, each with the errors that the mill file states.

# %%
period = mill.calendar.period(truth.date)
lasting = measure.lasting_errors(mill, rng)
rows = measure.read(mill, truth, lasting, rng)
rows += measure.stocks(mill, truth.opening, period.start, lasting, rng)
rows += measure.stocks(mill, truth.closing, period.end, lasting, rng)
stood = Stop(period.start, period.start + timedelta(seconds=truth.period - truth.crushing),
             "mills", "other")  # fmt: skip
day = account(
    mill, gather(mill, period, [measure.as_reading(mill, r) for r in rows], [stood]), None
)
print(f"{len(rows)} rows, {len(mill.plant.equations.equations)} equations")

# %% [markdown]
# Figures beside the truth. On 19 days of 20 a figure's interval holds it.

# %%
shown = ("cane", "extraction", "boiling_house_recovery", "overall_recovery", "molasses_purity",
         "process_steam_on_cane", "undetermined")  # fmt: skip
off = []
for name in shown:
    address = f"account.{name}"
    figure = day.figure(address)
    true = truth.figures[address] * figure.value / day.answer.value(address)
    off.append((figure.value - true) / figure.sigma)
    print(f"{figure.name:32s} {figure.value:9.2f} +- {1.96 * figure.sigma:6.2f} {figure.unit:4s} "
          f"truth {true:9.2f}  {off[-1]:+.1f} sigma")  # fmt: skip
assert max(abs(x) for x in off) < 4.0

# %% [markdown]
# A meter goes wrong: the mixed juice reads 6 % high. Who is named?

# %%
wrong = [measure.as_reading(mill, r) for r in rows]
wrong = [replace(r, value=1.06 * r.value) if r.address == "mixed_juice.flow" else r for r in wrong]
again = account(mill, gather(mill, period, wrong, [stood]), None)
print(f"global test p = {again.answer.global_test.p:.1e}")
for suspect in again.answer.suspects:
    print(suspect.address, f"{suspect.standardised:+.1f} sigma, or", suspect.equivalent)
first = again.answer.suspects[0]
assert "mixed_juice.flow" in (first.address, *first.equivalent)
