"""Names for the columns of the arrays in which the compiled search keeps its account."""

# Columns of the arrays: cookings, pools, cover tables, places, rules, groups.
PER_STEP, STEP, WASTE, FULL, HANDS, EXTRA, OVEN, HOB, START, FURTHER, BOX = range(11)
RECIPE, COOK, GROUP, WHOLE, TAKE_FROM, TAKE_TO, KIN_FROM, KIN_TO = range(8)
STOCK, STOCK_VALUE, CHARGE, LOOSE = range(4)
TABLE_G, TABLE_COST, TABLE_PRICE = range(3)
SLOT, DAY, CLIENT, KIND = range(4)
RULE_LOW, RULE_HIGH, RULE_SERVES = range(3)
# Columns of the state.
EATEN, STEPS, MORE = range(3)
GRAMS, COST, PRICE, MORE_G, NEW_COST, NEW_PRICE = range(6)
BATCHES, STARTED, MORE_BATCHES, MORE_STARTED = range(4)
# Entries of the totals and of the counts.
MONEY, PENALTY, GROCERY, BEST, BEST_MONEY, PRICED, TRIED, TAKEN = range(8)
USED, PLACES, COOKINGS, POOLS, DAYS, CLIENTS, RECIPES, RULES, GROUPS, SOUND = range(10)
# Entries of what is beyond limits: batches, and different recipes, now and with what is pending.
OVER, OVER_NEW, MADE, MADE_NEW = range(4)

# Rounding that sums and grams are allowed.
EPS = 1e-9
EPS_G = 1e-6
