"""Build the problem: sorted index sets and coefficients, no solver and no files."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from planopt.catalog.records import Catalog
from planopt.problem.byhand import (
    NOTHING_DONE,
    Done,
    cooked_by_hand,
    done_of,
    puts_on,
    settled_servings,
    versions_by_hand,
)
from planopt.problem.candidates import outlines_of
from planopt.problem.dishes import Dish
from planopt.problem.limits import LimitKey, limits_of
from planopt.problem.offering import Offering
from planopt.problem.order import NO_ORDER, Order, counted_slots, order_of, shared_options
from planopt.problem.people import CookTime, Eater, eater_of
from planopt.problem.portions import Windows
from planopt.problem.ready import all_cook_times, ready_dishes
from planopt.problem.rules import (
    MINUTES,
    Coefficients,
    LinearRule,
    MinuteRule,
    day_rules,
    plan_rules,
    taste_rules,
)
from planopt.problem.shared import shared_of
from planopt.problem.soft import ready_prices, soft_rules
from planopt.problem.sources import Sources, foods_in_play, sources_of
from planopt.problem.supplies import PackOffer, Supply, value_per_g
from planopt.problem.versions import (
    FoodAtHand,
    room_at_hand,
    versions_at_hand,
)
from planopt.problem.work import WorkPrice, work_price
from planopt.scenario.byhand import PlateRule
from planopt.scenario.records import Scenario
from planopt.scenario.references import guarded
from planopt.scenario.windows import day_windows
from planopt.units import minor_digits


@dataclass(frozen=True, order=True)
class Option:
    """A dish that a meal may take from a cook day. `dish` and `cook` are positions."""

    dish: int
    cook: int


@dataclass(frozen=True)
class Slot:
    """One meal of one client on one day, what it may be, and what it must hold.

    `windows` are least and most of nutrients and of grams, see `scenario.mealwindows`. `puts` are
    the dishes that are settled by hand: the options are those of them, and each is served, in the
    servings that it names.
    """

    client: int
    day: int
    meal: str
    options: tuple[Option, ...]
    windows: Windows = ()
    puts: tuple[PlateRule, ...] = ()


@dataclass(frozen=True)
class DayGroup:
    """Days of one client that are interchangeable: same meals, options, rules, meals' windows.

    `slots` holds, for each day, the positions of its slots in the order of the day's meals.
    `rules` hold on each of the days, and have the first of them in their keys.
    """

    client: int
    days: tuple[int, ...]
    slots: tuple[tuple[int, ...], ...]
    rules: tuple[LinearRule, ...]

    @property
    def windows(self) -> dict[str, tuple[float, float]]:
        """Return least and most of a day by what is counted."""
        return {rule.what: (rule.low, rule.high) for rule in self.rules}


@dataclass(frozen=True)
class Problem:
    """Everything the model needs as plain numbers, in deterministic order: no record of a file.

    Units: grams, minutes, servings, batches. Prices of packs and values of food are in minor units
    of the scenario's currency, `minor_units` of which make one; budget and visits are in its units.

    `rules` are of the whole plan, hard and soft; those of a day are in its group, and those of a
    meal in its slot; `order` is what is asked of the order of meals. `work` is the price of the
    cook's work by dish.

    Where some recipe has more versions than are at hand, `outline` is the problem with every
    version of it: one dish for all, whose loose lines only relaxations decide. Plans are made of
    the problem; bounds and proofs that no week complies are of `bounding`.
    """

    days: int
    meals: tuple[str, ...]
    most_dishes_per_meal: int | Literal["any"]
    minor_units: int
    budget: float | None
    visit_cost: float
    waste_weight: float
    clients: tuple[Eater, ...]
    cook_days: tuple[CookTime, ...]
    dishes: tuple[Dish, ...]
    cookings: tuple[Option, ...]
    slots: tuple[Slot, ...]
    groups: tuple[DayGroup, ...]
    foods: tuple[str, ...]
    supplies: tuple[Supply, ...]
    offers: dict[str, tuple[PackOffer, ...]]
    value_minor_per_g: dict[str, float]
    rules: tuple[LinearRule, ...]
    work: tuple[WorkPrice, ...]
    outline: Problem | None = None
    done: Done = NOTHING_DONE
    order: Order = NO_ORDER
    most_recipes: int | None = None

    def __repr__(self) -> str:
        counts = {
            "clients": len(self.clients),
            "dishes": len(self.dishes),
            "slots": len(self.slots),
            "foods": len(self.foods),
        }
        told = ", ".join(f"{name}: {count}" for name, count in counts.items())
        return f"<Problem: {told}>"

    @property
    def bounding(self) -> Problem:
        """Return the problem that bounds and proofs are about: with every version there is."""
        return self if self.outline is None else self.outline

    @property
    def boxes_cost(self) -> bool:
        """Tell whether boxes have a price, so that portions are counted."""
        return any(price.portion > 0 for price in self.work)

    @cached_property
    def slots_of_client(self) -> tuple[tuple[int, ...], ...]:
        """Return, for each client, the positions of their slots."""
        table: list[list[int]] = [[] for _ in self.clients]
        for index, slot in enumerate(self.slots):
            table[slot.client].append(index)
        return tuple(tuple(row) for row in table)

    @cached_property
    def rules_of_client(self) -> tuple[tuple[LinearRule, ...], ...]:
        """Return, for each client, the rules over the whole plan that must hold."""
        return tuple(
            tuple(rule for rule in self.rules if rule.client == c and not rule.soft)
            for c in range(len(self.clients))
        )

    @cached_property
    def soft_rules(self) -> tuple[LinearRule, ...]:
        """Return the rules that may be missed, at their price."""
        return tuple(rule for rule in self.rules if rule.soft)

    @cached_property
    def minute_rules(self) -> tuple[MinuteRule, ...]:
        """Return the most minutes of each cook day, kind by kind."""
        spent = {kind: tuple(map(one.of_dish, self.dishes)) for kind, one in MINUTES.items()}
        return tuple(
            MinuteRule(LimitKey(kind, day=cook.day), k, getattr(cook, kind), spent[kind])
            for k, cook in enumerate(self.cook_days)
            for kind in MINUTES
            if getattr(cook, kind) is not None
        )

    def repeat_rules(self, client: int) -> tuple[LinearRule, ...]:
        """Return the most meals of one recipe as a rule for each recipe; none that always holds.

        They are of `counted_slots`.
        """
        most = self.clients[client].most_repeats
        mine = counted_slots(self, client)
        if most is None or len(mine) <= most:
            return ()
        key = LimitKey("repeats", self.clients[client].client_id)
        dishes: dict[str, dict[int, float]] = {}
        for d in dict.fromkeys(option.dish for i in mine for option in self.slots[i].options):
            dishes.setdefault(self.dishes[d].recipe_id, {})[d] = 1.0
        return tuple(
            LinearRule(key, recipe_id, client, high=float(most), coefficients=found)
            for recipe_id, found in dishes.items()
        )

    @cached_property
    def recipe_ids(self) -> tuple[str, ...]:
        """Return the ids of the recipes in play, sorted."""
        return tuple(sorted({dish.recipe_id for dish in self.dishes}))


def build_problem(
    catalog: Catalog,
    scenario: Scenario,
    wanted: Iterable[tuple[str, str]] = (),
    *,
    fitting_only: bool = True,
) -> Problem:
    """Turn a checked catalog and scenario into a problem.

    Of a recipe with very many versions some are at hand, those of `wanted` (recipe and version)
    first, and the problem has an outline. Raises nothing on checked input; a meal without options
    stays, and makes the model infeasible. With `fitting_only` a meal has no options of which no
    size is within its windows; without, only the rows of the day-by-day model keep them out.
    """
    scenario = guarded(catalog, scenario)
    shared = shared_of(catalog)
    sources = sources_of(catalog, scenario)
    outlines = outlines_of(catalog, scenario)
    wanted = (*wanted, *versions_by_hand(scenario))
    large = {dish.recipe_id for dish in outlines if dish.loose}
    prices = {food_id: value_per_g(offers) for food_id, offers in sources.offers.items()}
    larder = FoodAtHand(prices, sources.usable)
    names: dict[str, list[str]] = {}
    for recipe_id, version in wanted:
        names.setdefault(recipe_id, []).append(version)
    at_hand: list[Dish] = []
    for dish in outlines:
        if not dish.loose:
            at_hand.append(dish)
            continue
        at_hand += versions_at_hand(
            catalog.recipes[dish.recipe_id],
            catalog,
            scenario,
            shared.lines(dish.recipe_id),
            larder,
            room_at_hand(len(large)),
            names.get(dish.recipe_id, ()),
        )
    ready = ready_dishes(catalog, scenario)
    problem = _problem_of(catalog, scenario, [*at_hand, *ready], sources, fitting_only)
    if not large:
        return problem
    outline = _problem_of(catalog, scenario, [*outlines, *ready], sources, fitting_only)
    return replace(problem, outline=outline)


def _problem_of(
    catalog: Catalog,
    scenario: Scenario,
    candidates: Sequence[Dish],
    sources: Sources,
    fitting_only: bool,
) -> Problem:
    """Return the problem in which these dishes can be cooked; only those that somebody can eat."""
    dishes, cookings, slots, order = _offered(scenario, candidates, sources, fitting_only)
    foods = foods_in_play(dishes, sources, scenario)
    table = Coefficients(dishes)
    eaters = tuple(eater_of(client, scenario.start_date) for client in scenario.clients)
    names = [client.client_id for client in scenario.clients]
    return Problem(
        days=scenario.days,
        meals=scenario.meals,
        most_dishes_per_meal=scenario.most_dishes_per_meal,
        minor_units=10 ** minor_digits(scenario.currency),
        budget=None if scenario.budget is None else float(scenario.budget),
        visit_cost=float(scenario.visit_cost),
        waste_weight=scenario.waste_weight,
        clients=eaters,
        cook_days=all_cook_times(scenario),
        dishes=dishes,
        cookings=cookings,
        slots=slots,
        groups=_groups(scenario, slots, table),
        foods=foods,
        supplies=tuple(s for food_id in foods for s in sources.supplies[food_id]),
        offers={food_id: sources.offers[food_id] for food_id in foods},
        value_minor_per_g={food_id: value_per_g(sources.offers[food_id]) for food_id in foods},
        rules=(
            *plan_rules(limits_of(scenario), names, table),
            *soft_rules(catalog, scenario, table),
            *taste_rules(dishes, eaters),
            *ready_prices(scenario, table),
        ),
        done=done_of(scenario),
        order=order,
        most_recipes=scenario.most_recipes,
        work=tuple(work_price(scenario, dish) for dish in dishes),
    )


def _offered(
    scenario: Scenario, candidates: Sequence[Dish], sources: Sources, fitting_only: bool
) -> tuple[tuple[Dish, ...], tuple[Option, ...], tuple[Slot, ...], Order]:
    """Return dishes that somebody can eat or that are cooked, cookings, slots and their order."""
    meals = Offering(scenario, candidates, sources, fitting_only)
    raw = [
        (c, day, meal, *meals.offer(client, day, meal))
        for c, client in enumerate(scenario.clients)
        for day in range(1, scenario.days + 1)
        for meal in scenario.meals_of(client, day)
    ]
    standing = cooked_by_hand(scenario, candidates)
    order = order_of(scenario, [(c, day, meal) for c, day, meal, _, _ in raw])
    if order.sets and fitting_only:
        recipes = [dish.recipe_id for dish in candidates]
        shared = shared_options(order, [found for *_, found, _ in raw], recipes)
        raw = [(*row[:3], found, row[4]) for row, found in zip(raw, shared, strict=True)]
    kept = sorted({i for *_, found, _ in raw for i, _ in found} | {i for i, _ in standing})
    place = {i: n for n, i in enumerate(kept)}
    options = {
        found: tuple(Option(place[i], k) for i, k in found)
        for found in {found for *_, found, _ in raw}
    }
    slots = tuple(
        Slot(c, day, meal, options[found], windows, puts_on(scenario, c, day, meal))
        for c, day, meal, found, windows in raw
    )
    taken = {o for row in options.values() for o in row}
    taken |= {Option(place[i], k) for i, k in standing}
    return tuple(candidates[i] for i in kept), tuple(sorted(taken)), slots, order


def _groups(
    scenario: Scenario, slots: tuple[Slot, ...], table: Coefficients
) -> tuple[DayGroup, ...]:
    by_day: dict[tuple[int, int], list[int]] = {}
    for index, slot in enumerate(slots):
        by_day.setdefault((slot.client, slot.day), []).append(index)
    # Equal options get one number, so that days are compared by numbers and not by long lists.
    number: dict[int, int] = {}
    numbers: dict[tuple[Option, ...], int] = {}
    for slot in slots:
        if id(slot.options) not in number:
            number[id(slot.options)] = numbers.setdefault(slot.options, len(numbers))
    found: dict[object, list[tuple[int, tuple[int, ...]]]] = {}
    for (c, day), members in by_day.items():
        windows = day_windows(scenario, scenario.clients[c], day)
        shape = tuple(
            (
                slots[i].meal,
                number[id(slots[i].options)],
                slots[i].windows,
                settled_servings(slots[i].puts),
            )
            for i in members
        )
        key = (c, shape, tuple(sorted(windows.items())))
        found.setdefault(key, []).append((day, tuple(members)))
    groups = []
    for rows in found.values():
        c = slots[rows[0][1][0]].client
        groups.append(
            DayGroup(
                client=c,
                days=tuple(day for day, _ in rows),
                slots=tuple(members for _, members in rows),
                rules=tuple(day_rules(scenario, c, rows[0][0], table)),
            )
        )
    return tuple(groups)
