# %% [markdown]
# # More imbibition: what comes out, what it costs
#
# The same equations asked the other way round: not "what did happen?" but "what would happen?".
# Estimates for the plant as the mill file sets it; site procedures and licensed people decide.

# %%
from itertools import pairwise

from ratoon.account.mill import Mill
from ratoon.demo.write import mill_text
from ratoon.settings.read import parse_settings

mill = Mill(parse_settings(mill_text()))
plant = mill.plant
usual = plant.solve()
print(f"{len(usual.values)} quantities, largest residual {usual.residual:.0e}")

# %% [markdown]
# Imbibition from 180 to 280 % on fibre. Extraction rises, ever more slowly; the evaporator has to
# take the water out again, and at some point the liquor comes out thinner.

# %%
print("imbibition  extraction  liquor brix  process steam  overall recovery")
table = []
for on_fibre in (1.8, 2.05, 2.3, 2.55, 2.8):
    then = plant.solve({"imbibition.on_fibre": on_fibre}, usual.values)
    row = [then.values[f"account.{a}"] for a in (
        "extraction", "liquor_brix", "process_steam_on_cane", "overall_recovery")]  # fmt: skip
    table.append(row)
    print(f"{100 * on_fibre:8.0f} %{100 * row[0]:11.2f} %{100 * row[1]:11.1f} %"
          f"{100 * row[2]:13.1f} %{100 * row[3]:16.2f} %")  # fmt: skip
gains = [b[0] - a[0] for a, b in pairwise(table)]
assert all(g > 0 for g in gains) and gains[-1] < gains[0]

# %% [markdown]
# What one unit is worth comes from the same question. The pol in a day's cane, times the recovery
# that the next quarter of imbibition brings, is sugar.

# %%
pol = 86.4 * usual.values["account.pol_in_cane"] * usual.values["cane.rate"]
more = pol * (table[3][3] - table[2][3])
print(f"from 230 to 255 % on fibre: {more:+.1f} t of pol in sugar a day, of {pol:.0f} t in cane")
assert 0.0 < more < 0.01 * pol
