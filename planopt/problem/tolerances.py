"""Tolerances of problem, model and explanations: how near counts as equal, and why.

Numbers are floats of some 16 digits. What is added up here has at most a few thousand terms of
at most 1e6, so that rounding stays below all of these, and what anybody would notice above them.
"""

from __future__ import annotations

# Counts that are whole but for rounding, such as 1.5 / 0.1 portions: a billionth of one.
WHOLE = 1e-9
# Grams: a millionth of a gram is no food, and more than sums of grams are off by.
GRAMS = 1e-6
# Amounts against their limits, as a share of the limit: HiGHS keeps rows to 1e-7 by default.
SHARE = 1e-7
# Money of one menu, or of one cover row: what is nearer than this is the same price.
MONEY = 1e-9
# A dish that counts as eaten is eaten: where any amount goes and the client's smallest portion is
# nothing, at least this many servings.
LEAST_PORTION = 0.01
