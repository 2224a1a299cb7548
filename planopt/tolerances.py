"""Within what two numbers count as the same, each with its reason.

The audit has tolerances of its own, in `audit/findings.py`, so that no slip here passes unseen.
"""

from __future__ import annotations

# What one or two operations on floats leave behind, beside numbers of at most some thousands.
NOISE = 1e-9
# Grams in a plan are rounded to a millionth: what is less is no food. The same goes for packs.
NO_GRAMS = 1e-6
NO_PACKS = 1e-6
# A bound is kept by rows that HiGHS holds to 1e-7 of scaled numbers, and compared with a sum of
# some hundred rounded amounts: a miss of this share of it, or of one unit, is none.
WINDOW_SHARE = 1e-5
# Averages of what the plan itself tells, which is rounded at the ninth decimal, beside published
# intakes, and kilocalories of a day beside the energy floors.
REFERENCE_SHARE = 1e-6
ENERGY_KCAL = 1e-6
# Goals that follow one another: the first may give way by this much, so that rounding in the next
# solve does not make it impossible; what is missed by less is not told.
GOAL_SHARE = 1e-6
# Estimates of prices of limits below this, in money a unit, are rounding of the solver's duals.
NO_PRICE = 1e-7

# Bounds are taken with a millionth off, so a gap of exactly 0 cannot be seen.
LEAST_GAP = 2e-6
# What makes one week cheaper than another, in money: less is rounding.
CHEAPER = 1e-9


def meets(amount: float, low: float, high: float) -> bool:
    """Tell whether an amount lies within a window, dust aside; nothing is beyond a side of NaN."""
    below = amount < low - WINDOW_SHARE * max(1.0, abs(low))
    return not (below or amount > high + WINDOW_SHARE * max(1.0, abs(high)))
