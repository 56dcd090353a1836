# %% [markdown]
# # The cane of a grower
#
# Consignments of a mill's folder, by grower: tonnes, CCS with its interval, how that stands beside
# the mill's. What is paid follows the agreement and its statement, never this page.

# %%
import os

import ratoon

mill = ratoon.open_records(os.environ.get("RATOON_MILL", "kestrel-point"))
cane = mill.consignments()
print(cane)

# %% [markdown]
# Who brought most.

# %%
brought: dict[str, float] = {}
for row in cane.rows():
    brought[row["grower"]] = brought.get(row["grower"], 0.0) + row["t"]
grower = max(brought, key=lambda name: brought[name])
print(f"{grower}: {brought[grower]:,.0f} of {sum(brought.values()):,.0f} t")

# %% [markdown]
# CCS weighed by tonnes. Each consignment's own interval is that of its analysis; the mean of many
# is surer, as far as the errors have nothing in common.


# %%
def mean_ccs(table):
    """CCS [%] and its standard uncertainty, weighed by tonnes, of what was analysed."""
    known = [r for r in table.rows() if r["ccs"] is not None]
    tonnes = sum(r["t"] for r in known)
    sigma = sum((r["t"] * r["ccs_sigma"]) ** 2 for r in known) ** 0.5 / tonnes
    return sum(r["t"] * r["ccs"] for r in known) / tonnes, sigma, len(known)


own, sigma, analysed = mean_ccs(cane.where(grower=grower))
whole, _, of_all = mean_ccs(cane)
print(f"{grower}: CCS {own:.2f} +- {1.96 * sigma:.2f} % of {analysed} consignments")
print(f"the mill: CCS {whole:.2f} % of {of_all} consignments; the grower's is {own - whole:+.2f}")
assert 5.0 < own < 20.0 and 0 < analysed <= of_all

# %% [markdown]
# Which of the consignments have something to be looked at before anybody is paid.

# %%
for row in cane.where(grower=grower).rows():
    if row["flags"]:
        print(f"{row['date']}  {row['consignment']}  {row['t']:6.1f} t  {row['flags']} flag(s)")
mill.close()
