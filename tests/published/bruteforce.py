"""The cheapest week by enumeration: every menu, every number of batches, every choice of packs."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import combinations, permutations, product
from typing import Any, TypeVar

import numpy as np

from published.facts import Facts
from published.randomweeks import DAYS
from published.weekorder import liked_less, order_kept, tied_sets

Cooking = tuple[int, int]
Plate = tuple[tuple[Cooking, Fraction], ...]
Visit = tuple[str, int]
Served = tuple[Fraction, ...]
# Numbers of plates that share a dish, and what they have.
Shared = frozenset[tuple[int, frozenset[str]]]
Key = TypeVar("Key")
Bill = tuple[int, Fraction]
_ONE = Fraction(1)


def brute_force(facts: Facts) -> Fraction | None:
    """Return the least objective in cents, or None when no week complies."""
    scenario = facts.week.scenario
    cookings = [(d, k) for d in range(len(facts.dishes)) for k in range(len(facts.cook_days))]
    every = [(c, *plate) for c in scenario["clients"] for plate in _plates(facts, c)]
    sets = tied_sets(scenario, [(c["id"], day, meal) for c, day, meal in every])
    # What is served of each cooking, and of plates that share a dish, with the least cents of
    # boxes that it can be served in.
    both: dict[tuple[Served, Shared], Fraction] = {
        (tuple(Fraction(0) for _ in cookings), frozenset()): 0 * _ONE
    }
    for client in scenario["clients"]:
        eaten = _cheapest(
            ((_served(menu, cookings), shared), _boxes(facts, client, menu))
            for menu, shared in _menus(facts, client, sets)
        )
        both = _cheapest(
            (
                (tuple(a + b for a, b in zip(one[0], two[0], strict=True)), one[1] | two[1]),
                both[one] + eaten[two],
            )
            for one in both
            for two in eaten
            if len({number for number, _ in one[1] | two[1]}) == len(one[1] | two[1])
        )
    totals = _cheapest((served, cents) for (served, _), cents in both.items())
    if not totals:
        return None
    menus = sorted(totals)
    boxed = np.array([float(totals[menu]) for menu in menus])
    # What nobody ever eats could only add cost.
    eaten_ever = [any(total[n] for total in menus) for n in range(len(cookings))]
    values = [facts.serving_value(facts.dishes[d]) for d, _ in cookings]
    weight = Fraction(str(scenario["waste_weight"]))
    worth = np.array([[float(v) for v in values]])
    menu_array = np.array([[float(x) for x in total] for total in menus])
    menu_worth = (menu_array * worth).sum(axis=1)
    bills: dict[tuple[Any, ...], list[Bill]] = {}
    best: Fraction | None = None
    for batches in _batches(facts, cookings, eaten_ever):
        made = [b * facts.dishes[d].servings for b, (d, _) in zip(batches, cookings, strict=True)]
        fits = (menu_array <= np.array([float(m) for m in made]) + 1e-9).all(axis=1)
        if not fits.any():
            continue
        bought = _least_bought(facts, cookings, batches, bills)
        if bought is None:
            continue
        saved = float(weight) * menu_worth - boxed
        chosen = menus[int(np.where(fits, saved, -1e9).argmax())]
        uneaten = sum(
            (v * (m - e) for v, m, e in zip(values, made, chosen, strict=True)), Fraction(0)
        )
        cost = bought + weight * uneaten + _work(facts, cookings, batches) + totals[chosen]
        best = cost if best is None else min(best, cost)
    return best


def _cheapest(pairs: Iterable[tuple[Key, Fraction]]) -> dict[Key, Fraction]:
    found: dict[Key, Fraction] = {}
    for key, cents in pairs:
        found[key] = min(cents, found.get(key, cents))
    return found


def _boxes(facts: Facts, client: dict[str, Any], menu: Plate) -> Fraction:
    """Return cents that a client's portions count for beside food: boxes, tastes, had before."""
    paid = Fraction(0)
    for (d, _), size in menu:
        dish = facts.dishes[d]
        paid += facts.work_cents(dish)[2] + liked_less(client, dish.recipe)
        paid += facts.seen_cents(dish.recipe) + dish.cents * size
    return paid


def _work(facts: Facts, cookings: list[Cooking], batches: tuple[Fraction, ...]) -> Fraction:
    total = Fraction(0)
    for b, (d, _) in zip(batches, cookings, strict=True):
        start, extra, _ = facts.work_cents(facts.dishes[d])
        total += start + extra * max(0, b - 1) if b else 0
    return total


def _served(menu: Plate, cookings: list[Cooking]) -> tuple[Fraction, ...]:
    served: defaultdict[Cooking, Fraction] = defaultdict(Fraction)
    for cooking, size in menu:
        served[cooking] += size
    return tuple(served[cooking] for cooking in cookings)


def _plates(facts: Facts, client: dict[str, Any]) -> list[tuple[int, str]]:
    days = range(1, DAYS + 1)
    return [(day, meal) for day in days for meal in facts.meals_of(client, day)]


def _menus(
    facts: Facts, client: dict[str, Any], sets: dict[tuple[str, int, str], int]
) -> Iterator[tuple[Plate, Shared]]:
    """Yield every menu of two days that the client's rules allow, and what tied plates have."""
    days = [_day_menus(facts, client, day) for day in range(1, DAYS + 1)]
    names = [(client["id"], *plate) for plate in _plates(facts, client)]
    tied = {n for n in sets.values() if sum(n == other for other in sets.values()) > 1}
    for week in product(*days):
        plates = [plate for day in week for plate in day]
        eaten = {
            name: frozenset(facts.dishes[d].recipe for (d, _), _ in plate)
            for name, plate in zip(names, plates, strict=True)
        }
        kept = order_kept(facts.week.scenario, client, eaten, sets)
        if kept and _week_allowed(facts, client, plates):
            shared = frozenset((sets[n], eaten[n]) for n in names if sets[n] in tied)
            yield tuple(item for plate in plates for item in plate), shared


def _day_menus(facts: Facts, client: dict[str, Any], day: int) -> list[tuple[Plate, ...]]:
    most = facts.week.scenario.get("most_dishes_per_meal", 1)
    portions = {name: Fraction(str(size)) for name, size in client["portions"].items()}
    sizes = []
    while not sizes or sizes[-1] < portions["largest"]:
        sizes.append(portions["smallest"] + len(sizes) * portions["step"])
    meals = []
    for meal in facts.meals_of(client, day):
        reachable = facts.reachable(client, day, meal)
        plates = [
            tuple(zip(dishes, amounts, strict=True))
            for count in range(1, most + 1)
            for dishes in combinations(reachable, count)
            for amounts in product(sizes, repeat=count)
        ]
        meals.append(
            [
                plate
                for plate in plates
                if facts.meal_holds(
                    client, day, meal, [(facts.dishes[d], s) for (d, _), s in plate]
                )
            ]
        )
    found = []
    for plates in product(*meals):
        recipes = [facts.dishes[d].recipe for plate in plates for (d, _), _ in plate]
        if len(recipes) == len(set(recipes)) and _day_allowed(facts, client, day, plates):
            found.append(plates)
    return found


def _amount(facts: Facts, plates: Any, nutrient: str) -> Fraction:
    return sum(
        (
            size * facts.amount(facts.dishes[d], nutrient)
            for plate in plates
            for (d, _), size in plate
        ),
        Fraction(0),
    )


def _day_allowed(facts: Facts, client: dict[str, Any], day: int, plates: Any) -> bool:
    return all(
        low <= _amount(facts, plates, nutrient) <= high
        for nutrient, (low, high) in facts.windows(client, day).items()
    )


def _week_allowed(facts: Facts, client: dict[str, Any], plates: list[Plate]) -> bool:
    meals: Counter[str] = Counter()
    servings: defaultdict[str, Fraction] = defaultdict(Fraction)
    foods: Counter[str] = Counter()
    groups: Counter[str] = Counter()
    food_groups: Counter[str] = Counter()
    for plate in plates:
        here = set()
        recipes = facts.week.recipes
        dishes = [recipes[facts.dishes[d].recipe] for (d, _), _ in plate]
        groups.update({group for dish in dishes for group in dish.get("groups", ())})
        in_meal = [facts.dishes[d].nutrients for (d, _), _ in plate]
        food_groups.update({name for one in in_meal for name in one if one[name] >= 25})
        for (d, _), size in plate:
            dish = facts.dishes[d]
            meals[dish.recipe] += 1
            servings[dish.recipe] += size
            here |= set(dish.cg) | dish.foods
        foods.update(here)
    if len(meals) < client.get("least_different_recipes", 0):
        return False
    if any(foods[food] > most for food, most in client.get("dislikes", {}).items()):
        return False
    if any(foods[food] < least for food, least in client.get("wants", {}).items()):
        return False
    if any(groups[group] > most for group, most in client.get("most_meals_of", {}).items()):
        return False
    if any(groups[group] < least for group, least in client.get("least_meals_of", {}).items()):
        return False
    with_most, with_least = (client.get(f"{side}_meals_with", {}) for side in ("most", "least"))
    if any(food_groups[f"{group}_g"] > most for group, most in with_most.items()):
        return False
    if any(food_groups[f"{group}_g"] < least for group, least in with_least.items()):
        return False
    for recipe, window in client.get("recipe_servings", {}).items():
        if not window["min"] <= servings[recipe] <= window["max"]:
            return False
    return all(
        window.get("min", 0) <= _amount(facts, plates, nutrient) <= window.get("max", 10**9)
        for nutrient, window in client.get("windows_per_week", {}).items()
    )


def _batches(
    facts: Facts, cookings: list[Cooking], eaten_ever: list[bool]
) -> Iterator[tuple[Fraction, ...]]:
    """Yield every choice of batches within the limits of the cook days."""
    ranges = []
    for (d, _), ever in zip(cookings, eaten_ever, strict=True):
        dish = facts.dishes[d]
        steps = int(dish.most / dish.step) if ever else 0
        ranges.append([n * dish.step for n in range(steps + 1)])
    most = facts.week.scenario.get("most_recipes", len(cookings))
    for batches in product(*ranges):
        made = {facts.dishes[d].recipe for b, (d, _) in zip(batches, cookings, strict=True) if b}
        if len(made) <= most and all(
            _day_holds(facts, k, batches, cookings) for k in range(len(facts.cook_days))
        ):
            yield batches


def _day_holds(
    facts: Facts, k: int, batches: tuple[Fraction, ...], cookings: list[Cooking]
) -> bool:
    cooked = [
        (facts.dishes[d], b)
        for b, (d, kk) in zip(batches, cookings, strict=True)
        if kk == k and b and not facts.dishes[d].ready
    ]
    cook = facts.week.scenario["cook_days"][k]
    of_recipe: defaultdict[str, Fraction] = defaultdict(Fraction)
    for dish, b in cooked:
        of_recipe[dish.recipe] += b
    hands_on = sum(dish.hands_on + dish.hands_on_extra * max(0, b - 1) for dish, b in cooked)
    return (
        all(of_recipe[dish.recipe] <= dish.most for dish, _ in cooked)
        and len(of_recipe) <= cook.get("most_recipes", 99)
        and hands_on <= cook.get("hands_on_minutes", 10**6)
        and sum(dish.hob * b for dish, b in cooked) <= cook.get("hob_minutes", 10**6)
    )


def _least_bought(
    facts: Facts,
    cookings: list[Cooking],
    batches: tuple[Fraction, ...],
    bills: dict[tuple[Any, ...], list[Bill]],
) -> Fraction | None:
    """Return the least cents for packs, visits and weighted waste of food left over."""
    scenario = facts.week.scenario
    weight = Fraction(str(scenario["waste_weight"]))
    budget = Fraction(scenario.get("budget", 10**6)) * 100
    visit_cents = Fraction(scenario["visit_cost"]) * 100
    uses: dict[str, tuple[int, ...]] = {}
    for food in facts.packs:
        grams = [Fraction(0)] * len(facts.cook_days)
        for b, (d, k) in zip(batches, cookings, strict=True):
            grams[k] += b * facts.dishes[d].cg.get(food, 0)
        assert all(g.denominator == 1 for g in grams)
        uses[food] = tuple(int(g) for g in grams)
    shops = scenario.get("shop_days", facts.cook_days)
    visits = sorted({(p.seller, s) for packs in facts.packs.values() for p in packs for s in shops})
    best: Fraction | None = None
    for count in range(len(visits) + 1):
        for made in combinations(visits, count):
            fronts = []
            for food, use in uses.items():
                key = (food, use, made)
                if key not in bills:
                    bills[key] = _bills(facts, food, use, set(made))
                fronts.append(bills[key])
            for bill in _sums(fronts):
                if bill[0] <= budget:
                    cost = bill[0] + weight * bill[1] + visit_cents * max(0, count - 1)
                    best = cost if best is None else min(best, cost)
    return best


def _sums(fronts: list[list[Bill]]) -> list[Bill]:
    totals: list[Bill] = [(0, Fraction(0))]
    for front in fronts:
        totals = _undominated([(a + c, b + d) for a, b in totals for c, d in front])
    return totals


def _undominated(bills: list[Bill]) -> list[Bill]:
    kept: list[Bill] = []
    for bill in sorted(set(bills)):
        if not kept or bill[1] < kept[-1][1]:
            kept.append(bill)
    return kept


def _bills(facts: Facts, food: str, use: tuple[int, ...], made: set[Visit]) -> list[Bill]:
    """Return the undominated (cents, cents of waste) of covering one food's use."""
    sources = facts.sources[food]
    places = [
        (s, pack)
        for s, source in enumerate(sources)
        for pack in facts.packs[food]
        if source.shop_day is not None and (pack.seller, source.shop_day) in made
    ]
    # More packs than the days they reach can use would only be left over.
    reach = [
        sum(use[k] for k, day in enumerate(facts.cook_days) if day in sources[s].cook_days)
        for s, _ in places
    ]
    ranges = [
        range(-(-grams // pack.edible_cg) + 1)
        for grams, (_, pack) in zip(reach, places, strict=True)
    ]
    found = []
    for counts in product(*ranges):
        have = [source.stock_cg for source in sources]
        cents = 0
        for count, (s, pack) in zip(counts, places, strict=True):
            have[s] += count * pack.edible_cg
            cents += count * pack.cents
        left = _least_left(facts, food, use, have)
        if left is not None:
            found.append((cents, left * facts.value(food)))
    return _undominated(found)


def _least_left(facts: Facts, food: str, use: tuple[int, ...], have: list[int]) -> int | None:
    """Return the least hundredths of a gram that go to waste, over all orders of drawing."""
    sources = facts.sources[food]
    best: int | None = None
    for orders in product(permutations(range(len(sources))), repeat=len(use)):
        rest = list(have)
        for k, order in enumerate(orders):
            need = use[k]
            for s in order:
                if facts.cook_days[k] in sources[s].cook_days:
                    take = min(need, rest[s])
                    rest[s] -= take
                    need -= take
            if need:
                break
        else:
            left = sum(r for r, source in zip(rest, sources, strict=True) if source.wasted)
            best = left if best is None else min(best, left)
    return best
