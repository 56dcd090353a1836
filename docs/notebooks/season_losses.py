# %% [markdown]
# # Where a season's sugar was lost
#
# Losses to date of a mill's folder, beside the days they are made of. `RATOON_MILL` names the
# folder; the demonstration's otherwise.

# %%
import os

import matplotlib

import ratoon

matplotlib.use("agg")  # a picture, no window; a notebook leaves this line out
mill = ratoon.open_records(os.environ.get("RATOON_MILL", "kestrel-point"))
print(mill)

# %% [markdown]
# Season to date at the newest day: an account of its own, never a sum of reconciled days.

# %%
last = mill.days[-1]
season = mill.losses(last, last, to_date="season")
for row in sorted(season.rows(), key=lambda r: -(r["money"] or 0.0)):
    interval = 1.96 * (row["pct_sigma"] or 0.0)
    print(f"{row['loss']:14s} {row['pct']:6.2f} +- {interval:4.2f} % of pol in cane"
          f"  {row['money']:12,.0f}")  # fmt: skip

# %% [markdown]
# The interval of a long account is narrower than that of a day: readings' own scatter averages out,
# an instrument's lasting error does not.

# %%
day = {r["loss"]: r for r in mill.losses(last, last).rows()}
molasses = season.where(loss="molasses")["pct_sigma"][0]
alone = day["molasses"]["pct_sigma"]
print(f"molasses: a day +- {1.96 * alone:.2f}, to date +- {1.96 * molasses:.2f}")
assert 0.0 < molasses < alone

# %% [markdown]
# The same to look at: a figure over the days, and where one day's pol went.

# %%
trend = mill.plot_trend("account.overall_recovery")
flows = mill.plot_flows(last)
print(trend.get_title(), "|", flows.get_title())
assert len(flows.patches) >= 5
mill.close()
