# %% [markdown]
# # A drift too small for a day
#
# A meter that is out by its own uncertainty is not seen in one day. Over a fortnight chance
# averages out and the drift does not: that is what the charts of `ratoon week` are for.

# %%
from datetime import date, timedelta

import numpy as np

from ratoon.account.trust.cusum import run_charts
from ratoon.account.trust.points import Point

rng = np.random.default_rng(11)
first = date(2031, 6, 10)


def point(size):
    """One day's reading less what the others say of it: 1.0 new each day, 0.6 lasting."""
    return Point("meter", size, random=1.0, common=0.6, stated=0.8, detectability=0.8,
                 calibrated={}, alike={})  # fmt: skip


# %% [markdown]
# Sixty days of a sound meter that always reads 0.5 high, inside its stated lasting uncertainty;
# then a fortnight with 1.5 more.

# %%
sizes = 0.5 + rng.standard_normal(74)
sizes[60:] += 1.5
days = [(first + timedelta(days=n), [point(float(s))]) for n, s in enumerate(sizes)]
charts = run_charts(days, number=40)
chart = charts.charts["meter"]
print(f"limits: sum {charts.limit:.1f}, rise over a fortnight {charts.rise_limit:.1f}")
print(f"largest day of the fortnight: {max(abs(s.value) for s in chart.steps[60:]):.1f} sigma")
for c in chart.crossings:
    print(
        f"sounded on {c.day}, leaving since {c.since}: {c.size:+.1f} +- {1.96 * c.size_sigma:.1f}"
    )
assert chart.crossings and (chart.crossings[0].day - first).days >= 60

# %% [markdown]
# How many charts, how often without cause? Forty charts together may sound once in 30 days; each
# side of one of them then once in 2,400 days.

# %%
from ratoon.account.trust.run_length import limits_for  # noqa: E402

for number in (1, 10, 40):
    limit, rise = limits_for(number, 0.5, 14, 30.0)
    print(f"{number:3d} charts: sum {limit:.2f}, rise {rise:.2f}")
