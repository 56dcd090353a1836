# %% [markdown]
# # Three meters and one balance
#
# Reconciliation in its smallest form: juice and water in, mixed juice out; three meters, and one
# balance that they contradict. No mill is needed: the room `equations` takes any equations.

# %%
from ratoon.base.records import Reading
from ratoon.equations import Eq, Equations, Var

names = ("juice", "water", "mixed_juice")


def balance(v):
    yield Eq("mixing", v["juice"] + v["water"] - v["mixed_juice"], 100.0, "conservation of mass")


tandem = Equations([Var(n, "kg/s", start=100.0, scale=100.0) for n in names], balance)

# %% [markdown]
# The meters say 95 + 40 = 130. Five are missing, and each meter has its own uncertainty (sigma, one
# standard deviation). The account moves each reading by as much as its uncertainty allows.

# %%
read = [
    Reading("juice", 95.0, 1.0),
    Reading("water", 40.0, 1.0),
    Reading("mixed_juice", 130.0, 2.0),
]
found = tandem.reconcile(read)
for r in found.readings:
    print(f"{r.address:12s} read {r.reading.value:6.1f}  account {r.adjusted:6.2f} +- "
          f"{1.96 * r.sigma:.2f}  checked by others {r.detectability:.2f}")  # fmt: skip

# %% [markdown]
# The same by hand. The misfit 5 is shared out by variance: 1, 1 and 4 parts of 6.

# %%
misfit, variances = 95.0 + 40.0 - 130.0, (1.0, 1.0, 4.0)
by_hand = [95.0 - misfit / 6.0, 40.0 - misfit / 6.0, 130.0 + 4.0 * misfit / 6.0]
print("by hand     ", [round(x, 2) for x in by_hand])
assert all(abs(found.value(n) - x) < 1e-9 for n, x in zip(names, by_hand))

# %% [markdown]
# Is 5 more than chance? Its own uncertainty is the root of 6; so 5 is two sigmas, and the
# global test gives the share of sound days on which the readings would stand as far apart.

# %%
print(f"chi-square {found.global_test.statistic:.2f} on {found.global_test.dof} degree of freedom, "
      f"p = {found.global_test.p:.3f}")  # fmt: skip
assert abs(found.global_test.statistic - misfit**2 / 6.0) < 1e-9
