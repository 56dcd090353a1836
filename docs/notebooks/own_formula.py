# %% [markdown]
# # A formula of one's own against the checks
#
# A mill often has a short formula in a spreadsheet. Here one for the specific gravity of juice is
# held against what the program uses, which is itself held against print.

# %%
from ratoon.checks.run import run_checks
from ratoon.properties.solution.specific_gravity import apparent_specific_gravity

rows = [r for r in run_checks(published=True) if r.formula == "apparent_specific_gravity"]
print(f"{len(rows)} printed specific gravities from {', '.join(sorted({r.source for r in rows}))}")
for row in rows[:3]:
    print(f"  {row.id}: printed {row.printed}, found {row.found:.5f}")
assert len(rows) > 20 and all(row.passed for row in rows)


# %% [markdown]
# The spreadsheet's rule, of our own making: each unit of brix adds 0.004. It is meant to be wrong
# somewhere; the question is where.


# %%
def rule(brix):
    """Specific gravity at 20/20 degC [-] of juice of some brix [%]."""
    return 1.0 + 0.004 * brix


off = {}
print("brix      rule   program   difference")
for brix in (5, 15, 30, 45, 65, 80):
    ours = float(apparent_specific_gravity(brix / 100.0))
    off[brix] = rule(brix) - ours
    print(f"{brix:4d} {rule(brix):9.4f} {ours:9.4f} {off[brix]:+12.4f}")

# %% [markdown]
# Good to a few units of the third place in mixed juice, far off in liquor: a tank of it by level
# would be told a twentieth short. A formula is believed in the range where it was
# tried, and no further.

# %%
assert abs(off[15]) < 0.003 and off[65] < -0.05 and off[80] < off[65] < off[45]
