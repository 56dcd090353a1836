"""The plan by week beside what came: what a span was planned to give, and why it gave otherwise.

Read in this order: `planned` (totals of a span out of the plan's weeks), `factors` (sugar and money
as one product), `steps` (from plan to actual, in one order and by Shapley), `result`.
"""
