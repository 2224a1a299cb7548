"""A conflict and its repairs in the user's words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from planopt.catalog.dishtext import dish_name
from planopt.catalog.records import Catalog
from planopt.problem.limits import MEAL_COUNTS, WHOLE_PLAN, Limit, LimitKey, Side
from planopt.problem.rules import TALLIES
from planopt.problem.unserved import Unserved
from planopt.scenario.mealwindows import PLATE, meal_bounds
from planopt.scenario.records import Scenario
from planopt.scenario.samedish import tie_words
from planopt.units import minor_digits
from planopt.whynot.conflict import Conflict
from planopt.whynot.leastbudget import LeastBudget
from planopt.whynot.repairs import Move, Repair
from planopt.whynot.rules import Rule

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_COOK_WORDS = {
    "hands_on_minutes": "hands-on minutes",
    "oven_minutes": "oven minutes",
    "hob_minutes": "hob minutes",
    "most_recipes": "recipes",
}

_MOST_LACKING = 5
_MOST_USED = 8
_SELL_MORE = (
    "Let more sellers in (`sellers`), put these foods on hand (`stock`), or use other recipes."
)
_COOK_MORE = (
    "Add a cook day (`cook_days`), let the freezer be used, or use recipes that keep longer."
)
_OTHER_SIZES = (
    "Widen what the meals may hold (`windows_per_meal`, `plate_g`; `meal_defaults: off` for the "
    "usual sizes) or the `portions`, or use other recipes."
)
_NOT_SO_LONG = "Lower `not_again_days`, or use other recipes for these meals."
_MORE_RECIPES = "Add recipes for these meals, or leave the meals out."


def _meals(count: float) -> str:
    return _counted(count, "meal")


def _counted(count: float, noun: str) -> str:
    return f"{count:g} {noun}" + ("" if count == 1 else "s")


class RuleWords:
    """Words for the rules, moves and days of one scenario."""

    def __init__(self, catalog: Catalog, scenario: Scenario) -> None:
        self._catalog = catalog
        self._scenario = scenario
        self._names = {client.client_id: client.name for client in scenario.clients}

    def day(self, day: int) -> str:
        """Return a day of the plan as weekday and date."""
        date = self._scenario.date_of(day)
        return f"{WEEKDAYS[date.weekday()]} {date.isoformat()}"

    def days(self, days: Sequence[int]) -> str:
        """Return days as text; runs of three and more are told by their ends."""
        runs: list[list[int]] = []
        for day in days:
            if runs and day == runs[-1][-1] + 1:
                runs[-1].append(day)
            else:
                runs.append([day])
        texts = []
        for run in runs:
            if len(run) > 2:
                texts.append(f"{self.day(run[0])} to {self.day(run[-1])}")
            else:
                texts += [self.day(day) for day in run]
        return ", ".join(texts)

    def amount(self, rule: Rule, value: float) -> str:
        """Return a value of a rule with its unit."""
        key = rule.key
        if key.kind == "budget":
            currency = self._scenario.currency
            return f"{value:.{minor_digits(currency)}f} {currency}"
        if key.kind in ("window", "meal_window"):
            return f"{value:.10g} {self._unit(key.what)}"
        return f"{value:.10g}"

    def rules(self, rules: Iterable[Rule], days: Sequence[int] = ()) -> list[str]:
        """Return one text for each rule; both sides of a window are one text."""
        texts: dict[object, str] = {}
        found = list(rules)
        for rule in found:
            key = rule.key
            if key.kind not in ("window", "meal_window", "servings"):
                texts[key] = self._other(rule)
                continue
            same = (key.of_side(""), rule.daily)
            sides = {r.key.side: r for r in found if (r.key.of_side(""), r.daily) == same}
            texts[same] = self._window(rule, sides, days)
        return list(texts.values())

    def _window(self, rule: Rule, sides: Mapping[Side, Rule], days: Sequence[int]) -> str:
        key = rule.key
        name = self._measured(key)
        unit = "" if key.kind == "servings" else self._unit(key.what)
        low, high = (self._size(sides.get(side)) for side in ("min", "max"))
        if low and high:
            size = f"{low} to {high} {unit}".rstrip()
        else:
            size = (f"at least {low} {unit}" if low else f"at most {high} {unit}").rstrip()
        where = " over the plan"
        if rule.daily:
            clashing = [day for day in days if day in rule.days]
            every = not clashing or set(clashing) >= set(rule.days)
            where = f" on {self.days(clashing)}"
            if every:
                where = "" if key.kind == "meal_window" else " a day"
        elif key.day != WHOLE_PLAN:
            where = f" on {self.day(key.day)}"
        usual = " (usual size)" if self._usual(rule) else ""
        return f"{self._who(key.client)}: {name} {size}{where}{usual}"

    def _usual(self, rule: Rule) -> bool:
        """Tell whether a window of a meal is the usual one that nobody has written."""
        key = rule.key
        if key.kind != "meal_window":
            return False
        client = next(c for c in self._scenario.clients if c.client_id == key.client)
        day = rule.limits[0].key.day
        bound = meal_bounds(self._scenario, client, day, key.meal).get(key.what)
        values = (bound.low, bound.high) if bound is not None and bound.usual else ()
        return rule.value in values

    def _measured(self, key: LimitKey) -> str:
        """Return what a window is of, and at which meal."""
        if key.kind == "servings":
            return f"servings of {self._recipe(key.what)}"
        name = "food" if key.what == PLATE else self._catalog.amounts[key.what].name
        return f"{name} at {key.meal.replace('_', ' ')}" if key.meal else name

    def _size(self, rule: Rule | None) -> str:
        """Return a value; one that is a share of a day's has no more digits than are shown."""
        if rule is None:
            return ""
        what, value = rule.key.what, rule.value
        if rule.key.kind == "meal_window":
            value = round(value, 0 if what == PLATE else self._catalog.amounts[what].decimals)
        return f"{value:.10g}"

    def _unit(self, what: str) -> str:
        return "g" if what == PLATE else self._catalog.amounts[what].unit

    def _who(self, client_id: str) -> str:
        return self._names.get(client_id, client_id)

    def _food(self, food_id: str) -> str:
        return self._catalog.foods[food_id].name.lower()

    def _recipe(self, recipe_id: str) -> str:
        return dish_name(self._catalog.recipes[recipe_id], "base", self._catalog)

    def _counted(self, key: LimitKey) -> str:
        """Return what a count of meals counts."""
        tally = TALLIES[key.kind]
        return tally.noun.format(self._food(key.what) if tally.name == "food" else key.what)

    def _other(self, rule: Rule) -> str:
        key, value = rule.key, rule.value
        who = f"{self._who(key.client)}: " if key.client else ""
        match key.kind:
            case "budget":
                return f"budget {self.amount(rule, value)}"
            case "repeats":
                return f"{who}at most {_meals(value)} of one recipe"
            case "variety":
                return f"{who}at least {value:g} different recipes"
            case "most_kinds":
                where = "" if key.client else " cooked"
                return f"{who}at most {_counted(value, 'different recipe')}{where}"
            case "spacing":
                dish = self._recipe(key.what) if key.what else "one dish"
                return f"{who}at least {_counted(value, 'day')} between meals of {dish}"
            case "same_dish":
                return self._tie(key.what)
            case "dislike" if value == 0:
                return f"{who}no {self._food(key.what)}"
            case kind if kind in MEAL_COUNTS:
                side = "least" if Limit(key, value).from_below else "most"
                return f"{who}{self._counted(key)} in at {side} {_meals(value)}"
            case "allergen":
                return f"{who}no {self._catalog.allergens[key.what].name.lower()}"
            case "excluded_food":
                return f"{who}no {self._food(key.what)}"
            case "energy_floor":
                return (
                    f"{who}{self._catalog.amounts[key.what].name} at least {value:g} kcal on a "
                    "full day (the floor without medical supervision, never lowered)"
                )
            case "not_again":
                return f"{who}no dish again within {value:g} days of a past plan"
            case "excluded_recipe":
                return f"{who}not {self._recipe(key.what)}"
            case _:
                return f"at most {value:g} {_COOK_WORDS[key.kind]} on cook day {self.day(key.day)}"

    def _tie(self, words: str) -> str:
        row = next((r for r in self._scenario.same_dish if tie_words(r) == words), None)
        return words if row is None else tie_words(row, self._who, self.days)

    def unserved(self, meals: Sequence[Unserved]) -> list[str]:
        """Return sentences on meals that no dish can serve, and what would help."""
        found: list[str] = []
        for cause, why, mend in (
            ("food is lacking", self._no_food(), _SELL_MORE),
            ("none keeps", "no dish is ready by then and still keeps", _COOK_MORE),
            ("had lately", "all that suits was had too lately in a past plan", _NOT_SO_LONG),
            ("none fits", "no dish has a portion of a size that they may have", _OTHER_SIZES),
            ("none suits", "no usable recipe for them suits the client", _MORE_RECIPES),
        ):
            mine = [meal for meal in meals if meal.cause == cause]
            if mine:
                found.append(f"These meals have no dish, because {why}:")
                found += [f"- {self._unserved(meal)}" for meal in mine]
                found.append(mend)
        return found

    def _no_food(self) -> str:
        sellers = self._scenario.sellers
        if sellers is None:
            sold = f"no seller sells in {self._scenario.currency}"
        else:
            names = " and ".join(self._catalog.sellers[seller].name for seller in sellers)
            sold = f"{names} {'does' if len(sellers) == 1 else 'do'} not sell"
        return f"every recipe that suits needs a food that {sold} and that is not on hand in time"

    def _unserved(self, meal: Unserved) -> str:
        every = len(meal.days) == self._scenario.days
        days = "every day" if every else self.days(meal.days)
        text = f"{self._who(meal.client_id)}: {meal.meal.replace('_', ' ')}, {days}"
        if meal.nearest is None:
            return text
        foods = [self._catalog.foods[food_id].name for food_id in meal.lacking]
        more = len(foods) - _MOST_LACKING
        lacking = "; ".join(foods[:_MOST_LACKING]) + (f"; and {more} more" if more > 0 else "")
        return f"{text} (the nearest, {self._recipe(meal.nearest)}, lacks {lacking})"

    def move(self, move: Move) -> str:
        """Return a move in words: how things would be after it."""
        if move.what == "cook_day":
            return f"one more cook day, on {self.day(move.days[0])}"
        if move.what == "portions":
            return f"{self._who(move.client)}: portions of up to {move.after:g} servings"
        assert move.rule is not None
        rule = move.rule
        if rule.key.kind == "same_dish":
            return f"without `same_dish` for {self._tie(rule.key.what)}"
        if rule.key.kind == "budget":
            return f"budget {self.amount(rule, move.after)}"
        moved = Rule(rule.key, move.after, rule.daily, rule.limits)
        (text,) = self.rules([moved], move.days)
        return text

    def conflict(self, conflict: Conflict) -> list[str]:
        """Return sentences on a conflict."""
        texts = self.rules(conflict.rules, conflict.days)
        if not texts:
            return []
        if len(texts) == 1:
            found = [f"This cannot be met by itself: {texts[0]}."]
        else:
            found = ["These cannot all be met together: " + "; ".join(texts) + "."]
        if conflict.minimal:
            if len(texts) > 1:
                found.append(
                    "Each of them is needed for the clash: without any one, the others can be met."
                )
        else:
            open_rules = [rule for rule in conflict.rules if rule not in conflict.proven]
            names = "; ".join(self.rules(open_rules, conflict.days))
            found.append(
                f"Not proven in the time given to be part of the clash: {names}."
                if conflict.proven
                else "Fewer of them may do; which ones are needed was not found in the time given."
            )
        return found

    def least_budget(self, least: LeastBudget, budget: Rule, conflict: Conflict) -> list[str]:
        """Return sentences on a budget that is proven to be too small."""
        now, proven = self.amount(budget, budget.value), self.amount(budget, float(least.proven))
        if least.found is None:
            text = (
                f"The budget of {now} is too small: with the other limits, groceries for less than "
                f"{proven} are proven impossible. Whether there is a week at all without a budget "
                "was not found in the time given."
            )
        else:
            cost = self.amount(budget, float(least.found))
            text = (
                f"The budget of {now} is too small for the other limits: a week with groceries "
                f"for {cost} is found, and below {proven} is proven impossible."
            )
        used = self.rules(rule for rule in conflict.rules if rule != budget)
        if not used:
            return [
                text,
                "Even without any of the other limits the meals cost more than the budget.",
            ]
        if len(used) > _MOST_USED:
            return [text, "It clashes with the other limits taken together."]
        names = "; ".join(used)
        return [
            text,
            f"It clashes with these limits alone already: {names}.",
        ]

    def repair(self, repair: Repair) -> str:
        """Return a sentence on a repair with its figures."""
        moves = " and ".join(self.move(move) for move in repair.moves)
        text = f"{moves}: suffices"
        rule = repair.moves[0].rule
        if len(repair.moves) == 1 and rule is not None:
            if repair.least:
                text += ", and nothing less does"
            elif repair.at_least is not None:
                text += f" (proven: not before {self.amount(rule, repair.at_least)})"
            if rule.key.kind == "same_dish":
                return f"{text}."
            text += f"; now {self.amount(rule, repair.moves[0].before)}"
        return f"{text}."
