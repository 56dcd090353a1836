# %% [markdown]
# # A mill's records as tables
#
# Figures, losses, readings and stops of a mill's folder, in trade units, without files in between.
# The folder is the demonstration's; `RATOON_MILL` names another.

# %%
import os

import ratoon

mill = ratoon.open_records(os.environ.get("RATOON_MILL", "kestrel-point"))
print(mill)

# %% [markdown]
# A row for each day and figure. A table is a mapping of columns: `pandas.DataFrame(dict(table))`
# takes it, and `polars.DataFrame(table)` without a copy, with the extra `ratoon[tables]`.

# %%
figures = mill.figures()
print(figures.where(address="account.overall_recovery"))

# %% [markdown]
# What molasses took, week to date, and how sure that is.

# %%
molasses = mill.losses(to_date="week").where(loss="molasses")
for row in molasses.rows():
    print(f"{row['date']}  {row['pct']:5.2f} +- {1.96 * row['pct_sigma']:4.2f} % of pol in cane")
assert all(row["pct_sigma"] > 0.0 for row in molasses.rows())

# %% [markdown]
# Time lost by cause, straight from the journal.

# %%
lost: dict[str, float] = {}
for stop in mill.stops().rows():
    lost[stop["cause"]] = lost.get(stop["cause"], 0.0) + (stop["hours"] or 0.0)
for cause, hours in sorted(lost.items(), key=lambda x: -x[1]):
    print(f"{hours:6.1f} h  {cause}")

# %% [markdown]
# One day whole: its suspects, and the working behind a figure.

# %%
day = mill.day(mill.days[-1])
working = day.working["account.extraction"]
print(working.formula)
for share in working.shares[:3]:
    print(f"  {share.share:.0%} of its variance from {share.name}")
mill.close()
